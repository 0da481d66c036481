//! `amend`: corrects where, when, with what a capture was made; sets it aside, restores it.

use crate::commands::circumstances;
use crate::exit::Outcome;
use crate::{args, say};
use serde::Serialize;
use survey::{Amend, Survey};
use units::Reason;

/// What `amend --json` prints.
#[derive(Serialize)]
struct Amended<'a> {
    schema: &'static str,
    capture: &'a str,
    warnings: &'a [Reason],
}

/// Makes one correction, as one entry of the journal.
pub fn run(args: &args::Amend) -> anyhow::Result<Outcome> {
    let survey = Survey::open(&args.dir)?;
    let by = say::by(&args.by, &survey)?;
    let c = &args.circumstances;
    let columns = match (&args.mapping.columns, &args.mapping.map) {
        (Some(columns), _) => Some(columns.clone()),
        (None, Some(name)) => Some(survey.mapping(name)?),
        (None, None) => None,
    };
    let amend = Amend {
        role: args.role.map(Into::into),
        at: c.at.clone(),
        zone: c.zone.map(Into::into),
        chain: c.chain.clone(),
        gain_db: c.gain,
        setting: c.setting.clone(),
        condition: c.condition.clone(),
        from: circumstances::time(&survey, c.from.as_deref())?,
        until: circumstances::time(&survey, c.until.as_deref())?,
        bands: (!c.bands.is_empty()).then(|| c.bands.clone()),
        overrides: circumstances::overrides(
            &survey,
            &args.overrides,
            c.time_zone.as_ref(),
            columns,
        )?,
        clock_s: args.clock,
        set_aside: args.set_aside.clone(),
        restore: args.restore,
    };
    let known = say::known_positions(&survey)?;
    let warnings = survey.amend(&args.capture, &amend, &by)?;
    if args.json.json {
        let (capture, warnings) = (args.capture.as_str(), warnings.as_slice());
        say::json(&Amended { schema: "stillroom.amended/1", capture, warnings })?;
        return Ok(Outcome::Done);
    }
    say::warnings(&warnings);
    say::text(&format!("{} is corrected\n", args.capture.to_uppercase()))?;
    say::new_positions(&survey, &known)?;
    Ok(Outcome::Done)
}

//! `amend`: corrects where, when, with what a capture was made; sets it aside, restores it.

use crate::commands::circumstances;
use crate::exit::Outcome;
use crate::{args, say};
use serde::Serialize;
use survey::Amend;
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
    let (survey, by) = say::open(&args.survey)?;
    let c = &args.said.circumstances;
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
        overrides: circumstances::overrides(&survey, &args.said)?,
        clock_s: args.clock,
        set_aside: args.set_aside.clone(),
        restore: args.restore,
    };
    let known = say::known_positions(&survey)?;
    let warnings = survey.amend(&args.capture, &amend, &by)?;
    if args.survey.json.json {
        let (capture, warnings) = (args.capture.as_str(), warnings.as_slice());
        say::json(&Amended { schema: "stillroom.amended/1", capture, warnings })?;
        return Ok(Outcome::Done);
    }
    say::warnings(&warnings);
    say::text(&format!("{} is corrected\n", args.capture.to_uppercase()))?;
    say::new_positions(&survey, &known)?;
    Ok(Outcome::Done)
}

//! `amend`: corrects where, when, with what a capture was made; sets it aside, restores it.

use crate::commands::circumstances;
use crate::exit::Outcome;
use crate::wrap::wrapped;
use crate::{args, next, say};
use capture::one_line;
use serde::Serialize;
use serde_json::Value;
use survey::{Amend, Capture, Difference, Survey};
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
        empty: args.empty.iter().copied().map(Into::into).collect(),
        seen: None,
    };
    let known = say::known_positions(&survey)?;
    let id = args.capture.to_uppercase();
    let before = survey.capture(&id)?;
    let warnings = survey.amend(&id, &amend, &by)?;
    let after = survey.capture(&id)?;
    if args.survey.json.json {
        let (capture, warnings) = (id.as_str(), warnings.as_slice());
        say::json(&Amended { schema: "stillroom.amended/1", capture, warnings })?;
        return Ok(Outcome::Done);
    }
    say::warnings(&warnings);
    let change = Difference {
        kind: "capture".into(),
        was: Some(said_of(&survey, &before)?),
        is: Some(said_of(&survey, &after)?),
        id,
    };
    say::text(&wrapped(&one_line(&change.to_string())))?;
    say::new_positions(&survey, &known)?;
    let dir = next::quoted(&args.survey.dir.to_string_lossy());
    say::text(&format!("Next: see what the ledger makes of it:\n    stillroom emissions {dir}\n"))?;
    Ok(Outcome::Done)
}

/// What people say of a capture, its position by name.
fn said_of(survey: &Survey, capture: &Capture) -> anyhow::Result<Value> {
    let mut said = serde_json::to_value(capture)?;
    if let Value::Object(said) = &mut said {
        if let Some(Value::Object(over)) = said.remove("overrides") {
            said.extend(over.into_iter().map(|(key, value)| (format!("stated {key}"), value)));
        }
        said.remove("warnings");
        let positions = survey.positions()?;
        let named = positions.into_iter().find(|p| Some(&p.id) == capture.position.as_ref());
        said.insert("position".into(), named.map(|p| p.name).into());
        // What is not there says nothing.
        said.retain(|_, value| !value.is_null());
    }
    Ok(said)
}

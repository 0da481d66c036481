//! `new`: starts a survey.

use crate::exit::Outcome;
use crate::{args, say, wrap};
use serde::Serialize;
use survey::{Head, NewSurvey, Survey};

/// What `new --json` prints.
#[derive(Serialize)]
struct Started {
    schema: &'static str,
    survey: Head,
}

/// Makes the folder and says what was taken for what nobody stated.
pub fn run(args: &args::New) -> anyhow::Result<Outcome> {
    let new = NewSurvey {
        name: args.name.clone(),
        region: Some(args.region.word().to_owned()),
        time_zone: args.time_zone.clone(),
        by: args.by.by.clone(),
    };
    let survey = Survey::create(&args.dir, &new)?;
    let head = survey.head()?;
    if head.technician.is_none() {
        say::warn("nobody says who does this: give --by WHO or set STILLROOM_BY");
    }
    if args.json.json {
        say::json(&Started { schema: "stillroom.started/1", survey: head })?;
        return Ok(Outcome::Done);
    }
    say::text(&format!(
        "survey '{}' in {}: region {}, time zone {}, technician {}\n",
        head.name,
        wrap::path(&args.dir),
        head.region,
        head.time_zone,
        capture::one_line(head.technician.as_deref().unwrap_or("unstated")),
    ))?;
    Ok(Outcome::Done)
}

//! `add`: brings captures in, analyses and joins them.

use crate::commands::{circumstances, mapping};
use crate::exit::Outcome;
use crate::progress::Bar;
use crate::{args, next, say, table, wrap};
use ledger::{CaptureInfo, Ledger};
use serde::Serialize;
use survey::{AddOptions, Added, Survey};
use units::Reason;

/// Stores each file, analyses it unless it is for later, and says what came of it.
pub fn run(args: &args::Add) -> anyhow::Result<Outcome> {
    let (survey, by) = say::open(&args.survey)?;
    let mut options = options(args, &survey)?;
    if options.overrides.columns.is_none() && options.overrides.format.is_none() {
        options.columns = mapping::ask(&args.files, &options.overrides)?;
    }
    let known = say::known_positions(&survey)?;
    let bar = Bar::acknowledging(!args.survey.json.json);
    let added = survey.add(&args.files, &options, &by, &bar)?;
    drop(bar);
    if args.survey.json.json {
        let added = added.iter().map(AddedJson::of).collect();
        say::json(&AddDocument { schema: "stillroom.added/1", added })?;
        return Ok(Outcome::Done);
    }
    for one in &added {
        let verb = if one.already { "is there already, nothing done:" } else { "is" };
        say::text(&format!("{} {verb} {}\n", wrap::path(&one.file), one.capture))?;
        say::warnings(&one.warnings);
    }
    say::new_positions(&survey, &known)?;
    if !args.later && added.iter().any(|one| !one.already) {
        let outcome = survey.ledger(&Bar::new())?;
        // What failed to be analysed was said above.
        let others = outcome.warnings.iter().filter(|w| w.code != "analysis_failed");
        say::warnings(&others.cloned().collect::<Vec<_>>());
        say::warnings(&of_analyses(&outcome.ledger, &added));
        say::text(&table::balance(&outcome.ledger))?;
        say::text(&next::steps(&outcome.ledger, &args.survey.dir))?;
    }
    Ok(Outcome::Done)
}

/// What the analyses of what was added warn of.
fn of_analyses(ledger: &Ledger, added: &[Added]) -> Vec<Reason> {
    let is_of = |capture: &CaptureInfo, one: &Added| {
        let rest = capture.id.strip_prefix(&one.capture);
        !one.already && rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
    };
    let of = ledger.captures.iter().filter(|c| added.iter().any(|one| is_of(c, one)));
    let told = |c: &CaptureInfo, w: &Reason| Reason::new(&w.code, format!("{}: {}", c.id, w.text));
    of.flat_map(|c| c.warnings.iter().map(move |w| told(c, w))).collect()
}

/// What `add --json` prints.
#[derive(Serialize)]
struct AddDocument<'a> {
    schema: &'static str,
    added: Vec<AddedJson<'a>>,
}

#[derive(Serialize)]
struct AddedJson<'a> {
    capture: &'a str,
    file: String,
    already: bool,
    warnings: &'a [Reason],
}

impl<'a> AddedJson<'a> {
    fn of(added: &'a Added) -> Self {
        AddedJson {
            capture: &added.capture,
            file: added.file.display().to_string(),
            already: added.already,
            warnings: &added.warnings,
        }
    }
}

fn options(args: &args::Add, survey: &Survey) -> anyhow::Result<AddOptions> {
    let c = &args.said.circumstances;
    Ok(AddOptions {
        at: c.at.clone(),
        zone: c.zone.map(Into::into),
        chain: c.chain.clone(),
        gain_db: c.gain,
        setting: c.setting.clone(),
        condition: c.condition.clone(),
        from: circumstances::time(survey, c.from.as_deref())?,
        until: circumstances::time(survey, c.until.as_deref())?,
        bands: c.bands.clone(),
        overrides: circumstances::overrides(survey, &args.said)?,
        later: args.later,
        again: args.again,
        ..AddOptions::new(args.role.into())
    })
}

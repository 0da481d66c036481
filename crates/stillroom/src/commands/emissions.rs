//! `emissions`: the ledger.

use crate::exit::Outcome;
use crate::progress::Bar;
use crate::{args, next, say, table};
use survey::Survey;

/// Finishes what waits, then prints the ledger or only its balance.
pub fn run(args: &args::Emissions) -> anyhow::Result<Outcome> {
    let survey = Survey::open_to_read(&args.survey.dir)?;
    let bar = Bar::new();
    let outcome = survey.ledger(&bar)?;
    drop(bar);
    let mut ledger = outcome.ledger;
    let balanced = ledger::balances(&ledger);
    say::warnings(&outcome.warnings);
    if args.survey.json.json {
        ledger.emissions.truncate(args.first.unwrap_or(usize::MAX));
        say::json(&ledger)?;
    } else if args.balanced {
        say::text(&table::balance(&ledger))?;
        say::text(&next::lacking(&ledger))?;
    } else {
        say::text(&table::ledger(&ledger, args.first))?;
        say::text(&next::set_aside(&ledger))?;
        say::text(&next::steps(&ledger, &args.survey.dir))?;
    }
    Ok(if args.balanced && !balanced { Outcome::No } else { Outcome::Done })
}

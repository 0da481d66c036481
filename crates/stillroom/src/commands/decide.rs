//! `decide`: what a person decides of rows, and on what ground.

use crate::args::{self, GroundArg, StateArg};
use crate::exit::Outcome;
use crate::progress::Bar;
use crate::{next, say, table};
use ledger::{Balance, Ground, State};
use serde::Serialize;
use survey::Verdict;

impl From<StateArg> for State {
    fn from(state: StateArg) -> State {
        match state {
            StateArg::Open => State::Open,
            StateArg::Accounted => State::Accounted,
            StateArg::Suspect => State::Suspect,
            StateArg::Located => State::Located,
            StateArg::HandedOver => State::HandedOver,
            StateArg::Unresolved => State::Unresolved,
        }
    }
}

impl From<GroundArg> for Ground {
    fn from(ground: GroundArg) -> Ground {
        match ground {
            GroundArg::Seen => Ground::Seen,
            GroundArg::SwitchedOff => Ground::SwitchedOff,
            GroundArg::StrongerOutside => Ground::StrongerOutside,
            GroundArg::Decoded => Ground::Decoded,
            GroundArg::OwnKit => Ground::OwnKit,
            GroundArg::ReceiverOwn => Ground::ReceiverOwn,
            GroundArg::Inferred => Ground::Inferred,
        }
    }
}

/// What `decide --json` prints.
#[derive(Serialize)]
struct Decided<'a> {
    schema: &'static str,
    decided: &'a [String],
    entries: Vec<u64>,
    version: u64,
    balance: Balance,
}

/// Decides all rows or none, then says how the account stands.
pub fn run(args: &args::Decide) -> anyhow::Result<Outcome> {
    let (survey, by) = say::open(&args.survey)?;
    let verdict = Verdict {
        state: args.state.into(),
        ground: args.ground.map(Into::into),
        reason: args.reason.clone(),
    };
    let entries = survey.decide(&args.ids, &verdict, args.if_version, &by)?;
    let outcome = survey.ledger(&Bar::new())?;
    if args.survey.json.json {
        say::json(&Decided {
            schema: "stillroom.decided/1",
            decided: &args.ids,
            entries,
            version: outcome.ledger.version,
            balance: outcome.ledger.balance,
        })?;
    } else {
        say::text(&table::balance(&outcome.ledger))?;
        say::text(&next::steps(&outcome.ledger, &args.survey.dir))?;
    }
    Ok(Outcome::Done)
}

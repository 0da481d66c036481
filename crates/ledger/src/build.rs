//! The ledger as a function: captures and acts in, rows out.

use crate::atom::{Group, atoms, canonical, natural};
use crate::attention::{self, Candidate};
use crate::contract::{Balance, CaptureInfo, Decision, Ledger, LedgerRow, State};
use crate::input::{Capture, Input, Outcome};
use crate::join::join;
use crate::{ids, origin, receiver, receptions, summary};

/// Computes the ledger whole. The order of captures in `input` changes nothing, to the bit.
pub fn build(input: &Input) -> Outcome {
    let input = canonical(input);
    let groups = join(&input, atoms(&input));
    let named = ids::name(&input, &groups);
    let mut rows = Vec::new();
    let mut facts = Vec::new();
    for (group, name) in groups.iter().zip(&named.names) {
        let receptions = receptions::of(&input, group);
        let summary = summary::of(&input, group, &receptions);
        let (origin, fact) = origin::of(&input, group, &receptions);
        facts.push(fact);
        rows.push(LedgerRow {
            id: name.id.clone(),
            aliases: name.aliases.clone(),
            was_part_of: name.was_part_of.clone(),
            identity: group.identity.clone(),
            first: summary.first,
            last: summary.last,
            emission: summary.emission,
            decision: Decision::default(),
            attention: Default::default(),
            origin,
            receiver_line: receiver::line_of(&input, group, &receptions),
            may_be: Vec::new(),
            receptions,
        });
    }
    rank(&input, &groups, &facts, &mut rows);
    let balance = balance(&rows);
    rows.sort_by_key(|row| row.attention.rank);
    Outcome {
        ledger: Ledger {
            schema: "stillroom.ledger/1".into(),
            version: input.version,
            survey: input.survey.clone(),
            positions: input.positions.clone(),
            captures: captures(&input),
            emissions: rows,
            balance,
        },
        anchors: named.anchors,
        seen: named.seen,
        warnings: named.warnings,
    }
}

fn rank(input: &Input, groups: &[Group], facts: &[origin::Facts], rows: &mut [LedgerRow]) {
    let candidates: Vec<Candidate<'_>> = rows
        .iter()
        .zip(groups)
        .zip(facts)
        .map(|((row, group), facts)| Candidate { row, group, facts })
        .collect();
    let attention = attention::rank(input, &candidates);
    for (row, attention) in rows.iter_mut().zip(attention) {
        row.attention = attention;
    }
}

/// Captures as the ledger lists them, by the number of their ids.
fn captures(input: &Input) -> Vec<CaptureInfo> {
    let mut captures: Vec<CaptureInfo> = input.captures.iter().map(listed).collect();
    captures.sort_by_cached_key(|capture| natural(&capture.id));
    captures
}

fn listed(capture: &Capture) -> CaptureInfo {
    CaptureInfo {
        id: capture.id.clone(),
        kind: capture.kind,
        role: capture.role,
        position: capture.position.clone(),
        chain: Some(capture.chain.name.clone()).filter(|name| !name.is_empty()),
        condition: capture.condition.clone(),
        files: capture.files.clone(),
        start: capture.start,
        stop: capture.stop,
        listened: capture.listened.clone(),
        set_aside: capture.set_aside.clone(),
    }
}

/// Counts by decision.
fn balance(rows: &[LedgerRow]) -> Balance {
    let mut balance = Balance::default();
    for row in rows {
        let count = match row.decision.state {
            State::Open => &mut balance.open,
            State::Accounted => &mut balance.accounted,
            State::Suspect => &mut balance.suspect,
            State::Located => &mut balance.located,
            State::HandedOver => &mut balance.handed_over,
            State::Unresolved => &mut balance.unresolved,
        };
        *count += 1;
        if row.decision.state != State::Open && !row.decision.changed_since.is_empty() {
            balance.changed += 1;
        }
    }
    balance
}

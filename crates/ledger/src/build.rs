//! The ledger as a function: captures and acts in, rows out.

use crate::atom::{Group, Of, atoms, canonical, heard_nothing, natural};
use crate::attention::{self, Candidate};
use crate::contract::{
    Attention, Balance, CaptureInfo, CaptureKind, Decision, Ledger, LedgerRow, MayBe, Origin, Role,
    State,
};
use crate::input::{Capture, Input, Outcome, Reading, Seen};
use crate::join::{Joined, join};
use crate::{changed, decisions, ids, origin, receiver, receptions, round, summary};
use units::Reason;

/// Computes the ledger whole. The order of captures in `input` changes nothing, to the bit.
pub fn build(input: &Input) -> Outcome {
    let input = canonical(input);
    let Joined { groups, doubts } = join(&input, atoms(&input));
    let named = ids::name(&input, &groups);
    let mut rows = Vec::new();
    let mut levels = Vec::new();
    for (group, name) in groups.iter().zip(&named.names) {
        let receptions = receptions::of(&input, group);
        let summary = summary::of(&input, group, &receptions);
        let receiver_line = receiver::line_of(&input, group, &receptions);
        levels.push(origin::levels(&input, group, &receptions, receiver_line.is_some()));
        rows.push(LedgerRow {
            id: name.id.clone(),
            aliases: name.aliases.clone(),
            was_part_of: name.was_part_of.clone(),
            label: summary.label,
            identity: group.identity.clone(),
            first: summary.first,
            last: summary.last,
            emission: summary.emission,
            decision: Decision::default(),
            attention: Attention::default(),
            origin: Origin::default(),
            receiver_line,
            may_be: Vec::new(),
            receptions,
        });
    }
    let (origins, facts): (Vec<Origin>, Vec<origin::Facts>) =
        origin::of(levels).into_iter().unzip();
    rows.iter_mut().zip(origins).for_each(|(row, origin)| row.origin = origin);
    for doubt in &doubts {
        let (of, with) = (rows[doubt.of].id.clone(), rows[doubt.with].id.clone());
        let may_be = |id| MayBe { id, probability: doubt.probability };
        rows[doubt.of].may_be.push(may_be(with));
        rows[doubt.with].may_be.push(may_be(of));
    }
    for row in &mut rows {
        // Of two rows that doubt each other both ways, the larger probability.
        row.may_be.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        let mut told: Vec<MayBe> = Vec::new();
        for other in row.may_be.drain(..) {
            if !told.iter().any(|known| known.id == other.id) {
                told.push(other);
            }
        }
        row.may_be = told;
    }
    let mut seen: Vec<(String, Seen)> =
        groups.iter().zip(&rows).map(|(group, row)| seen(&input, group, row)).collect();
    let mut warnings = unplaced(&input, &groups);
    warnings.extend(decisions::put(&input, &groups, &named, &mut rows, &mut seen));
    rank(&input, &groups, &facts, &mut rows);
    let balance = balance(&rows);
    rows.sort_by_key(|row| row.attention.rank);
    let mut ledger = Ledger {
        schema: "stillroom.ledger/1".into(),
        version: input.version,
        survey: input.survey.clone(),
        positions: input.positions.clone(),
        captures: captures(&input),
        emissions: rows,
        balance,
    };
    round::ledger(&mut ledger);
    Outcome { ledger, anchors: named.anchors, seen, warnings }
}

/// What a decision on a row would see; `decisions::put` adds the decisions that stand on it.
fn seen(input: &Input, group: &Group, row: &LedgerRow) -> (String, Seen) {
    let receptions = group.atoms.iter().map(|atom| atom.key.clone()).collect();
    let facts = changed::facts(input, row);
    (row.id.clone(), Seen { receptions, facts, decisions: Vec::new() })
}

/// Readings that say neither a frequency nor a row that is there: they count nowhere.
fn unplaced(input: &Input, groups: &[Group]) -> Vec<Reason> {
    let counted = |index: usize| {
        groups.iter().any(|group| {
            group.silent.contains(&index)
                || group.atoms.iter().any(|atom| atom.of == Of::Reading { reading: index })
        })
    };
    let readings = input.readings.iter().enumerate();
    readings
        .filter(|(index, reading)| {
            // Silence in a band is what receptions tell of; only a named row is missed here.
            let silence = heard_nothing(reading) && reading.band.is_some();
            !silence && !counted(*index)
        })
        .map(|(_, reading)| {
            let text = format!(
                "Reading {} counts nowhere: give it a frequency or the row that it is of.",
                reading.id
            );
            Reason::new("reading_unplaced", text).with("reading", reading.id.as_str())
        })
        .collect()
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
    let readings = input.readings.iter().map(noted);
    let mut captures: Vec<CaptureInfo> =
        input.captures.iter().map(listed).chain(readings).collect();
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
        warnings: capture.warnings.clone(),
        set_aside: capture.set_aside.clone(),
    }
}

/// A reading as the ledger lists it, so that its receptions name something.
fn noted(reading: &Reading) -> CaptureInfo {
    CaptureInfo {
        id: reading.id.clone(),
        kind: CaptureKind::Readings,
        role: Role::Walk,
        position: Some(reading.position.clone()),
        chain: Some(reading.chain.name.clone()).filter(|name| !name.is_empty()),
        condition: None,
        files: Vec::new(),
        start: reading.at,
        stop: reading.at,
        listened: Vec::new(),
        warnings: Vec::new(),
        set_aside: None,
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

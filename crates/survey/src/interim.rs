//! Stands in until the floors below have landed.
#![allow(missing_docs)]
use ledger::*;
pub trait Progress {
    fn step(&self, done: u64, of: u64, what: &str);
    fn cancelled(&self) -> bool {
        false
    }
}
#[derive(Debug, Clone, Copy, Default)]
pub struct Quiet;
impl Progress for Quiet {
    fn step(&self, _done: u64, _of: u64, _what: &str) {}
}
/// One row a centre frequency, to the hertz.
pub(crate) fn build(input: &Input) -> Outcome {
    let mut groups: std::collections::BTreeMap<i64, Vec<(&Capture, &CaptureRow)>> =
        Default::default();
    for c in input.captures.iter().filter(|c| c.set_aside.is_none()) {
        for r in &c.rows {
            groups.entry(r.emission.centre_hz.round() as i64).or_default().push((c, r));
        }
    }
    let mut anchors = input.anchors.clone();
    let mut emissions = Vec::new();
    let mut seen = Vec::new();
    let mut next = anchors.iter().filter_map(|a| a.id[1..].parse::<u64>().ok()).max().unwrap_or(0);
    for (hz, members) in groups {
        let keys: Vec<ReceptionKey> = members
            .iter()
            .map(|(c, r)| ReceptionKey {
                sha256: c.sha256.clone(),
                position: c.position.clone(),
                centre_hz: r.emission.centre_hz,
                width_hz: 0.0,
            })
            .collect();
        let known = anchors
            .iter()
            .position(|a| a.receptions.first().is_some_and(|k| k.centre_hz.round() as i64 == hz));
        let id = match known {
            Some(i) => {
                anchors[i].receptions = keys.clone();
                anchors[i].id.clone()
            }
            None => {
                next += 1;
                let id = format!("E{next}");
                anchors.push(Anchor {
                    id: id.clone(),
                    merged_into: None,
                    was_part_of: None,
                    receptions: keys.clone(),
                });
                id
            }
        };
        let mut decision = Decision::default();
        for act in &input.acts {
            if let ActKind::Decide { id: of, state, ground, reason, .. } = &act.what
                && *of == id
            {
                decision = Decision {
                    state: *state,
                    ground: *ground,
                    reason: Some(reason.clone()),
                    by: Some(act.by.clone()),
                    at: act.at,
                    changed_since: vec![],
                };
            }
        }
        let receptions = members
            .iter()
            .map(|(c, r)| Reception {
                capture: c.id.clone(),
                position: c.position.clone(),
                role: c.role,
                heard: true,
                level_dbfs: r.emission.level_dbfs,
                level_dbm: r.emission.level_dbm,
                strength: r.strength,
                u_db: None,
                limit_dbfs: None,
                limit_dbm: None,
                looked_s: 0.0,
                first: None,
                last: None,
            })
            .collect();
        seen.push((id.clone(), Seen { receptions: keys, facts: SeenFacts::default() }));
        emissions.push(LedgerRow {
            id,
            aliases: vec![],
            was_part_of: None,
            identity: None,
            first: None,
            last: None,
            emission: members[0].1.emission.clone(),
            decision,
            attention: Attention::default(),
            origin: Origin::default(),
            receiver_line: None,
            may_be: vec![],
            receptions,
        });
    }
    let ledger = Ledger {
        schema: "stillroom.ledger/1".into(),
        version: input.version,
        survey: input.survey.clone(),
        positions: input.positions.clone(),
        captures: vec![],
        emissions,
        balance: Balance::default(),
    };
    Outcome { ledger, anchors, seen, warnings: vec![] }
}

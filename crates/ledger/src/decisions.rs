//! Which decision stands on which row.
//!
//! A decision follows what was seen: it stands on the row that shows most of the receptions that the
//! person saw; where captures are set aside, on the row whose id owns most of them, while that row
//! shows any. A later one replaces those that stood on its row when it was made, and no others: it
//! names them. Where a decision stands on no row, it waits, and says so.

use crate::atom::Group;
use crate::changed;
use crate::contract::{Decision, Ground, LedgerRow, State};
use crate::ids::{Named, numbered};
use crate::input::{Act, ActKind, Input, ReceptionKey, Seen};
use crate::keys::{Index, fit};
use std::collections::{BTreeMap, BTreeSet};
use units::Reason;

/// A reception that was seen, found again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Token {
    /// An atom, numbered through the groups.
    Shown(usize),
    /// A key that an anchor keeps: its capture does not count now.
    Kept(usize, usize),
    /// Nothing knows it; number of the key among the lost.
    Lost(usize),
}

/// A decision act with what it was about.
#[derive(Debug, Clone)]
struct Verdict<'a> {
    act: &'a Act,
    id: &'a String,
    state: State,
    ground: Option<Ground>,
    reason: &'a String,
    seen: &'a Seen,
    tokens: BTreeSet<Token>,
    /// Anchor that owns most of what was seen.
    about: Option<usize>,
}

/// Puts the decisions on the rows (in the order of the groups). Gives what to tell the person.
pub(crate) fn put(
    input: &Input,
    groups: &[Group],
    named: &Named,
    rows: &mut [LedgerRow],
    seen_now: &mut [(String, Seen)],
) -> Vec<Reason> {
    let verdicts = verdicts(input, groups, named);
    let replaced: BTreeSet<u64> =
        verdicts.iter().flat_map(|verdict| &verdict.seen.decisions).copied().collect();
    let standing = verdicts.iter().filter(|verdict| !replaced.contains(&verdict.act.seq));
    let (_, group_of) = numbered(groups);
    let mut warnings = Vec::new();
    let mut on: BTreeMap<usize, Vec<&Verdict<'_>>> = BTreeMap::new();
    for verdict in standing {
        let mut shown: BTreeMap<usize, usize> = BTreeMap::new();
        for token in &verdict.tokens {
            if let Token::Shown(atom) = token {
                *shown.entry(group_of[*atom]).or_default() += 1;
            }
        }
        let most = shown.iter().find(|(_, n)| 2 * **n > verdict.tokens.len()).map(|(g, _)| *g);
        // On a row that shows nothing of what was decided on it would be kept silently.
        let owned = verdict.about.and_then(|anchor| named.group_of[anchor]);
        match most.or(owned.filter(|group| shown.contains_key(group))) {
            Some(group) => on.entry(group).or_default().push(verdict),
            None if verdict.state == State::Open => {}
            None => warnings.push(waits(verdict)),
        }
    }
    for (group, verdicts) in on {
        let row = &mut rows[group];
        seen_now[group].1.decisions = verdicts.iter().map(|verdict| verdict.act.seq).collect();
        let last = verdicts[verdicts.len() - 1];
        let kind = |v: &Verdict<'_>| (v.state, v.ground);
        if verdicts.iter().any(|v| kind(v) != kind(last)) {
            let reopened = reopened(row, &verdicts);
            row.decision =
                Decision { changed_since: vec![reopened.clone()], ..Decision::default() };
            warnings.push(reopened);
            continue;
        }
        let facts: Vec<_> = verdicts.iter().map(|v| &v.seen.facts).collect();
        row.decision = Decision {
            state: last.state,
            ground: last.ground,
            reason: Some(last.reason.clone()),
            by: Some(last.act.by.clone()),
            at: last.act.at,
            changed_since: match last.state {
                State::Open => Vec::new(),
                _ => changed::since(input, &facts, &seen_now[group].1.facts),
            },
        };
        if last.id != &row.id && !row.aliases.contains(last.id) && last.state != State::Open {
            warnings.push(followed(last, row));
        }
    }
    warnings
}

fn verdicts<'a>(input: &'a Input, groups: &[Group], named: &Named) -> Vec<Verdict<'a>> {
    let (atoms, _) = numbered(groups);
    let index = Index::new(&atoms);
    let kept = kept_keys(named, &index);
    let mut lost: Vec<&ReceptionKey> = Vec::new();
    let mut verdicts = Vec::new();
    for act in &input.acts {
        let ActKind::Decide { id, state, ground, reason, seen } = &act.what else { continue };
        let mut tokens = BTreeSet::new();
        for key in &seen.receptions {
            tokens.insert(token(key, &index, &kept, named, &mut lost));
        }
        let mut owned: BTreeMap<usize, usize> = BTreeMap::new();
        for token in &tokens {
            match token {
                Token::Shown(atom) => *owned.entry(named.owner_of[*atom]).or_default() += 1,
                Token::Kept(anchor, _) => *owned.entry(*anchor).or_default() += 1,
                Token::Lost(_) => {}
            }
        }
        let by_name = named.anchors.iter().position(|anchor| anchor.id == *id);
        let most = owned.values().copied().max();
        let about = match by_name {
            // Of two that own equal parts, the one that bore the name.
            Some(anchor) if owned.get(&anchor).copied() == most => Some(anchor),
            _ => owned.iter().find(|(_, n)| Some(**n) == most).map(|(anchor, _)| *anchor),
        };
        verdicts.push(Verdict {
            act,
            id,
            state: *state,
            ground: *ground,
            reason,
            seen,
            tokens,
            about: about.or(by_name),
        });
    }
    verdicts
}

/// Keys of anchors that nothing shows now, by evidence.
fn kept_keys<'a>(named: &'a Named, index: &Index<'_>) -> BTreeMap<&'a str, Vec<(usize, usize)>> {
    let mut kept: BTreeMap<&str, Vec<(usize, usize)>> = BTreeMap::new();
    for (a, anchor) in named.anchors.iter().enumerate() {
        for (k, key) in anchor.receptions.iter().enumerate() {
            if index.find(key).is_none() {
                kept.entry(&*key.sha256).or_default().push((a, k));
            }
        }
    }
    kept
}

fn token<'a>(
    key: &'a ReceptionKey,
    index: &Index<'_>,
    kept: &BTreeMap<&str, Vec<(usize, usize)>>,
    named: &Named,
    lost: &mut Vec<&'a ReceptionKey>,
) -> Token {
    if let Some(hit) = index.find(key) {
        return Token::Shown(hit.atom);
    }
    let same = kept.get(&*key.sha256).map_or(&[][..], Vec::as_slice);
    let best = same
        .iter()
        .map(|&(a, k)| (fit(key, &named.anchors[a].receptions[k]), a, k))
        .filter(|(fit, ..)| *fit > 0)
        .max_by(|x, y| x.0.cmp(&y.0).then((y.1, y.2).cmp(&(x.1, x.2))));
    if let Some((_, anchor, k)) = best {
        return Token::Kept(anchor, k);
    }
    let number = lost.iter().position(|other| **other == *key).unwrap_or_else(|| {
        lost.push(key);
        lost.len() - 1
    });
    Token::Lost(number)
}

fn word(verdict: &Verdict<'_>) -> String {
    let state = match verdict.state {
        State::Open => "open",
        State::Accounted => "accounted",
        State::Suspect => "suspect",
        State::Located => "located",
        State::HandedOver => "handed over",
        State::Unresolved => "unresolved",
    };
    let ground = match verdict.ground {
        None => return state.to_owned(),
        Some(Ground::Seen) => "seen",
        Some(Ground::SwitchedOff) => "switched off",
        Some(Ground::StrongerOutside) => "stronger outside",
        Some(Ground::Decoded) => "decoded",
        Some(Ground::OwnKit) => "own kit",
        Some(Ground::ReceiverOwn) => "the receiver's own",
        Some(Ground::Inferred) => "inferred",
    };
    format!("{state}, {ground}")
}

fn waits(verdict: &Verdict<'_>) -> Reason {
    let (id, word) = (verdict.id, word(verdict));
    Reason::new(
        "decision_waits",
        format!(
            "{id} was decided {word}, but nothing that counts shows what was decided on; the decision is kept and \
             stands again when that is shown again."
        ),
    )
    .with("id", id.as_str())
    .with("state", word)
    .with("entry", verdict.act.seq as f64)
}

fn reopened(row: &LedgerRow, verdicts: &[&Verdict<'_>]) -> Reason {
    let words: Vec<String> = verdicts.iter().map(|v| format!("{} {}", v.id, word(v))).collect();
    Reason::new(
        "unequal_decisions",
        format!(
            "{} is open again: what is one row now was decided differently before ({}).",
            row.id,
            words.join(", ")
        ),
    )
    .with("id", row.id.as_str())
    .with("decided", words.join(", "))
}

fn followed(verdict: &Verdict<'_>, row: &LedgerRow) -> Reason {
    Reason::new(
        "decision_followed",
        format!(
            "The decision on {} ({}) stands on {} now, which holds most of what was decided on.",
            verdict.id,
            word(verdict),
            row.id
        ),
    )
    .with("was", verdict.id.as_str())
    .with("id", row.id.as_str())
    .with("entry", verdict.act.seq as f64)
}

//! Two hundred random sequences of what people do to a survey: add, correct, set aside, restore,
//! analyse anew, decide, join, split. After each step the ledger is checked against rules written
//! here from design.md alone, over tokens (evidence, emitter) that the ledger does not know.

use crate::contract::{LedgerRow, State};
use crate::input::{ActKind, Input, Outcome, ReceptionKey, Seen};
use crate::made::*;
use rand::seq::IndexedRandom;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::collections::{BTreeMap, BTreeSet};

/// Evidence and the emitter it shows.
type Token = (String, usize);

/// Emitters in pairs 4 kHz apart (9 ppm: near enough for some to be taken for one), pairs far
/// apart.
fn emitter_hz(k: usize) -> f64 {
    420e6 + 1e6 * (k / 2) as f64 + 4e3 * (k % 2) as f64
}
const EMITTERS: usize = 8;

fn token(key: &ReceptionKey) -> Token {
    let off = |k: &usize| (emitter_hz(*k) - key.centre_hz).abs();
    let nearest = (0..EMITTERS).min_by(|a, b| off(a).total_cmp(&off(b)));
    (key.sha256.clone(), nearest.expect("some"))
}

fn tokens(seen: &Seen) -> BTreeSet<Token> {
    seen.receptions.iter().map(token).collect()
}

/// What is followed from step to step.
struct Story {
    input: Input,
    random: ChaCha8Rng,
    /// Every id that was ever given, with all that it ever stood for.
    ids: BTreeMap<String, BTreeSet<Token>>,
}

impl Story {
    fn capture(&mut self) {
        let k = self.input.captures.len();
        let place = *["yard", "hall", "office", "den"].choose(&mut self.random).expect("some");
        let mut capture = iq(&format!("C{k}"), 120.0 * k as f64, place, &[]);
        capture.chain.name =
            (*["receiver", "other"].choose(&mut self.random).expect("some")).into();
        self.input.captures.push(capture);
        self.analyse(k);
    }

    /// Shows a random half of the emitters, each a little off.
    fn analyse(&mut self, capture: usize) {
        let shown: Vec<usize> = (0..EMITTERS).filter(|_| self.random.random_bool(0.5)).collect();
        let rows = shown.into_iter().map(|k| {
            let off_hz = self.random.random_range(-300.0..300.0);
            row(emitter_hz(k) + off_hz, self.random.random_range(-60.0..-50.0))
        });
        self.input.captures[capture].rows = rows.collect();
    }

    fn step(&mut self, outcome: &Outcome) {
        let rows = &outcome.ledger.emissions;
        let captures = self.input.captures.len();
        let some = self.random.random_range(0..captures);
        match self.random.random_range(0..10) {
            0 if captures < 9 => self.capture(),
            1 => self.input.captures[some].set_aside = Some("test".into()),
            2 | 3 => self.input.captures[some].set_aside = None,
            4 => {
                let moved = self.random.random_range(-200.0..200.0);
                for row in &mut self.input.captures[some].rows {
                    row.emission.centre_hz += moved * self.random.random_range(0.0..1.0);
                }
            }
            5 => self.analyse(some),
            6 | 7 if !rows.is_empty() => {
                let id = rows.choose(&mut self.random).expect("some").id.clone();
                let states = [State::Accounted, State::Suspect, State::Unresolved, State::Open];
                let state = *states.choose(&mut self.random).expect("some");
                decide(&mut self.input, outcome, &id, state);
                let seq = self.input.acts.len();
                if let ActKind::Decide { reason, .. } =
                    &mut self.input.acts.last_mut().expect("one").what
                {
                    *reason = format!("act {seq}");
                }
            }
            8 if rows.len() > 1 => {
                let two: Vec<&str> = rows.sample(&mut self.random, 2).map(|row| &*row.id).collect();
                join(&mut self.input, outcome, &two);
            }
            9 => {
                let Some(row) = rows.choose(&mut self.random) else { return };
                let heard: Vec<&str> =
                    row.receptions.iter().filter(|r| r.heard).map(|r| &*r.capture).collect();
                let leave: BTreeSet<&str> =
                    heard.iter().copied().filter(|_| self.random.random_bool(0.4)).collect();
                let all: BTreeSet<&str> = heard.iter().copied().collect();
                if leave.is_empty() || leave == all {
                    return;
                }
                let leave: Vec<&str> = leave.into_iter().collect();
                let number = |id: &String| id[1..].parse::<u64>().expect("a number");
                let last = self.input.anchors.iter().map(|a| number(&a.id)).max().unwrap_or(0);
                let new = format!("E{}", last + 1);
                let leaving = tokens(&seen(outcome, &row.id))
                    .into_iter()
                    .filter(|(sha, _)| leave.iter().any(|c| *sha == format!("hash of {c}")));
                // It stands for them from now on, also while it is merged into another.
                self.ids.entry(new.clone()).or_default().extend(leaving);
                split(&mut self.input, outcome, &row.id, &leave, &new);
            }
            _ => {}
        }
    }

    /// Ids are unique, stand for what they stood for, and new ones are new.
    fn check_ids(&mut self, outcome: &Outcome) {
        let number = |id: &String| id[1..].parse::<u64>().expect("a number");
        let given: u64 = self.ids.keys().map(number).max().unwrap_or(0);
        let mut names = BTreeSet::new();
        for row in &outcome.ledger.emissions {
            for name in row.aliases.iter().chain([&row.id]) {
                assert!(names.insert(name.clone()), "{name} twice");
            }
            let shown = tokens(&seen(outcome, &row.id));
            match self.ids.get_mut(&row.id) {
                Some(before) => {
                    let stood = shown.intersection(before).next().is_some();
                    assert!(
                        stood,
                        "{} was given to another row: {before:?} then {shown:?}",
                        row.id
                    );
                    before.extend(shown);
                }
                None => {
                    let new = number(&row.id) > given;
                    assert!(new, "{} was new but small", row.id);
                    self.ids.insert(row.id.clone(), shown);
                }
            }
        }
        let mut all: Vec<Token> =
            outcome.seen.iter().flat_map(|(_, seen)| seen.receptions.iter().map(token)).collect();
        let counted: usize = self
            .input
            .captures
            .iter()
            .filter(|c| c.set_aside.is_none())
            .map(|c| c.rows.len())
            .sum();
        assert_eq!(all.len(), counted, "each row of a capture in one row");
        all.sort();
        all.dedup();
        assert_eq!(all.len(), counted);
    }

    /// Every decision stands on the one row that holds most of what was decided on, or is replaced
    /// by a later one that saw the same, or is told of.
    fn check_decisions(&self, outcome: &Outcome) {
        let rows: Vec<(&LedgerRow, BTreeSet<Token>)> = outcome
            .ledger
            .emissions
            .iter()
            .map(|row| (row, tokens(&seen(outcome, &row.id))))
            .collect();
        let acts: Vec<(u64, State, BTreeSet<Token>, &Seen, &String)> = self
            .input
            .acts
            .iter()
            .filter_map(|act| match &act.what {
                ActKind::Decide { state, seen, id, .. } => {
                    Some((act.seq, *state, tokens(seen), seen, id))
                }
                _ => None,
            })
            .collect();
        for (i, (seq, state, decided_on, _, id)) in acts.iter().enumerate() {
            let reason = format!("act {seq}");
            let on: Vec<_> =
                rows.iter().filter(|(r, _)| r.decision.reason.as_ref() == Some(&reason)).collect();
            assert!(on.len() <= 1, "{reason} stands twice");
            let later = &acts[i + 1..];
            let touched = later.iter().any(|l| l.4 == *id || !l.2.is_disjoint(decided_on));
            let most_touched =
                later.iter().any(|l| 2 * l.2.intersection(decided_on).count() > decided_on.len());
            let held = |tokens: &BTreeSet<Token>| tokens.intersection(decided_on).count();
            let most = rows.iter().map(|(_, tokens)| held(tokens)).max().unwrap_or(0);
            if let [(row, tokens)] = &on[..] {
                assert!(!most_touched, "{reason} stands, but was decided anew");
                assert!(held(tokens) > 0, "{reason} moved to {}", row.id);
                // Of what is shown another may hold more only if the rest, set aside, makes up for it.
                let shown: usize = rows.iter().map(|(_, tokens)| held(tokens)).sum();
                let aside = decided_on.len() - shown;
                assert!(held(tokens) + aside >= most, "{reason} on a small part, {}", row.id);
                assert_eq!(row.decision.state, *state);
                continue;
            }
            let told = outcome.warnings.iter().any(|w| {
                w.values.get("entry") == Some(&units::Value::Number(*seq as f64))
                    || w.code == "unequal_decisions"
            });
            // Equal decisions of rows that became one: the last one's words stand for both.
            let by_equal = rows.iter().any(|(row, tokens)| {
                held(tokens) > 0 && row.decision.state == *state && row.decision.reason.is_some()
            });
            let kept = touched || told || by_equal || *state == State::Open;
            assert!(kept, "{reason} is lost: {decided_on:?}");
        }
        for (row, shown) in &rows {
            if row.decision.state == State::Open {
                continue;
            }
            // Heard where nobody who decided so had seen it: told.
            let knew: BTreeSet<&Option<String>> = acts
                .iter()
                .filter(|(_, state, on, ..)| {
                    *state == row.decision.state && on.intersection(shown).next().is_some()
                })
                .flat_map(|(_, _, _, seen, _)| seen.receptions.iter().map(|key| &key.position))
                .collect();
            let new = row.receptions.iter().any(|r| r.heard && !knew.contains(&r.position));
            assert!(!new || !row.decision.changed_since.is_empty(), "{} kept silently", row.id);
        }
        let changed = rows
            .iter()
            .filter(|(r, _)| {
                r.decision.state != State::Open && !r.decision.changed_since.is_empty()
            })
            .count();
        assert_eq!(outcome.ledger.balance.changed, changed as u64);
    }

    /// Joins and splits hold, unless a later act spoke of the same receptions.
    fn check_hand(&self, outcome: &Outcome) {
        let rows: Vec<BTreeSet<Token>> =
            outcome.seen.iter().map(|(_, seen)| tokens(seen)).collect();
        for (i, act) in self.input.acts.iter().enumerate() {
            let later = &self.input.acts[i + 1..];
            let speaks = |join: bool, about: &BTreeSet<Token>| {
                later.iter().any(|act| match &act.what {
                    ActKind::Join { rows, .. } if join => {
                        rows.iter().any(|(_, seen)| !tokens(seen).is_disjoint(about))
                    }
                    ActKind::Split { seen, .. } if !join => !tokens(seen).is_disjoint(about),
                    _ => false,
                })
            };
            match &act.what {
                ActKind::Join { rows: joined, .. } => {
                    let all: BTreeSet<Token> =
                        joined.iter().flat_map(|(_, seen)| tokens(seen)).collect();
                    let parts = rows.iter().filter(|row| !row.is_disjoint(&all)).count();
                    assert!(parts <= 1 || speaks(false, &all), "{:?} fell apart", act.what);
                }
                ActKind::Split { seen, captures, .. } => {
                    let (leave, stay): (BTreeSet<Token>, BTreeSet<Token>) =
                        tokens(seen).into_iter().partition(|(sha, _)| {
                            captures.iter().any(|c| *sha == format!("hash of {c}"))
                        });
                    let met =
                        rows.iter().any(|row| !row.is_disjoint(&leave) && !row.is_disjoint(&stay));
                    assert!(!met || speaks(true, &tokens(seen)), "{:?} grew together", act.what);
                }
                ActKind::Decide { .. } => {}
            }
        }
    }
}

fn seen(outcome: &Outcome, id: &str) -> Seen {
    outcome.seen.iter().find(|(row, _)| row == id).expect("seen").1.clone()
}

/// Every row by what it is made of, with its decision: what restoring must give back.
fn standing(outcome: &Outcome) -> Vec<String> {
    let mut all: Vec<String> = outcome
        .ledger
        .emissions
        .iter()
        .map(|row| {
            let keys = seen(outcome, &row.id).receptions;
            // Under which of its names a row of several comes back depends on what it was meanwhile.
            format!("{:?} {:?}", row.decision, keys)
        })
        .collect();
    all.sort();
    all
}

#[test]
fn no_decision_is_lost_moved_or_silently_kept() {
    for seed in 0..200 {
        println!("seed {seed}");
        let random = ChaCha8Rng::seed_from_u64(seed);
        let mut story = Story { input: input(vec![]), random, ids: BTreeMap::new() };
        story.capture();
        story.capture();
        let mut outcome = built(&mut story.input);
        for step in 0..30 {
            story.check_ids(&outcome);
            story.check_decisions(&outcome);
            story.check_hand(&outcome);
            if step % 5 == 0 {
                let again = built(&mut story.input);
                assert_eq!(again, outcome, "seed {seed}: computed again it is the same");
            }
            story.step(&outcome);
            outcome = built(&mut story.input);
        }
        story.check_ids(&outcome);
        // Each capture set aside and restored: every decision comes back to its row.
        let before = standing(&outcome);
        for k in 0..story.input.captures.len() {
            if story.input.captures[k].set_aside.is_some() {
                continue;
            }
            story.input.captures[k].set_aside = Some("for a while".into());
            let without = built(&mut story.input);
            story.check_ids(&without);
            story.check_decisions(&without);
            story.input.captures[k].set_aside = None;
            let back = built(&mut story.input);
            story.check_ids(&back);
            assert_eq!(standing(&back), before, "seed {seed}: capture {k}");
        }
    }
}

//! Random sequences of what a technician does: add, set aside, restore, decide, join, split,
//! reanalyse. After each step a model, which knows nothing of how a ledger is made, says what must
//! hold: no decision is lost, moved to what it was not made of, or kept in silence over what the
//! person did not see.
//!
//! Two hundred of them, or as many as STILLROOM_SEQUENCES says; a failing one names its seed.

mod common;

use common::*;
use ledger::{Ground, Ledger, LedgerRow, Outcome, Role, State};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::time::Duration;
use survey::{Amend, Joining, Parting, Quiet, Survey, Verdict};

const STEPS: usize = 14;
const EMITTERS: u64 = 5;
const POSITIONS: [&str; 4] = ["yard", "boardroom", "office", "archive"];

/// One emitter as one capture heard it.
type Atom = (String, u64);

/// A decision as it was made.
#[derive(Debug, Clone)]
struct Made {
    /// The row, as it was called.
    id: String,
    /// Its words, by which it is known again; no other has them.
    reason: String,
    state: State,
    ground: Option<Ground>,
    /// What it still stands for.
    of: BTreeSet<Atom>,
    /// What the person saw.
    saw: BTreeSet<Atom>,
    /// Two rows held equal parts of it when it was split, or when one of them was decided anew: it
    /// stands on either, or was replaced with that.
    tied: bool,
}

/// What was done, kept beside the survey.
#[derive(Debug, Default)]
struct Model {
    /// Position and levels (dBFS by emitter) of each capture.
    captures: BTreeMap<String, (String, BTreeMap<u64, f64>)>,
    aside: BTreeSet<String>,
    /// Pairs that a person put together (true) or took apart; the last word counts.
    by_hand: BTreeMap<(Atom, Atom), bool>,
    made: Vec<Made>,
    /// Ids that were shown, with what they last were.
    ids: BTreeMap<String, BTreeSet<Atom>>,
    /// Ids of rows that were one with others at some time: what is left of them bears any of these.
    joined: BTreeSet<String>,
}

struct Random(u64);

impl Random {
    /// splitmix64 (from memory).
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    fn below(&mut self, n: usize) -> usize {
        (self.next() % n.max(1) as u64) as usize
    }
    fn of<'a, T>(&mut self, all: &'a [T]) -> Option<&'a T> {
        all.get(self.below(all.len()))
    }
}

fn centre_hz(emitter: u64) -> f64 {
    433e6 + 400e3 * emitter as f64
}

/// The emitters nearest to a row's receptions: by the fake's own table, not by the row's centre.
fn atoms(model: &Model, outcome: &Outcome, row: &LedgerRow) -> BTreeSet<Atom> {
    let seen = outcome.seen.iter().find(|(id, _)| *id == row.id).map(|(_, seen)| seen);
    let seen = seen.expect("every row says what it showed");
    let mut atoms = BTreeSet::new();
    for key in &seen.receptions {
        let emitter = ((key.centre_hz - 433e6) / 400e3).round() as u64;
        // Evidence is named by its hash; a capture's content is its own, so the hash names it.
        let capture = outcome
            .ledger
            .captures
            .iter()
            .find(|c| c.files.first().is_some_and(|f| f.sha256 == key.sha256))
            .expect("a capture of that hash");
        assert!(model.captures[&capture.id].1.contains_key(&emitter), "nobody heard that");
        atoms.insert((capture.id.clone(), emitter));
    }
    atoms
}

fn pair(a: &Atom, b: &Atom) -> (Atom, Atom) {
    if a <= b { (a.clone(), b.clone()) } else { (b.clone(), a.clone()) }
}

impl Model {
    fn alive(&self) -> BTreeSet<Atom> {
        let counting = self.captures.iter().filter(|(id, _)| !self.aside.contains(*id));
        counting.flat_map(|(id, (_, rows))| rows.keys().map(|e| (id.clone(), *e))).collect()
    }

    fn level(&self, atom: &Atom) -> f64 {
        self.captures[&atom.0].1[&atom.1]
    }

    fn position(&self, atom: &Atom) -> &str {
        &self.captures[&atom.0].0
    }

    /// Whether two belong together: as a person said last, else by being the same emitter.
    fn together(&self, a: &Atom, b: &Atom) -> bool {
        self.by_hand.get(&pair(a, b)).copied().unwrap_or(a.1 == b.1)
    }

    /// The atoms that can be reached from one over others with which it belongs together.
    fn reach(&self, from: &Atom, alive: &BTreeSet<Atom>) -> BTreeSet<Atom> {
        let mut reached = BTreeSet::from([from.clone()]);
        let mut new = vec![from.clone()];
        while let Some(a) = new.pop() {
            for b in alive {
                if !reached.contains(b) && self.together(&a, b) {
                    reached.insert(b.clone());
                    new.push(b.clone());
                }
            }
        }
        reached
    }

    fn check(&mut self, outcome: &Outcome) {
        let ledger = &outcome.ledger;
        let rows: Vec<(&LedgerRow, BTreeSet<Atom>)> =
            ledger.emissions.iter().map(|row| (row, atoms(self, outcome, row))).collect();
        for (row, atoms) in &rows {
            let said = row.decision.reason.as_deref().unwrap_or("open");
            println!("    {} {:?}: {said} {:?}", row.id, row.aliases, atoms);
        }
        self.check_rows(&rows);
        self.check_ids(ledger, &rows);
        for (row, of) in &rows {
            self.check_decision(outcome, row, of, &rows);
        }
    }

    /// Every reception stands in one row, with those it belongs to and with no others.
    fn check_rows(&self, rows: &[(&LedgerRow, BTreeSet<Atom>)]) {
        let alive = self.alive();
        let mut home: BTreeMap<&Atom, usize> = BTreeMap::new();
        for (i, (row, atoms)) in rows.iter().enumerate() {
            for atom in atoms {
                assert!(home.insert(atom, i).is_none(), "{atom:?} is in two rows, one {}", row.id);
            }
        }
        assert_eq!(home.keys().copied().cloned().collect::<BTreeSet<_>>(), alive);
        for a in &alive {
            let reach = self.reach(a, &alive);
            for b in alive.iter().filter(|b| *b > a) {
                let one_row = home[a] == home[b];
                if !reach.contains(b) {
                    assert!(!one_row, "{a:?} and {b:?} are in one row, and nobody said so");
                }
                // What a person said of other pairs may contradict this one; then either will do.
                let between = |c: &&Atom| *c != a && *c != b;
                let contradicted = alive
                    .iter()
                    .filter(between)
                    .any(|c| self.together(a, c) != self.together(c, b));
                if self.together(a, b) && !contradicted {
                    assert!(one_row, "{a:?} and {b:?} belong together");
                }
                if self.by_hand.get(&pair(a, b)) == Some(&false) {
                    let over = |c: &Atom| self.together(a, c) && self.together(c, b);
                    if !alive.iter().filter(between).any(over) {
                        assert!(!one_row, "{a:?} and {b:?} were taken apart");
                    }
                }
            }
        }
    }

    /// An id once shown leads to what it stood for, as long as any of that counts.
    fn check_ids(&mut self, ledger: &Ledger, rows: &[(&LedgerRow, BTreeSet<Atom>)]) {
        let alive = self.alive();
        let mut given = BTreeSet::new();
        for row in &ledger.emissions {
            assert!(given.insert(row.id.clone()), "{} twice", row.id);
            for alias in &row.aliases {
                assert!(given.insert(alias.clone()), "{alias} is a row's and an alias");
            }
        }
        for (id, was) in &self.ids {
            if !self.joined.contains(id) && was.iter().any(|atom| alive.contains(atom)) {
                assert!(given.contains(id), "{id} stood for {was:?} and leads nowhere");
            }
        }
        for (row, atoms) in rows {
            // An alias stands for the row that it became part of.
            for id in row.aliases.iter().chain([&row.id]) {
                if !row.aliases.is_empty() {
                    self.joined.insert(id.clone());
                }
                self.ids.insert(id.clone(), atoms.clone());
            }
        }
    }

    /// Rows that hold most of what a decision still stands for; several where it is a tie.
    fn homes<'a>(made: &Made, rows: &[(&'a LedgerRow, BTreeSet<Atom>)]) -> Vec<&'a str> {
        let held = |atoms: &BTreeSet<Atom>| made.of.intersection(atoms).count();
        let most = rows.iter().map(|(_, atoms)| held(atoms)).max().unwrap_or(0);
        let home = rows.iter().filter(|(_, atoms)| most > 0 && held(atoms) == most);
        home.map(|(row, _)| row.id.as_str()).collect()
    }

    fn check_decision(
        &self,
        outcome: &Outcome,
        row: &LedgerRow,
        of: &BTreeSet<Atom>,
        rows: &[(&LedgerRow, BTreeSet<Atom>)],
    ) {
        let said = &row.decision;
        let mut certain: Vec<&Made> = Vec::new();
        let mut possible: Vec<&Made> = Vec::new();
        for made in &self.made {
            let homes = Self::homes(made, rows);
            if homes.contains(&row.id.as_str()) {
                possible.push(made);
                if homes.len() == 1 && !made.tied {
                    certain.push(made);
                }
            }
        }
        let Some(reason) = &said.reason else {
            assert_eq!(said.state, State::Open, "{}: decided without words", row.id);
            let unequal = certain
                .windows(2)
                .any(|pair| (pair[0].state, pair[0].ground) != (pair[1].state, pair[1].ground))
                || possible.len() > certain.len();
            // One that waits for what is set aside is told of, and stands again with it.
            let waits = |made: &&Made| {
                outcome.warnings.iter().any(|w| {
                    w.code == "decision_waits"
                        && w.values.get("id") == Some(&made.id.clone().into())
                })
            };
            let lost: Vec<_> = certain.iter().filter(|made| !waits(made)).collect();
            assert!(lost.is_empty() || unequal, "{}: lost {lost:?}", row.id);
            if !lost.is_empty() {
                let told = !said.changed_since.is_empty()
                    || outcome.warnings.iter().any(|w| w.text.contains(&row.id));
                assert!(told, "{}: reopened in silence", row.id);
            }
            return;
        };
        let made = possible.iter().find(|made| made.reason == *reason);
        // A row goes on under its id when all that was decided on is set aside, and says so.
        let alive = self.alive();
        let goes_on = |made: &&Made| {
            let named = made.id == row.id || row.aliases.contains(&made.id);
            made.reason == *reason && named && made.of.is_disjoint(&alive)
        };
        if made.is_none() && self.made.iter().any(|made| goes_on(&made)) {
            assert!(!said.changed_since.is_empty(), "{}: goes on in silence", row.id);
            return;
        }
        let Some(made) = made else {
            panic!("{}: '{reason}' is no decision on this ({possible:?})", row.id);
        };
        if said.state == State::Open && made.state != State::Open {
            // Reopened, and says by which: the others must differ.
            assert!(possible.iter().any(|other| other.state != made.state), "{}: reopened", row.id);
            return;
        }
        assert_eq!((said.state, said.ground), (made.state, made.ground), "{}", row.id);
        let differs = certain.iter().any(|d| (d.state, d.ground) != (made.state, made.ground));
        assert!(!differs, "{}: {certain:?} are unequal and one was kept", row.id);
        if certain.len() == 1 && of.is_subset(&made.saw) {
            assert!(said.changed_since.is_empty(), "{}: nothing is new: {said:?}", row.id);
        }
        // Of equal decisions the words of one are shown, and all count.
        let equal = possible.iter().filter(|d| (d.state, d.ground) == (made.state, made.ground));
        let saw: BTreeSet<&Atom> = equal.flat_map(|d| &d.saw).collect();
        for atom in of.iter().filter(|atom| !saw.contains(atom)) {
            let there: Vec<&&Atom> =
                saw.iter().filter(|a| self.position(a) == self.position(atom)).collect();
            let loudest = there.iter().map(|a| self.level(a)).fold(f64::NEG_INFINITY, f64::max);
            // New place, or 6 dB stronger there with a margin for rounding.
            if there.is_empty() || self.level(atom) > loudest + 6.5 {
                assert!(!said.changed_since.is_empty(), "{}: {atom:?} is new, in silence", row.id);
            }
        }
    }

    fn decided(&mut self, row: &LedgerRow, made: Made, rows: &[(&LedgerRow, BTreeSet<Atom>)]) {
        // It takes the place of whatever stood on that row, and of nothing else.
        self.made.retain_mut(|old| {
            let homes = Self::homes(old, rows);
            let here = homes.contains(&row.id.as_str());
            let shown = row.decision.reason.as_ref() == Some(&old.reason);
            old.tied |= here;
            let replaced = shown || here && homes.len() == 1;
            !replaced
        });
        self.made.push(made);
    }

    fn joined(&mut self, parts: &[BTreeSet<Atom>]) {
        for (i, one) in parts.iter().enumerate() {
            for other in &parts[i + 1..] {
                for (a, b) in one.iter().flat_map(|a| other.iter().map(move |b| (a, b))) {
                    self.by_hand.insert(pair(a, b), true);
                }
            }
        }
    }

    fn split(&mut self, leave: &BTreeSet<Atom>, stay: &BTreeSet<Atom>) {
        for (a, b) in leave.iter().flat_map(|a| stay.iter().map(move |b| (a, b))) {
            self.by_hand.insert(pair(a, b), false);
        }
        for made in &mut self.made {
            let (gone, kept) =
                (made.of.intersection(leave).count(), made.of.intersection(stay).count());
            // It goes with the part that holds most; with a tie with either.
            if gone > 0 && kept > 0 {
                let other = if gone > kept { stay } else { leave };
                if gone == kept {
                    made.tied = true;
                } else {
                    made.of = made.of.difference(other).cloned().collect();
                }
            }
        }
    }
}

fn step(survey: &Survey, dir: &Path, model: &mut Model, random: &mut Random, number: usize) {
    let outcome = survey.ledger(&Quiet).expect("a ledger");
    let rows: Vec<(&LedgerRow, BTreeSet<Atom>)> =
        outcome.ledger.emissions.iter().map(|row| (row, atoms(model, &outcome, row))).collect();
    match random.below(10) {
        0..3 => add_one(survey, dir, model, random, number),
        3 => {
            let counting: Vec<String> =
                model.captures.keys().filter(|id| !model.aside.contains(*id)).cloned().collect();
            if let Some(id) = random.of(&counting) {
                let aside = Amend { set_aside: Some("a test".into()), ..Amend::default() };
                println!("set aside {id}");
                survey.amend(id, &aside, "").expect("set aside");
                model.aside.insert(id.clone());
            }
        }
        4 => {
            let aside: Vec<String> = model.aside.iter().cloned().collect();
            if let Some(id) = random.of(&aside) {
                let restore = Amend { restore: true, ..Amend::default() };
                println!("restore {id}");
                survey.amend(id, &restore, "").expect("restored");
                model.aside.remove(id);
            }
        }
        5..8 => {
            let Some((row, of)) = random.of(&rows) else { return };
            let states = [
                (State::Accounted, Some(Ground::Seen)),
                (State::Suspect, None),
                (State::Unresolved, None),
                (State::Accounted, Some(Ground::Inferred)),
            ];
            let (state, ground) = states[random.below(states.len())];
            let reason = format!("decision {number}");
            println!("decide {} as {state:?} {ground:?}: {reason}", row.id);
            let verdict = Verdict { state, ground, reason: reason.clone() };
            survey.decide(std::slice::from_ref(&row.id), &verdict, None, "").expect("decided");
            let id = row.id.clone();
            let (of, saw) = (of.clone(), of.clone());
            let made = Made { id, reason, state, ground, of, saw, tied: false };
            model.decided(row, made, &rows);
        }
        8 => {
            let (Some(a), Some(b)) = (random.of(&rows), random.of(&rows)) else { return };
            if a.0.id != b.0.id {
                println!("join {} {}", a.0.id, b.0.id);
                // Rows at random: whatever lies between them, a person has the last word.
                let ids = vec![a.0.id.clone(), b.0.id.clone()];
                let joining = Joining { ids, reason: "so".into(), although_apart: true };
                survey.join(&joining, None, "").expect("joined");
                model.joined(&[a.1.clone(), b.1.clone()]);
            }
        }
        _ => {
            let wide: Vec<_> = rows
                .iter()
                .filter(|(_, of)| of.iter().map(|a| &a.0).collect::<BTreeSet<_>>().len() > 1)
                .collect();
            let Some((row, of)) = random.of(&wide) else { return };
            let captures: Vec<&String> =
                of.iter().map(|a| &a.0).collect::<BTreeSet<_>>().into_iter().collect();
            let gone = captures[random.below(captures.len())].clone();
            let (leave, stay) = of.iter().cloned().partition(|a| a.0 == gone);
            println!("split {} {gone}", row.id);
            let parting = Parting { id: row.id.clone(), captures: vec![gone], reason: "so".into() };
            survey.split(&parting, None, "").expect("split");
            model.split(&leave, &stay);
        }
    }
}

fn add_one(survey: &Survey, dir: &Path, model: &mut Model, random: &mut Random, number: usize) {
    let mut levels = BTreeMap::new();
    for emitter in 0..EMITTERS {
        if random.below(2) == 0 {
            levels.insert(emitter, -70.0 + random.below(30) as f64);
        }
    }
    let position = POSITIONS[random.below(POSITIONS.len())];
    let rows: Vec<_> = levels.iter().map(|(e, dbfs)| (centre_hz(*e), *dbfs, 1.0)).collect();
    let start = format!("2026-03-01T20:{:02}:00Z", random.below(60));
    let file = recording(dir, &format!("f{number}"), &start, &rows);
    let role = if position == "yard" { Role::Reference } else { Role::Room };
    let id = add(survey, &file, &at(role, position));
    println!("add {id} at {position}: {levels:?}");
    model.captures.insert(id, (position.into(), levels));
}

/// In memory where there is such a place: what stays after a loss of power is another test's matter.
fn folder() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    let place = if memory.is_dir() { tempfile::tempdir_in(memory) } else { tempfile::tempdir() };
    place.expect("a temporary folder")
}

fn sequence(seed: u64) {
    let place = folder();
    let mut random = Random(seed);
    let mut model = Model::default();
    let mut engine = 1;
    let fake = |engine| Box::new(Fake { engine, takes: Duration::ZERO, step_hz: 5.0 });
    let mut survey = new_survey(place.path());
    for number in 0..2 {
        add_one(&survey, place.path(), &mut model, &mut random, number);
    }
    for number in 2..2 + STEPS {
        if random.below(8) == 0 {
            drop(survey);
            engine += 1;
            let case = place.path().join("case");
            survey = Survey::open_with(&case, fake(engine)).expect("opens");
            println!("reanalyse with {engine}");
            survey.reanalyse("", &Quiet).expect("derived again");
        } else {
            step(&survey, place.path(), &mut model, &mut random, number);
        }
        model.check(&survey.ledger(&Quiet).expect("a ledger"));
    }
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.ok, "{:?}", check.faults);
}

#[test]
fn no_decision_is_lost_moved_or_silently_kept() {
    let many: u64 =
        std::env::var("STILLROOM_SEQUENCES").ok().and_then(|n| n.parse().ok()).unwrap_or(200);
    let first: u64 = std::env::var("STILLROOM_SEED").ok().and_then(|n| n.parse().ok()).unwrap_or(1);
    let mut failed = Vec::new();
    for seed in first..first + many {
        println!("seed {seed}");
        let ended = std::panic::catch_unwind(|| sequence(seed));
        if ended.is_err() {
            failed.push(seed);
        }
    }
    assert!(failed.is_empty(), "{} of {many} sequences failed: {failed:?}", failed.len());
}

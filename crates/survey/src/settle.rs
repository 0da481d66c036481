//! The ledger: a function of the record and of what was derived. What it must remember from one
//! time to the next (which ids were given, and to what) is written into the journal.

use crate::derive_part::FILE;
use crate::jobs::{PROGRAM, failed_reason};
use crate::journal::{self, Change};
use crate::parts;
use crate::pen::Pen;
use crate::survey::{Survey, head_of};
use crate::things::{Capture, Chain, Condition, Derivation, Identity, StoredAct};
use crate::{Progress, SurveyError, record};
use ledger::{Anchor, CaptureRow, Input, Outcome, RowEvent, SurveyInfo};
use rusqlite::{Connection, OptionalExtension};
use serde_json::Map;
use std::sync::PoisonError;
use units::Reason;

/// Standard uncertainty of a clock that nobody states, seconds: set by hand to the second
/// (common practice, no source).
const CLOCK_U_S: f64 = 1.0;
/// Ledgers that are remembered: the one that stands, and the one that was seen before.
const LEDGERS_KEPT: usize = 2;

impl Survey {
    /// The ledger, after everything that waits was derived.
    ///
    /// # Errors
    /// If the disk will not, or `progress` says that it is cancelled.
    pub fn ledger(&self, progress: &dyn Progress) -> Result<Outcome, SurveyError> {
        self.finish_pending(progress)?;
        let mut outcome = self.ledger_now()?;
        let mut remade = self.remade.lock().unwrap_or_else(PoisonError::into_inner);
        outcome.warnings.append(&mut remade);
        Ok(outcome)
    }

    /// The ledger of what was derived so far.
    ///
    /// # Errors
    /// If the disk will not.
    pub fn ledger_now(&self) -> Result<Outcome, SurveyError> {
        let (outcome, news) = self.read(|db| {
            let outcome = self.built(db)?;
            let news = new_anchors(db, &outcome)?;
            Ok((outcome, news))
        })?;
        if news.is_empty() || self.unwritten {
            return Ok(outcome);
        }
        self.write(PROGRAM, |pen| {
            // Only if somebody wrote meanwhile is it another ledger.
            if journal::head(pen.db)?.0 == outcome.ledger.version {
                ids_given(pen, outcome, &news)
            } else {
                self.settled(pen)
            }
        })
    }

    /// The ledger as the record stands in this transaction, its new ids written down.
    pub(crate) fn settled(&self, pen: &Pen<'_>) -> Result<Outcome, SurveyError> {
        let outcome = self.built(pen.db)?;
        let news = new_anchors(pen.db, &outcome)?;
        ids_given(pen, outcome, &news)
    }

    /// The ledger as it was when the journal had `version` entries.
    ///
    /// # Errors
    /// If the journal is damaged or the disk will not.
    pub fn ledger_at(&self, version: u64) -> Result<Outcome, SurveyError> {
        self.read(|db| self.built_at(db, version))
    }

    pub(crate) fn built_at(&self, db: &Connection, version: u64) -> Result<Outcome, SurveyError> {
        let then = journal::replay(db, Some(version))?;
        // What was derived again into the same folder since is what lies there now.
        for now in record::all::<Derivation>(db)? {
            let was = record::get::<Derivation>(&then, &now.id)?;
            if was.is_some_and(|was| was.folder == now.folder && was.files != now.files) {
                record::overwrite(&then, &now)?;
            }
        }
        let mut outcome = self.built(&then)?;
        outcome.ledger.version = version;
        Ok(outcome)
    }

    pub(crate) fn built(&self, db: &Connection) -> Result<Outcome, SurveyError> {
        let (input, warnings) = self.input(db)?;
        let mut outcome = self.ledger_of(input);
        outcome.warnings.extend(warnings);
        // What a person states of an emission's identity outranks what was derived.
        for stated in record::all::<Identity>(db)? {
            let row =
                outcome.ledger.emissions.iter_mut().find(|row| {
                    row.id == stated.emission || row.aliases.contains(&stated.emission)
                });
            if let Some(row) = row {
                row.identity = Some(stated.identity);
            }
        }
        Ok(outcome)
    }

    /// The ledger is a function: of what it was made of lately, it is what it was. One that stands and
    /// one that somebody saw before are asked for in turns.
    fn ledger_of(&self, input: Input) -> Outcome {
        let mut made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
        let known = made.iter().position(|(of, _)| *of == input).map(|at| made.remove(at));
        let latest = known.unwrap_or_else(|| {
            let outcome = ledger::build(&input);
            (input, outcome)
        });
        let outcome = latest.1.clone();
        made.insert(0, latest);
        made.truncate(LEDGERS_KEPT);
        outcome
    }

    /// What the ledger is a function of, and what to tell about it.
    fn input(&self, db: &Connection) -> Result<(Input, Vec<Reason>), SurveyError> {
        let head = head_of(db)?;
        let (version, journal_head) = journal::head(db)?;
        let movements = parts::movements(db)?;
        let chains = record::all::<Chain>(db)?;
        let conditions = record::all::<Condition>(db)?;
        let mut warnings = Vec::new();
        let mut captures = Vec::new();
        for capture in record::all::<Capture>(db)? {
            let chain = chains.iter().find(|chain| chain.name == capture.chain);
            let clock_s = parts::clock_of(&capture, chain);
            for part in parts::parts_of(&capture, clock_s, &movements) {
                let derivation = record::get::<Derivation>(db, &part.id)?;
                let derived = derivation.as_ref().map(|d| self.derived(d)).transpose()?.flatten();
                if derived.is_none() && capture.set_aside.is_none() {
                    let lies_there = derivation
                        .is_some_and(|d| self.folder.derived(&d.folder).join(FILE).exists());
                    warnings.extend(self.not_derived(db, &capture, &part.id, lies_there)?);
                }
                let mut entry = listed(&capture, chain, clock_s);
                entry.id = part.id;
                let named = conditions.iter().find(|c| Some(&c.name) == entry.condition.as_ref());
                entry.room_state = named.and_then(|condition| condition.state);
                if let (Some((from, until)), Some(start)) = (part.range_s, entry.start) {
                    entry.start = Some(start.plus_seconds(from));
                    entry.stop = Some(start.plus_seconds(until));
                    entry.position = part.position;
                } else {
                    entry.visits = parts::visits_of(&capture, clock_s, &movements);
                }
                if let Some(derived) = derived {
                    fill(&mut entry, &capture, &derived, clock_s);
                }
                captures.push(entry);
            }
        }
        let input = Input {
            version,
            survey: SurveyInfo {
                id: head.id,
                name: head.name,
                region: head.region,
                time_zone: head.time_zone,
                journal_head,
            },
            positions: record::all(db)?,
            captures,
            readings: readings(db, &chains)?,
            known_devices: record::all(db)?,
            acts: record::all::<StoredAct>(db)?.into_iter().map(|stored| stored.act).collect(),
            anchors: record::all(db)?,
        };
        Ok((input, warnings))
    }

    /// Why a capture that should count has nothing to count with.
    fn not_derived(
        &self,
        db: &Connection,
        capture: &Capture,
        part: &str,
        altered: bool,
    ) -> Result<Option<Reason>, SurveyError> {
        if !capture.is_derived_from() {
            return Ok(None);
        }
        let failed: Option<Option<String>> = db
            .query_row(
                "SELECT message FROM job WHERE input = ?1 AND state = 'failed' ORDER BY id DESC",
                [part],
                |row| row.get(0),
            )
            .optional()
            .map_err(|e| self.fail("read its jobs", e))?;
        Ok(Some(match failed {
            Some(message) => failed_reason(part, message.as_deref()),
            None if altered => Reason::new(
                "derived_altered",
                format!(
                    "What was derived from {part} was altered since, outside this program, and counts \
                     for nothing: `reanalyse` makes it anew from its evidence."
                ),
            )
            .with("capture", part),
            None => Reason::new(
                "not_analysed_yet",
                format!("{part} is stored but not analysed yet: what it shows is not counted."),
            )
            .with("capture", part),
        }))
    }
}

/// Writes down which ids were given, and to what.
fn ids_given(pen: &Pen<'_>, mut outcome: Outcome, news: &[Change]) -> Result<Outcome, SurveyError> {
    if !news.is_empty() {
        journal::append(pen.db, &pen.now().to_string(), PROGRAM, "ids", Map::new(), news)?;
    }
    let (version, head) = journal::head(pen.db)?;
    outcome.ledger.version = version;
    outcome.ledger.survey.journal_head = head;
    Ok(outcome)
}

/// The anchors that are new or stand for something else now, as changes of the record.
fn new_anchors(db: &Connection, outcome: &Outcome) -> Result<Vec<Change>, SurveyError> {
    let mut changes = Vec::new();
    for anchor in &outcome.anchors {
        let change = record::put::<Anchor>(db, anchor)?;
        if change.differs() {
            changes.push(change);
        }
    }
    changes.sort_by_cached_key(|change| record::order_of(&change.id));
    Ok(changes)
}

/// A capture as the ledger takes it, before what was derived is filled in.
fn listed(capture: &Capture, chain: Option<&Chain>, clock_s: f64) -> ledger::Capture {
    let span = parts::span_of(capture, clock_s);
    ledger::Capture {
        id: capture.id.clone(),
        sha256: capture.recording.clone(),
        kind: capture.kind,
        role: capture.role,
        position: capture.position.clone(),
        chain: ledger::Chain {
            name: capture.chain.clone(),
            setting: capture.setting.clone(),
            gain_db: capture.gain_db,
            frequency_u_ppm: chain.and_then(|chain| chain.frequency_u_ppm),
        },
        condition: capture.condition.clone(),
        room_state: None,
        files: capture.files.clone(),
        start: span.map(|(start, _)| start),
        stop: span.map(|(_, stop)| stop),
        clock_u_s: chain.and_then(|chain| chain.clock_u_s).unwrap_or(CLOCK_U_S),
        listened: Vec::new(),
        listening_assumed: capture.is_log() && (capture.from.is_none() || capture.until.is_none()),
        warnings: Vec::new(),
        rows: Vec::new(),
        events: Vec::new(),
        visits: Vec::new(),
        set_aside: capture.set_aside.clone(),
    }
}

fn fill(
    entry: &mut ledger::Capture,
    capture: &Capture,
    derived: &crate::derive::Derived,
    clock_s: f64,
) {
    let analysis = &derived.analysis;
    entry.listened = analysis.listened.clone();
    entry.warnings = analysis.warnings.clone();
    entry.rows = analysis
        .emissions
        .iter()
        .map(|row| CaptureRow {
            first_s: row.first_s,
            last_s: row.last_s,
            emission: row.emission.clone(),
            strength: row.strength,
            identity: None,
        })
        .collect();
    entry.events = derived
        .events
        .iter()
        .filter_map(|(event, row)| {
            let mut event = event.clone();
            event.start.from = event.start.from.plus_seconds(clock_s);
            event.start.until = event.start.until.plus_seconds(clock_s);
            // What its rows call a place is the position that was meant then, however it is named now.
            if let Some(id) = event.position.as_ref().and_then(|name| capture.places.get(name)) {
                event.position = Some(id.clone());
            }
            row.map(|row| RowEvent { row, event })
        })
        .collect();
}

fn readings(db: &Connection, chains: &[Chain]) -> Result<Vec<ledger::Reading>, SurveyError> {
    let readings = record::all::<crate::things::Reading>(db)?;
    Ok(readings
        .into_iter()
        .map(|reading| {
            let name = reading.chain.unwrap_or_else(|| crate::places::UNSTATED.into());
            let known = chains.iter().find(|chain| chain.name == name);
            ledger::Reading {
                id: reading.id,
                position: reading.position,
                at: reading.at,
                band: reading.band,
                emission: reading.emission,
                strength: reading.strength,
                level_dbm: reading.level_dbm,
                bearing_deg: reading.bearing_deg,
                heard: reading.heard,
                chain: ledger::Chain {
                    frequency_u_ppm: known.and_then(|chain| chain.frequency_u_ppm),
                    name,
                    setting: reading.setting,
                    gain_db: None,
                },
            }
        })
        .collect())
}

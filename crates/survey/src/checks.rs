//! How the known test sender read: at each place of each check of the equipment, against what the record
//! says that it should read.

use crate::stays::Stay;
use ledger::{CaptureInfo, KnownDevice, Ledger, LedgerRow, Reception, Role};
use serde::Serialize;
use units::{Band, Dbfs, Dbm, Strength, Utc};

/// A known test sender as a capture in the role of a check received it at one place, or did not.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct CheckHeard {
    /// The capture.
    pub capture: String,
    /// Its position.
    pub position: Option<String>,
    /// Chain, by the user's name.
    pub chain: Option<String>,
    /// When the capture began.
    pub at: Option<Utc>,
    /// Id of the known device that the record calls a test sender; null where it calls none so: then
    /// everything that the check heard is listed.
    pub sender: Option<String>,
    /// The row; null where the sender was not heard.
    pub emission: Option<String>,
    /// Centre of the row, or of the sender's band, hertz.
    pub centre_hz: f64,
    /// Level, corrected for gain inside its chain.
    pub level_dbfs: Option<Dbfs>,
    /// Level in dBm.
    pub level_dbm: Option<Dbm>,
    /// Strength on the detector's scale.
    pub strength: Option<Strength>,
    /// Level read less the level that it should read, dB.
    pub off_db: Option<f64>,
    /// Strength read less the strength that it should read, steps.
    pub off_steps: Option<f64>,
}

/// How the test senders read, check by check; where the record names none, all that the checks heard.
pub fn checks(ledger: &Ledger, known: &[KnownDevice], stays: &[Stay]) -> Vec<CheckHeard> {
    let senders: Vec<&KnownDevice> =
        known.iter().filter(|device| device.test_sender == Some(true)).collect();
    let counts = |c: &&CaptureInfo| c.set_aside.is_none() && c.role == Role::Check;
    let mut all = Vec::new();
    for capture in ledger.captures.iter().filter(counts) {
        if senders.is_empty() {
            for row in &ledger.emissions {
                let heard = row.receptions.iter().filter(|r| r.heard && is_of(capture, &r.capture));
                all.extend(heard.map(|reception| told(capture, None, Some((row, reception)))));
            }
        }
        for sender in &senders {
            for position in places(capture, stays) {
                let best = loudest(ledger, capture, position.as_ref(), sender);
                let mut one = told(capture, Some(sender), best);
                one.position = position;
                all.push(one);
            }
        }
    }
    all
}

/// Whether an id is that of a capture or of a part of it.
fn is_of(capture: &CaptureInfo, id: &str) -> bool {
    id == capture.id || id.strip_prefix(&capture.id).is_some_and(|rest| rest.starts_with('.'))
}

/// Where a capture was.
fn places(capture: &CaptureInfo, stays: &[Stay]) -> Vec<Option<String>> {
    let mut places: Vec<Option<String>> = Vec::new();
    for stay in stays.iter().filter(|stay| is_of(capture, &stay.capture)) {
        if !places.contains(&stay.position) {
            places.push(stay.position.clone());
        }
    }
    if places.is_empty() { vec![capture.position.clone()] } else { places }
}

/// The sender as it was received best at a place: what lies in its band; of a detector that names no
/// frequency, the strongest that it heard.
fn loudest<'a>(
    ledger: &'a Ledger,
    capture: &CaptureInfo,
    position: Option<&String>,
    sender: &KnownDevice,
) -> Option<(&'a LedgerRow, &'a Reception)> {
    let heard = |is: &dyn Fn(&LedgerRow) -> bool| {
        let rows = ledger.emissions.iter().filter(|row| is(row));
        let heard = rows.flat_map(|row| row.receptions.iter().map(move |r| (row, r)));
        let here = heard.filter(|(_, r)| {
            r.heard && is_of(capture, &r.capture) && r.position.as_ref() == position
        });
        here.max_by(|(_, a), (_, b)| height(a).total_cmp(&height(b)))
    };
    let in_band =
        |row: &LedgerRow| sender.sends_at(Band::new(row.emission.low_hz, row.emission.high_hz));
    heard(&in_band).or_else(|| heard(&|row| row.emission.high_hz <= 0.0))
}

/// Rises with the level inside one capture.
fn height(reception: &Reception) -> f64 {
    let steps = reception.strength.map(|s| s.value / s.of);
    let level = reception.level_dbm.map(|l| l.0).or(reception.level_dbfs.map(|l| l.0));
    level.or(steps).unwrap_or(f64::NEG_INFINITY)
}

fn told(
    capture: &CaptureInfo,
    sender: Option<&KnownDevice>,
    heard: Option<(&LedgerRow, &Reception)>,
) -> CheckHeard {
    let reception = heard.map(|(_, reception)| reception);
    let level_dbm = reception.and_then(|r| r.level_dbm);
    let strength = reception.and_then(|r| r.strength);
    let middle_hz = sender.and_then(|sender| sender.band).map(|band| band.centre_hz());
    CheckHeard {
        capture: capture.id.clone(),
        position: reception.map_or(capture.position.clone(), |r| r.position.clone()),
        chain: capture.chain.clone(),
        at: capture.start,
        sender: sender.map(|sender| sender.id.clone()),
        emission: heard.map(|(row, _)| row.id.clone()),
        centre_hz: heard
            .map(|(row, _)| row.emission.centre_hz)
            .filter(|hz| *hz > 0.0)
            .or(middle_hz)
            .unwrap_or(0.0),
        level_dbfs: reception.and_then(|r| r.level_dbfs),
        level_dbm,
        strength,
        off_db: level_dbm
            .zip(sender.and_then(|s| s.should_read_dbm))
            .map(|(is, should)| is.0 - should),
        off_steps: strength
            .zip(sender.and_then(|s| s.should_read_steps))
            .map(|(is, should)| is.value - should),
    }
}

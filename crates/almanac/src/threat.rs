//! Kinds of hostile transmitter, for coverage and simulation; kinds of strength scale.

use crate::table::{Row, TableError, rows};
use crate::technology::CARRIES;
use crate::{Carries, Provenance};
use units::Band;

/// What sets a hostile transmitter off.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Trigger {
    /// Always on.
    Always,
    /// Sound in the room.
    Sound,
    /// Movement.
    Motion,
    /// A clock.
    Time,
    /// A command by radio.
    Remote,
    /// A telephone call.
    Call,
}

/// A row of data/threats.csv: a kind of hostile transmitter. Powers, burst lengths and periods
/// are judgement, not measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Threat {
    /// Id.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Id of data/technologies.csv.
    pub technology: String,
    /// Where it may be found.
    pub band: Band,
    /// The likely part of `band`.
    pub likely: Vec<Band>,
    /// Power, EIRP, lowest and highest, dBm.
    pub eirp_dbm: Option<(f64, f64)>,
    /// Bandwidth.
    pub bandwidth_hz: Option<f64>,
    /// On-period, shortest and longest; `None`: continuous.
    pub burst_s: Option<(f64, f64)>,
    /// Time from one on-period to the next, shortest and longest.
    pub period_s: Option<(f64, f64)>,
    /// What sets it off.
    pub trigger: Trigger,
    /// What it carries.
    pub carries: Vec<Carries>,
    /// Remarks.
    pub note: String,
    /// Source.
    pub provenance: Provenance,
}

/// A row of data/strength_scales.csv: what a hand-held detector's numbers may be used for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StrengthScale {
    /// Kind of scale.
    pub kind: String,
    /// What may and may not be done with its numbers.
    pub note: String,
    /// Source. Never empty.
    pub source: String,
}

pub(crate) fn read(text: &str) -> Result<Vec<Threat>, TableError> {
    rows("threats.csv", text, threat)
}

fn threat(row: &Row<'_>) -> Result<Threat, TableError> {
    let band = |(low, high)| Band::new(low, high);
    let missing = || row.bad("band_low_hz", "", "the edges of the band");
    let mut likely = Vec::new();
    for part in row.list("band_list_hz")? {
        let edges = part.split_once('-').and_then(|(low, high)| {
            let (low, high) = (low.parse::<f64>().ok()?, high.parse::<f64>().ok()?);
            (low < high).then(|| Band::new(low, high))
        });
        likely.push(edges.ok_or_else(|| row.bad("band_list_hz", &part, "LOW-HIGH in hertz"))?);
    }
    let triggers = [
        ("always", Trigger::Always),
        ("sound", Trigger::Sound),
        ("motion", Trigger::Motion),
        ("time", Trigger::Time),
        ("remote", Trigger::Remote),
        ("call", Trigger::Call),
    ];
    Ok(Threat {
        id: row.required("id")?,
        name: row.required("name")?,
        technology: row.required("technology_id")?,
        band: row.range("band_low_hz", "band_high_hz", true)?.map(band).ok_or_else(missing)?,
        likely,
        eirp_dbm: row.range("eirp_dbm_low", "eirp_dbm_high", false)?,
        bandwidth_hz: row.optional("bandwidth_hz")?,
        burst_s: row.range("burst_s_low", "burst_s_high", false)?,
        period_s: row.range("period_s_low", "period_s_high", false)?,
        trigger: row.one_of("trigger", &triggers)?,
        carries: row.some_of("carries", &CARRIES)?,
        note: row.owned("note")?,
        provenance: row.provenance()?,
    })
}

pub(crate) fn read_scales(text: &str) -> Result<Vec<StrengthScale>, TableError> {
    rows("strength_scales.csv", text, |row| {
        Ok(StrengthScale {
            kind: row.required("scale_kind")?,
            note: row.required("note")?,
            source: row.required("source")?,
        })
    })
}

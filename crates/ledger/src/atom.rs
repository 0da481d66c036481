//! What is joined: atoms, each one row of one capture at one place, and the groups they become.
//!
//! [`atoms`] cuts the captures that count into atoms, in canonical order. Joining puts atoms into
//! [`Group`]s; from a group come a row's receptions, its summary, its origin and its attention.
//! Every index here points into the canonical [`Input`] (see [`canonical`]), which is what all
//! functions below are handed: iterating its captures gives the same order whatever the order in
//! which they came in.

use crate::contract::{CaptureKind, Role};
use crate::input::{Capture, Chain, Input, Reading, ReceptionKey};
use crate::places;
use units::{Band, Utc};

/// Standard uncertainty of a frequency reference that nobody stated, parts per million: a plain
/// crystal of ±20 ppm, taken as uniform (common practice, no source).
pub(crate) const CHEAP_REFERENCE_PPM: f64 = 11.5;

/// Where an atom comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Of {
    /// A row of a capture.
    Row {
        /// Index in [`Input::captures`].
        capture: usize,
        /// Index in [`Capture::rows`].
        row: usize,
    },
    /// A reading noted by a person.
    Reading {
        /// Index in [`Input::readings`].
        reading: usize,
    },
}

/// An event of a log that counts in an atom. Each event of a row counts in exactly one atom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct AtomEvent {
    /// Index in [`Capture::events`].
    pub(crate) index: usize,
    /// Probability that it was logged at this atom's place; below 1 in the minute of a move.
    pub(crate) p_here: f64,
}

/// One row of one capture at one place; or one reading.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Atom {
    /// What names it through every recomputation.
    pub(crate) key: ReceptionKey,
    /// What it is of.
    pub(crate) of: Of,
    /// Id of the position; `None` where nobody says it, and for no-antenna.
    pub(crate) position: Option<String>,
    /// Where in frequency: the row's low and high; a log's band.
    pub(crate) band: Band,
    /// Centre, hertz.
    pub(crate) centre_hz: f64,
    /// Standard uncertainty of the centre from measuring it, the resolution included, without the
    /// reference's, hertz.
    pub(crate) u_centre_hz: f64,
    /// Standard uncertainty of the chain's frequency reference, parts per million.
    pub(crate) u_reference_ppm: f64,
    /// Whether the frequency is only as good as a band's name (event logs, readings without a
    /// measured width).
    pub(crate) coarse: bool,
    /// First time heard at this place.
    pub(crate) first: Option<Utc>,
    /// Last time heard at this place.
    pub(crate) last: Option<Utc>,
    /// Events of a log that were logged here, by time; empty for other kinds.
    pub(crate) events: Vec<AtomEvent>,
    /// Device or network address, cell.
    pub(crate) identity: Option<String>,
}

impl Atom {
    /// Whether it is a reading.
    pub(crate) fn reading<'a>(&self, input: &'a Input) -> Option<&'a Reading> {
        match self.of {
            Of::Reading { reading } => input.readings.get(reading),
            Of::Row { .. } => None,
        }
    }

    /// The capture it is a row of.
    pub(crate) fn capture<'a>(&self, input: &'a Input) -> Option<&'a Capture> {
        match self.of {
            Of::Row { capture, .. } => input.captures.get(capture),
            Of::Reading { .. } => None,
        }
    }

    /// The row it is of, whole (over all places of its capture).
    pub(crate) fn row<'a>(&self, input: &'a Input) -> Option<&'a crate::CaptureRow> {
        match self.of {
            Of::Row { capture, row } => input.captures.get(capture)?.rows.get(row),
            Of::Reading { .. } => None,
        }
    }

    /// The chain that received it.
    pub(crate) fn chain<'a>(&self, input: &'a Input) -> &'a Chain {
        match self.of {
            Of::Row { capture, .. } => &input.captures[capture].chain,
            Of::Reading { reading } => &input.readings[reading].chain,
        }
    }

    /// Why it was recorded. Readings are taken while walking.
    pub(crate) fn role(&self, input: &Input) -> Role {
        self.capture(input).map_or(Role::Walk, |capture| capture.role)
    }
}

/// Atoms that are one emission, in canonical order. Never empty.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group {
    /// Its atoms. Two of the same capture and place only as pieces of one.
    pub(crate) atoms: Vec<Atom>,
    /// Identity that its atoms share, where any has one.
    pub(crate) identity: Option<String>,
    /// Readings of this row at which nothing was heard (strength 0), indices in
    /// [`Input::readings`].
    pub(crate) silent: Vec<usize>,
}

impl Group {
    /// Whether only event logs and readings know it: levels, SNR and bandwidth are then null.
    pub(crate) fn coarse(&self) -> bool {
        self.atoms.iter().all(|atom| atom.coarse)
    }
}

/// The same input with captures and readings in canonical order: start, hash, place in time of the
/// part. Ids come last, since they tell the order in which things came in.
pub(crate) fn canonical(input: &Input) -> Input {
    let mut input = input.clone();
    input.captures.sort_by(|a, b| {
        let order = |c: &Capture| (c.start, c.sha256.clone(), c.stop, c.role);
        order(a).cmp(&order(b)).then_with(|| natural(&a.id).cmp(&natural(&b.id)))
    });
    input
        .readings
        .sort_by(|a, b| a.at.cmp(&b.at).then_with(|| natural(&a.id).cmp(&natural(&b.id))));
    input.acts.sort_by_key(|act| act.seq);
    input
}

/// Ids in the order of their numbers: `C2` before `C10`, `C1.2` before `C1.10`.
pub(crate) fn natural(id: &str) -> (String, Vec<u64>) {
    let letters = id.chars().take_while(|c| !c.is_ascii_digit()).collect();
    let numbers = id.split(|c: char| !c.is_ascii_digit()).filter_map(|n| n.parse().ok()).collect();
    (letters, numbers)
}

/// Everything that counts, cut into atoms, in canonical order (of the canonical input).
pub(crate) fn atoms(input: &Input) -> Vec<Atom> {
    let mut atoms = Vec::new();
    for (index, capture) in input.captures.iter().enumerate() {
        if capture.set_aside.is_some() {
            continue;
        }
        for row in rows_in_order(capture) {
            for stay in places::stays_of(input, capture, row) {
                atoms.push(atom_of(capture, index, row, stay));
            }
        }
    }
    for (index, reading) in input.readings.iter().enumerate() {
        atoms.extend(atom_of_reading(input, reading, index));
    }
    atoms
}

/// Rows by rising centre: their order in the analysis is that already, but nobody promises it.
fn rows_in_order(capture: &Capture) -> Vec<usize> {
    let mut rows: Vec<usize> = (0..capture.rows.len()).collect();
    rows.sort_by(|&a, &b| {
        let (a, b) = (&capture.rows[a], &capture.rows[b]);
        a.emission
            .centre_hz
            .total_cmp(&b.emission.centre_hz)
            .then(a.first_s.total_cmp(&b.first_s))
            .then(a.emission.low_hz.total_cmp(&b.emission.low_hz))
    });
    rows
}

fn atom_of(capture: &Capture, index: usize, row: usize, stay: places::Stay) -> Atom {
    let found = &capture.rows[row];
    let emission = &found.emission;
    let band = Band::new(emission.low_hz, emission.high_hz);
    let coarse = capture.kind == CaptureKind::EventLog || emission.bandwidth_hz.is_none();
    let resolution_u_hz = band.width_hz() / 12f64.sqrt();
    let u_centre_hz = match emission.u.centre_hz {
        _ if coarse => resolution_u_hz,
        Some(u) if u.is_finite() && u > 0.0 => u,
        _ => emission.bandwidth_hz.unwrap_or(0.0) / 12f64.sqrt(),
    };
    Atom {
        key: ReceptionKey {
            sha256: capture.sha256.clone(),
            position: stay.position.clone(),
            centre_hz: emission.centre_hz,
            width_hz: band.width_hz(),
            line: stay.events.first().map(|e| capture.events[e.index].event.line),
        },
        of: Of::Row { capture: index, row },
        position: stay.position,
        band,
        centre_hz: emission.centre_hz,
        u_centre_hz,
        u_reference_ppm: capture.chain.frequency_u_ppm.unwrap_or(CHEAP_REFERENCE_PPM),
        coarse,
        first: stay.first,
        last: stay.last,
        events: stay.events,
        identity: found.identity.clone(),
    }
}

/// Whether a reading says that nothing was heard.
pub(crate) fn heard_nothing(reading: &Reading) -> bool {
    reading.level_dbm.is_none() && reading.strength.is_some_and(|s| s.value <= 0.0)
}

/// A reading as an atom; `None` for one at which nothing was heard, and for one that says neither
/// a frequency nor which row it is of.
fn atom_of_reading(input: &Input, reading: &Reading, index: usize) -> Option<Atom> {
    if heard_nothing(reading) {
        return None;
    }
    let band = match (reading.band, &reading.emission) {
        (Some(band), _) => band,
        // A reading of a named row lies where that row does.
        (None, Some(id)) => {
            let anchor = input.anchors.iter().find(|anchor| anchor.id == *id)?;
            let key = anchor.receptions.iter().find(|key| key.sha256 != reading.id)?;
            Band::around(key.centre_hz, key.width_hz)
        }
        (None, None) => return None,
    };
    Some(Atom {
        key: ReceptionKey {
            sha256: reading.id.clone(),
            position: Some(reading.position.clone()),
            centre_hz: band.centre_hz(),
            width_hz: band.width_hz(),
            line: None,
        },
        of: Of::Reading { reading: index },
        position: Some(reading.position.clone()),
        band,
        centre_hz: band.centre_hz(),
        u_centre_hz: band.width_hz() / 12f64.sqrt(),
        u_reference_ppm: reading.chain.frequency_u_ppm.unwrap_or(CHEAP_REFERENCE_PPM),
        coarse: true,
        first: reading.at,
        last: reading.at,
        events: Vec::new(),
        identity: None,
    })
}

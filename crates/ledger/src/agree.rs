//! How well what knows only a band and a row of known frequency go together: by time, place and
//! strength.

use crate::atom::Atom;
use crate::clusters::Clusters;
use crate::input::Input;
use crate::join::of_log;
use crate::likelihood::period;
use crate::logs::loudest;
use crate::look::Look;
use detect::Shape;
use units::Utc;

/// How long after a row was heard a reading at its frequency is still of it, seconds: a survey's
/// night has pauses (common practice, no source).
const READ_NEAR_S: f64 = 12.0 * 3600.0;

/// How well a coarse cluster and a row go together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Agreement {
    /// Relative likelihood.
    pub(crate) weight: f64,
    /// Whether time, place and strength all agree.
    pub(crate) all: bool,
}

/// Time, place and strength of a coarse cluster against a row's.
pub(crate) fn agreement(
    input: &Input,
    atoms: &[Atom],
    looks: &[Look],
    clusters: &Clusters,
    coarse: usize,
    row: usize,
) -> Agreement {
    let of = |cluster: usize| -> Vec<&Atom> {
        let members = clusters.members(cluster).iter();
        members.flat_map(|&i| &looks[i].atoms).map(|&a| &atoms[a]).collect()
    };
    let (coarse_atoms, row_atoms) = (of(coarse), of(row));
    let together: Vec<(&Atom, &Atom)> = coarse_atoms
        .iter()
        .flat_map(|a| row_atoms.iter().map(move |b| (*a, *b)))
        .filter(|(a, b)| a.position.is_some() && a.position == b.position)
        .collect();
    let place = !together.is_empty();
    let mut periods = 0.0f64;
    let mut shape = 1.0;
    for &i in clusters.members(coarse) {
        for &j in clusters.members(row) {
            periods = periods.max(period(&looks[i], &looks[j]));
            // Short events now and then, of what never stops.
            if of_log(&looks[i])
                && looks[i].shape == Shape::Bursts
                && looks[i].on_fraction < 0.5
                && looks[j].shape == Shape::Continuous
            {
                shape = 0.5;
            }
        }
    }
    let times: Vec<Option<bool>> = together.iter().map(|(a, b)| at_one_time(input, a, b)).collect();
    let met = times.contains(&Some(true));
    let missed = !met && times.contains(&Some(false));
    let time = met || periods > 1.0;
    let strength = same_order(input, &together);
    let mut weight: f64 = shape * periods.min(3.0).exp().max(1.0);
    weight *= if met {
        1.0
    } else if missed {
        0.1
    } else {
        0.4
    };
    weight *= if place { 1.0 } else { 0.3 };
    weight *= if strength { 1.0 } else { 0.2 };
    Agreement { weight, all: time && place && strength && !missed }
}

/// A reading at a frequency, against a row there: people walk about to read one emission at many
/// places, so only its time must be near.
pub(crate) fn on_then(
    atoms: &[Atom],
    looks: &[Look],
    clusters: &Clusters,
    reading: usize,
    row: usize,
) -> Agreement {
    let of = |cluster: usize| {
        clusters.members(cluster).iter().flat_map(|&i| &looks[i].atoms).map(|&a| &atoms[a])
    };
    let all = of(reading).filter_map(|atom| atom.first).any(|at| {
        of(row).any(|atom| {
            let near = |from: Utc, until: Utc| {
                from.plus_seconds(-READ_NEAR_S) <= at && at <= until.plus_seconds(READ_NEAR_S)
            };
            atom.first.zip(atom.last).is_some_and(|(from, until)| near(from, until))
        })
    });
    Agreement { weight: if all { 1.0 } else { 0.4 }, all }
}

/// Whether two atoms of one place were on together: `None` where the two never listened at one
/// time, so that nothing can be said.
fn at_one_time(input: &Input, coarse: &Atom, row: &Atom) -> Option<bool> {
    let clock = |atom: &Atom| atom.capture(input).map_or(60.0, |c| c.clock_u_s);
    let slack_s = 3.0 * clock(coarse).hypot(clock(row));
    let (from, until) = (row.first?.plus_seconds(-slack_s), row.last?.plus_seconds(slack_s));
    if coarse.events.is_empty() {
        let met = coarse.first? <= until && from <= coarse.last?;
        return met.then_some(true);
    }
    let capture = coarse.capture(input)?;
    let met = coarse.events.iter().any(|e| {
        let event = &capture.events[e.index].event;
        let stop = event.start.until.plus_seconds(event.duration_s.unwrap_or(0.0));
        event.start.from <= until && from <= stop
    });
    let listened = capture.start? <= until && from <= capture.stop?;
    if met { Some(true) } else { listened.then_some(false) }
}

/// Whether strengths and levels rise and fall together over the places that both know: more pairs
/// of places in the same order than in the opposite one. One place says nothing against.
fn same_order(input: &Input, together: &[(&Atom, &Atom)]) -> bool {
    let known: Vec<(f64, f64, &str)> = together
        .iter()
        .filter_map(|(coarse, row)| {
            let strength = loudest(input, coarse)?;
            let emission = &row.row(input)?.emission;
            let level = emission.level_dbm.map(|l| l.0).or(emission.level_dbfs.map(|l| l.0))?;
            let gain_db = row.chain(input).gain_db.unwrap_or(0.0);
            Some((strength.value / strength.of, level - gain_db, &*row.chain(input).name))
        })
        .collect();
    let mut order = 0i64;
    for (i, a) in known.iter().enumerate() {
        for b in &known[i + 1..] {
            if a.2 == b.2 && (a.0 - b.0).abs() > 1e-9 && (a.1 - b.1).abs() > 3.0 {
                order += if (a.0 > b.0) == (a.1 > b.1) { 1 } else { -1 };
            }
        }
    }
    order >= 0
}

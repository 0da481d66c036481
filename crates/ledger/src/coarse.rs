//! Coarse does not swallow fine: what knows no more than a band joins a row by itself only where
//! no second row lies within that band and time, place and strength agree. Else it stays a row
//! of its own that may be the others.

use crate::agree::{Agreement, agreement, on_then};
use crate::atom::Atom;
use crate::clusters::Clusters;
use crate::contract::Role;
use crate::input::Input;
use crate::join::{LookDoubt, of_log};
use crate::look::Look;
use units::Band;

/// Chance that the part of a band that no fine receiver listened to holds another emission like
/// the one in question (common practice, no source).
const UNHEARD: f64 = 0.3;
/// The same for an emission too weak or too brief for the fine receiver.
const MISSED: f64 = 0.05;
/// How far off a frequency typed from a hand-held's display may be, as a part of it.
const DISPLAY: f64 = 25e-6;

/// A reading whose band is no wider is at a frequency.
const NARROW_HZ: f64 = 100e3;
/// Rows of logs to rows of known frequency.
pub(crate) fn logs_to_rows(
    input: &Input,
    atoms: &[Atom],
    looks: &[Look],
    clusters: &mut Clusters,
    doubts: &mut Vec<LookDoubt>,
) {
    let all = clusters.all();
    let is_log = |&c: &usize| clusters.members(c).iter().all(|&i| of_log(&looks[i]));
    let is_fine = |&c: &usize| {
        let members = clusters.members(c);
        members.iter().any(|&i| !looks[i].coarse)
            // A receiver's own line is heard by no other.
            && members.iter().all(|&i| looks[i].role != Role::NoAntenna)
    };
    let logs: Vec<usize> = all.iter().copied().filter(is_log).collect();
    let fine: Vec<usize> = all.iter().copied().filter(is_fine).collect();
    let mut wishes: Vec<(usize, usize, f64)> = Vec::new(); // log, row, weight
    for &log in &logs {
        let band = band_of(looks, clusters.members(log));
        let within: Vec<(usize, Agreement)> = fine
            .iter()
            .filter(|&&row| clusters.members(row).iter().any(|&i| lies_in(&looks[i], band)))
            .map(|&row| (row, agreement(input, atoms, looks, clusters, log, row)))
            .collect();
        let unheard = UNHEARD * (1.0 - heard_share(input, looks, clusters, &fine, band)) + MISSED;
        let sum = unheard + within.iter().map(|(_, a)| a.weight).sum::<f64>();
        match &within[..] {
            [(row, agreement)] if agreement.all && agreement.weight / sum >= 0.5 => {
                wishes.push((log, *row, agreement.weight / sum));
            }
            _ => doubt(clusters, log, &within, sum, doubts),
        }
    }
    // Two rows of one log for one row: the second lies within the first one's band.
    for &(log, row, p) in &wishes {
        let rivals = wishes.iter().filter(|(other, r, _)| {
            let captures = |c: usize| clusters.members(c).iter().filter_map(|&i| looks[i].capture);
            *r == row && *other != log && captures(*other).any(|c| captures(log).any(|d| c == d))
        });
        if rivals.count() > 0 || !clusters.may_be_one(looks, row, log) {
            let first = clusters.members(log)[0];
            doubts.push((first, clusters.members(row)[0], 0.5 * p));
        } else {
            clusters.merge(row, log);
        }
    }
}

/// Readings to rows, and to each other where no row is near.
pub(crate) fn readings_to_rows(
    input: &Input,
    atoms: &[Atom],
    looks: &[Look],
    clusters: &mut Clusters,
    doubts: &mut Vec<LookDoubt>,
) {
    for (i, look) in looks.iter().enumerate() {
        let alone = clusters.members(clusters.of(i)).len() == 1;
        if look.capture.is_some() || !alone || look.band.high_hz <= 0.0 {
            continue;
        }
        let slack_hz = (DISPLAY * look.centre_hz.abs() - 0.5 * look.band.width_hz()).max(0.0);
        let band = Band::new(look.band.low_hz - slack_hz, look.band.high_hz + slack_hz);
        let own = clusters.of(i);
        let near: Vec<(usize, Agreement)> = clusters
            .all()
            .into_iter()
            .filter(|&c| c != own && clusters.may_be_one(looks, c, own))
            .filter(|&c| {
                let members = clusters.members(c);
                // Later readings come to this one, not this one to them.
                members[0] < i
                    && members.iter().all(|&j| looks[j].role != Role::NoAntenna)
                    && members.iter().any(|&j| lies_in(&looks[j], band) || holds(&looks[j], look))
            })
            .map(|c| match look.band.width_hz() <= NARROW_HZ {
                true => (c, on_then(atoms, looks, clusters, own, c)),
                false => (c, agreement(input, atoms, looks, clusters, own, c)),
            })
            .collect();
        let sum = UNHEARD + near.iter().map(|(_, a)| a.weight).sum::<f64>();
        match near[..] {
            [(row, agreed)] if agreed.all && agreed.weight / sum >= 0.5 => clusters.merge(row, own),
            _ => doubt(clusters, own, &near, sum, doubts),
        }
    }
}

fn doubt(
    clusters: &Clusters,
    coarse: usize,
    rows: &[(usize, Agreement)],
    sum: f64,
    doubts: &mut Vec<LookDoubt>,
) {
    for (row, agreement) in rows {
        let p = agreement.weight / sum;
        doubts.push((clusters.members(coarse)[0], clusters.members(*row)[0], p));
    }
}

fn band_of(looks: &[Look], members: &[usize]) -> Band {
    let low = members.iter().map(|&i| looks[i].band.low_hz).fold(f64::INFINITY, f64::min);
    let high = members.iter().map(|&i| looks[i].band.high_hz).fold(f64::NEG_INFINITY, f64::max);
    Band::new(low, high)
}

/// Whether a row lies in a band: its centre does, or one of its channels.
fn lies_in(look: &Look, band: Band) -> bool {
    let u_hz = look.u_centre_hz.hypot(look.u_reference_ppm * 1e-6 * look.centre_hz);
    let wide = Band::new(band.low_hz - 2.0 * u_hz, band.high_hz + 2.0 * u_hz);
    let about = if look.coarse { band } else { wide };
    about.contains(look.centre_hz) || look.channels_hz.iter().any(|&hz| about.contains(hz))
}

/// Whether a coarse row's band holds a reading's.
fn holds(row: &Look, reading: &Look) -> bool {
    row.coarse && row.band.contains(reading.centre_hz)
}

/// The part of a band that the captures which show these rows listened to.
fn heard_share(
    input: &Input,
    looks: &[Look],
    clusters: &Clusters,
    fine: &[usize],
    band: Band,
) -> f64 {
    let captures = fine.iter().flat_map(|&c| clusters.members(c)).filter_map(|&i| looks[i].capture);
    let mut captures: Vec<usize> = captures.collect();
    captures.sort_unstable();
    captures.dedup();
    let mut parts: Vec<Band> = captures
        .iter()
        .flat_map(|&c| &input.captures[c].listened)
        .filter_map(|l| Band::new(l.low_hz, l.high_hz).overlap(&band))
        .collect();
    parts.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz));
    let (mut covered_hz, mut end_hz) = (0.0, f64::NEG_INFINITY);
    for part in parts {
        covered_hz += (part.high_hz - part.low_hz.max(end_hz)).max(0.0);
        end_hz = end_hz.max(part.high_hz);
    }
    if band.width_hz() > 0.0 { (covered_hz / band.width_hz()).min(1.0) } else { 1.0 }
}

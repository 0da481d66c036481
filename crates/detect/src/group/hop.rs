//! Hoppers: lines of like bursts, one at a time, over a set of channels.
//!
//! Evidence, any of: bursts that are never on together though so many would be by chance
//! (exclusion); channels on a raster with bursts of one length; the three advertising channels
//! of Bluetooth Low Energy.

use super::line::{Line, Role};
use super::{Look, looked_s};
use crate::period;
use std::collections::BTreeMap;
use units::Band;

/// Overlaps expected of independent bursts, from which on their absence tells: at 5 none has
/// probability 0.7 %.
const EXPECTED: f64 = 5.0;
/// Part of those overlaps that a hopper may show by errors of its edges.
const EXCLUSIVE: f64 = 0.1;
/// Part from which on they are of senders that do not heed each other: of bursts of one length nine
/// tenths overlap by more than a tenth, and half of those of two hoppers over one set of channels.
const INDEPENDENT: f64 = 0.5;
/// Advertising channels 37, 38, 39 (Bluetooth Core Specification, Vol 6, Part B, 1.4.1, from
/// memory).
const ADVERTISING_HZ: [f64; 3] = [2402e6, 2426e6, 2480e6];

/// Joins each hopper's lines into one; for its group the centres of its channels, rising.
pub(super) fn hoppers(
    lines: &mut Vec<Line>,
    parents: &mut [u32],
    looks: &[Look],
) -> BTreeMap<u32, Vec<f64>> {
    let mut found = BTreeMap::new();
    let mut open: Vec<usize> =
        (0..lines.len()).filter(|k| super::row::on_fraction(&lines[*k], looks) < 0.6).collect();
    // Busiest first: it stands for its hopper.
    open.sort_by(|a, b| lines[*b].count.total_cmp(&lines[*a].count).then(a.cmp(b)));
    let mut gone = vec![false; lines.len()];
    while let Some(seed) = open.first().copied() {
        let members: Vec<usize> =
            open.iter().copied().filter(|k| alike(&lines[seed], &lines[*k])).collect();
        open.retain(|k| *k != seed);
        let members = match evidence(lines, &members, looks) {
            Some(members) => members,
            None => continue,
        };
        let mut channels: Vec<f64> = members.iter().map(|k| lines[*k].centre_hz().0).collect();
        channels.sort_by(f64::total_cmp);
        for k in members.iter().copied().filter(|k| *k != seed) {
            let other = lines[k].clone();
            parents[other.id as usize] = lines[seed].id;
            lines[seed].absorb(&other, Role::Same);
            gone[k] = true;
        }
        found.insert(lines[seed].id, channels);
        open.retain(|k| !gone[*k]);
    }
    let mut at = 0;
    lines.retain(|_| {
        at += 1;
        !gone[at - 1]
    });
    found
}

/// Bursts of like width, length and level.
fn alike(a: &Line, b: &Line) -> bool {
    let (ea, eb) = (a.edges(), b.edges());
    let width = (ea.width_hz() / eb.width_hz()).ln().abs();
    let u = (ea.u_hz / ea.width_hz()).hypot(eb.u_hz / eb.width_hz()).min(0.3);
    let wide = (ea.bare && eb.bare) || (ea.bare == eb.bare && width <= 1.6f64.ln() + 2.0 * u);
    // Packets of one, three or five slots: lengths differ up to that.
    let length = (a.median_s() / b.median_s()).ln().abs() <= 5.5f64.ln();
    wide && length && (a.level_dbfs() - b.level_dbfs()).abs() <= 8.0
}

/// Which of the members hop together; `None` if nothing says so.
fn evidence(lines: &[Line], members: &[usize], looks: &[Look]) -> Option<Vec<usize>> {
    let advertising: Vec<usize> =
        members.iter().copied().filter(|k| is_advertising(&lines[*k])).collect();
    if advertising.len() >= 2 && advertising.contains(&members[0]) {
        return Some(advertising);
    }
    if members.len() < 3 {
        return None;
    }
    let (expected, together) = overlapping(lines, members, looks);
    if expected >= EXPECTED && together <= EXCLUSIVE * expected {
        return Some(members.to_vec());
    }
    // One sender is on one channel at a time.
    let independent = |members: &Vec<usize>| {
        let (expected, together) = overlapping(lines, members, looks);
        expected >= EXPECTED && together > INDEPENDENT * expected
    };
    on_raster(lines, members).filter(|members| !independent(members))
}

fn is_advertising(l: &Line) -> bool {
    let (centre, _) = l.centre_hz();
    // 150 kHz: the clock error that the standard allows, and a receiver's own.
    let near = ADVERTISING_HZ.iter().any(|hz| Band::around(*hz, 300e3).contains(centre));
    // 1 Mbit/s packets of 80 to 376 µs, 2 Mbit/s never here (the same, Part B 2.1).
    near && (0.5e6..2.5e6).contains(&l.edges().width_hz())
        && (50e-6..600e-6).contains(&l.median_s())
}

/// How often two of independent bursts would be on together, and how often two are.
fn overlapping(lines: &[Line], members: &[usize], looks: &[Look]) -> (f64, f64) {
    let (mut expected, mut together) = (0.0, 0.0);
    for (n, a) in members.iter().enumerate() {
        for b in &members[n + 1..] {
            let (a, b) = (&lines[*a], &lines[*b]);
            let both = looked_s(looks, &[a.centre_hz().0, b.centre_hz().0]);
            let until = a.spans.until_s.min(b.spans.until_s);
            let window = if until.is_finite() { until - a.first.0.min(b.first.0) } else { both };
            if both <= 0.0 || window <= 0.0 {
                continue;
            }
            let kept = |l: &Line| {
                l.spans.before(until).fold((0.0, 0.0), |(n, on), s| (n + 1.0, on + (s.1 - s.0)))
            };
            let ((n_a, on_a), (n_b, on_b)) = (kept(a), kept(b));
            expected += (n_b * on_a + n_a * on_b) / window.min(both);
            together += overlaps(a, b, until);
        }
    }
    (expected, together)
}

/// How many bursts of one are on while one of the other is, by more than a tenth of its length.
fn overlaps(a: &Line, b: &Line, until: f64) -> f64 {
    let hits = |s: &(f64, f64)| {
        let from = b.spans.spans.partition_point(|x| x.1 <= s.0);
        b.spans.spans[from..].iter().take_while(|x| x.0 < s.1).any(|x| {
            let shared = s.1.min(x.1) - s.0.max(x.0);
            shared > 0.1 * (s.1 - s.0).min(x.1 - x.0)
        })
    };
    a.spans.before(until).filter(|s| hits(s)).count() as f64
}

/// Those whose bursts have the first one's length, if their channels lie on a raster.
fn on_raster(lines: &[Line], members: &[usize]) -> Option<Vec<usize>> {
    let first = &lines[members[0]];
    let near = |k: &usize| {
        let l = &lines[*k];
        (l.median_s() / first.median_s()).ln().abs() < 1.3f64.ln()
            && (l.level_dbfs() - first.level_dbfs()).abs() < 4.0
    };
    let same: Vec<usize> = members.iter().copied().filter(near).collect();
    let mut centres: Vec<f64> = same.iter().map(|k| lines[*k].centre_hz().0).collect();
    centres.sort_by(f64::total_cmp);
    (same.len() >= 5 && period::of_times(&centres, 0.0).is_some()).then_some(same)
}

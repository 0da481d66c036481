//! Which atoms are one emission: hand first, then identity, then likelihood; what knows its
//! frequency before what does not.

use crate::atom::{Atom, Group};
use crate::clusters::Clusters;
use crate::contract::CaptureKind;
use crate::input::Input;
use crate::likelihood::{ln_odds, u_difference_hz};
use crate::look::{Look, looks};
use crate::{coarse, hand, logs};

/// Two groups that may be one, and how likely that is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Doubt {
    /// Index of the group whose frequency (or timing) leaves it open.
    pub(crate) of: usize,
    /// Index of the other.
    pub(crate) with: usize,
    /// 0 to 1.
    pub(crate) probability: f64,
}

/// Groups, in canonical order of their first atoms, and what stays in doubt between them.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Joined {
    pub(crate) groups: Vec<Group>,
    pub(crate) doubts: Vec<Doubt>,
}

/// A pair of looks and the logarithm of the odds that they are one emission.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pair {
    pub(crate) a: usize,
    pub(crate) b: usize,
    pub(crate) ln_odds: f64,
}

/// Whether a look fits its best and its second best row of another capture (each with the
/// logarithm of its odds) alike.
type Ambiguous = fn(&Look, (&Look, f64), (&Look, f64)) -> bool;

/// Doubt between two looks, before they are in groups.
pub(crate) type LookDoubt = (usize, usize, f64);

/// Joins atoms into groups.
pub(crate) fn join(input: &Input, atoms: Vec<Atom>) -> Joined {
    let looks = looks(input, &atoms);
    let mut clusters = Clusters::new(looks.len());
    hand::follow(input, &atoms, &looks, &mut clusters);
    by_identity(&looks, &mut clusters);
    let mut doubts: Vec<LookDoubt> = Vec::new();
    let fine = pairs_of_fine(&looks);
    let fine = without_ambiguous(&looks, fine, far_less_certain, &mut doubts);
    best_first(&looks, &mut clusters, fine, &|a, b| ln_odds(a, b));
    let between = |a: &Look, b: &Look| logs::ln_odds(input, &atoms, a, b);
    let of_logs = logs::pairs(&looks, &between);
    let of_logs = without_ambiguous(&looks, of_logs, logs::ambiguous, &mut doubts);
    best_first(&looks, &mut clusters, of_logs, &between);
    coarse::logs_to_rows(input, &atoms, &looks, &mut clusters, &mut doubts);
    coarse::readings_to_rows(input, &atoms, &looks, &mut clusters, &mut doubts);
    grouped(input, atoms, &looks, &clusters, &doubts)
}

/// Equal identities are one emission.
fn by_identity(looks: &[Look], clusters: &mut Clusters) {
    let mut known: Vec<(usize, &str)> = looks
        .iter()
        .enumerate()
        .filter_map(|(i, look)| Some((i, look.identity.as_deref()?)))
        .collect();
    known.sort_by_key(|&(i, identity)| (identity, i));
    for pair in known.windows(2) {
        if pair[0].1 == pair[1].1 {
            clusters.put_together(pair[0].0, pair[1].0);
        }
    }
}

/// All pairs of rows of known frequency that are likelier one emission than two.
fn pairs_of_fine(looks: &[Look]) -> Vec<Pair> {
    let mut order: Vec<usize> = (0..looks.len()).filter(|&i| !looks[i].coarse).collect();
    order.sort_by(|&i, &j| looks[i].centre_hz.total_cmp(&looks[j].centre_hz).then(i.cmp(&j)));
    // Each reaches as far as its centre, its reference or (cut off, or a hopper) its band may be.
    let reach_hz = |look: &Look| {
        let own = u_difference_hz(look, look)
            .hypot((look.u_reference_ppm + 10.0) * 1e-6 * look.centre_hz.abs());
        let band = if look.cut_low || look.cut_high || !look.channels_hz.is_empty() {
            look.width_hz
        } else {
            0.0
        };
        5.0 * own + band
    };
    let farthest_hz = order.iter().map(|&i| reach_hz(&looks[i])).fold(0.0, f64::max);
    let mut pairs = Vec::new();
    for (n, &i) in order.iter().enumerate() {
        let own_hz = reach_hz(&looks[i]);
        for &j in &order[n + 1..] {
            let apart_hz = looks[j].centre_hz - looks[i].centre_hz;
            if apart_hz > own_hz + farthest_hz {
                break;
            }
            if apart_hz > own_hz + reach_hz(&looks[j]) || looks[i].capture == looks[j].capture {
                continue;
            }
            let (a, b) = (i.min(j), i.max(j));
            let ln_odds = ln_odds(&looks[a], &looks[b]);
            if ln_odds > 0.0 {
                pairs.push(Pair { a, b, ln_odds });
            }
        }
    }
    pairs
}

/// Whether `look`'s frequency is far less certain than those of two rows that it fits alike, so
/// that it must not choose between them.
fn far_less_certain(look: &Look, best: (&Look, f64), second: (&Look, f64)) -> bool {
    let u = |l: &Look| l.u_centre_hz.max(1.0);
    let apart_hz = (best.0.centre_hz - second.0.centre_hz).abs();
    best.1 - second.1 < 9f64.ln()
        && u(look) > 4.0 * u(best.0).max(u(second.0))
        && u_difference_hz(look, best.0) > 0.5 * apart_hz
}

/// Drops the pairs in which a look fits two rows of one capture alike, and notes the doubt.
fn without_ambiguous(
    looks: &[Look],
    pairs: Vec<Pair>,
    ambiguous: Ambiguous,
    doubts: &mut Vec<LookDoubt>,
) -> Vec<Pair> {
    // For each look and other capture: the best and the second best row there.
    let mut ends: Vec<(usize, usize, usize)> = Vec::new(); // look, capture of the other, pair
    for (p, pair) in pairs.iter().enumerate() {
        for (look, other) in [(pair.a, pair.b), (pair.b, pair.a)] {
            ends.push((look, looks[other].capture.unwrap_or(usize::MAX), p));
        }
    }
    ends.sort_by(|x, y| {
        (x.0, x.1)
            .cmp(&(y.0, y.1))
            .then(pairs[y.2].ln_odds.total_cmp(&pairs[x.2].ln_odds))
            .then(x.2.cmp(&y.2))
    });
    let mut dropped = vec![false; pairs.len()];
    for group in ends.chunk_by(|x, y| (x.0, x.1) == (y.0, y.1)) {
        let [best, second, ..] = group else { continue };
        let (look, pair) = (best.0, |end: &(usize, usize, usize)| &pairs[end.2]);
        let other = |end| if pair(end).a == look { pair(end).b } else { pair(end).a };
        let fit = |end| (&looks[other(end)], pair(end).ln_odds);
        if ambiguous(&looks[look], fit(best), fit(second)) {
            let odds = |end| pair(end).ln_odds.min(50.0).exp();
            let sum: f64 = 1.0 + group.iter().map(odds).sum::<f64>();
            for end in group {
                dropped[end.2] = true;
                doubts.push((look, other(end), odds(end) / sum));
            }
        }
    }
    pairs.into_iter().zip(dropped).filter(|(_, dropped)| !dropped).map(|(pair, _)| pair).collect()
}

/// Joins the likeliest pair first. Two clusters meet only if, over all their pairs, one emission is
/// likelier than two: a chain of near neighbours does not drift into one.
fn best_first(
    looks: &[Look],
    clusters: &mut Clusters,
    mut pairs: Vec<Pair>,
    ln_odds: &dyn Fn(&Look, &Look) -> f64,
) {
    pairs.sort_by(|x, y| y.ln_odds.total_cmp(&x.ln_odds).then((x.a, x.b).cmp(&(y.a, y.b))));
    for pair in pairs {
        let (x, y) = (clusters.of(pair.a), clusters.of(pair.b));
        if x == y || !clusters.may_be_one(looks, x, y) {
            continue;
        }
        let mut sum = 0.0;
        for &i in clusters.members(x) {
            for &j in clusters.members(y) {
                if looks[i].coarse == looks[j].coarse && looks[i].capture != looks[j].capture {
                    sum += ln_odds(&looks[i.min(j)], &looks[i.max(j)]).max(-20.0);
                }
            }
        }
        if sum > 0.0 {
            clusters.merge(x, y);
        }
    }
}

fn grouped(
    input: &Input,
    atoms: Vec<Atom>,
    looks: &[Look],
    clusters: &Clusters,
    doubts: &[LookDoubt],
) -> Joined {
    let all = clusters.all();
    let mut atoms: Vec<Option<Atom>> = atoms.into_iter().map(Some).collect();
    let mut groups: Vec<Group> = Vec::new();
    for &cluster in &all {
        let members = clusters.members(cluster);
        let mut own: Vec<usize> = members.iter().flat_map(|&i| looks[i].atoms.clone()).collect();
        own.sort_unstable();
        groups.push(Group {
            identity: members.iter().find_map(|&i| looks[i].identity.clone()),
            atoms: own.into_iter().filter_map(|i| atoms[i].take()).collect(),
            silent: Vec::new(),
        });
    }
    for (i, reading) in input.readings.iter().enumerate() {
        let heard_nothing = crate::atom::heard_nothing(reading);
        let anchor = input.anchors.iter().find(|a| Some(&a.id) == reading.emission.as_ref());
        if let (true, Some(anchor)) = (heard_nothing, anchor) {
            let of_it = |group: &&mut Group| {
                let keys = group.atoms.iter().map(|atom| &atom.key);
                keys.into_iter()
                    .any(|k| anchor.receptions.iter().any(|a| crate::keys::fit(a, k) > 0))
            };
            if let Some(group) = groups.iter_mut().find(of_it) {
                group.silent.push(i);
            }
        }
    }
    let place = |look: usize| all.iter().position(|&c| c == clusters.of(look));
    let mut found: Vec<Doubt> = Vec::new();
    for &(a, b, probability) in doubts {
        if let (Some(of), Some(with)) = (place(a), place(b))
            && of != with
        {
            match found.iter_mut().find(|d| (d.of, d.with) == (of, with)) {
                Some(doubt) => doubt.probability = doubt.probability.max(probability),
                None => found.push(Doubt { of, with, probability }),
            }
        }
    }
    found.sort_by_key(|doubt| (doubt.of, doubt.with));
    Joined { groups, doubts: found }
}

/// Whether a look is a row of an event log.
pub(crate) fn of_log(look: &Look) -> bool {
    look.coarse && look.kind != CaptureKind::Readings
}

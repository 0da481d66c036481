//! The emitters within one band of a log: a steady one logged in pieces, a reporter on a clock,
//! and the rest.

use super::Moment;
use crate::period::{self, Period};
use std::ops::Range;

/// What a detector waits after a signal's end before it closes the event, and until it opens the
/// next, at most, seconds (common practice, no source).
const HOLD_S: f64 = 5.0;
/// Part of a chain's time that its events must fill to be a steady emitter's pieces.
const FILLED: f64 = 0.8;
/// Durations of one reporter lie within this factor of their median; of two emitters, further.
const LIKE: f64 = 1.6;

/// How an emitter's events come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Kind {
    /// One after the other without a gap.
    Steady,
    /// Apart; with the period of their starts where they have one.
    Bursts(Option<Period>),
}

/// One emitter's events: indices into the band's, rising.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Emitter {
    pub kind: Kind,
    pub members: Vec<usize>,
}

/// The emitters of a band's events, which are in order of time.
pub(super) fn emitters(events: &[Moment]) -> Vec<Emitter> {
    let steady = pieces(events);
    let rest = without(0..events.len(), &steady, events.len());
    let mut out = Vec::new();
    if !steady.is_empty() {
        out.push(Emitter { kind: Kind::Steady, members: steady });
    }
    if rest.is_empty() {
        return out;
    }
    let (reporter, period, others) = reporter(events, &rest);
    if !reporter.is_empty() {
        out.push(Emitter { kind: Kind::Bursts(Some(period)), members: reporter });
    }
    if !others.is_empty() {
        out.push(Emitter { kind: Kind::Bursts(None), members: others });
    }
    out
}

/// Those of `all` that `taken` does not hold; both below `count`.
fn without(all: impl Iterator<Item = usize>, taken: &[usize], count: usize) -> Vec<usize> {
    let mut is_taken = vec![false; count];
    taken.iter().for_each(|k| is_taken[*k] = true);
    all.filter(|k| !is_taken[*k]).collect()
}

/// Events of chains without gaps: each begins where the one before it ended, as far as the stamps
/// can tell, and together they fill the time.
fn pieces(events: &[Moment]) -> Vec<usize> {
    let mut out = Vec::new();
    let mut chain: Vec<usize> = Vec::new();
    for k in 0..events.len() {
        let follows = chain.last().is_some_and(|last| {
            let (a, b) = (&events[*last], &events[k]);
            a.duration_s.is_some_and(|d| {
                // Shortest gap that stamps and durations allow.
                let slack = a.step_s + 0.5 * (a.duration_step_s + b.duration_step_s);
                b.from_s - (a.from_s + d) - slack <= HOLD_S
            })
        });
        if !follows {
            close(events, &mut chain, &mut out);
        }
        chain.push(k);
    }
    close(events, &mut chain, &mut out);
    out
}

/// Keeps a chain's events if they fill its time; a chain whose ends do not is cut down to what
/// does.
fn close(events: &[Moment], chain: &mut Vec<usize>, out: &mut Vec<usize>) {
    let mut part: &[usize] = chain;
    let mut on: f64 = part.iter().map(|k| events[*k].length_s()).sum();
    while let ([first, .., last], true) = (part, part.len() >= 2) {
        let (a, z) = (&events[*first], &events[*last]);
        let time = z.from_s + z.length_s() - a.from_s;
        // Stamps at both ends err by a step: the time may be that much longer, and short events
        // under a coarse clock prove nothing.
        let slack = 0.5 * (a.step_s + z.step_s);
        if on >= FILLED * time && on > 2.0 * slack && on >= FILLED * (time + slack) - slack {
            out.extend(part);
            break;
        }
        // The shorter end goes first.
        (part, on) = if a.length_s() <= z.length_s() {
            (&part[1..], on - a.length_s())
        } else {
            (&part[..part.len() - 1], on - z.length_s())
        };
    }
    chain.clear();
}

/// Events on a clock, the period, and those that are not its own.
fn reporter(events: &[Moment], rest: &[usize]) -> (Vec<usize>, Period, Vec<usize>) {
    let none = (Vec::new(), Period { period_s: 0.0, u_s: 0.0 }, rest.to_vec());
    let timed = |members: &[usize]| {
        let t: Vec<f64> = members.iter().map(|k| events[*k].from_s).collect();
        let step = members.iter().map(|k| events[*k].step_s).fold(0.0, f64::max);
        period::of_times(&t, step)
    };
    // Durations first: groups of like length, then all together.
    let mut best: Option<(Vec<usize>, Period)> = None;
    for group in like_durations(events, rest) {
        let Some(period) = timed(&group) else { continue };
        if best.as_ref().is_none_or(|b| group.len() > b.0.len()) {
            best = Some((group, period));
        }
    }
    match best {
        Some((members, period)) => {
            let others = without(rest.iter().copied(), &members, events.len());
            (members, period, others)
        }
        None => match timed(rest) {
            Some(period) => (rest.to_vec(), period, Vec::new()),
            None => none,
        },
    }
}

/// Groups of events whose durations lie within a factor of one another, each of four or more.
fn like_durations(events: &[Moment], rest: &[usize]) -> Vec<Vec<usize>> {
    let mut sorted: Vec<usize> =
        rest.iter().copied().filter(|k| events[*k].duration_s.is_some()).collect();
    sorted.sort_by(|a, b| events[*a].length_s().total_cmp(&events[*b].length_s()).then(a.cmp(b)));
    let length = |at: usize| events[sorted[at]].length_s();
    // Around every duration, the range within the factor; most members first, then short ones.
    let mut candidates: Vec<Range<usize>> = sorted
        .iter()
        .map(|seed| {
            let (mid, step) = (events[*seed].length_s(), events[*seed].duration_step_s);
            let from = sorted.partition_point(|k| events[*k].length_s() * LIKE + step < mid);
            let until = sorted.partition_point(|k| events[*k].length_s() <= mid * LIKE + step);
            from..until
        })
        .collect();
    let median = |r: &Range<usize>| {
        0.5 * (length((r.start + r.end - 1) / 2) + length((r.start + r.end) / 2))
    };
    candidates.sort_by(|a, b| b.len().cmp(&a.len()).then(median(a).total_cmp(&median(b))));
    let mut free = Free::new(sorted.len());
    let mut groups = Vec::new();
    for candidate in candidates {
        let places = free.of(candidate);
        if places.len() >= 4 {
            places.iter().for_each(|at| free.take(*at));
            let mut group: Vec<usize> = places.iter().map(|at| sorted[*at]).collect();
            group.sort_unstable();
            groups.push(group);
        }
    }
    groups
}

/// Places of a list that are not taken yet: each points to itself, or towards the next free one.
struct Free(Vec<usize>);

impl Free {
    fn new(count: usize) -> Free {
        Free((0..=count).collect())
    }
    /// Those of a range, without a walk over what was taken.
    fn of(&mut self, range: Range<usize>) -> Vec<usize> {
        let mut places = Vec::new();
        let mut at = self.from(range.start);
        while at < range.end {
            places.push(at);
            at = self.from(at + 1);
        }
        places
    }
    fn take(&mut self, at: usize) {
        self.0[at] = at + 1;
    }
    /// The first free one from `at` on. What was passed is made to point further ahead.
    fn from(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }
}

#[cfg(test)]
mod tests;

//! On-times of one line: the earliest, kept in full, so that lines can be compared in time.

/// On-times kept of a line. More would only sharpen what a thousand already show.
pub(super) const KEPT: usize = 1024;

/// Disjoint on-times in order of start, complete up to `until_s`.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Spans {
    /// Start and stop, seconds.
    pub spans: Vec<(f64, f64)>,
    /// Later on-times may be missing; infinite while all are here.
    pub until_s: f64,
}

impl Spans {
    pub fn new() -> Self {
        Spans { spans: Vec::new(), until_s: f64::INFINITY }
    }
    /// Adds an on-time; one that touches another joins it. Whether it is a new one, and how many
    /// seconds it adds; `None` past the kept ones.
    pub fn push(&mut self, start_s: f64, stop_s: f64) -> Option<(bool, f64)> {
        if start_s >= self.until_s {
            return None;
        }
        let from = self.spans.partition_point(|s| s.1 < start_s);
        let to = self.spans.partition_point(|s| s.0 <= stop_s);
        if from < to {
            let joined = (start_s.min(self.spans[from].0), stop_s.max(self.spans[to - 1].1));
            let before: f64 = self.spans[from..to].iter().map(|s| s.1 - s.0).sum();
            self.spans.splice(from..to, [joined]);
            return Some((false, joined.1 - joined.0 - before));
        }
        self.spans.insert(from, (start_s, stop_s));
        self.cut();
        Some((true, stop_s - start_s))
    }
    fn cut(&mut self) {
        if self.spans.len() > KEPT {
            self.until_s = self.spans[KEPT].0;
            self.spans.truncate(KEPT);
        }
    }
    /// Both together, as far as both are complete.
    pub fn union(&self, other: &Spans) -> Spans {
        let until_s = self.until_s.min(other.until_s);
        let mut all: Vec<_> = self.before(until_s).chain(other.before(until_s)).collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let mut out = Spans { spans: Vec::with_capacity(all.len()), until_s };
        for (start, stop) in all {
            match out.spans.last_mut() {
                Some(last) if start <= last.1 => last.1 = last.1.max(stop),
                _ => out.spans.push((start, stop)),
            }
        }
        out.cut();
        out
    }
    /// The same with pauses up to `pause_s` closed.
    pub fn closed(&self, pause_s: f64) -> Spans {
        let mut out = Spans { spans: Vec::with_capacity(self.spans.len()), until_s: self.until_s };
        for (start, stop) in self.spans.iter().copied() {
            match out.spans.last_mut() {
                Some(last) if start <= last.1 + pause_s => last.1 = stop,
                _ => out.spans.push((start, stop)),
            }
        }
        out
    }
    /// Those that begin before `until_s`.
    pub fn before(&self, until_s: f64) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.spans.iter().copied().take_while(move |s| s.0 < until_s)
    }
    /// Seconds on.
    pub fn on_s(&self) -> f64 {
        self.spans.iter().map(|s| s.1 - s.0).sum()
    }
    /// Seconds in which both are on, as far as both are complete.
    pub fn both_s(&self, other: &Spans) -> f64 {
        let until_s = self.until_s.min(other.until_s);
        let (mut a, mut b) = (self.before(until_s).peekable(), other.before(until_s).peekable());
        let mut sum = 0.0;
        while let (Some(x), Some(y)) = (a.peek(), b.peek()) {
            sum += (x.1.min(y.1) - x.0.max(y.0)).max(0.0);
            if x.1 < y.1 {
                a.next()
            } else {
                b.next()
            };
        }
        sum
    }
    /// Fraction of this one's on-time in which the other is on too.
    pub fn share_in(&self, other: &Spans) -> f64 {
        let until_s = self.until_s.min(other.until_s);
        let own: f64 = self.before(until_s).map(|s| s.1 - s.0).sum();
        if own > 0.0 { self.both_s(other) / own } else { 0.0 }
    }
    /// Time on in both over time on in either (Jaccard), as far as both are complete.
    pub fn alike(&self, other: &Spans) -> f64 {
        let until_s = self.until_s.min(other.until_s);
        let on = |s: &Spans| s.before(until_s).map(|x| x.1 - x.0).sum::<f64>();
        let both = self.both_s(other);
        let either = on(self) + on(other) - both;
        if either > 0.0 { both / either } else { 0.0 }
    }
    /// Of the times at which this one stops: how many, and at how many of them the other starts
    /// within `tolerance_s`.
    pub fn handovers(&self, other: &Spans, tolerance_s: f64) -> (usize, usize) {
        let until_s = self.until_s.min(other.until_s);
        let starts = &other.spans;
        self.before(until_s).fold((0, 0), |(n, hits), (_, stop)| {
            let next = starts.partition_point(|s| s.0 < stop - tolerance_s);
            let hit = starts.get(next).is_some_and(|s| s.0 <= stop + tolerance_s);
            (n + 1, hits + usize::from(hit))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spans(list: &[(f64, f64)]) -> Spans {
        let mut s = Spans::new();
        for (a, z) in list {
            s.push(*a, *z);
        }
        s
    }

    #[test]
    fn touching_on_times_are_one() {
        let mut s = spans(&[(5.0, 6.0), (0.0, 1.0), (2.0, 3.0)]);
        assert_eq!(s.spans, [(0.0, 1.0), (2.0, 3.0), (5.0, 6.0)]);
        assert_eq!(s.push(0.5, 2.5), Some((false, 1.0)));
        assert_eq!(s.spans, [(0.0, 3.0), (5.0, 6.0)]);
        assert_eq!(s.on_s(), 4.0);
    }

    #[test]
    fn what_is_shared_is_measured_where_both_are_complete() {
        let a = spans(&[(0.0, 2.0), (4.0, 6.0)]);
        let mut b = spans(&[(1.0, 5.0)]);
        assert_eq!(a.both_s(&b), 2.0);
        assert_eq!(a.share_in(&b), 0.5);
        assert_eq!(a.alike(&b), 2.0 / 6.0);
        assert_eq!(a.union(&b).spans, [(0.0, 6.0)]);
        b.until_s = 3.0;
        assert_eq!(a.both_s(&b), 1.0);
    }

    #[test]
    fn short_pauses_close() {
        let keyed = spans(&[(0.0, 1.0), (1.5, 2.0), (4.0, 5.0)]);
        assert_eq!(keyed.closed(0.5).spans, [(0.0, 2.0), (4.0, 5.0)]);
        assert_eq!(keyed.closed(0.4), keyed);
    }

    #[test]
    fn memory_has_a_limit() {
        let mut s = Spans::new();
        for k in 0..3 * KEPT {
            assert_eq!(s.push(k as f64, k as f64 + 0.5).is_some(), k <= KEPT);
        }
        assert_eq!(s.spans.len(), KEPT);
        assert_eq!(s.until_s, KEPT as f64);
    }

    #[test]
    fn alternating_tones_hand_over() {
        let a = spans(&[(0.0, 1.0), (2.0, 3.0), (4.0, 5.0)]);
        let b = spans(&[(1.0, 2.0), (3.0, 4.0)]);
        assert_eq!(a.handovers(&b, 0.01), (3, 2));
        assert_eq!(b.handovers(&a, 0.01), (2, 2));
    }
}

//! From a box that stands out to the one about it that stands out most.

use super::Boxed;
use super::rest::Rest;
use std::ops::Range;

/// Rounds of growing in time, then in frequency.
const ROUNDS: usize = 6;
/// Places at which a side may lie, over three times the box.
const PLACES: usize = 48;

/// The box of the greatest excess over its standard deviation, from one that overlaps it.
pub(super) fn grown(first: Boxed, rest: &Rest) -> Boxed {
    let mut b = first;
    for _ in 0..ROUNDS {
        let (row0, row1) =
            best(b.row0..b.row1, rest.rows, |rows| rest.mean(rows, b.bin0..b.bin1) - 1.0);
        let (bin0, bin1) =
            best(b.bin0..b.bin1, rest.bins, |bins| rest.mean(row0..row1, bins) - 1.0);
        let next = Boxed { row0, row1, bin0, bin1, mean: 0.0 };
        let same = (row0, row1, bin0, bin1) == (b.row0, b.row1, b.bin0, b.bin1);
        b = Boxed { mean: rest.mean(row0..row1, bin0..bin1), ..next };
        if same {
            break;
        }
    }
    if b.score() > first.score() { b } else { first }
}

/// The stretch about `now`, of `all` places, with the largest excess over the root of its length.
fn best(now: Range<usize>, all: usize, excess: impl Fn(Range<usize>) -> f64) -> (usize, usize) {
    let length = now.len();
    let (from, to) = (now.start.saturating_sub(length), (now.end + length).min(all));
    let step = (to - from).div_ceil(PLACES).max(1);
    // Sides on a grid that the box itself lies on.
    let from = now.start - (now.start - from) / step * step;
    let mut sums = vec![0.0];
    let mut at = vec![from];
    let mut next = from;
    while next < to {
        let stop = (next + step).min(to);
        let sum = excess(next..stop) * (stop - next) as f64;
        sums.push(sums[sums.len() - 1] + sum);
        at.push(stop);
        next = stop;
    }
    let mut best = (0.0, now.start, now.end);
    for i in 0..at.len() - 1 {
        for j in i + 1..at.len() {
            let sum = sums[j] - sums[i];
            let score = sum * sum / (at[j] - at[i]) as f64;
            if sum > 0.0 && score > best.0 {
                best = (score, at[i], at[j]);
            }
        }
    }
    (best.1, best.2)
}

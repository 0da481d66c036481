//! The fast folding algorithm (Staelin 1969): sums of a line over every period from `p` to `p` + 1
//! cells, by halving the turns and adding the halves at each shift, m log₂ m additions a cell of the
//! profile instead of m².
//!
//! Cells are 16-bit integers and sums saturate: vectors hold twice as many, and what saturates stands
//! out anyway. Profiles lie a whole number of vectors apart, so that no loop has a rest.

use multiversion::multiversion;

/// Cells of a vector.
const LANES: usize = 16;
/// The most neighbouring cells whose sum [`highest`] looks at.
const WIDEST: usize = 8;

/// Cells from one profile to the next.
pub(super) fn stride(period: usize) -> usize {
    period.next_multiple_of(LANES)
}

/// Room for the folds of a line of `cells` cells at any period up to `most`.
#[derive(Debug, Clone)]
pub(super) struct Room {
    sums: Vec<i16>,
    spare: Vec<i16>,
    twice: Vec<i16>,
}

impl Room {
    pub fn new(cells: usize, least: usize, most: usize) -> Self {
        let turns = cells / least.max(1) + 1;
        // Padding is worst where turns are many.
        let size = cells + turns * LANES;
        let vec = |n| vec![0i16; n];
        Room { sums: vec(size), spare: vec(size), twice: vec(2 * stride(most) + 2 * LANES) }
    }
    /// Folds `line`, whole turns of `period` cells, at every shift from 0 to turns − 1 cells over all
    /// turns. Gives each shift's [`highest`]; the period of shift s is `period` + s/(turns − 1).
    pub fn highest(&mut self, line: &[i16], period: usize, mut take: impl FnMut(usize, f32)) {
        let n = line.len() / period * stride(period);
        let sums = &mut self.sums[..n];
        fold(line, period, sums, &mut self.spare[..n], &mut self.twice);
        for (s, profile) in sums.chunks_exact(stride(period)).enumerate() {
            take(s, highest(profile, period, &mut self.twice));
        }
    }
}

/// `sums` gets one profile a shift, [`stride`] apart; what lies past `period` in each means nothing.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f+avx512bw", "aarch64+neon"))]
fn fold(line: &[i16], period: usize, sums: &mut [i16], spare: &mut [i16], twice: &mut [i16]) {
    let (turns, stride) = (line.len() / period, period.next_multiple_of(LANES));
    if turns <= 1 {
        sums[..line.len()].copy_from_slice(line);
        return;
    }
    let head = turns / 2;
    let tail = turns - head;
    let (early, late) = line.split_at(head * period);
    let (spare_early, spare_late) = spare.split_at_mut(head * stride);
    let (sums_early, sums_late) = sums.split_at_mut(head * stride);
    fold(early, period, spare_early, sums_early, twice);
    fold(late, period, spare_late, sums_late, twice);
    // Divisions would take longer than the sums.
    let per_step = 1.0 / (turns - 1) as f64;
    let share = |of: usize| (of - 1) as f64 * per_step;
    let (of_head, of_tail) = (share(head), share(tail));
    let part = |s: usize, share: f64| (s as f64 * share + 0.5) as usize;
    let mut held = usize::MAX;
    for (s, profile) in sums.chunks_exact_mut(stride).enumerate() {
        let (a, b) = (part(s, of_head), part(s, of_tail));
        if b != held {
            let own = &spare_late[b * stride..b * stride + period];
            twice[..period].copy_from_slice(own);
            twice[period..2 * period].copy_from_slice(own);
            held = b;
        }
        let shift = ((s - b) as u32 % period as u32) as usize;
        let early = spare_early[a * stride..(a + 1) * stride].chunks_exact(LANES);
        let late = twice[shift..shift + stride].chunks_exact(LANES);
        for ((out, a), b) in profile.chunks_exact_mut(LANES).zip(early).zip(late) {
            for i in 0..LANES {
                out[i] = a[i].saturating_add(b[i]);
            }
        }
    }
}

/// The largest sum of 1, 2, 4 or 8 neighbouring cells of a profile, around, over the root of their
/// number; sums of more than a quarter of the period are not looked at.
#[multiversion(targets("x86_64+avx2+fma", "x86_64+avx512f+avx512bw", "aarch64+neon"))]
fn highest(profile: &[i16], period: usize, room: &mut [i16]) -> f32 {
    let stride = period.next_multiple_of(LANES);
    let room = &mut room[..stride + 2 * LANES];
    // Around the end as far as the widest sum and the last vector reach.
    room[..period].copy_from_slice(&profile[..period]);
    let mut held = period;
    while held < room.len() {
        let more = period.min(room.len() - held);
        room.copy_within(..more, held);
        held += more;
    }
    let mut best = f32::NEG_INFINITY;
    let (mut width, mut root) = (1, 1.0f32);
    loop {
        let mut lanes = [i16::MIN; LANES];
        for part in room[..stride].chunks_exact(LANES) {
            for i in 0..LANES {
                lanes[i] = lanes[i].max(part[i]);
            }
        }
        let top = lanes.into_iter().fold(i16::MIN, i16::max);
        best = best.max(f32::from(top) / root);
        if width == WIDEST || 8 * width > period {
            return best;
        }
        // Rising order: what is read has not been written yet.
        for k in 0..=stride / LANES {
            let at = k * LANES;
            let Some(next) = room.get(at + width..).and_then(|r| r.first_chunk::<LANES>().copied())
            else {
                break;
            };
            if let Some(sums) = room[at..].first_chunk_mut::<LANES>() {
                for i in 0..LANES {
                    sums[i] = sums[i].saturating_add(next[i]);
                }
            }
        }
        width *= 2;
        root *= std::f32::consts::SQRT_2;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folded(line: &[i16], period: usize) -> Vec<Vec<i16>> {
        let mut room = Room::new(line.len(), period, period);
        let n = line.len() / period * stride(period);
        fold(line, period, &mut room.sums[..n], &mut room.spare[..n], &mut room.twice);
        room.sums[..n].chunks_exact(stride(period)).map(|p| p[..period].to_vec()).collect()
    }

    #[test]
    fn the_first_profile_is_the_plain_fold_and_none_loses_a_cell() {
        for (turns, period) in [(11, 7), (64, 16), (5, 33), (2, 40)] {
            let line: Vec<i16> = (0..turns * period).map(|k| ((k * k) % 13) as i16).collect();
            let profiles = folded(&line, period);
            let still: Vec<i16> =
                (0..period).map(|k| (0..turns).map(|j| line[j * period + k]).sum()).collect();
            assert_eq!(profiles.len(), turns);
            assert_eq!(profiles[0], still);
            let all: i16 = line.iter().sum();
            assert!(profiles.iter().all(|p| p.iter().sum::<i16>() == all));
        }
    }

    /// A train of pulses two cells long, so that rounding does not step beside it, stands out whole
    /// at its own shift.
    #[test]
    fn each_period_stands_out_at_its_own_shift() {
        let (turns, period) = (37, 50);
        for s in 0..turns {
            let mut line = vec![0i16; turns * period];
            let mut pulses = 0;
            for j in 0..turns {
                let at = j as f64 * (period as f64 + s as f64 / (turns - 1) as f64) + 3.0;
                if let Some(cells) = line.get_mut(at.floor() as usize..at.floor() as usize + 2) {
                    cells.fill(1);
                    pulses += 1;
                }
            }
            let profiles = folded(&line, period);
            let top = |p: &Vec<i16>| p.iter().copied().max().unwrap_or(0);
            assert!(top(&profiles[s]) >= pulses - pulses / 8, "shift {s}: {:?}", profiles[s]);
        }
    }

    #[test]
    fn the_highest_sum_goes_around_the_end() {
        let mut room = vec![0; 80];
        let mut profile = vec![0i16; 32];
        (profile[19], profile[0]) = (30, 30);
        profile[20..].fill(999);
        assert!((highest(&profile, 20, &mut room) - 60.0 / 2f32.sqrt()).abs() < 1e-3);
        profile.fill(0);
        profile[10..14].fill(10);
        assert!((highest(&profile, 32, &mut room) - 20.0).abs() < 1e-3);
    }
}

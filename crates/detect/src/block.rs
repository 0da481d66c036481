//! One block of a segment: cells, floor, areas, pieces.

use crate::alone::shows_alone;
use crate::areas::{Area, View, areas};
use crate::balance::{self, Imbalance};
use crate::cells::{Cells, Maker};
use crate::config::{Level, SHARE, ladder, stride};
use crate::constant;
use crate::defects::{Verdict, judge};
use crate::faint::Sieve;
use crate::gain;
use crate::limit::{self, Look};
use crate::lobes::is_lobe;
use crate::marks::Thresholds;
use crate::measure::{Piece, measure};
use crate::samples::Options;
use crate::sidebands;
use crate::slow::Left;
use rayon::prelude::*;
use spectrum::{Floor, FloorEstimator, Resolution};
use units::Iq;

/// The resolutions of segments of like length, planned once.
#[derive(Debug, Clone)]
pub(crate) struct Looker {
    makers: Vec<Maker>,
    thresholds: Thresholds,
    /// Of each resolution, where what is faint is looked for.
    sieves: Option<Vec<Sieve>>,
    spare: Vec<Vec<f32>>,
    /// Of the finest resolution in frequency and of the finest in time.
    floors: [FloorEstimator; 2],
    /// What [`limit::limit_over`] said of the last whole block's rows.
    limit_over: (usize, f64),
}

/// What a block showed.
#[derive(Debug)]
pub(crate) struct Seen {
    /// Pieces with what they are; sample numbers count in the block.
    pub pieces: Vec<(Piece, Verdict)>,
    /// Floor of the finest resolution.
    pub floor: Floor,
    /// What no emission explains of its cells, where that was looked for.
    pub left: Option<Left>,
    /// Power of a steady line that the block finds with probability 0.9.
    pub limit: f64,
    /// Fraction of the time in which the noise stood clearly over its floor.
    pub unsteady: f64,
    /// What was taken out of it.
    pub imbalance: Option<Imbalance>,
    /// The receiver's constant, taken out of the samples.
    pub constant: Option<Iq>,
}

impl Looker {
    /// For segments whose ladder is `levels`; thresholds for a recording of `samples` samples.
    pub fn new(levels: &[Level], options: &Options, samples: u64) -> Self {
        // Half-overlapped frames make two cells of every sample at every resolution.
        let tests = 2.0 * samples as f64;
        // What is clear, what is faint and what is slow share the budget.
        let part = if options.faint { SHARE } else { 1.0 };
        let share = options.false_rows * part / levels.len() as f64;
        let thresholds = Thresholds::new(share, tests);
        let block = stride(levels[0].rate_hz, &levels[0]).min(samples as usize);
        let sieve = |(l, level): (usize, &Level)| {
            let slower = l.checked_sub(1).map(|l| levels[l]);
            Sieve::new(*level, slower, level.rows(block), share, tests)
        };
        let sieves = options.faint.then(|| levels.iter().enumerate().map(sieve).collect());
        let makers: Vec<Maker> = levels.iter().map(|l| Maker::new(*l)).collect();
        let spare = levels.iter().map(|_| Vec::new()).collect();
        let floor =
            |l: Option<&Level>| FloorEstimator::new(Resolution::hann(l.map_or(16, |l| l.n)));
        let floors = [floor(levels.first()), floor(levels.last())];
        Looker { makers, thresholds, sieves, spare, floors, limit_over: (0, 0.0) }
    }
    /// Whether it was made for such a ladder.
    pub fn serves(&self, levels: &[Level]) -> bool {
        self.makers.iter().map(Maker::level).eq(levels.iter().copied())
    }
    /// Looks at a block, and takes the receiver's constant and its mirror images out of it.
    pub fn look(&mut self, block: &mut [Iq], gap_samples: usize) -> Seen {
        let constant = constant::of(block);
        if let Some(constant) = constant {
            constant::take(block, constant);
        }
        let imbalance = balance::of(block, &self.makers[self.makers.len().min(2) - 1]);
        if let Some(imbalance) = &imbalance {
            balance::correct(block, imbalance.kappa);
        }
        let block = &*block;
        let spare = std::mem::take(&mut self.spare);
        let mut cells: Vec<Cells> =
            self.makers.iter().zip(spare).map(|(m, s)| m.cells(block, s)).collect();
        let (floor, mean) =
            rayon::join(|| lowest(&cells, &mut self.floors), || dsp::mean_power(block));
        let floors: Vec<Vec<f32>> = cells.iter().map(|c| least(&floor, c, mean)).collect();
        let (coarse, finest) = cells.split_at_mut(floors.len() - 1);
        finest[0].gain = gain::of(&finest[0], &floors[coarse.len()]);
        for c in coarse {
            c.gain = gain::coarser(&finest[0].gain, &finest[0], c);
        }
        let views: Vec<View<'_>> = cells
            .iter()
            .zip(&floors)
            .map(|(cells, floor)| View { cells, floor, thresholds: &self.thresholds })
            .collect();
        let (found, left) = areas(&views, block, gap_samples, self.sieves.as_deref());
        let plain: Vec<(&Cells, &[f32])> =
            cells.iter().zip(&floors).map(|(c, f)| (c, f.as_slice())).collect();
        let mut measured: Vec<Vec<Piece>> =
            found.par_iter().map(|a| measure(a, &plain, free(a, &found), gap_samples)).collect();
        let bins: Vec<f64> = cells.iter().map(|c| c.level.bin_hz()).collect();
        sidebands::widen(&found, &mut measured, &bins);
        let pieces = measured.concat();
        let rate_hz = cells[0].level.rate_hz;
        let power = constant.map_or(0.0, |c| f64::from(c.norm_sqr()));
        let mut verdicts = judge(&pieces, block, rate_hz, &self.makers, power);
        let alone = found.par_iter().zip(&measured).map(|(area, own)| {
            let energy: f64 = own.iter().map(|p| p.power * (p.stop - p.start)).sum();
            let view = &views[area.level];
            let span = (area.component.rows() * view.cells.level.hop) as f64;
            shows_alone(area, energy / span, &pieces, view, block.len() as f64)
        });
        let alone = alone.zip(&found).zip(&measured).map(|((alone, area), own)| {
            alone && !is_lobe(area, own, &measured, &views[area.level])
        });
        let alone: Vec<bool> = alone.collect();
        let of_area = alone.iter().zip(&measured).flat_map(|(a, own)| own.iter().map(|_| *a));
        for (verdict, alone) in verdicts.iter_mut().zip(of_area) {
            if *verdict == Verdict::Emission && !alone {
                *verdict = Verdict::Splatter;
            }
        }
        let (level, rows) = (cells[0].level, cells[0].rows);
        let noise = middle(&floor) * limit::raised(&cells[0].gain);
        let samples = block.len() as f64;
        let look = Look { level, rows, samples, noise, pieces: &pieces };
        let (thresholds, known) = (&self.thresholds, &mut self.limit_over);
        let limit = limit::of_block(&look, &mut |n| {
            if n == rows && known.0 != rows {
                *known = (rows, limit::limit_over(thresholds, rows));
            }
            if n == known.0 { known.1 } else { limit::limit_over(thresholds, n) }
        });
        let quick = cells.len() - 1;
        let unsteady = gain::unsteady(&cells[quick], &floors[quick]);
        self.spare = cells.into_iter().map(|c| c.power).collect();
        Seen {
            left,
            pieces: pieces.into_iter().zip(verdicts).collect(),
            floor,
            limit,
            unsteady,
            constant,
            imbalance,
        }
    }
}

/// The floor from the finest resolution in frequency and the finest in time: the one sees between
/// carriers, the other between bursts; where they differ the lower one is the floor.
fn lowest(cells: &[Cells], estimators: &mut [FloorEstimator; 2]) -> Floor {
    let of = |c: &Cells, estimator: &mut FloorEstimator| {
        estimator.clear();
        estimator.push(&c.rows_from(0));
        estimator.estimate()
    };
    let [fine, quick] = estimators;
    let short = &cells[cells.len() - 1];
    let two = cells.len() > 1 && short.rows > 0;
    let (mut floor, quick) = rayon::join(|| of(&cells[0], fine), || two.then(|| of(short, quick)));
    if let Some(quick) = quick {
        let quick = quick.at(floor.resolution);
        for k in 0..floor.power.len() {
            // Half a dB is what two estimates of one floor may differ by.
            if quick.power[k] < 0.89 * floor.power[k] && quick.power[k] > 0.0 {
                floor.power[k] = quick.power[k];
                floor.u_db[k] = quick.u_db[k];
                floor.trusted[k] = quick.trusted[k];
            }
        }
    }
    floor
}

/// Median of the floor, power per bin.
pub(crate) fn middle(floor: &Floor) -> f64 {
    let mut p = floor.power.clone();
    let at = p.len() / 2;
    let (_, middle, _) = p.select_nth_unstable_by(at, f32::total_cmp);
    f64::from(*middle)
}

/// The floor for the bins of `cells`, at least 90 dB under all there is: below that lie the side
/// lobes of the window and the rounding of single precision.
fn least(floor: &Floor, cells: &Cells, mean: f64) -> Vec<f32> {
    let least = (mean * 1e-9 / cells.level.n as f64) as f32;
    let floor = floor.at(Resolution::hann(cells.level.n));
    floor.power.iter().map(|f| f.max(least).max(f32::MIN_POSITIVE)).collect()
}

/// First and one past the last bin of an area's level that no other area of that level claims
/// while it is there: half-way to its neighbours.
fn free(area: &Area, all: &[Area]) -> (usize, usize) {
    let c = &area.component;
    let (mut low, mut high) = (0, usize::MAX);
    for other in all.iter().filter(|o| o.level == area.level).map(|o| &o.component) {
        if other.shared_rows(c) == 0 {
            continue;
        }
        if other.bin1 <= c.bin0 {
            low = low.max((other.bin1 + c.bin0) / 2);
        } else if other.bin0 >= c.bin1 {
            high = high.min((other.bin0 + c.bin1).div_ceil(2));
        }
    }
    (low, high)
}

/// The ladder of a segment.
pub(crate) fn levels_of(rate_hz: f64, samples: u64) -> Vec<Level> {
    ladder(rate_hz, samples)
}

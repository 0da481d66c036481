//! From complex samples to what was found.

use crate::block::{Looker, Seen, levels_of, middle};
use crate::config::{Level, SHARE, SHORTEST_SEGMENT, gap_s, stride};
use crate::defects::{SPURIOUS_FREE_DB, Verdict, distrust_db, mostly_beside};
use crate::group::{Grouper, Groups, Look};
use crate::listened::{self, Stretch};
use crate::measure::Piece;
use crate::pulse::Pulse;
use crate::reader::{Batch, Block, Source, spans};
use crate::receiver::Receiver;
use crate::slow::Slow;
use crate::stitch::{Place, Stitcher, pulse};
use crate::{Burst, Detection};
use spectrum::Floor;
use units::{Dbm, Iq, ReadError, Samples, Segment};

/// What a caller may choose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Rows that noise alone may make, on average, in one recording. The thresholds follow from
    /// it. 0 < `false_rows`.
    pub false_rows: f64,
    /// The chain's calibration: dBm at the antenna connector of 0 dBFS; `None` leaves dBm out.
    pub full_scale: Option<Dbm>,
    /// Looks for what no cell shows by itself too: boxes of many cells, and means over many blocks.
    /// Near to what theory allows, slower, and it finds a cheap receiver's own lines as well.
    pub faint: bool,
}

impl Default for Options {
    fn default() -> Self {
        Options { false_rows: 0.01, full_scale: None, faint: false }
    }
}

/// Takes samples with the index of their segment.
pub type OnSamples<'a> = dyn FnMut(usize, &[Iq]) + 'a;

/// What hears of the work while it goes on.
#[allow(missing_debug_implementations)]
pub struct Hooks<'a> {
    /// Takes every burst as it is found, roughly in order of its end.
    pub on_burst: &'a mut dyn FnMut(Burst),
    /// Takes the fraction done, 0 to 1, several times a second of work; `false` stops it.
    pub on_progress: &'a mut dyn FnMut(f64) -> bool,
    /// Takes every sample that is read, once and in order, with the index of its segment: for an
    /// overview, say.
    pub on_samples: Option<&'a mut OnSamples<'a>>,
}

/// Why detection did not finish.
#[derive(Debug, thiserror::Error)]
pub enum DetectError {
    /// The recording could not be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// An option that means nothing.
    #[error("{option} is {value}: {want}")]
    Option {
        /// Which option.
        option: &'static str,
        /// What was given.
        value: f64,
        /// What it must be.
        want: &'static str,
    },
    /// The caller stopped it.
    #[error("stopped before the end of the recording")]
    Stopped,
}

/// Everything that radiates in a recording of complex samples, and what was listened to.
///
/// Reads the recording once, in order, in blocks; memory is bounded by the resolutions, never by
/// the length of the recording or its number of bursts.
///
/// # Errors
/// If a sample cannot be read, an option means nothing, or `hooks.on_progress` said stop.
pub fn from_samples(
    samples: &dyn Samples,
    options: &Options,
    hooks: &mut Hooks<'_>,
) -> Result<Detection, DetectError> {
    if options.false_rows.is_nan() || options.false_rows <= 0.0 {
        return Err(DetectError::Option {
            option: "false_rows",
            value: options.false_rows,
            want: "it must be above zero",
        });
    }
    if options.false_rows > (MOST_FALSE * samples.len() as f64).max(1.0) {
        return Err(DetectError::Option {
            option: "false_rows",
            value: options.false_rows,
            want: "it must be one in a thousand samples at most",
        });
    }
    Run::new(samples, options).all(hooks)
}

/// Rows that noise may make of each sample at most: beyond, nothing is told from it.
pub const MOST_FALSE: f64 = 1e-3;

/// Longest step of blocks that are worked on two at a time: what one alone cannot spread over the
/// cores, the other fills; longer ones are spread well enough and would take too much memory.
const PAIRED: usize = 3 << 20;

/// The work on one recording.
struct Run<'a> {
    samples: &'a dyn Samples,
    options: &'a Options,
    /// For each ladder one for either of two blocks.
    lookers: Vec<[Looker; 2]>,
    grouper: Grouper,
    receiver: Receiver,
    stretches: Vec<Stretch>,
    pulses: Vec<Pulse>,
    /// Buffers: the blocks that are worked on and the next.
    batches: [Batch; 2],
    gap_samples: usize,
    done: u64,
}

impl<'a> Run<'a> {
    fn new(samples: &'a dyn Samples, options: &'a Options) -> Self {
        let rate_hz = samples.sample_rate_hz();
        let looks: Vec<Look> = places(samples).iter().map(Place::look).collect();
        Run {
            samples,
            options,
            lookers: Vec::new(),
            grouper: Grouper::new(&looks),
            receiver: Receiver::new(),
            stretches: Vec::new(),
            pulses: Vec::new(),
            batches: Default::default(),
            gap_samples: (gap_s(samples.len() as f64 / rate_hz) * rate_hz) as usize,
            done: 0,
        }
    }

    fn all(mut self, hooks: &mut Hooks<'_>) -> Result<Detection, DetectError> {
        for place in places(self.samples) {
            if place.samples < SHORTEST_SEGMENT {
                self.receiver.too_short(place.samples);
                continue;
            }
            self.segment(&place, hooks)?;
        }
        let Groups { mut found, row_of: rows, image } = self.grouper.finish();
        if let Some((hz, level)) = image {
            self.receiver.image(hz, level);
        }
        if let Some(full_scale) = self.options.full_scale {
            for f in &mut found {
                f.level_dbm = f.level_dbfs.map(|l| Dbm(full_scale.0 + l.0));
            }
        }
        Ok(Detection {
            found,
            rows,
            listened: listened::finish(self.stretches, self.options.full_scale),
            clipped_fraction: self.receiver.clipped_fraction(),
            clipped_samples: self.receiver.clipped_samples(),
            peak_rail: self.receiver.peak_rail(),
            warnings: self.receiver.warnings(),
        })
    }

    fn segment(&mut self, place: &Place, hooks: &mut Hooks<'_>) -> Result<(), DetectError> {
        let levels = levels_of(place.rate_hz, place.samples);
        let at = self.looker(&levels);
        let (step, overlap) = (stride(place.rate_hz, &levels[0]), levels[0].hop);
        let together = if step <= PAIRED { 2 } else { 1 };
        let mut spans = spans(place.samples, step, overlap);
        let source = Source {
            samples: self.samples,
            first_sample: place.first_sample,
            limits: self.samples.rail_limits(),
        };
        let mut read = |batch: &mut Batch, hooks: &mut Hooks<'_>| {
            batch.read(together, &source, &mut spans, &mut |block| {
                if let Some(on_samples) = &mut hooks.on_samples {
                    on_samples(place.segment as usize, block.fresh());
                }
            })
        };
        let mut stitcher = Stitcher::new(*place, self.gap_samples);
        let mut slow = self.options.faint.then(|| {
            let share = self.options.false_rows * SHARE;
            Slow::new(levels[0], share, 2.0 * self.samples.len() as f64)
        });
        let [mut now, mut next] = std::mem::take(&mut self.batches);
        read(&mut now, hooks)?;
        while !now.blocks().is_empty() {
            let mut seen: [Option<Seen>; 2] = [None, None];
            let mut next_read = Ok(());
            let (lookers, gap_samples) = (&mut self.lookers[at], self.gap_samples);
            // While these blocks are worked on the next are read, and the caller hears their samples.
            rayon::in_place_scope(|scope| {
                for ((looker, block), seen) in lookers.iter_mut().zip(now.blocks()).zip(&mut seen) {
                    scope.spawn(|_| *seen = Some(looker.look(&mut block.iq, gap_samples)));
                }
                next_read = read(&mut next, hooks);
            });
            for (block, seen) in now.blocks().iter().zip(seen) {
                let Some(mut seen) = seen else { continue };
                let left = std::mem::take(&mut seen.left);
                let pieces = self.judged(seen, block, place);
                if let (Some(slow), Some(left)) = (&mut slow, left) {
                    slow.push(left, block.span.first);
                    slow.known(&pieces);
                }
                stitcher.push(pieces, block.span.first + block.span.fresh as u64, &mut self.pulses);
                self.hand_out(hooks);
                self.done += block.span.fresh as u64;
                let part = self.done as f64 / self.samples.len() as f64;
                if !(hooks.on_progress)(part.min(1.0)) {
                    return Err(DetectError::Stopped);
                }
            }
            next_read?;
            std::mem::swap(&mut now, &mut next);
        }
        self.batches = [now, next];
        stitcher.finish(&mut self.pulses);
        let slow = slow.map(Slow::finish).unwrap_or_default();
        let inside = slow.iter().filter(|p| !at_edge(p, place.rate_hz));
        self.pulses.extend(inside.map(|p| pulse(p, place)));
        self.hand_out(hooks);
        Ok(())
    }

    /// Index of the lookers for such a ladder.
    fn looker(&mut self, levels: &[Level]) -> usize {
        let known = self.lookers.iter().position(|l| l[0].serves(levels));
        known.unwrap_or_else(|| {
            let total = self.samples.len();
            let looker = Looker::new(levels, self.options, total);
            self.lookers.push([looker.clone(), looker]);
            self.lookers.len() - 1
        })
    }

    /// What a block showed, into the account; the pieces that are emissions, counted in the segment.
    fn judged(&mut self, seen: Seen, block: &Block, place: &Place) -> Vec<Piece> {
        let clipped = block.clipped_fraction();
        let fresh = block.span.fresh;
        self.receiver.rails(fresh, block.rails);
        self.receiver.floor(seen.floor.trusted_fraction());
        if let Some(constant) = seen.constant {
            self.receiver.constant(f64::from(constant.norm_sqr()));
        }
        if let Some(imbalance) = &seen.imbalance {
            self.receiver.imbalance(imbalance, place.centre_hz);
        }
        let strongest = seen
            .pieces
            .iter()
            .filter(|(_, v)| *v == Verdict::Emission)
            .map(|(p, _)| p.power)
            .fold(0.0, f64::max);
        let under = |db: Option<f64>| db.map_or(0.0, |db| strongest * 10f64.powf(-0.1 * db));
        let trusted = under(distrust_db(clipped, 0.0));
        // A receiver whose gain moves makes bursts of its own, but no steady emission.
        let moving = under(distrust_db(clipped, seen.unsteady));
        let (low, high) = place.band(&seen.floor);
        let seconds = fresh as f64 / place.rate_hz;
        listened::add(&mut self.stretches, low, high, seconds, seen.limit.max(trusted));
        self.receiver.gain(moving > trusted, seen.unsteady * seconds, seconds);
        let spurious = under(Some(SPURIOUS_FREE_DB));
        let mut pieces = Vec::with_capacity(seen.pieces.len());
        let all = &seen.pieces;
        for (piece, verdict) in all.iter().copied() {
            let brief = piece.stop - piece.start < 0.5 * block.span.length as f64;
            if at_edge(&piece, place.rate_hz) {
                continue;
            }
            match verdict {
                Verdict::Emission if piece.power < trusted => {
                    self.receiver.made(Verdict::Distrusted, &piece, place.centre_hz);
                }
                Verdict::Emission if piece.power < spurious && brief => {
                    self.receiver.made(Verdict::Spurious, &piece, place.centre_hz);
                }
                Verdict::Emission
                    if piece.power < moving && brief && mostly_beside(&piece, all) =>
                {
                    self.receiver.brief();
                }
                Verdict::Emission => pieces.push(piece.later(block.span.first as f64)),
                other => self.receiver.made(other, &piece, place.centre_hz),
            }
        }
        pieces
    }

    fn hand_out(&mut self, hooks: &mut Hooks<'_>) {
        for p in self.pulses.drain(..) {
            let group = self.grouper.push(&p);
            (hooks.on_burst)(Burst {
                group,
                start_s: p.start_s,
                stop_s: p.stop_s,
                centre_hz: p.centre_hz,
                bandwidth_hz: p.bandwidth_hz,
                snr_db: p.snr_db,
                level_dbfs: p.level_dbfs,
            });
        }
    }
}

/// Where each segment lies in time: by its own clock where every segment has one, else by the
/// count of samples.
pub(crate) fn places(samples: &dyn Samples) -> Vec<Place> {
    let segments = samples.segments();
    let rate_hz = samples.sample_rate_hz();
    let clocks: Option<Vec<_>> = segments.iter().map(|s| s.start).collect();
    let start_s = |i: usize, s: &Segment| match &clocks {
        Some(clocks) => clocks[i].seconds_since(clocks[0]),
        None => s.first_sample as f64 / rate_hz,
    };
    let place = |(i, s): (usize, &Segment)| Place {
        segment: i as u32,
        first_sample: s.first_sample,
        samples: s.samples,
        start_s: start_s(i, s),
        rate_hz,
        centre_hz: s.centre_hz.unwrap_or(0.0),
    };
    segments.iter().enumerate().map(place).collect()
}

/// Part of the sampled band at either end in which what lies beyond folds back (a receiver's filter
/// is not yet closed there; common practice, no source).
const EDGE: f64 = 0.03;

/// Whether a piece lies in such a part alone; of a bare line only the centre is known.
fn at_edge(piece: &Piece, rate_hz: f64) -> bool {
    let usable = (0.5 - EDGE) * rate_hz;
    let centre = (piece.centre_hz, piece.centre_hz);
    let (low, high) = if piece.bare { centre } else { (piece.low_hz, piece.high_hz) };
    high < -usable || low > usable
}

impl Place {
    fn look(&self) -> Look {
        Look {
            segment: self.segment,
            start_s: self.start_s,
            stop_s: self.start_s + self.samples as f64 / self.rate_hz,
            low_hz: self.centre_hz - 0.5 * self.rate_hz,
            high_hz: self.centre_hz + 0.5 * self.rate_hz,
        }
    }
    /// What the receiver's filter lets through: where the floor is within 20 dB of its middle.
    fn band(&self, floor: &Floor) -> (f64, f64) {
        let least = 0.01 * middle(floor);
        let n = floor.power.len();
        let open = |p: &f32| f64::from(*p) >= least;
        let low = floor.power.iter().position(open).unwrap_or(0);
        let high = floor.power.iter().rposition(open).map_or(n, |k| k + 1);
        let usable = 0.5 - EDGE;
        let hz = |k: usize| {
            let part = (k as f64 / n as f64 - 0.5).clamp(-usable, usable);
            self.centre_hz + part * self.rate_hz
        };
        (hz(low), hz(high))
    }
}

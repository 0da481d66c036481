//! What the receiver made itself: the spike at its centre, mirror images, splatter of keying.

use crate::cells::{ENBW_BINS, Maker};
use crate::measure::Piece;
use rayon::prelude::*;
use std::sync::OnceLock;
use units::Iq;

/// What became of a piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Verdict {
    Emission,
    /// A constant in the samples.
    DcSpike,
    /// The mirror image of a stronger emission.
    Image,
    /// Spread by the keying of a stronger emission.
    Splatter,
    /// Too weak beside the strongest to be trusted while the converter clips.
    Distrusted,
    /// Brief, and further under the strongest than receivers are free of products of their own.
    Spurious,
}

/// Longest stretch over which a constant must stay constant, seconds: a line within 20 Hz of the
/// centre and as steady is taken for the spike.
const STEADY_S: f64 = 0.05;
/// An image lies at least this far under its emission, dB.
const IMAGE_DB: f64 = 15.0;
/// Splatter lies at least this far under what made it, dB: the limit under which ITU-R SM.328
/// counts nothing to an emission's band is 23 dB of power; 25 as the measure of the band.
const SPLATTER_DB: f64 = 25.0;

/// How far under the strongest emission of its moment a receiver's own products lie, dB: those of
/// 12 to 16 bits are free of them for 70 to 80 dB (common practice, no source).
pub(crate) const SPURIOUS_FREE_DB: f64 = 75.0;

/// Fraction of a block's time with raised noise from which the receiver's gain is taken to move.
const UNSTEADY: f64 = 0.02;

/// How far under a strong emission what a moving gain or its keying makes beside it may lie, dB.
pub(crate) const GAIN_DB: f64 = 20.0;

/// How far under the strongest emission of a block nothing can be trusted any more, dB, for the
/// fraction of its samples that clip, or of its time with raised noise; `None` where both do no
/// harm. A limiter makes products some 20 to 30 dB down, and a receiver that is driven so hard turns
/// its gain about (common practice, no source).
pub(crate) fn distrust_db(clipped_fraction: f64, unsteady: f64) -> Option<f64> {
    match clipped_fraction {
        c if c > 1e-2 || unsteady > UNSTEADY => Some(GAIN_DB),
        c if c > 1e-4 => Some(30.0),
        _ => None,
    }
}

/// Judges the pieces of one block, of which a constant of power `constant` was taken out. `makers`
/// are of the ladder, finest first.
pub(crate) fn judge(
    pieces: &[Piece],
    block: &[Iq],
    rate_hz: f64,
    makers: &[Maker],
    constant: f64,
) -> Vec<Verdict> {
    // A bare line at the centre is the spike for as long as there is one: a strong burst's keying
    // lifts it for a moment.
    let mean = OnceLock::new();
    let is_dc = |p: &Piece| {
        let power = || *mean.get_or_init(|| constant_power(block, rate_hz));
        // A short piece may read 10 dB high where something else came and went.
        at_centre(p) && power() > if p.bare { 0.1 } else { 0.25 } * p.power
    };
    let spike = pieces.iter().any(is_dc);
    let at_once = AtOnce::new(pieces);
    let one = |w: &Piece| {
        // What is left at the centre of a constant that was taken out, where it was not quite one.
        let rest = at_centre(w) && w.power < constant;
        if rest || spike && at_centre(w) && (w.bare || is_dc(w)) {
            return Verdict::DcSpike;
        }
        let beside = || at_once.with(w);
        let stronger = |db: f64| {
            let least = w.power * 10f64.powf(db / 10.0);
            beside().filter(move |s| s.power >= least)
        };
        if stronger(IMAGE_DB).any(|s| mirrors(s, w) && coherent(s, w, block, makers)) {
            return Verdict::Image;
        }
        if splatters(w, beside(), block.len() as f64) || beside().any(|s| fragment(w, s)) {
            return Verdict::Splatter;
        }
        Verdict::Emission
    };
    pieces.par_iter().map(one).collect()
}

/// Whether a narrow piece lies at the centre.
fn at_centre(p: &Piece) -> bool {
    let near = p.low_hz - p.resolution_hz <= 0.0 && p.high_hz + p.resolution_hz >= 0.0;
    near && p.bandwidth_hz <= 8.0 * p.resolution_hz
}

/// Power of the line at the centre that stays constant for [`STEADY_S`]: a constant's is all in the
/// mean of the samples. Over the whole block: it never stops, though noise may cut it into pieces.
fn constant_power(block: &[Iq], rate_hz: f64) -> f64 {
    let length = ((STEADY_S * rate_hz) as usize).clamp(1, block.len().max(1));
    let (mut sum, mut parts) = (0.0, 0.0);
    for part in block.chunks_exact(length) {
        let (mut re, mut im) = (0.0f64, 0.0f64);
        for x in part.chunks(256) {
            let s: Iq = x.iter().sum();
            re += f64::from(s.re);
            im += f64::from(s.im);
        }
        sum += (re * re + im * im) / (length as f64).powi(2);
        parts += 1.0;
    }
    if parts > 0.0 { sum / parts } else { 0.0 }
}

/// Whether `w` lies where the image of `s` would, when it would.
fn mirrors(s: &Piece, w: &Piece) -> bool {
    let slack = s.resolution_hz.max(w.resolution_hz) + 0.1 * s.bandwidth_hz;
    let shared = s.stop.min(w.stop) - s.start.max(w.start);
    w.low_hz >= -s.high_hz - slack
        && w.high_hz <= -s.low_hz + slack
        && shared >= 0.8 * (w.stop - w.start)
        && s.low_hz * s.high_hz > 0.0
}

/// Rows compared at most.
const FRAMES: usize = 64;

/// Whether Y(f)Y(−f) keeps its phase: |⟨Y(f)Y(−f)⟩|² over ⟨|Y(f)|²⟩⟨|Y(−f)|²⟩ above what
/// incoherent frames reach with probability 1e-4, and the image explaining most of what is there.
fn coherent(s: &Piece, w: &Piece, block: &[Iq], makers: &[Maker]) -> bool {
    let near = |m: &&Maker| (ENBW_BINS * m.level().bin_hz() / w.resolution_hz).ln().abs();
    let Some(maker) = makers.iter().min_by(|a, b| near(a).total_cmp(&near(b))) else {
        return false;
    };
    let level = maker.level();
    let rows = level.rows(block.len());
    let r0 = ((w.start.max(s.start).max(0.0) as usize) / level.hop).min(rows);
    let r1 = (((w.stop.min(s.stop)) as usize).saturating_sub(level.n) / level.hop + 1).min(rows);
    // Whole frames inside the on-period, none overlapping.
    let step = 2 * (r1.saturating_sub(r0)).div_ceil(2 * FRAMES).max(1);
    let n = level.n;
    let bin = |hz: f64| (hz / level.bin_hz()).round() as i64;
    let (low, high) = (bin(w.low_hz), bin(w.high_hz).max(bin(w.low_hz)));
    let at = |k: i64| k.rem_euclid(n as i64) as usize;
    let (mut frame, mut scratch) = maker.buffers();
    let (mut cross, mut here, mut there, mut count) = (num_complex::Complex64::ZERO, 0.0, 0.0, 0.0);
    for r in (r0..r1).step_by(step) {
        maker.frame(block, r, &mut frame, &mut scratch);
        for k in low..=high {
            let (a, b) = (frame[at(k)], frame[at(-k)]);
            let y = a * b;
            cross += num_complex::Complex64::new(f64::from(y.re), f64::from(y.im));
            here += f64::from(a.norm_sqr());
            there += f64::from(b.norm_sqr());
            count += 1.0;
        }
    }
    if count < 3.0 {
        return false;
    }
    let coherence = cross.norm_sqr() / (here * there).max(f64::MIN_POSITIVE);
    coherence > (1.0 - 1e-4f64.powf(1.0 / (count - 1.0))).max(0.3)
}

/// Power from which on a keyed emission may throw splatter of `power`.
pub(crate) fn splatter_over(power: f64) -> f64 {
    power * 10f64.powf(0.1 * SPLATTER_DB)
}

/// Whether an emission begins or ends within its block of `block` samples.
pub(crate) fn keyed(s: &Piece, block: f64) -> bool {
    let slack = 2.0 * s.u_time;
    s.start > slack || s.stop < block - slack
}

/// Part of its time in which an emission far under others that are keyed is taken for theirs.
pub(crate) const COVERED: f64 = 0.9;

/// Whether `w` is there only while much stronger bursts are: keying, products and skirts. What
/// lies 25 dB under the peak of an emission is not counted to its band either (the measure of the
/// band), and a separate emission shows outside of the other's on-times too.
fn splatters<'a>(w: &Piece, pieces: impl Iterator<Item = &'a Piece>, block: f64) -> bool {
    let least = splatter_over(w.power);
    let slack = 2.0 * w.u_time;
    let shared = pieces
        .filter(|s| s.power >= least && (s.start > slack || s.stop < block - slack))
        .map(|s| {
            let slack = slack + 2.0 * s.u_time;
            (w.start.max(s.start - slack), w.stop.min(s.stop + slack))
        })
        .filter(|s| s.1 > s.0);
    in_all(shared.collect()) >= COVERED * (w.stop - w.start)
}

/// Parts of a wide emission that its modulation throws out for a moment: short beside it, close to
/// its band, 10 dB weaker.
fn fragment(w: &Piece, s: &Piece) -> bool {
    let apart = (w.low_hz - s.high_hz).max(s.low_hz - w.high_hz);
    s.power >= 10.0 * w.power
        && apart <= 0.5 * s.bandwidth_hz
        && w.bandwidth_hz <= s.bandwidth_hz
        && w.start >= s.start - 2.0 * (s.u_time + w.u_time)
        && w.stop <= s.stop + 2.0 * (s.u_time + w.u_time)
        && (w.stop - w.start) < 0.1 * (s.stop - s.start)
}

/// Pieces in order of their start, a few at a time with the time that they span: most are not on at
/// the time of any one.
struct AtOnce(Vec<(f64, f64, Vec<Piece>)>);

impl AtOnce {
    /// Pieces of one span.
    const FEW: usize = 16;

    fn new(pieces: &[Piece]) -> AtOnce {
        let mut all = pieces.to_vec();
        all.sort_by(|a, b| a.start.total_cmp(&b.start));
        let span = |few: &[Piece]| {
            let start = few.iter().map(|p| p.start - 2.0 * p.u_time).fold(f64::INFINITY, f64::min);
            let stop = few.iter().map(|p| p.stop + 2.0 * p.u_time).fold(0.0, f64::max);
            (start, stop, few.to_vec())
        };
        AtOnce(all.chunks(Self::FEW).map(span).collect())
    }
    /// At least those that are on at the time of a piece, within twice the uncertainties.
    fn with(&self, w: &Piece) -> impl Iterator<Item = &Piece> {
        let (start, stop) = (w.start - 2.0 * w.u_time, w.stop + 2.0 * w.u_time);
        let near = self.0.iter().filter(move |few| few.0 <= stop && few.1 >= start);
        near.flat_map(|few| &few.2)
    }
}

/// What spans (of time or of frequency) cover in all.
pub(crate) fn in_all(mut spans: Vec<(f64, f64)>) -> f64 {
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut sum, mut end) = (0.0, f64::NEG_INFINITY);
    for (a, z) in spans {
        sum += (z - a.max(end)).max(0.0);
        end = end.max(z);
    }
    sum
}

/// Whether something stronger by [`GAIN_DB`] is on for most of a piece's time: a moving gain or
/// the keying's skirts may have made it then.
pub(crate) fn mostly_beside(piece: &Piece, all: &[(Piece, Verdict)]) -> bool {
    let least = piece.power * 10f64.powf(0.1 * GAIN_DB);
    let spans = all
        .iter()
        .filter(|(p, _)| p.power >= least && p.start < piece.stop && p.stop > piece.start)
        .map(|(p, _)| (p.start.max(piece.start), p.stop.min(piece.stop)));
    in_all(spans.collect()) > 0.5 * (piece.stop - piece.start)
}

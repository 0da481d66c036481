//! Pieces of one on-period on either side of a block's edge become one pulse.

use crate::Excerpt;
use crate::measure::{Piece, dbfs};
use crate::pulse::Pulse;

/// Samples of an excerpt at most.
const EXCERPT: u64 = 1 << 20;

/// A segment as times and frequencies need it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Place {
    pub segment: u32,
    pub first_sample: u64,
    pub samples: u64,
    pub start_s: f64,
    pub rate_hz: f64,
    /// 0 where nobody states it.
    pub centre_hz: f64,
}

/// An on-period that may go on in the next block.
#[derive(Debug, Clone, Copy)]
struct Open {
    piece: Piece,
    /// Band and level are those of this many samples.
    weight: f64,
}

/// Joins the pieces of one segment, block by block.
#[derive(Debug)]
pub(crate) struct Stitcher {
    place: Place,
    gap: f64,
    open: Vec<Open>,
}

impl Stitcher {
    pub fn new(place: Place, gap_samples: usize) -> Self {
        Stitcher { place, gap: gap_samples as f64, open: Vec::new() }
    }

    /// Takes a block's pieces; `next` is the first sample that the next block sees. Hands out what
    /// is over.
    pub fn push(&mut self, mut pieces: Vec<Piece>, next: u64, out: &mut Vec<Pulse>) {
        pieces.sort_by(|a, b| a.start.total_cmp(&b.start).then(a.low_hz.total_cmp(&b.low_hz)));
        let from = self.open.len();
        for piece in pieces {
            let weight = piece.stop - piece.start;
            let old = self.open[..from]
                .iter_mut()
                .filter(|o| piece.start <= o.piece.stop + self.gap && alike(&o.piece, &piece))
                .max_by(|a, b| shared_hz(&a.piece, &piece).total_cmp(&shared_hz(&b.piece, &piece)));
            match old {
                Some(o) => o.extend(&piece, weight),
                None => self.open.push(Open { piece, weight }),
            }
        }
        let edge = next as f64 - self.gap;
        let place = self.place;
        self.open.retain(|o| {
            let goes_on = o.piece.stop >= edge;
            if !goes_on {
                out.push(pulse(&o.piece, &place));
            }
            goes_on
        });
    }

    /// Hands out what was on to the end.
    pub fn finish(mut self, out: &mut Vec<Pulse>) {
        out.extend(self.open.drain(..).map(|o| pulse(&o.piece, &self.place)));
    }
}

impl Open {
    fn extend(&mut self, next: &Piece, weight: f64) {
        let (a, b) = (self.weight / (self.weight + weight), weight / (self.weight + weight));
        let p = &mut self.piece;
        let mix = |x: f64, y: f64| a * x + b * y;
        *p = Piece {
            start: p.start.min(next.start),
            stop: p.stop.max(next.stop),
            u_time: p.u_time.max(next.u_time),
            low_hz: mix(p.low_hz, next.low_hz),
            high_hz: mix(p.high_hz, next.high_hz),
            centre_hz: mix(p.centre_hz, next.centre_hz),
            u_centre_hz: (a * p.u_centre_hz).hypot(b * next.u_centre_hz),
            bandwidth_hz: mix(p.bandwidth_hz, next.bandwidth_hz),
            u_bandwidth_hz: (a * p.u_bandwidth_hz).hypot(b * next.u_bandwidth_hz),
            bare: p.bare && next.bare,
            resolution_hz: p.resolution_hz.min(next.resolution_hz),
            power: mix(p.power, next.power),
            u_power: (a * p.u_power).hypot(b * next.u_power),
            noise: mix(p.noise, next.noise),
        };
        self.weight += weight;
    }
}

fn shared_hz(a: &Piece, b: &Piece) -> f64 {
    a.high_hz.min(b.high_hz) - a.low_hz.max(b.low_hz)
}

/// Whether two pieces share half of the narrower one's band.
fn alike(a: &Piece, b: &Piece) -> bool {
    let slack = a.resolution_hz.min(b.resolution_hz);
    let narrow = (a.high_hz - a.low_hz).min(b.high_hz - b.low_hz);
    shared_hz(a, b) + slack >= 0.5 * narrow.max(slack)
}

/// The pulse of a piece, in the recording's time and frequency.
pub(crate) fn pulse(p: &Piece, place: &Place) -> Pulse {
    let stop = p.stop.min(place.samples as f64);
    let first = p.start.max(0.0) as u64;
    let samples = ((stop.ceil() as u64).saturating_sub(first)).clamp(1, EXCERPT);
    let edge = 2.0 * p.u_time + 1.0;
    Pulse {
        segment: place.segment,
        start_s: place.start_s + p.start / place.rate_hz,
        stop_s: place.start_s + stop / place.rate_hz,
        u_time_s: p.u_time / place.rate_hz,
        low_hz: place.centre_hz + p.low_hz,
        high_hz: place.centre_hz + p.high_hz,
        centre_hz: place.centre_hz + p.centre_hz,
        u_centre_hz: p.u_centre_hz,
        bandwidth_hz: p.bandwidth_hz,
        u_bandwidth_hz: p.u_bandwidth_hz,
        bare: p.bare,
        resolution_hz: p.resolution_hz,
        level_dbfs: dbfs(p.power),
        u_level_db: 4.343 * p.u_power,
        snr_db: units::db_from_ratio(p.power / p.noise.max(1e-30)),
        cut_start: p.start <= edge,
        cut_stop: p.stop + edge >= place.samples as f64,
        sweep_hz_per_s: None,
        excerpt: Excerpt { first_sample: place.first_sample + first, samples },
    }
}

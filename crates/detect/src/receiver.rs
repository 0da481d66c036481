//! What the receiver did to the samples, gathered over the recording, and said in warnings.

use crate::config::SHORTEST_SEGMENT;
use crate::defects::Verdict;
use crate::measure::{Piece, dbfs};
use units::{Iq, Reason};

/// Counts and the loudest of each kind.
#[derive(Debug)]
pub(crate) struct Receiver {
    limits: Option<(f32, f32)>,
    samples: u64,
    clipped: u64,
    peak_rail: f32,
    dc: Option<f64>,
    images: (u64, f64, f64),
    splatter: u64,
    distrusted: u64,
    short: (u64, u64),
    /// Blocks, and those whose floor is uncertain over more than half of the band.
    blocks: (u64, u64),
}

impl Receiver {
    pub fn new(limits: Option<(f32, f32)>) -> Self {
        Receiver {
            limits,
            samples: 0,
            clipped: 0,
            peak_rail: 0.0,
            dc: None,
            images: (0, 0.0, f64::NEG_INFINITY),
            splatter: 0,
            distrusted: 0,
            short: (0, 0),
            blocks: (0, 0),
        }
    }
    /// Counts samples with a rail at its limit; says which fraction of the block they are.
    pub fn count(&mut self, block: &[Iq]) -> f64 {
        self.samples += block.len() as u64;
        let (low, high) = self.limits.unwrap_or((f32::NEG_INFINITY, f32::INFINITY));
        let (mut clipped, mut peak) = (0u64, self.peak_rail);
        for x in block {
            let (least, most) = (x.re.min(x.im), x.re.max(x.im));
            clipped += u64::from(least <= low || most >= high);
            peak = peak.max(most).max(-least);
        }
        self.clipped += clipped;
        self.peak_rail = peak;
        clipped as f64 / block.len().max(1) as f64
    }
    pub fn too_short(&mut self, samples: u64) {
        self.short.0 += 1;
        self.short.1 += samples;
    }
    pub fn floor(&mut self, trusted: f64) {
        self.blocks.0 += 1;
        self.blocks.1 += u64::from(trusted < 0.5);
    }
    /// Notes something that is no emission.
    pub fn made(&mut self, what: Verdict, piece: &Piece, centre_hz: f64) {
        let level = dbfs(piece.power);
        match what {
            Verdict::DcSpike => self.dc = Some(self.dc.unwrap_or(f64::NEG_INFINITY).max(level)),
            Verdict::Image => {
                self.images.0 += 1;
                if level > self.images.2 {
                    self.images.1 = centre_hz + piece.centre_hz;
                    self.images.2 = level;
                }
            }
            Verdict::Splatter => self.splatter += 1,
            Verdict::Distrusted => self.distrusted += 1,
            Verdict::Emission => {}
        }
    }
    pub fn clipped_samples(&self) -> u64 {
        self.clipped
    }
    pub fn peak_rail(&self) -> f32 {
        self.peak_rail
    }
    pub fn clipped_fraction(&self) -> f64 {
        if self.samples == 0 { 0.0 } else { self.clipped as f64 / self.samples as f64 }
    }
    /// All that a person should know before trusting the rows.
    pub fn warnings(&self) -> Vec<Reason> {
        let mut out = Vec::new();
        if self.clipped > 0 {
            let percent = 100.0 * self.clipped_fraction();
            out.push(
                Reason::new(
                    "clipping",
                    format!(
                        "{percent:.3} % of the samples are at the converter's limit: levels read \
                         low, and {} bursts 20 to 30 dB under the strongest were left out, as \
                         they may not be real",
                        self.distrusted
                    ),
                )
                .with("left_out", self.distrusted as f64)
                .with("clipped_fraction", self.clipped_fraction()),
            );
        }
        if let Some(level) = self.dc {
            out.push(
                Reason::new(
                    "dc_spike",
                    format!(
                        "the line at the tuned frequency ({level:.1} dBFS) is the receiver's own \
                         and is left out; a carrier exactly there would be missed"
                    ),
                )
                .with("level_dbfs", level),
            );
        }
        if self.images.0 > 0 {
            let (count, centre, level) = self.images;
            out.push(
                Reason::new(
                    "iq_image",
                    format!(
                        "mirror images of stronger emissions are left out, the loudest at \
                         {centre:.0} Hz with {level:.1} dBFS"
                    ),
                )
                .with("centre_hz", centre)
                .with("level_dbfs", level)
                .with("count", count as f64),
            );
        }
        if self.short.0 > 0 {
            out.push(
                Reason::new(
                    "segment_too_short",
                    format!(
                        "{} segments are shorter than {SHORTEST_SEGMENT} samples and were not \
                         looked at",
                        self.short.0
                    ),
                )
                .with("segments", self.short.0 as f64)
                .with("samples", self.short.1 as f64),
            );
        }
        if 2 * self.blocks.1 > self.blocks.0 {
            out.push(Reason::new(
                "floor_uncertain",
                "signals fill most of the band most of the time: the noise floor is a guess, and \
                 levels and limits may be 2 dB off or more",
            ));
        }
        out
    }
}

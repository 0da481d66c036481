//! What the receiver did to the samples, gathered over the recording, and said in warnings.

use crate::balance::Imbalance;
use crate::config::SHORTEST_SEGMENT;
use crate::defects::Verdict;
use crate::measure::{Piece, dbfs};
use units::{Iq, Reason};

/// What the rails (I and Q) of some samples show.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Rails {
    /// Samples with a rail at a limit.
    pub clipped: u64,
    /// Largest magnitude of a rail.
    pub peak: f32,
}

/// Samples whose extremes are looked at first: rails at their limits are rare.
const PART: usize = 4096;

impl Rails {
    /// Of finite samples; `limits` are the least and the largest value of a rail.
    pub fn of(iq: &[Iq], limits: Option<(f32, f32)>) -> Rails {
        let (low, high) = limits.unwrap_or((f32::NEG_INFINITY, f32::INFINITY));
        let mut rails = Rails::default();
        for part in iq.chunks(PART) {
            let (least, most) = dsp::extremes(part);
            rails.peak = rails.peak.max(most).max(-least);
            if least <= low || most >= high {
                let at_limit = |x: &&Iq| x.re.min(x.im) <= low || x.re.max(x.im) >= high;
                rails.clipped += part.iter().filter(at_limit).count() as u64;
            }
        }
        rails
    }
}

/// What was seen and is no row: how many, and the loudest's hertz and dBFS.
#[derive(Debug, Default)]
struct LeftOut {
    count: u64,
    loudest: Option<(f64, f64)>,
}

impl LeftOut {
    fn add(&mut self, hz: f64, level: f64) {
        self.count += 1;
        if self.loudest.is_none_or(|loudest| level > loudest.1) {
            self.loudest = Some((hz, level));
        }
    }
    fn reason(&self, code: &'static str, what: &str) -> Option<Reason> {
        let (hz, level) = self.loudest?;
        let words = format!(
            "{what} ({} left out, the loudest at {:.4} MHz with {level:.1} dBFS)",
            self.count,
            hz / 1e6
        );
        let reason = Reason::new(code, words).with("left_out", self.count as f64);
        Some(reason.with("centre_hz", hz).with("level_dbfs", level))
    }
}

/// Counts and the loudest of each kind.
#[derive(Debug)]
pub(crate) struct Receiver {
    samples: u64,
    clipped: u64,
    peak_rail: f32,
    dc: Option<f64>,
    /// Loudest mirror image: hertz and dBFS.
    image: Option<(f64, f64)>,
    splatter: LeftOut,
    spurious: LeftOut,
    distrusted: u64,
    /// Blocks in which the gain moved, and bursts left out there.
    moved: (u64, u64),
    /// Seconds in which the noise stood high, and all.
    raised_s: (f64, f64),
    short: (u64, u64),
    /// Blocks, and those whose floor is uncertain over more than half of the band.
    blocks: (u64, u64),
}

impl Receiver {
    pub fn new() -> Self {
        Receiver {
            samples: 0,
            clipped: 0,
            peak_rail: 0.0,
            dc: None,
            image: None,
            splatter: LeftOut::default(),
            spurious: LeftOut::default(),
            distrusted: 0,
            moved: (0, 0),
            raised_s: (0.0, 0.0),
            short: (0, 0),
            blocks: (0, 0),
        }
    }
    /// Takes the rails of `samples` samples.
    pub fn rails(&mut self, samples: usize, rails: Rails) {
        self.samples += samples as u64;
        self.clipped += rails.clipped;
        self.peak_rail = self.peak_rail.max(rails.peak);
    }
    pub fn too_short(&mut self, samples: u64) {
        self.short.0 += 1;
        self.short.1 += samples;
    }
    /// Takes whether the gain moved in a block, and for how long of its seconds the noise was high.
    pub fn gain(&mut self, moved: bool, raised_s: f64, all_s: f64) {
        self.moved.0 += u64::from(moved);
        self.raised_s.0 += raised_s;
        self.raised_s.1 += all_s;
    }
    /// Counts a burst that a moving gain may have made.
    pub fn brief(&mut self) {
        self.moved.1 += 1;
    }
    pub fn floor(&mut self, trusted: f64) {
        self.blocks.0 += 1;
        self.blocks.1 += u64::from(trusted < 0.5);
    }
    /// Notes something that is no emission.
    pub fn made(&mut self, what: Verdict, piece: &Piece, centre_hz: f64) {
        let level = dbfs(piece.power);
        match what {
            Verdict::DcSpike => self.constant(piece.power),
            Verdict::Image => self.image(centre_hz + piece.centre_hz, level),
            Verdict::Splatter => self.splatter.add(centre_hz + piece.centre_hz, level),
            Verdict::Spurious => self.spurious.add(centre_hz + piece.centre_hz, level),
            Verdict::Distrusted => self.distrusted += 1,
            Verdict::Emission => {}
        }
    }
    /// Notes a constant of this power in the samples.
    pub fn constant(&mut self, power: f64) {
        self.dc = Some(self.dc.unwrap_or(f64::NEG_INFINITY).max(dbfs(power)));
    }
    /// Notes the images that were taken out of a block.
    pub fn imbalance(&mut self, imbalance: &Imbalance, centre_hz: f64) {
        self.image(centre_hz + imbalance.image_hz, dbfs(imbalance.image_power));
    }
    /// Notes a mirror image, of any level.
    pub fn image(&mut self, hz: f64, level: f64) {
        if self.image.is_none_or(|loudest| level > loudest.1) {
            self.image = Some((hz, level));
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
                         low, and bursts 20 to 30 dB under the strongest, which may not be real, \
                         count for nothing ({} left out)",
                        self.distrusted
                    ),
                )
                .with("left_out", self.distrusted as f64)
                .with("clipped_fraction", self.clipped_fraction()),
            );
        }
        if self.moved.0 > 0 {
            let left_out = self.moved.1;
            let part = self.raised_s.0 / self.raised_s.1.max(f64::MIN_POSITIVE);
            out.push(
                Reason::new(
                    "gain_moves",
                    format!(
                        "the noise rose with the emissions in {:.1} % of the time, as it does where \
                         a receiver turns its gain about or keying throws far skirts: bursts on only \
                         while one 20 dB stronger is cannot be told from that and count for nothing \
                         ({left_out} left out); what was listened to holds for steady emissions, \
                         not for such bursts",
                        100.0 * part
                    ),
                )
                .with("part_of_time", part)
                .with("left_out", left_out as f64),
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
        if let Some((centre, level)) = self.image {
            out.push(
                Reason::new(
                    "iq_image",
                    format!(
                        "mirror images of stronger emissions are taken out, the loudest near \
                         {:.3} MHz with {level:.1} dBFS",
                        centre / 1e6
                    ),
                )
                .with("centre_hz", centre)
                .with("level_dbfs", level),
            );
        }
        out.extend(self.splatter.reason(
            "splatter",
            "lines and bursts beside a keyed emission far stronger, on only with it, are taken for \
             its splatter; a transmitter that keys only together with it would be missed",
        ));
        out.extend(self.spurious.reason(
            "spurious",
            "bursts 75 dB or more under the strongest emission of their moment are taken for the \
             receiver's own products",
        ));
        if self.short.0 > 0 {
            let many = if self.short.0 == 1 { "segment is" } else { "segments are" };
            out.push(
                Reason::new(
                    "segment_too_short",
                    format!(
                        "{} {many} shorter than {SHORTEST_SEGMENT} samples and not looked at",
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rails_at_their_limits_are_counted() {
        let mut iq = vec![Iq::new(0.25, -0.5); 3 * PART + 5];
        assert_eq!(Rails::of(&iq, Some((-1.0, 0.99))), Rails { clipped: 0, peak: 0.5 });
        iq[7] = Iq::new(-1.0, 0.99);
        iq[3 * PART + 2].im = -1.0;
        assert_eq!(Rails::of(&iq, Some((-1.0, 0.99))), Rails { clipped: 2, peak: 1.0 });
        assert_eq!(Rails::of(&iq, None), Rails { clipped: 0, peak: 1.0 });
    }
}

//! The receiver: thermal noise, its own lines, DC, imbalance between the rails, the converter.
//! Full scale is 1 per rail; 0 dBFS is mean |x|² = 1.

use crate::draw;
use crate::render::Window;
use crate::resample::Rotator;
use crate::scene::Chain;
use rayon::prelude::*;
use units::{Db, Dbfs, Dbm, Iq};

/// Boltzmann's constant times 290 K, dBm per hertz (1.380649e-23 J/K, exact in the SI).
pub fn thermal_dbm_per_hz() -> f64 {
    units::db_from_ratio(1.380_649e-23 * 290.0 * 1e3)
}

impl Chain {
    /// Level at the converter of a level at the antenna connector.
    pub fn dbfs(&self, level: Dbm) -> Dbfs {
        Dbfs(level.0 + self.gain_db - self.full_scale_dbm)
    }
    /// Level at the antenna connector of a level at the converter.
    pub fn dbm(&self, level: Dbfs) -> Dbm {
        Dbm(level.0 - self.gain_db + self.full_scale_dbm)
    }
    /// Noise of a bandwidth, kTBF, at the antenna connector.
    pub fn noise(&self, bandwidth_hz: f64) -> Dbm {
        Dbm(thermal_dbm_per_hz() + self.noise_figure_db) + Db::from_ratio(bandwidth_hz)
    }
    /// Noise of a bandwidth at the converter, with its quantisation error (uniform, both rails).
    pub fn noise_dbfs(&self, bandwidth_hz: f64) -> Dbfs {
        let step = 2f64.powi(1 - self.adc_bits as i32);
        let quantisation = 2.0 * step * step / 12.0 * bandwidth_hz / self.sample_rate_hz;
        Dbfs::from_power(self.dbfs(self.noise(bandwidth_hz)).power() + quantisation)
    }
}

/// Samples drawn from one stream of random numbers; fixed, so that threads do not matter.
const NOISE_CHUNK: usize = 8192;

/// Adds noise to samples `first`.. of a segment; `first` is a multiple of the chunk or the call
/// covers whole blocks of it. `key` names the segment.
pub fn add_noise(chain: &Chain, key: u64, first: u64, out: &mut [Iq]) {
    debug_assert!(first.is_multiple_of(NOISE_CHUNK as u64));
    let power = chain.dbfs(chain.noise(chain.sample_rate_hz)).power();
    let sigma = (power / 2.0).sqrt() as f32;
    let chunk0 = first / NOISE_CHUNK as u64;
    out.par_chunks_mut(NOISE_CHUNK).enumerate().for_each(|(k, part)| {
        let mut rng = draw::rng(key, &[0x4015e, chunk0 + k as u64]);
        for z in part {
            z.re += sigma * fast_normal(&mut rng);
            z.im += sigma * fast_normal(&mut rng);
        }
    });
}

/// A standard normal draw in f32.
fn fast_normal(rng: &mut rand_chacha::ChaCha8Rng) -> f32 {
    use rand::RngExt;
    rng.sample::<f32, _>(rand_distr::StandardNormal)
}

/// What the receiver does to a segment after the air: lines, imbalance, DC, converter.
pub struct FrontEnd {
    lines: Vec<(Rotator, f32)>,
    /// y = α s + β s*.
    alpha: Iq,
    beta: Iq,
    dc: Iq,
    steps: f32,
}

impl FrontEnd {
    /// For one segment; `key` names the visit (the phase of DC and lines).
    pub fn new(chain: &Chain, window: &Window, key: u64) -> FrontEnd {
        let half = window.rate_hz / 2.0;
        let turns = |k: u64| draw::between(&mut draw::rng(key, &[0x11e, k]), 0.0, 1.0);
        let offset = |l: &crate::scene::Line| {
            l.offset_hz.or(l.hz.map(|hz| hz - window.centre_hz)).unwrap_or(0.0)
        };
        let lines =
            chain.lines.iter().zip(0u64..).filter(|(l, _)| offset(l).abs() < half).map(|(l, k)| {
                let amplitude = Dbfs(l.level_dbfs).power().sqrt() as f32;
                (Rotator::new(offset(l), window.rate_hz, turns(k)), amplitude)
            });
        let g = units::ratio_from_db(chain.imbalance.gain_db).sqrt();
        let (sin, cos) = chain.imbalance.phase_deg.to_radians().sin_cos();
        let part =
            |sign: f64| Iq::new((0.5 + sign * 0.5 * g * cos) as f32, (-0.5 * g * sin) as f32);
        let (s, c) = (std::f64::consts::TAU * turns(u64::MAX)).sin_cos();
        let dc = chain.dc_dbfs.map_or(0.0, |l| Dbfs(l).power().sqrt());
        FrontEnd {
            lines: lines.collect(),
            // α = (1 + g e^{−jφ})/2, β = (1 − g e^{jφ})/2.
            alpha: part(1.0),
            beta: part(-1.0),
            dc: Iq::new((dc * c) as f32, (dc * s) as f32),
            steps: 2f32.powi(chain.adc_bits as i32 - 1),
        }
    }
    /// The next samples, in place; afterwards each rail is a whole number of steps within its
    /// limits, −1 to 1 − one step.
    pub fn run(&mut self, x: &mut [Iq]) {
        for (rotator, amplitude) in &mut self.lines {
            rotator.add(Iq::new(*amplitude, 0.0), x);
        }
        let (alpha, beta, dc, steps) = (self.alpha, self.beta, self.dc, self.steps);
        let rail = |v: f32| (v * steps).round_ties_even().clamp(-steps, steps - 1.0) / steps;
        x.par_chunks_mut(NOISE_CHUNK).for_each(|part| {
            for z in part {
                let y = alpha * *z + beta * z.conj() + dc;
                *z = Iq::new(rail(y.re), rail(y.im));
            }
        });
    }
}

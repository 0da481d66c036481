//! What the tests of recordings share.
#![allow(dead_code, reason = "each test uses a part")]

use simulate::{Piece, Simulation};
use units::Iq;

/// The samples of a visit, segments one after the other.
pub fn samples(sim: &Simulation, visit: usize) -> Vec<Iq> {
    let mut all = Vec::new();
    let done = sim.synthesise::<()>(visit, &mut |piece| {
        if let Piece::Samples(x) = piece {
            all.extend_from_slice(x);
        }
        Ok(())
    });
    assert!(done.is_ok());
    all
}

pub fn power(x: &[Iq]) -> f64 {
    x.iter().map(|z| f64::from(z.norm_sqr())).sum::<f64>() / x.len() as f64
}

/// Mean power inside low..high (Hz from the centre), by a rectangular-window DFT of the whole.
pub fn band_power(x: &[Iq], rate_hz: f64, low_hz: f64, high_hz: f64) -> f64 {
    let n = x.len();
    let mut y: Vec<Iq> = x.to_vec();
    rustfft::FftPlanner::new().plan_fft_forward(n).process(&mut y);
    let bin = |k: usize| {
        let k = if k >= n.div_ceil(2) { k as f64 - n as f64 } else { k as f64 };
        k * rate_hz / n as f64
    };
    let inside = y.iter().enumerate().filter(|(k, _)| (low_hz..=high_hz).contains(&bin(*k)));
    inside.map(|(_, z)| f64::from(z.norm_sqr())).sum::<f64>() / (n as f64 * n as f64)
}

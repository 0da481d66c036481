//! Finite impulse responses: design by the windowed sinc (Kaiser 1974), root raised cosine and
//! Gaussian pulses, and a streaming filter.

use std::f64::consts::PI;
use units::Iq;

/// Zeroth modified Bessel function of the first kind (series).
fn bessel_i0(x: f64) -> f64 {
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..200 {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum += term;
        if term < 1e-17 * sum {
            break;
        }
    }
    sum
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-12 { 1.0 } else { (PI * x).sin() / (PI * x) }
}

/// Low-pass taps with unit gain at zero: pass edge and stop edge as fractions of the sample rate
/// (0 < `pass` < `stop` ≤ 0.5), stop-band attenuation `stop_db` (≥ 21). Length from Kaiser's
/// formula, odd, symmetric: group delay (len − 1)/2 samples.
pub fn lowpass(pass: f64, stop: f64, stop_db: f64) -> Vec<f64> {
    let beta = if stop_db > 50.0 {
        0.1102 * (stop_db - 8.7)
    } else {
        0.5842 * (stop_db - 21.0).max(0.0).powf(0.4) + 0.07886 * (stop_db - 21.0).max(0.0)
    };
    let width = (stop - pass).max(1e-6);
    let order = ((stop_db - 7.95) / (14.36 * width)).ceil().max(2.0) as usize;
    let half = order.div_ceil(2);
    let cut = 0.5 * (pass + stop);
    let taps: Vec<f64> = (0..=2 * half)
        .map(|i| {
            let t = i as f64 - half as f64;
            let inside = (1.0 - (t / (half as f64 + 1.0)).powi(2)).max(0.0).sqrt();
            2.0 * cut * sinc(2.0 * cut * t) * bessel_i0(beta * inside) / bessel_i0(beta)
        })
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.into_iter().map(|t| t / sum).collect()
}

/// Root-raised-cosine pulse of unit energy: `samples_per_symbol` > 1, 0 < `rolloff` ≤ 1,
/// `span` symbols either side. Length 2·span·samples_per_symbol + 1.
pub fn root_raised_cosine(samples_per_symbol: usize, rolloff: f64, span: usize) -> Vec<f64> {
    let half = (span * samples_per_symbol) as i64;
    let at = |i: i64| {
        let t = i as f64 / samples_per_symbol as f64;
        let b = rolloff;
        if i == 0 {
            return 1.0 - b + 4.0 * b / PI;
        }
        let pole = 1.0 - (4.0 * b * t).powi(2);
        if pole.abs() < 1e-9 {
            let a = PI / (4.0 * b);
            return b / 2f64.sqrt() * ((1.0 + 2.0 / PI) * a.sin() + (1.0 - 2.0 / PI) * a.cos());
        }
        ((PI * t * (1.0 - b)).sin() + 4.0 * b * t * (PI * t * (1.0 + b)).cos()) / (PI * t * pole)
    };
    let taps: Vec<f64> = (-half..=half).map(at).collect();
    let energy: f64 = taps.iter().map(|t| t * t).sum();
    taps.into_iter().map(|t| t / energy.sqrt()).collect()
}

/// Gaussian frequency pulse with unit sum for GFSK/GMSK: bandwidth–time product `bt`, `span`
/// symbols either side.
pub fn gaussian(samples_per_symbol: usize, bt: f64, span: usize) -> Vec<f64> {
    let half = (span * samples_per_symbol) as i64;
    // σ = √(ln 2)/(2π BT) symbols (Murota and Hirade 1981).
    let sigma = 2f64.ln().sqrt() / (2.0 * PI * bt) * samples_per_symbol as f64;
    let taps: Vec<f64> =
        (-half..=half).map(|i| (-0.5 * (i as f64 / sigma).powi(2)).exp()).collect();
    let sum: f64 = taps.iter().sum();
    taps.into_iter().map(|t| t / sum).collect()
}

/// A streaming filter with real taps: as many samples out as in; the first output sees zeros
/// before the first input.
#[derive(Debug, Clone)]
pub struct Fir {
    reversed: Vec<f32>,
    line: Vec<Iq>,
}

impl Fir {
    /// A filter with these taps (at least one).
    pub fn new(taps: &[f64]) -> Self {
        let reversed: Vec<f32> = taps.iter().rev().map(|t| *t as f32).collect();
        let line = vec![Iq::default(); reversed.len().saturating_sub(1)];
        Fir { reversed, line }
    }
    /// Forgets what went before.
    pub fn reset(&mut self) {
        self.line.clear();
        self.line.resize(self.reversed.len().saturating_sub(1), Iq::default());
    }
    /// Group delay of symmetric taps, samples.
    pub fn delay(&self) -> f64 {
        self.reversed.len().saturating_sub(1) as f64 / 2.0
    }
    /// Filters a block in place.
    pub fn process(&mut self, block: &mut [Iq]) {
        let history = self.line.len();
        self.line.extend_from_slice(block);
        for (out, seen) in block.iter_mut().zip(self.line.windows(history + 1)) {
            *out = dot(seen, &self.reversed);
        }
        self.line.drain(..self.line.len() - history);
    }
}

/// Σ x·h in four interleaved sums, which lets the compiler use wide registers.
pub(crate) fn dot(x: &[Iq], h: &[f32]) -> Iq {
    let mut lanes = [Iq::default(); 4];
    let (xs, x_rest) = x.split_at(x.len() & !3);
    let (hs, h_rest) = h.split_at(xs.len().min(h.len()));
    for (x, h) in xs.chunks_exact(4).zip(hs.chunks_exact(4)) {
        for i in 0..4 {
            lanes[i].re += x[i].re * h[i];
            lanes[i].im += x[i].im * h[i];
        }
    }
    let mut sum = lanes[0] + lanes[1] + lanes[2] + lanes[3];
    for (x, h) in x_rest.iter().zip(h_rest) {
        sum += x * h;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain_db(taps: &[f64], f: f64) -> f64 {
        let (mut re, mut im) = (0.0, 0.0);
        for (i, t) in taps.iter().enumerate() {
            let phase = 2.0 * PI * f * i as f64;
            re += t * phase.cos();
            im -= t * phase.sin();
        }
        20.0 * re.hypot(im).log10()
    }

    #[test]
    fn lowpass_keeps_and_stops() {
        let taps = lowpass(0.1, 0.15, 70.0);
        assert!(gain_db(&taps, 0.0).abs() < 1e-9);
        for i in 0..=100 {
            let f = 0.1 * f64::from(i) / 100.0;
            assert!(gain_db(&taps, f).abs() < 0.02, "pass {f}: {}", gain_db(&taps, f));
            let f = 0.15 + 0.35 * f64::from(i) / 100.0;
            assert!(gain_db(&taps, f) < -69.0, "stop {f}: {}", gain_db(&taps, f));
        }
    }

    #[test]
    fn streaming_equals_whole() {
        let x: Vec<Iq> = (0..300).map(|i| Iq::new((i % 17) as f32, (i % 5) as f32)).collect();
        let taps = lowpass(0.1, 0.2, 40.0);
        let (mut whole, mut parts) = (x.clone(), x);
        Fir::new(&taps).process(&mut whole);
        let mut fir = Fir::new(&taps);
        for part in parts.chunks_mut(7) {
            fir.process(part);
        }
        assert_eq!(whole, parts);
    }

    #[test]
    fn root_raised_cosine_twice_is_free_of_intersymbol_interference() {
        let (sps, span) = (8, 12);
        let h = root_raised_cosine(sps, 0.35, span);
        let at =
            |shift: usize| -> f64 { h.iter().zip(h.iter().skip(shift)).map(|(a, b)| a * b).sum() };
        assert!((at(0) - 1.0).abs() < 1e-12);
        for k in 1..6 {
            assert!(at(k * sps).abs() < 2e-3, "symbol {k}: {}", at(k * sps));
        }
        assert!((gaussian(8, 0.3, 3).iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }
}

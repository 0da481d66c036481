//! The law of boxes of cells against white noise that goes through real Hann frames: counted
//! where it is common enough, by importance sampling where it is rare. Nothing but the window, the
//! transform and sums is shared with the law.

use dsp::{BoxTail, Fft, Window};
use num_complex::{Complex32, Complex64};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Complex white noise of power one.
fn draw(rng: &mut ChaCha8Rng) -> Complex64 {
    let (re, im): (f64, f64) = (StandardNormal.sample(rng), StandardNormal.sample(rng));
    Complex64::new(re, im) / 2f64.sqrt()
}

/// Half-overlapped Hann frames whose mean power over white noise of power one is one.
struct Frames {
    window: Vec<f32>,
    fft: Fft,
    scratch: Vec<Complex32>,
    frame: Vec<Complex32>,
}

impl Frames {
    fn new(n: usize) -> Self {
        let w = Window::Hann.samples(n);
        let norm = w.iter().map(|w| w * w).sum::<f64>().sqrt();
        let fft = Fft::forward(n);
        Frames {
            window: w.iter().map(|w| (w / norm) as f32).collect(),
            scratch: fft.scratch(),
            fft,
            frame: Vec::new(),
        }
    }

    /// Power of each bin of the frame at the start of `samples`.
    fn power(&mut self, samples: &[Complex32]) -> impl Iterator<Item = f64> {
        self.frame.clear();
        self.frame.extend(samples.iter().zip(&self.window).map(|(x, w)| x * w));
        self.fft.in_place(&mut self.frame, &mut self.scratch);
        self.frame.iter().map(|x| f64::from(x.norm_sqr()))
    }
}

#[test]
fn noise_exceeds_the_threshold_as_often_as_said() {
    let n = 64;
    let (mut frames, mut rng) = (Frames::new(n), ChaCha8Rng::seed_from_u64(11));
    // Boxes in one spectrum lie five bins apart: what they share is below 1e-5.
    for (rows, bins, spectra) in [(1, 1, 60_000), (1, 6, 60_000), (5, 3, 20_000), (12, 16, 40_000)]
    {
        let threshold = BoxTail::new(rows, bins).threshold(1e-3f64.ln()) * (rows * bins) as f64;
        let (mut above, mut boxes) = (0.0f64, 0.0);
        for _ in 0..spectra {
            let noise: Vec<Complex32> = (0..n / 2 * (rows + 1))
                .map(|_| draw(&mut rng))
                .map(|x| Complex32::new(x.re as f32, x.im as f32))
                .collect();
            let mut total = vec![0.0; n];
            for row in 0..rows {
                let power = frames.power(&noise[row * n / 2..][..n]);
                total.iter_mut().zip(power).for_each(|(t, p)| *t += p);
            }
            for cells in total.chunks_exact(bins + 5) {
                above += f64::from(u8::from(cells[..bins].iter().sum::<f64>() > threshold));
                boxes += 1.0;
            }
        }
        // Four standard errors: each fails once in 16,000.
        let want = 1e-3 * boxes;
        let z = (above - want) / f64::sqrt(want);
        assert!(z.abs() < 4.0, "{rows} by {bins}: {above} of {boxes}, {z} standard errors");
    }
}

/// Noise whose box is louder by a tilt e^{sQ}, Q the box's summed power: its covariance is
/// (I − sF)⁻¹, F = Σ over the cells of the windowed exponential times its conjugate.
struct Tilted {
    /// Rows of the Cholesky factor L of I − sF, from the first in reach of the band.
    factor: Vec<Vec<Complex64>>,
    /// −ln det(I − sF).
    k: f64,
}

impl Tilted {
    fn new(n: usize, rows: usize, bins: usize, s: f64) -> Self {
        let w = Window::Hann.samples(n);
        let norm: f64 = w.iter().map(|w| w * w).sum();
        let kernel: Vec<Complex64> = (0..n)
            .map(|lag| {
                let turn = |a: usize| std::f64::consts::TAU * (a * lag % n) as f64 / n as f64;
                (0..bins).map(|a| Complex64::from_polar(1.0 / norm, turn(a))).sum()
            })
            .collect();
        let hop = n / 2;
        let entry = |t: usize, u: usize| -> Complex64 {
            let both = |p: usize| match (t.checked_sub(p * hop), u.checked_sub(p * hop)) {
                (Some(i), Some(j)) if i < n && j < n => w[i] * w[j],
                _ => 0.0,
            };
            kernel[t - u] * (0..rows).map(both).sum::<f64>()
        };
        let length = hop * (rows + 1);
        let (mut factor, mut k): (Vec<Vec<Complex64>>, f64) = (Vec::new(), 0.0);
        for t in 0..length {
            let first = (t + 1).saturating_sub(n);
            let mut row: Vec<Complex64> = Vec::with_capacity(t - first + 1);
            for u in first..=t {
                let mut value = f64::from(u8::from(u == t)) - entry(t, u) * s;
                let above = if u == t { &row } else { &factor[u] };
                let start = first.max((u + 1).saturating_sub(n));
                let offset = (u + 1).saturating_sub(n);
                for v in start..u {
                    value -= row[v - first] * above[v - offset].conj();
                }
                if u < t {
                    row.push(value / factor[u][u - offset].re);
                } else {
                    assert!(value.re > 0.0, "the tilt lies beyond the largest eigenvalue");
                    k -= value.re.ln();
                    row.push(Complex64::new(value.re.sqrt(), 0.0));
                }
            }
            factor.push(row);
        }
        Tilted { factor, k }
    }

    /// x with Lᴴ x = white noise.
    fn draw(&self, rng: &mut ChaCha8Rng) -> Vec<Complex32> {
        let mut x: Vec<Complex64> = self.factor.iter().map(|_| draw(rng)).collect();
        for t in (0..x.len()).rev() {
            let row = &self.factor[t];
            let first = t + 1 - row.len();
            x[t] /= row[t - first].re;
            let known = x[t];
            for (x, l) in x[first..t].iter_mut().zip(row) {
                *x -= l.conj() * known;
            }
        }
        x.into_iter().map(|x| Complex32::new(x.re as f32, x.im as f32)).collect()
    }
}

/// P(mean power of the box > threshold) and its relative standard error.
fn rate(n: usize, rows: usize, bins: usize, threshold: f64, s: f64, draws: u32) -> (f64, f64) {
    let tilted = Tilted::new(n, rows, bins, s);
    let (mut frames, mut rng) = (Frames::new(n), ChaCha8Rng::seed_from_u64(12));
    let (mut sum, mut squares) = (0.0, 0.0);
    for _ in 0..draws {
        let noise = tilted.draw(&mut rng);
        let row = |r: usize| frames.power(&noise[r * n / 2..][..n]).take(bins).sum::<f64>();
        let q: f64 = (0..rows).map(row).sum();
        if q > threshold * (rows * bins) as f64 {
            let weight = (tilted.k - s * q).exp();
            sum += weight;
            squares += weight * weight;
        }
    }
    (sum / f64::from(draws), squares.sqrt() / sum)
}

#[test]
fn rare_exceedances_are_as_rare_as_said() {
    // Products of time and bandwidth of 0.5 to 16 at 1e-6, of 120 and 1000 at 1e-4, above at 1e-9.
    for (n, rows, bins, p, draws) in [
        (32, 1, 1, 1e-6, 40_000),
        (64, 1, 30, 1e-6, 40_000),
        (32, 2, 3, 1e-6, 40_000),
        (32, 4, 8, 1e-6, 40_000),
        (32, 16, 2, 1e-6, 40_000),
        (32, 24, 10, 1e-4, 15_000),
        (128, 32, 64, 1e-4, 5_000),
        (128, 40, 60, 1e-9, 5_000),
    ] {
        let law = BoxTail::new(rows, bins);
        let threshold = law.threshold(f64::ln(p));
        let cells = (rows * bins) as f64;
        let s = (law.ln_sf(threshold) - law.ln_sf(threshold * 1.001)) / (1e-3 * threshold * cells);
        let (got, error) = rate(n, rows, bins, threshold, 0.98 * s, draws);
        let off = got / p - 1.0;
        println!("{rows} by {bins} at {p}: {got:e}, off by {off:.3}, error {error:.3}");
        assert!(error < 0.05, "{rows} by {bins}: too few draws, {error}");
        assert!(off.abs() < 4.0 * error + 0.002 && off.abs() < 0.1, "{rows} by {bins}: {off}");
    }
}

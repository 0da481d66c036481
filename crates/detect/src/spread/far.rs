//! The symbol's length from windows far apart: their correlation fluctuates at whole symbols as
//! that of one window does, and the farther the finer it tells the length.

use super::baseline::running_median;
use dsp::Fft;
use units::Iq;

/// A symbol fits into a window at least so often.
const SYMBOLS: f64 = 8.0;
/// How far off, in lengths of a symbol, the first look may be.
const ROOM: f64 = 0.1;
/// A peak's place is known to about so many samples.
const U_PEAK: f64 = 0.3;

/// Length of a symbol and its standard uncertainty, from about known ones; all in samples of
/// `narrow`, whose band is about as wide as its rate.
pub(super) fn length(narrow: &[Iq], samples: f64, u_samples: f64) -> Option<(f64, f64)> {
    let window = ((SYMBOLS * samples) as usize).next_power_of_two();
    let forward = Fft::forward(2 * window);
    let mut scratch = forward.scratch();
    let spectra: Vec<Vec<Iq>> = narrow
        .chunks_exact(window)
        .map(|x| {
            let mut x = x.to_vec();
            x.resize(2 * window, Iq::default());
            forward.in_place(&mut x, &mut scratch);
            x
        })
        .collect();
    let farthest = spectra.len() / 2;
    if farthest == 0 {
        return None;
    }
    let (mut samples, mut u) = (samples, u_samples);
    // As far apart as the length is known well enough to count the symbols between, and again.
    for _ in 0..3 {
        let symbols = ROOM * samples / u;
        let apart = ((symbols * samples / window as f64) as usize).clamp(1, farthest);
        let count_u = u * (apart * window) as f64 / samples;
        let offset = offset(&spectra, apart, samples, 3.0 * count_u + 1.0);
        let lag = (apart * window) as f64 + offset;
        let count = (lag / samples).round();
        (samples, u) = (lag / count, U_PEAK / count);
        if apart == farthest {
            break;
        }
    }
    Some((samples, u))
}

/// Where, within half a symbol, the fluctuation of windows `apart` from one another peaks at
/// symbols' distances, not farther than `room` from where it should.
fn offset(spectra: &[Vec<Iq>], apart: usize, samples: f64, room: f64) -> f64 {
    let length = spectra[0].len();
    let window = length / 2;
    let back = Fft::inverse(length);
    let mut scratch = back.scratch();
    let mut square = vec![0.0f64; length];
    for (early, late) in spectra.iter().zip(&spectra[apart..]) {
        let mut both: Vec<Iq> = early.iter().zip(late).map(|(a, b)| a.conj() * b).collect();
        back.in_place(&mut both, &mut scratch);
        square.iter_mut().zip(&both).for_each(|(s, r)| *s += f64::from(r.norm_sqr()));
    }
    // In order of delay; what fewer samples share is as much less.
    square.rotate_right(window);
    let shared = |t: usize| (window - t.abs_diff(window).min(window - 1)) as f64;
    let even: Vec<f64> = square.iter().enumerate().map(|(t, s)| s / shared(t)).collect();
    let level = running_median(&even);
    let reach = 3 * window as i64 / 4;
    let at = |delay: i64| {
        let t = (delay + window as i64) as usize;
        if level[t] > 0.0 { even[t] / level[t] } else { 1.0 }
    };
    let folded = |offset: f64| {
        let first = ((-(reach as f64) - offset) / samples).ceil() as i64;
        let last = ((reach as f64 - offset) / samples).floor() as i64;
        (first..=last).map(|m| at((offset + m as f64 * samples).round() as i64)).sum::<f64>()
            / (last - first + 1) as f64
    };
    // The lag as a whole is a number of symbols.
    let whole = (apart * window) as f64;
    let expected = (whole / samples).round() * samples - whole;
    let steps = (2.0 * room.min(0.5 * samples)) as i64;
    (-steps..=steps)
        .map(|i| expected + 0.5 * i as f64)
        .map(|offset| (folded(offset), offset))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(expected, |best| best.1)
}

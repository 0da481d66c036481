//! A series over its own slowly changing level.

use dsp::gamma_quantile;

/// Values either side of one that tell its level.
const REACH: usize = 128;

/// Median of the values around each (fewer at the ends, where the window stops at the end).
pub(super) fn running_median(values: &[f64]) -> Vec<f64> {
    let window = (2 * REACH + 1).min(values.len());
    if window == 0 {
        return Vec::new();
    }
    let mut sorted = values[..window].to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut medians = vec![sorted[window / 2]; window / 2];
    for first in 0..=values.len() - window {
        if first > 0 {
            let (gone, come) = (values[first - 1], values[first + window - 1]);
            let at = sorted.partition_point(|v| v.total_cmp(&gone).is_lt());
            sorted.remove(at);
            let at = sorted.partition_point(|v| v.total_cmp(&come).is_lt());
            sorted.insert(at, come);
        }
        medians.push(sorted[window / 2]);
    }
    let last = medians[medians.len() - 1];
    medians.resize(values.len(), last);
    medians
}

/// Means of `averages` exponentials over their level: one on average where there is but noise.
pub(super) fn over_level(values: &[f64], averages: f64) -> Vec<f64> {
    let bias = gamma_quantile(averages, 0.5) / averages;
    let over = |(v, m): (&f64, f64)| if m > 0.0 { v / m * bias } else { 0.0 };
    values.iter().zip(running_median(values)).map(over).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slope_is_its_own_level_and_a_peak_stays() {
        let mut values: Vec<f64> = (0..1000).map(|i| 1.0 + i as f64).collect();
        values[500] = 1e6;
        let medians = running_median(&values);
        assert_eq!(medians.len(), 1000);
        for i in (200..800).filter(|i: &usize| i.abs_diff(500) > REACH) {
            assert_eq!(medians[i], values[i], "{i}");
        }
        assert!((medians[500] - 501.0).abs() <= 1.0);
        assert_eq!(running_median(&[3.0, 1.0, 2.0]), [2.0, 2.0, 2.0]);
        assert!(running_median(&[]).is_empty());
    }
}

//! The level of noise along a line of cells: local medians, which lines and narrow emissions do
//! not move.

/// Medians of `values` in windows of `window`, `step` apart, made continuous by straight lines:
/// one value a cell. `window` ≥ `step` ≥ 1; a shorter line has one median.
pub(super) fn medians(values: &[f32], window: usize, step: usize) -> Vec<f32> {
    quantiles(values, window, step, 0.5)
}

/// The same of another quantile, 0 < `q` < 1.
pub(super) fn quantiles(values: &[f32], window: usize, step: usize, q: f64) -> Vec<f32> {
    let n = values.len();
    if n == 0 {
        return Vec::new();
    }
    let window = window.min(n);
    let mut buffer = vec![0.0f32; window];
    let knots: Vec<f32> = (0..n.div_ceil(step) + 1)
        .map(|i| {
            let first = (i * step).saturating_sub(window / 2).min(n - window);
            buffer.copy_from_slice(&values[first..first + window]);
            let at = ((window as f64 * q) as usize).min(window - 1);
            *buffer.select_nth_unstable_by(at, f32::total_cmp).1
        })
        .collect();
    let mut out = Vec::with_capacity(n);
    for (i, pair) in knots.windows(2).enumerate() {
        let slope = (pair[1] - pair[0]) / step as f32;
        let cells = step.min(n.saturating_sub(i * step));
        out.extend((0..cells).map(|k| pair[0] + slope * k as f32));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_follow_a_slope_and_not_a_line() {
        let mut values: Vec<f32> = (0..1000).map(|k| 10.0 + k as f32).collect();
        values[500] = 1e9;
        let floor = medians(&values, 64, 16);
        assert_eq!(floor.len(), 1000);
        for (k, floor) in floor.iter().enumerate().take(960).skip(40) {
            assert!((floor - 10.0 - k as f32).abs() < 2.0, "{k}: {floor}");
        }
        assert_eq!(medians(&[3.0, 1.0, 2.0], 64, 16), [2.0; 3]);
        assert!(medians(&[], 64, 16).is_empty());
    }
}

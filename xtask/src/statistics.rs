//! Small numbers for the scoreboards.

/// The value below which `part` (0 to 1) of the values lie; `None` of nothing.
pub fn quantile(values: &[f64], part: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len().checked_sub(1)?;
    Some(sorted[(part * last as f64).round() as usize])
}

/// A number, or a dash.
pub fn shown(value: Option<f64>, digits: usize) -> String {
    value.map_or("–".to_owned(), |x| format!("{x:.digits$}"))
}

/// `3 of 4 (75 %)`.
pub fn share(part: usize, of: usize) -> String {
    if of == 0 {
        return "0 of 0".to_owned();
    }
    format!("{part} of {of} ({:.0} %)", 100.0 * part as f64 / of as f64)
}

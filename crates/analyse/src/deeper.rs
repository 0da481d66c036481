//! The deep search: its rows among those of the ordinary one, and why each is there.

use crate::analyse::id_of;
use crate::{AnalyseError, AnalyseOptions, Progress};
use detect::{DeepFound, DeepOptions, Detection};
use units::{Reason, Samples};

/// Puts what only the deep search shows among what was found, by rising centre. One reason a row
/// that came so: it names the row (`emission`), tells what was added up and how likely noise alone
/// would have shown as much (`false_alarm`).
pub(crate) fn add(
    detection: &mut Detection,
    samples: &dyn Samples,
    options: &AnalyseOptions,
    progress: &dyn Progress,
) -> Result<Vec<Reason>, AnalyseError> {
    let chosen = DeepOptions { full_scale: options.full_scale, ..DeepOptions::default() };
    let deep = detect::deep(samples, &detection.found, &chosen, &mut |fraction| {
        progress.step((fraction * 1000.0) as u64, 1000, "searching deeper");
        !progress.cancelled()
    })?;
    let mut reasons = merge(detection, deep.found);
    reasons.extend(deep.warnings);
    Ok(reasons)
}

fn merge(detection: &mut Detection, deep: Vec<DeepFound>) -> Vec<Reason> {
    let ordinary = std::mem::take(&mut detection.found);
    let mut all: Vec<_> = ordinary
        .into_iter()
        .enumerate()
        .map(|(index, found)| (found, Ok(index)))
        .chain(deep.into_iter().map(|d| (d.found, Err(d.why))))
        .collect();
    all.sort_by(|a, b| a.0.centre_hz.total_cmp(&b.0.centre_hz));
    let mut moved = vec![0u32; all.len()];
    let mut reasons = Vec::new();
    for (row, (found, from)) in all.into_iter().enumerate() {
        match from {
            Ok(index) => moved[index] = row as u32,
            Err(why) => reasons.push(named(why, &id_of(row))),
        }
        detection.found.push(found);
    }
    for row in detection.rows.iter_mut().flatten() {
        *row = moved[*row as usize];
    }
    reasons
}

fn named(mut why: Reason, id: &str) -> Reason {
    why.text = format!("{id} was found by the deep search alone. {}", why.text);
    why.with("emission", id)
}

#[cfg(test)]
mod tests {
    use super::*;
    use detect::{BandwidthIs, BurstSummary, Found, Shape, Uncertainty};

    fn at(centre_hz: f64) -> Found {
        Found {
            centre_hz,
            low_hz: centre_hz,
            high_hz: centre_hz,
            bandwidth_hz: Some(1.0),
            bandwidth_is: BandwidthIs::UpperBound,
            first_s: 0.0,
            last_s: 1.0,
            shape: Shape::Continuous,
            channels_hz: None,
            bursts: BurstSummary { count: 1, median_s: None, period_s: None, on_fraction: 1.0 },
            level_dbfs: None,
            level_dbm: None,
            snr_db: None,
            strength: None,
            u: Uncertainty::default(),
            excerpts: Vec::new(),
        }
    }

    #[test]
    fn rows_are_told_apart_by_name_and_bursts_keep_theirs() {
        let mut detection = Detection {
            found: vec![at(10.0), at(30.0)],
            rows: vec![Some(1), None, Some(0), Some(1)],
            ..Detection::default()
        };
        let why = Reason::new("deep_carrier", "So.");
        let deep = |hz| DeepFound { found: at(hz), false_alarm: 1e-6, why: why.clone() };
        let reasons = merge(&mut detection, vec![deep(5.0), deep(20.0)]);
        let centres: Vec<f64> = detection.found.iter().map(|f| f.centre_hz).collect();
        assert_eq!(centres, [5.0, 10.0, 20.0, 30.0]);
        assert_eq!(detection.rows, [Some(3), None, Some(1), Some(3)]);
        let texts: Vec<&str> = reasons.iter().map(|r| r.text.as_str()).collect();
        assert_eq!(
            texts,
            [
                "R1 was found by the deep search alone. So.",
                "R3 was found by the deep search alone. So."
            ]
        );
        assert_eq!(reasons[1].values["emission"], units::Value::from("R3"));
    }
}

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
    let rows = detect::deep(samples, &detection.found, &chosen, &mut |fraction| {
        progress.step((fraction * 1000.0) as u64, 1000, "searching deeper");
        !progress.cancelled()
    })?;
    Ok(merge(detection, rows))
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

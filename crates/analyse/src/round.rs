//! Every number of an analysis, rounded as printed.

use crate::{EmissionRow, RecordingAnalysis};
pub(crate) use identify::round::{decibels, hertz, seconds};
use identify::round::{emission, listened, reason, significant};

/// Rounds every number of an analysis.
pub(crate) fn analysis(all: &mut RecordingAnalysis) {
    let r = &mut all.recording;
    r.duration_s = seconds(r.duration_s);
    r.clipped_fraction = significant(r.clipped_fraction, 3);
    all.emissions.iter_mut().for_each(row);
    all.listened.iter_mut().for_each(listened);
    all.warnings.iter_mut().for_each(reason);
}

fn row(row: &mut EmissionRow) {
    row.first_s = seconds(row.first_s);
    row.last_s = seconds(row.last_s);
    emission(&mut row.emission);
}

//! What was listened to, and down to which level.

use crate::Listened;
use units::{Dbfs, Dbm};

/// One centre that was listened to, over all its segments.
#[derive(Debug, Clone)]
pub(crate) struct Stretch {
    pub low_hz: f64,
    pub high_hz: f64,
    pub looked_s: f64,
    /// Σ seconds × limit power, for the mean limit.
    pub limit: f64,
}

/// Adds a block's look.
pub(crate) fn add(all: &mut Vec<Stretch>, low_hz: f64, high_hz: f64, seconds: f64, limit: f64) {
    let same = |s: &&mut Stretch| {
        (s.low_hz - low_hz).abs() < 0.02 * (high_hz - low_hz)
            && (s.high_hz - high_hz).abs() < 0.02 * (high_hz - low_hz)
    };
    match all.iter_mut().find(same) {
        Some(s) => {
            s.looked_s += seconds;
            s.limit += seconds * limit;
        }
        None => all.push(Stretch { low_hz, high_hz, looked_s: seconds, limit: seconds * limit }),
    }
}

/// The account, by rising frequency.
pub(crate) fn finish(all: Vec<Stretch>, full_scale: Option<Dbm>) -> Vec<Listened> {
    let mut out: Vec<Listened> = all
        .iter()
        .map(|s| {
            let power = s.limit / s.looked_s.max(f64::MIN_POSITIVE);
            let limit = (power > 0.0).then(|| Dbfs::from_power(power));
            Listened {
                low_hz: s.low_hz,
                high_hz: s.high_hz,
                looked_s: s.looked_s,
                limit_dbfs: limit,
                limit_dbm: limit.zip(full_scale).map(|(l, f)| Dbm(f.0 + l.0)),
            }
        })
        .collect();
    out.sort_by(|a, b| a.low_hz.total_cmp(&b.low_hz));
    out
}

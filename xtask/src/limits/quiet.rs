//! Rows that noise alone makes, against those promised.

use super::air::{Air, random};
use super::grid::RATE_HZ;
use detect::Options;
use rayon::prelude::*;

/// Rows found in `recordings` recordings of white noise of `samples` samples.
pub fn rows(recordings: u64, samples: usize, options: &Options) -> anyhow::Result<Vec<usize>> {
    (0..recordings)
        .into_par_iter()
        .map(|seed| {
            let air = Air::quiet(&mut random(90_000 + seed), RATE_HZ, samples);
            let (detection, _) = air.detected(options)?;
            Ok(detection.found.len())
        })
        .collect()
}

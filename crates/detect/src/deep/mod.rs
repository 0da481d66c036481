//! The deep search: what is too weak for any one block, and adds up over a whole recording. Slower
//! than [`crate::from_samples`], which comes first and says what is known already.
//!
//! Steady carriers ([`carriers`]): powers of coherent blocks summed along every track that a
//! drifting clock may take, then a closer look with one phase over the whole recording. Bursts of
//! an unknown steady period ([`bursts`]): cells folded over trial periods, so that a thousand
//! bursts each far under one burst's threshold add up. A signal spread by a code ([`spread`]), by
//! what repeats in its correlation.
//!
//! Whatever is found has to pass a threshold that pays for all that was tried: by noise alone the
//! whole search makes [`DeepOptions::false_rows`] rows on average.

mod bursts;
mod carriers;
mod cells;
mod floor;
mod folding;
mod known;
mod line;
mod phase;
mod plan;
mod plane;
mod spread;
mod train;
mod tree;
mod tuned;

use crate::{DetectError, Found};
use known::Known;
use tuned::tunings;
use units::{Dbm, Reason, Samples};

/// What a caller may choose of the deep search.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DeepOptions {
    /// Rows that noise alone may make, on average, in one recording. 0 < `false_rows` < 1.
    pub false_rows: f64,
    /// How fast a carrier may drift against the receiver, parts in 1e6 an hour; sets the slopes of
    /// the tracks and with them the longest coherent block. Four standard deviations of what
    /// transmitter and receiver do together. 0 < `drift_ppm_per_hour`.
    pub drift_ppm_per_hour: f64,
    /// Bytes that cells may take at once; what does not fit is searched in further passes.
    pub memory_bytes: usize,
    /// The chain's calibration: dBm at the antenna connector of 0 dBFS; `None` leaves dBm out.
    pub full_scale: Option<Dbm>,
}

impl Default for DeepOptions {
    fn default() -> Self {
        DeepOptions {
            false_rows: 0.01,
            drift_ppm_per_hour: 2.0,
            memory_bytes: 1 << 30,
            full_scale: None,
        }
    }
}

/// One emission that only the deep search shows.
#[derive(Debug, Clone, PartialEq)]
pub struct DeepFound {
    /// The row.
    pub found: Found,
    /// Probability that noise alone shows as much anywhere in the search.
    pub false_alarm: f64,
    /// How it was found, with that probability.
    pub why: Reason,
}

/// Parts of the work that carriers and spread signals are, about.
const CARRIERS: f64 = 0.2;
const SPREAD: f64 = 0.05;

/// Rows where a receiver's own products lie that are told all the same: more are products.
const FEW: usize = 4;

/// What the deep search gives.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Deep {
    /// The rows, by rising centre.
    pub found: Vec<DeepFound>,
    /// What was left out, and why.
    pub warnings: Vec<Reason>,
}

/// What a recording of complex samples shows only when all of it is added up; `known` is what the
/// ordinary search found in it, which is not found again.
///
/// Parts of a recording that lie far apart in time (further than either is long, and a minute) are
/// searched each by itself.
///
/// `on_progress` takes the fraction done, 0 to 1; `false` stops it. The recording is read several
/// times; memory is bounded by `options.memory_bytes` and the length of the blocks.
///
/// # Errors
/// If a sample cannot be read, an option means nothing, or `on_progress` said stop.
pub fn deep(
    samples: &dyn Samples,
    known: &[Found],
    options: &DeepOptions,
    on_progress: &mut dyn FnMut(f64) -> bool,
) -> Result<Deep, DetectError> {
    check(options)?;
    let tunings = tunings(samples);
    let total: f64 = tunings.iter().map(|t| t.looked_s()).sum();
    let mut deep = Deep::default();
    let mut done = 0.0;
    for tuned in &tunings {
        // Each centre may make its part of the false rows.
        let part = tuned.looked_s() / total;
        let known = Known::new(known, tuned);
        let mut found: Vec<DeepFound> = Vec::new();
        // A third of it for each kind.
        let family = options.false_rows * part / 3.0;
        let mut at = |from: f64, to: f64, fraction: f64| {
            on_progress(done + part * (from + (to - from) * fraction))
        };
        let (first, second) = (CARRIERS, CARRIERS + SPREAD);
        let progress = &mut |fraction: f64| at(0.0, first, fraction);
        found.extend(carriers::search(tuned, &known, family, options, progress)?);
        let progress = &mut |fraction: f64| at(first, second, fraction);
        found.extend(spread::search(tuned, &known, family, options, progress)?);
        let progress = &mut |fraction: f64| at(second, 1.0, fraction);
        found.extend(bursts::search(tuned, &known, family, options, progress)?);
        done += part;
        let weak = distrusted(&mut found, &known);
        if weak > 0 {
            deep.warnings.push(left_out(weak, known.products_dbfs()));
        }
        deep.found.extend(found);
    }
    deep.found.sort_by(|a, b| a.found.centre_hz.total_cmp(&b.found.centre_hz));
    Ok(deep)
}

/// Rows that lie where a receiver's own products do: a few are told with that said, more are left
/// out. Gives how many were. Skirts of what is known are none.
fn distrusted(found: &mut Vec<DeepFound>, known: &Known) -> usize {
    let level = |f: &DeepFound| f.found.level_dbfs.map_or(0.0, |l| l.0);
    let centre_hz = known.centre_hz();
    found.retain(|f| {
        let (low, high) = (f.found.low_hz - centre_hz, f.found.high_hz - centre_hz);
        !known.is_skirt(low, high, level(f))
    });
    let least = known.products_dbfs();
    let weak = found.iter().filter(|f| level(f) < least).count();
    if weak > FEW {
        found.retain(|f| level(f) >= least);
        return weak;
    }
    for one in found.iter_mut().filter(|f| level(f) < least) {
        one.why.text.push_str(
            " It is so far under the strongest emission that the receiver may have made it.",
        );
        let why = std::mem::replace(&mut one.why, Reason::new("", ""));
        one.why = why.with("products_dbfs", least);
    }
    0
}

fn left_out(rows: usize, least_dbfs: f64) -> Reason {
    let text = format!(
        "The deep search left out {rows} rows weaker than {least_dbfs:.0} dBFS: so many so far under \
         the strongest emission are a receiver's own products. A recording of less of the band, or \
         through a filter that keeps that emission out, would tell."
    );
    Reason::new("deep_products", text).with("rows", rows as f64).with("least_dbfs", least_dbfs)
}

fn check(options: &DeepOptions) -> Result<(), DetectError> {
    let refused = |option, value, want| Err(DetectError::Option { option, value, want });
    let DeepOptions { false_rows, drift_ppm_per_hour, memory_bytes, .. } = *options;
    if !(false_rows > 0.0 && false_rows < 1.0) {
        return refused("false_rows", false_rows, "it must lie between 0 and 1");
    }
    if !(drift_ppm_per_hour > 0.0 && drift_ppm_per_hour.is_finite()) {
        return refused("drift_ppm_per_hour", drift_ppm_per_hour, "it must be above zero");
    }
    if memory_bytes < 1 << 20 {
        return refused("memory_bytes", memory_bytes as f64, "it must be a megabyte at least");
    }
    Ok(())
}

/// A probability in words.
fn said(p: f64) -> String {
    if p < 1e-12 { "below 1e-12".to_owned() } else { format!("{p:.0e}") }
}

//! Sidebands and lobes of one emission have a twin: as much, as far on the other side of its middle.

use std::ops::Range;

/// Two of one are alike within this ratio (4 dB).
const ALIKE: f64 = 2.5;

/// Whether two energies may be those of twins.
pub(crate) fn alike(a: f64, b: f64) -> bool {
    (1.0 / ALIKE..ALIKE).contains(&(a / b))
}

/// The mirror image of `bins` about the middle of the energy of a body, given by its first bin and
/// the energy of each; empty where it lies beyond the first of `all` bins or the last.
pub(crate) fn mirrored(
    bins: &Range<usize>,
    (first, body): (usize, &[f64]),
    all: usize,
) -> Range<usize> {
    let weighted: f64 = body.iter().enumerate().map(|(k, e)| (first + k) as f64 * e).sum();
    let middle = 2.0 * weighted / body.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let mirror = |bin: usize, past: f64| {
        ((middle - bin as f64).round() + past).clamp(0.0, all as f64) as usize
    };
    mirror(bins.end - 1, 0.0)..mirror(bins.start, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_is_mirrored_about_the_middle_of_the_energy() {
        // All the energy in bin 13: 20 and 21 lie as far above it as 5 and 6 below.
        let body = (10, [0.0, 0.0, 0.0, 2.0].as_slice());
        assert_eq!(mirrored(&(20..22), body, 100), 5..7);
        // Beyond the first bin there is nothing, and only the part of it that is there.
        assert!(mirrored(&(40..42), body, 100).is_empty());
        assert_eq!(mirrored(&(25..29), body, 100), 0..2);
    }
}

//! What a hopper's bursts and channels say by themselves: dwell and channel raster.
//!
//! The raster is the largest spacing on which every channel centre lies within twice the stated
//! uncertainty of the centre (or 5 % of the spacing, where that is more).

use crate::Measured;
use detect::{Found, Shape};

/// The blind measurements that need no samples.
pub(crate) fn measured(found: &Found) -> Measured {
    if found.shape != Shape::Hopping {
        return Measured::default();
    }
    Measured {
        hop_dwell_s: found.bursts.median_s,
        hop_spacing_hz: found
            .channels_hz
            .as_deref()
            .and_then(|channels| raster_hz(channels, found.u.centre_hz.unwrap_or(0.0))),
        ..Measured::default()
    }
}

/// Largest spacing that explains all channel centres (rising), hertz. `None` for fewer than three
/// channels (two fit any spacing) or where no spacing down to a quarter of the smallest gap fits.
fn raster_hz(channels: &[f64], u_hz: f64) -> Option<f64> {
    let first = *channels.first()?;
    let last = *channels.last()?;
    let smallest = channels.windows(2).map(|w| w[1] - w[0]).fold(f64::INFINITY, f64::min);
    if channels.len() < 3 || !smallest.is_finite() || smallest <= 0.0 {
        return None;
    }
    (1..=4).find_map(|part| {
        let guess = smallest / f64::from(part);
        let steps = ((last - first) / guess).round();
        let spacing = (last - first) / steps;
        let within = (2.0 * u_hz).max(0.05 * spacing);
        let fits = channels.iter().all(|c| {
            let k = (c - first) / spacing;
            (k - k.round()).abs() * spacing <= within
        });
        fits.then_some(spacing)
    })
}

#[cfg(test)]
mod tests {
    use super::raster_hz;

    #[test]
    fn raster_of_bluetooth_advertising_is_two_megahertz() {
        // Bluetooth Core 5.4, Vol 6 Part B, 1.4.1: channels 37, 38, 39 at 2402, 2426, 2480 MHz,
        // all on the 2 MHz raster of the physical channels; 6 MHz is the finest that three
        // channels can tell, 24 and 54 MHz being its multiples.
        let spacing = raster_hz(&[2.402e9, 2.426e9, 2.480e9], 1e3).expect("three channels");
        assert!((spacing - 6e6).abs() < 1e3, "{spacing}");
    }

    #[test]
    fn raster_survives_missing_channels_and_measuring_errors() {
        let spacing = raster_hz(&[863_025_000.0, 863_126_000.0, 863_323_500.0, 863_725_000.0], 1e3);
        assert!((spacing.expect("on a raster") - 100e3).abs() < 1e3);
    }

    #[test]
    fn two_channels_or_no_raster_give_none() {
        assert_eq!(raster_hz(&[1e6, 2e6], 1e3), None);
        assert_eq!(raster_hz(&[1.0e6, 2.0e6, 3.414e6, 7.71e6], 1e3), None);
    }
}

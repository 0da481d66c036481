//! Building entry loss (ITU-R P.2109), and the other building losses that serve as priors for
//! 'inside or outside'.

use almanac::{Almanac, MaterialKind};

/// How a building is made, as ITU-R P.2109 tells them apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Building {
    /// No metallised glass, no foil-backed panels.
    Traditional,
    /// Metallised glass, foil-backed panels.
    ThermallyEfficient,
}

impl Building {
    fn word(self) -> &'static str {
        match self {
            Building::Traditional => "traditional",
            Building::ThermallyEfficient => "thermally_efficient",
        }
    }
}

/// A loss that is known only as a distribution over places.
#[derive(Debug, Clone, PartialEq)]
pub struct LossPrior {
    /// Name to state beside a result that leans on it.
    pub name: String,
    /// Median, dB.
    pub median_db: f64,
    /// Standard deviation from place to place, dB.
    pub sigma_db: f64,
    /// Where the figures come from.
    pub source: String,
}

/// Building entry loss not exceeded at a fraction of places whose standard normal quantile is
/// `z` (0 for the median), horizontal path, dB (ITU-R P.2109 eq. 1 to 9; 80 MHz to 100 GHz).
pub fn entry_loss_db(building: Building, hz: f64, z: f64) -> f64 {
    let [r, s, t, u, v, w, x, y, z2] = coefficients(building);
    let f = (hz / 1e9).log10();
    let horizontal = r + s * f + t * f * f;
    let a = z * (u + v * f) + horizontal;
    let b = z * (y + z2 * f) + w + x * f;
    let sum: f64 = [a, b, -3.0].map(units::ratio_from_db).iter().sum();
    units::db_from_ratio(sum)
}

/// Building entry loss as a prior: median, and half the distance of the 10 % and 90 % points
/// over 1.2816 as standard deviation (the distribution is not quite normal).
pub fn entry_prior(building: Building, hz: f64) -> LossPrior {
    /// Standard normal quantile of 90 %.
    const Z90: f64 = 1.281_551_565_5;
    let (low, high) = (entry_loss_db(building, hz, -Z90), entry_loss_db(building, hz, Z90));
    LossPrior {
        name: format!("building entry, {}", building.word().replace('_', " ")),
        median_db: entry_loss_db(building, hz, 0.0),
        sigma_db: (high - low) / (2.0 * Z90),
        source: "ITU-R P.2109-1 Table 1".to_owned(),
    }
}

fn coefficients(building: Building) -> [f64; 9] {
    let materials = Almanac::load().materials().iter();
    let rows: Vec<_> = materials
        .filter(|m| m.kind == MaterialKind::P2109Coefficient && m.material == building.word())
        .collect();
    ["r", "s", "t", "u", "v", "w", "x", "y", "z"].map(|letter| {
        let row = rows.iter().find(|m| m.environment == letter);
        // The tables are compiled in, and a test reads all eighteen.
        row.and_then(|m| m.value).unwrap_or(f64::NAN)
    })
}

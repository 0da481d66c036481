//! Indoor path loss (ITU-R P.1238). Two forms that must never be mixed in one calculation: up to
//! edition 8, 20 log f + N log d + Lf(n) − 28 with f in MHz; from edition 10,
//! 10 α log d + β + 10 γ log f with f in GHz, floors not included.

use almanac::{Almanac, Material, MaterialKind};

/// Loss by the form of editions up to 8, dB: distance coefficient `n`, floors' loss `floors_db`.
pub fn p1238_to_8_db(hz: f64, distance_m: f64, n: f64, floors_db: f64) -> f64 {
    20.0 * (hz / 1e6).log10() + n * distance_m.log10() + floors_db - 28.0
}

/// Distance coefficient N of an environment ('office', 'residential', 'commercial') at the
/// table's nearest frequency; `None` for an environment that the table does not have.
pub fn distance_coefficient(environment: &str, hz: f64) -> Option<f64> {
    nearest(MaterialKind::P1238N, environment, hz, |_| true)?.value
}

/// Loss of `floors` floors by the form of editions up to 8, dB. The first floor at the table's
/// nearest frequency; further ones by the nearest frequency that has several, the last step
/// repeated. `None` for an environment that the table does not have.
pub fn floors_db(environment: &str, hz: f64, floors: u32) -> Option<f64> {
    if floors == 0 {
        return Some(0.0);
    }
    let kind = MaterialKind::P1238Floor;
    let first = nearest(kind, environment, hz, |m| m.floors == Some(1))?.value?;
    if floors == 1 {
        return Some(first);
    }
    let several = nearest(kind, environment, hz, |m| m.floors == Some(2))?;
    let loss = |n: u32| {
        let mut rows = of_environment(kind, environment)
            .filter(|m| m.frequency.low_hz == several.frequency.low_hz && m.floors == Some(n));
        rows.next()?.value
    };
    let highest = (1..=floors).rev().find(|&n| loss(n).is_some())?;
    let step = loss(highest)? - loss(highest - 1)?;
    Some(first + loss(highest)? - loss(1)? + f64::from(floors - highest) * step)
}

/// Coefficients of the site-general form from edition 10.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SiteGeneral {
    /// Distance exponent is 10 α dB a decade.
    pub alpha: f64,
    /// Loss at 1 m and 1 GHz, dB.
    pub beta_db: f64,
    /// Frequency exponent is 10 γ dB a decade.
    pub gamma: f64,
    /// Standard deviation from place to place, dB.
    pub sigma_db: f64,
}

impl SiteGeneral {
    /// The coefficients of an environment ('office', 'corridor', 'industrial', 'lecture room')
    /// with or without line of sight, edition 10; `None` for one that the table does not have.
    pub fn of(environment: &str, line_of_sight: bool) -> Option<SiteGeneral> {
        let sight = if line_of_sight { "line of sight" } else { "no line of sight" };
        let wanted = format!("{environment}, {sight}");
        let mut rows = Almanac::load().materials().iter();
        let row = rows.find(|m| {
            m.kind == MaterialKind::P1238SiteGeneral
                && m.environment == wanted
                && m.provenance.source.contains("P.1238-10")
        })?;
        let [Some(alpha), Some(beta_db), Some(gamma), _] = row.coefficients else { return None };
        Some(SiteGeneral { alpha, beta_db, gamma, sigma_db: row.sigma_db? })
    }

    /// Median loss, dB (eq. 1). Fitted to 2 m to 160 m and 0.3 GHz to 83 GHz, less in most rows.
    pub fn median_db(&self, hz: f64, distance_m: f64) -> f64 {
        let ghz = hz / 1e9;
        10.0 * self.alpha * distance_m.log10() + self.beta_db + 10.0 * self.gamma * ghz.log10()
    }
}

fn of_environment(
    kind: MaterialKind,
    environment: &str,
) -> impl Iterator<Item = &'static Material> {
    let rows = Almanac::load().materials().iter();
    rows.filter(move |m| m.kind == kind && m.environment == environment)
}

pub(crate) fn nearest(
    kind: MaterialKind,
    environment: &str,
    hz: f64,
    keep: impl Fn(&Material) -> bool,
) -> Option<&'static Material> {
    let away = |m: &Material| (m.frequency.low_hz / hz).ln().abs();
    let rows = of_environment(kind, environment).filter(|m| keep(m));
    rows.min_by(|a, b| away(a).total_cmp(&away(b)))
}

//! Loss of one crossing of a named wall, floor, door or window, from data/materials.csv: a
//! planning class (`light_partition`), or a slab of a material of ITU-R P.2040 with its
//! thickness in metres (`concrete:0.2`).

use crate::slab::{Dielectric, Polarisation};
use almanac::{Almanac, Material, MaterialKind};
use std::fmt;
use std::str::FromStr;

/// A wall that cannot be understood.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum WallError {
    /// No such id in data/materials.csv.
    #[error(
        "there is no wall or material '{name}'; known walls: {walls}; known materials, each with its thickness in metres ('concrete:0.2'): {materials}"
    )]
    Unknown {
        /// What was given.
        name: String,
        /// Ids of planning classes.
        walls: String,
        /// Ids of materials.
        materials: String,
    },
    /// A material of ITU-R P.2040 without a thickness, or with one that is no length.
    #[error(
        "'{name}' is a material: give its thickness in metres, above 0 and at most 10, as in '{material}:0.2'"
    )]
    Thickness {
        /// What was given.
        name: String,
        /// The material.
        material: String,
    },
}

/// A wall whose loss is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Wall {
    name: String,
    figures: Figures,
}

#[derive(Debug, Clone, PartialEq)]
enum Figures {
    /// By rising frequency.
    Class(Vec<&'static Material>),
    Slab {
        rows: Vec<&'static Material>,
        thickness_m: f64,
    },
}

/// Loss of one crossing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WallLoss {
    /// Median, dB.
    pub db: f64,
    /// Lowest that one should reckon with, dB.
    pub low_db: f64,
    /// Highest that one should reckon with, dB.
    pub high_db: f64,
    /// Standard deviation from wall to wall, dB.
    pub sigma_db: f64,
}

/// No wall takes more than this away, dB: what leaks round it is then stronger (from memory).
const MOST_DB: f64 = 120.0;

/// Standard deviation of a computed slab against walls as built, inside and outside the
/// frequencies that its coefficients were fitted to, dB (common practice, no source).
const SLAB_SIGMA_DB: (f64, f64) = (1.5, 3.0);

impl FromStr for Wall {
    type Err = WallError;

    fn from_str(name: &str) -> Result<Wall, WallError> {
        let almanac = Almanac::load();
        let (id, thickness) = match name.split_once(':') {
            Some((id, thickness)) => (id.trim(), Some(thickness.trim())),
            None => (name.trim(), None),
        };
        let mut rows: Vec<&'static Material> = almanac.material(id).collect();
        rows.sort_by(|a, b| a.frequency.low_hz.total_cmp(&b.frequency.low_hz));
        let figures = match rows.first().map(|row| row.kind) {
            Some(MaterialKind::PlanningClass) if thickness.is_none() => Figures::Class(rows),
            Some(MaterialKind::P2040) => {
                let metres = thickness.and_then(|t| t.trim_end_matches('m').trim().parse().ok());
                match metres.filter(|&t: &f64| t > 0.0 && t <= 10.0) {
                    Some(thickness_m) => Figures::Slab { rows, thickness_m },
                    None => {
                        let (name, material) = (name.to_owned(), id.to_owned());
                        return Err(WallError::Thickness { name, material });
                    }
                }
            }
            _ => return Err(unknown(name)),
        };
        Ok(Wall { name: name.to_owned(), figures })
    }
}

impl fmt::Display for Wall {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.name)
    }
}

impl Wall {
    /// Loss of one crossing at a frequency. Between the table's frequencies on a line in
    /// log frequency, beyond them as at the nearest.
    pub fn loss(&self, hz: f64) -> WallLoss {
        match &self.figures {
            Figures::Class(rows) => class_loss(rows, hz),
            Figures::Slab { rows, thickness_m } => {
                let (row, fitted) = nearest(rows, hz);
                let db = row.map_or(0.0, |d| d.wall_db(hz, *thickness_m)).min(MOST_DB);
                let sigma_db = if fitted { SLAB_SIGMA_DB.0 } else { SLAB_SIGMA_DB.1 };
                let low_db = (db - 2.0 * sigma_db).max(0.0);
                WallLoss { db, low_db, high_db: db + 2.0 * sigma_db, sigma_db }
            }
        }
    }
}

/// Loss of one crossing of a named wall, dB (median). To ask for many frequencies, parse the
/// [`Wall`] once.
///
/// # Errors
/// If there is no such wall; the message lists those there are.
pub fn wall_loss_db(name: &str, hz: f64) -> Result<f64, WallError> {
    Ok(name.parse::<Wall>()?.loss(hz).db)
}

/// Loss through a slab of a P.2040 material of an exact thickness at an angle, dB.
///
/// # Errors
/// If there is no such material.
pub fn slab_loss_db(
    material: &str,
    thickness_m: f64,
    hz: f64,
    angle_rad: f64,
    polarisation: Polarisation,
) -> Result<f64, WallError> {
    let dielectric = dielectric(material, hz)?;
    Ok(dielectric.slab_db(hz, thickness_m, angle_rad, polarisation))
}

/// Coefficients of a P.2040 material nearest to a frequency.
///
/// # Errors
/// If there is no such material.
pub fn dielectric(material: &str, hz: f64) -> Result<Dielectric, WallError> {
    let rows = Almanac::load().material(material);
    let rows: Vec<&Material> = rows.filter(|m| m.kind == MaterialKind::P2040).collect();
    nearest(&rows, hz).0.ok_or_else(|| unknown(material))
}

/// Every wall that can be named without a thickness, in table order.
pub fn wall_names() -> Vec<&'static str> {
    names(MaterialKind::PlanningClass)
}

/// Every material that can be named with a thickness, in table order.
pub fn material_names() -> Vec<&'static str> {
    names(MaterialKind::P2040)
}

fn names(kind: MaterialKind) -> Vec<&'static str> {
    let rows = Almanac::load().materials().iter().filter(|m| m.kind == kind);
    let mut names: Vec<&str> = rows.map(|m| m.id.as_str()).collect();
    names.dedup();
    names
}

fn unknown(name: &str) -> WallError {
    let (walls, materials) = (wall_names().join(", "), material_names().join(", "));
    WallError::Unknown { name: name.to_owned(), walls, materials }
}

/// The row that was fitted at `hz`, else the one fitted nearest to it; and whether it was.
fn nearest(rows: &[&Material], hz: f64) -> (Option<Dielectric>, bool) {
    let away = |m: &Material| {
        let (low, high) = (m.frequency.low_hz, m.frequency.high_hz);
        (low / hz).ln().max((hz / high).ln()).max(0.0)
    };
    let row = rows.iter().min_by(|a, b| away(a).total_cmp(&away(b)));
    let dielectric = row.and_then(|m| match m.coefficients {
        [Some(a), Some(b), Some(c), Some(d)] => Some(Dielectric { a, b, c, d }),
        _ => None,
    });
    (dielectric, row.is_some_and(|m| away(m) == 0.0))
}

fn class_loss(rows: &[&Material], hz: f64) -> WallLoss {
    let of = |m: &Material| {
        let db = m.value.unwrap_or(0.0);
        let (low_db, high_db) = m.bounds.unwrap_or((db, db));
        WallLoss { db, low_db, high_db, sigma_db: m.sigma_db.unwrap_or(0.0) }
    };
    let above = rows.iter().position(|m| m.frequency.low_hz >= hz);
    let (low, high) = match above {
        Some(0) => (0, 0),
        Some(k) => (k - 1, k),
        None => (rows.len().saturating_sub(1), rows.len().saturating_sub(1)),
    };
    let (Some(a), Some(b)) = (rows.get(low), rows.get(high)) else {
        return WallLoss { db: 0.0, low_db: 0.0, high_db: 0.0, sigma_db: 0.0 };
    };
    let span = (b.frequency.low_hz / a.frequency.low_hz).ln();
    let part = if span > 0.0 { (hz / a.frequency.low_hz).ln() / span } else { 0.0 };
    let (a, b) = (of(a), of(b));
    let mix = |x: f64, y: f64| x + part * (y - x);
    WallLoss {
        db: mix(a.db, b.db),
        low_db: mix(a.low_db, b.low_db),
        high_db: mix(a.high_db, b.high_db),
        sigma_db: mix(a.sigma_db, b.sigma_db),
    }
}

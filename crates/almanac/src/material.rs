//! Materials, building entry losses and indoor path loss coefficients.

use crate::Provenance;
use crate::table::{Row, TableError, rows};
use units::Band;

/// What the figures of a row are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MaterialKind {
    /// Permittivity a·f^b and conductivity c·f^d S/m, f in GHz (ITU-R P.2040).
    P2040,
    /// Loss of one slab at normal incidence, computed from those.
    SlabComputed,
    /// Loss a + b·f dB, f in GHz (3GPP TR 38.901).
    Tr38901,
    /// The same at one frequency.
    Tr38901Value,
    /// Outdoor to indoor loss of a whole facade (3GPP TR 38.901).
    Tr38901Facade,
    /// A coefficient of the building entry loss model (ITU-R P.2109), named in `environment`.
    P2109Coefficient,
    /// Median building entry loss with its 10 % and 90 % points (ITU-R P.2109).
    P2109Median,
    /// Measured panels and partitions.
    Measured,
    /// One crossing of a wall at any angle: our own choice between the others, the weakest kind.
    PlanningClass,
    /// COST 231 multi-wall model.
    Cost231,
    /// Distance coefficient N of ITU-R P.1238 up to edition 8.
    P1238N,
    /// Floor loss Lf of ITU-R P.1238 up to edition 8.
    P1238Floor,
    /// Shadowing to go with N.
    P1238Shadow,
    /// Coefficients of the site-general model of ITU-R P.1238 from edition 10.
    P1238SiteGeneral,
    /// Loss of one floor at normal incidence (ITU-R P.1238).
    P1238FloorNormal,
    /// Facts that belong to no model.
    General,
}

/// A row of data/materials.csv.
#[derive(Debug, Clone, PartialEq)]
pub struct Material {
    /// Name by which a wall is called for (`light_partition`, `concrete`); empty for rows that
    /// are not called for by name. Rows of one id differ in frequency.
    pub id: String,
    /// What the figures are.
    pub kind: MaterialKind,
    /// Material in words.
    pub material: String,
    /// Environment in words, or the coefficient's letter.
    pub environment: String,
    /// Where in frequency the row holds.
    pub frequency: Band,
    /// Thickness, metres.
    pub thickness_m: Option<f64>,
    /// Coefficients a, b, c, d of the kind's formula.
    pub coefficients: [Option<f64>; 4],
    /// The figure: dB, or the coefficient itself.
    pub value: Option<f64>,
    /// Lowest and highest, or 10 % and 90 %.
    pub bounds: Option<(f64, f64)>,
    /// Standard deviation from place to place, dB.
    pub sigma_db: Option<f64>,
    /// Floors crossed.
    pub floors: Option<u32>,
    /// Remarks.
    pub note: String,
    /// Source.
    pub provenance: Provenance,
}

const KINDS: [(&str, MaterialKind); 16] = [
    ("p2040", MaterialKind::P2040),
    ("slab_computed", MaterialKind::SlabComputed),
    ("tr38901", MaterialKind::Tr38901),
    ("tr38901_value", MaterialKind::Tr38901Value),
    ("tr38901_o2i", MaterialKind::Tr38901Facade),
    ("p2109_coefficient", MaterialKind::P2109Coefficient),
    ("p2109_median", MaterialKind::P2109Median),
    ("measured_loss", MaterialKind::Measured),
    ("planning_class", MaterialKind::PlanningClass),
    ("cost231_multiwall", MaterialKind::Cost231),
    ("p1238_n", MaterialKind::P1238N),
    ("p1238_lf", MaterialKind::P1238Floor),
    ("p1238_shadow", MaterialKind::P1238Shadow),
    ("p1238_site_general", MaterialKind::P1238SiteGeneral),
    ("p1238_floor_normal", MaterialKind::P1238FloorNormal),
    ("general", MaterialKind::General),
];

pub(crate) fn read(text: &str) -> Result<Vec<Material>, TableError> {
    rows("materials.csv", text, row)
}

fn row(row: &Row<'_>) -> Result<Material, TableError> {
    let kind = row.one_of("kind", &KINDS)?;
    let id = row.owned("id")?;
    let called_for = matches!(kind, MaterialKind::P2040 | MaterialKind::PlanningClass);
    if called_for == id.is_empty() {
        return Err(row.bad("id", &id, "an id in p2040 and planning_class rows only"));
    }
    let Some((low, high)) = row.range("freq_low_hz", "freq_high_hz", false)? else {
        return Err(row.bad("freq_low_hz", "", "the frequencies that the row holds for"));
    };
    let coefficients =
        [row.optional("a")?, row.optional("b")?, row.optional("c")?, row.optional("d")?];
    let (value, sigma_db) = (row.optional("value")?, row.optional("sigma_db")?);
    if coefficients[0].is_none() && value.is_none() && sigma_db.is_none() {
        return Err(row.bad("value", "", "a figure in a, value or sigma_db"));
    }
    let floors = row.optional("floors")?;
    if floors.is_some_and(|n| n < 1.0 || n.fract() != 0.0) {
        return Err(row.bad("floors", row.text("floors")?, "a whole number from 1"));
    }
    let units = ["", "dB", "dB per decade of distance"].map(|u| (u, ()));
    row.one_of("value_unit", &units)?;
    Ok(Material {
        id,
        kind,
        material: row.owned("material")?,
        environment: row.owned("environment")?,
        frequency: Band::new(low, high),
        thickness_m: row.optional("thickness_m")?,
        coefficients,
        value,
        bounds: row.range("value_low", "value_high", false)?,
        sigma_db,
        floors: floors.map(|n| n as u32),
        note: row.owned("note")?,
        provenance: row.provenance()?,
    })
}

//! What lives where: allocations, licence-exempt rules, usual uses of a band.

use crate::table::{Row, TableError, rows};
use crate::{Applies, Provenance, Region};
use units::Band;

/// A row of data/allocations.csv.
#[derive(Debug, Clone, PartialEq)]
pub struct Allocation {
    /// Where the row holds.
    pub region: Region,
    /// Edges, hertz.
    pub band: Band,
    /// Radio service or kind of use: 'mobile', 'licence-exempt', 'broadcasting'.
    pub service: String,
    /// What one meets there, in words.
    pub use_: String,
    /// Ids of data/technologies.csv that one meets there.
    pub technologies: Vec<String>,
    /// Usual bandwidth of one emission, hertz.
    pub typical_bandwidth_hz: Option<f64>,
    /// Power limit, where the rule states it as effective radiated power, dBm.
    pub erp_dbm: Option<f64>,
    /// Power limit, where the rule states it as equivalent isotropic power, dBm.
    pub eirp_dbm: Option<f64>,
    /// Largest fraction of an hour on air.
    pub duty_max: Option<f64>,
    /// Conditions and doubts.
    pub note: String,
    /// Source.
    pub provenance: Provenance,
    /// Noise or a conducted signal that one meets there: no service is allocated by such a row.
    pub is_noise: bool,
}

/// Half-wave dipole over an isotropic antenna, dB: EIRP = ERP + 2.15 (ITU-R BS.561).
const DIPOLE_DB: f64 = 2.15;

impl Allocation {
    /// Power limit as EIRP, dBm, whichever way the rule states it.
    pub fn limit_eirp_dbm(&self) -> Option<f64> {
        self.eirp_dbm.or(self.erp_dbm.map(|erp| erp + DIPOLE_DB))
    }

    /// Whether the row answers for `region`: surely where its region is or holds `region`,
    /// perhaps where `region` is an area of many states and the row's lies inside it.
    pub fn applies(&self, region: Region) -> Option<Applies> {
        if self.region.contains(region) {
            return Some(Applies::Surely);
        }
        (region.is_area() && region.contains(self.region)).then_some(Applies::Perhaps)
    }

    /// Whether an emission in `band` lives here: the row holds its middle, or they share at least
    /// half of the narrower of the two.
    pub fn holds(&self, band: Band) -> bool {
        if self.band.contains(band.centre_hz()) {
            return true;
        }
        let shared = self.band.overlap(&band).map_or(0.0, |part| part.width_hz());
        shared > 0.0 && shared >= 0.5 * band.width_hz().min(self.band.width_hz())
    }
}

pub(crate) fn read(text: &str) -> Result<Vec<Allocation>, TableError> {
    rows("allocations.csv", text, row)
}

fn row(row: &Row<'_>) -> Result<Allocation, TableError> {
    let region = row.text("region")?;
    let duty_max = row.optional("duty_max")?;
    if duty_max.is_some_and(|d| !(d > 0.0 && d <= 1.0)) {
        return Err(row.bad("duty_max", row.text("duty_max")?, "a fraction above 0, at most 1"));
    }
    let (erp_dbm, eirp_dbm) = (row.optional("erp_dbm")?, row.optional("eirp_dbm")?);
    if erp_dbm.is_some() && eirp_dbm.is_some() {
        let found = row.text("eirp_dbm")?;
        return Err(row.bad("eirp_dbm", found, "ERP or EIRP as the rule states it, not both"));
    }
    let edges = row.range("low_hz", "high_hz", true)?;
    // 9 kHz to 40 GHz is what a survey covers.
    let Some((low, high)) = edges.filter(|&(low, high)| low >= 9e3 && high <= 40e9) else {
        return Err(row.bad("low_hz", row.text("low_hz")?, "edges within 9 kHz to 40 GHz"));
    };
    let note = row.owned("note")?;
    Ok(Allocation {
        region: region
            .parse()
            .map_err(|e: crate::RegionError| row.bad("region", region, e.to_string()))?,
        band: Band::new(low, high),
        service: row.required("service")?,
        use_: row.required("use")?,
        technologies: row.list("typical_technologies")?,
        typical_bandwidth_hz: row.optional("typical_bandwidth_hz")?,
        erp_dbm,
        eirp_dbm,
        duty_max,
        is_noise: note.contains("not an allocation"),
        note,
        provenance: row.provenance()?,
    })
}

//! A transmitter that was known before the survey.

use serde::{Deserialize, Serialize};
use units::{Band, Utc};

/// What small senders are off their frequency at most (common practice, no source).
const CRYSTAL: f64 = 50e-6;

/// A transmitter known before the survey.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct KnownDevice {
    /// `D1`.
    pub id: String,
    /// Whose.
    pub owner: String,
    /// What.
    pub what: String,
    /// Where, position id or words.
    pub place: Option<String>,
    /// Channel or band, hertz.
    pub band: Option<Band>,
    /// Address or other identity.
    pub identity: Option<String>,
    /// Technology id of data/technologies.csv.
    pub technology: Option<String>,
    /// From when it was on.
    pub on_from: Option<Utc>,
    /// Until when it was on.
    pub on_until: Option<Utc>,
    /// Whether it is the sender that checks of the equipment are made with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub test_sender: Option<bool>,
    /// What calibrated equipment should read of it in a check, dBm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub should_read_dbm: Option<f64>,
    /// What a detector should read of it in a check, steps of its scale.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub should_read_steps: Option<f64>,
}

impl KnownDevice {
    /// Whether an emission lies in its band: its middle does, and it is not much wider. Where one
    /// frequency is stated, its middle is there.
    pub fn sends_at(&self, emission: Band) -> bool {
        let Some(band) = self.band else { return false };
        if band.width_hz() <= 0.0 {
            let off_hz = (emission.centre_hz() - band.low_hz).abs();
            return off_hz <= CRYSTAL * band.low_hz;
        }
        let slack = 0.1 * band.width_hz();
        let wide = Band::new(band.low_hz - slack, band.high_hz + slack);
        wide.contains(emission.centre_hz()) && emission.width_hz() <= 1.2 * band.width_hz().max(1.0)
            || (emission.low_hz >= wide.low_hz && emission.high_hz <= wide.high_hz)
    }
}

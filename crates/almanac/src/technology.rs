//! Technologies: what one emission of each kind looks like.

use crate::Provenance;
use crate::table::{Row, TableError, rows};

/// What a transmitter carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Carries {
    /// Speech or other sound.
    Voice,
    /// Data.
    Data,
    /// Picture.
    Video,
    /// Commands.
    Control,
    /// Nothing.
    None,
}

pub(crate) const CARRIES: [(&str, Carries); 5] = [
    ("voice", Carries::Voice),
    ("data", Carries::Data),
    ("video", Carries::Video),
    ("control", Carries::Control),
    ("none", Carries::None),
];

/// Whether it could carry this room's sound away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RoomSound {
    /// It is made to, or does as it is.
    Yes,
    /// Only altered or misused.
    Possible,
    /// It cannot.
    No,
}

/// A row of data/technologies.csv. Frequencies in hertz, times in seconds; `None`: not known or
/// does not apply.
#[derive(Debug, Clone, PartialEq)]
pub struct Technology {
    /// Id, lower case, the label of the machine contract.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Family: 'mobile', 'wlan', 'hostile'.
    pub family: String,
    /// Modulation in words.
    pub modulation: String,
    /// Symbol rate; the chip rate for direct sequence and Manchester.
    pub symbol_rate_hz: Option<f64>,
    /// Channel bandwidth.
    pub channel_bandwidth_hz: Option<f64>,
    /// 99 % occupied bandwidth; real transmitters come out 0 to 20 % wider.
    pub occupied_bandwidth_hz: Option<f64>,
    /// Distance of neighbouring channels.
    pub channel_raster_hz: Option<f64>,
    /// One typical on-period.
    pub burst_s: Option<f64>,
    /// Frame.
    pub frame_s: Option<f64>,
    /// Timing in words.
    pub burst_pattern: String,
    /// Peak frequency deviation; of the outer symbols for 4-FSK.
    pub deviation_hz: Option<f64>,
    /// OFDM sub-carrier distance.
    pub ofdm_spacing_hz: Option<f64>,
    /// OFDM useful symbol.
    pub ofdm_useful_s: Option<f64>,
    /// OFDM cyclic prefix.
    pub cp_s: Option<f64>,
    /// Medium access in words.
    pub access: String,
    /// Hops a second.
    pub hop_rate_hz: Option<f64>,
    /// Typical power of a terminal, EIRP.
    pub typical_eirp_dbm: Option<f64>,
    /// Largest power of a terminal, EIRP.
    pub max_eirp_dbm: Option<f64>,
    /// What it carries.
    pub carries: Vec<Carries>,
    /// Whether it could carry this room's sound.
    pub could_carry_room_sound: RoomSound,
    /// What in the open part of the signal tells it apart.
    pub public_check: String,
    /// Remarks.
    pub note: String,
    /// Source.
    pub provenance: Provenance,
}

pub(crate) fn read(text: &str) -> Result<Vec<Technology>, TableError> {
    rows("technologies.csv", text, technology)
}

fn technology(row: &Row<'_>) -> Result<Technology, TableError> {
    let id = row.required("id")?;
    if !id.bytes().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == b'_') {
        return Err(row.bad("id", &id, "lower case letters, digits and _"));
    }
    let sound = [("yes", RoomSound::Yes), ("possible", RoomSound::Possible), ("no", RoomSound::No)];
    let t = Technology {
        id,
        name: row.required("name")?,
        family: row.required("family")?,
        modulation: row.owned("modulation")?,
        symbol_rate_hz: row.optional("symbol_rate_hz")?,
        channel_bandwidth_hz: row.optional("channel_bandwidth_hz")?,
        occupied_bandwidth_hz: row.optional("occupied_bandwidth_hz")?,
        channel_raster_hz: row.optional("channel_raster_hz")?,
        burst_s: row.optional("burst_s")?,
        frame_s: row.optional("frame_s")?,
        burst_pattern: row.owned("burst_pattern")?,
        deviation_hz: row.optional("deviation_hz")?,
        ofdm_spacing_hz: row.optional("ofdm_spacing_hz")?,
        ofdm_useful_s: row.optional("ofdm_useful_s")?,
        cp_s: row.optional("cp_s")?,
        access: row.owned("access")?,
        hop_rate_hz: row.optional("hop_rate_hz")?,
        typical_eirp_dbm: row.optional("typical_eirp_dbm")?,
        max_eirp_dbm: row.optional("max_eirp_dbm")?,
        carries: row.some_of("carries", &CARRIES)?,
        could_carry_room_sound: row.one_of("could_carry_room_sound", &sound)?,
        public_check: row.owned("public_check")?,
        note: row.owned("note")?,
        provenance: row.provenance()?,
    };
    if let (Some(typical), Some(max)) = (t.typical_eirp_dbm, t.max_eirp_dbm)
        && typical > max
    {
        return Err(row.bad("typical_eirp_dbm", &typical.to_string(), "at most max_eirp_dbm"));
    }
    if let (Some(spacing), Some(useful)) = (t.ofdm_spacing_hz, t.ofdm_useful_s)
        && (spacing * useful - 1.0).abs() > 2e-3
    {
        let found = row.text("ofdm_useful_s")?;
        return Err(row.bad("ofdm_useful_s", found, "the inverse of ofdm_spacing_hz"));
    }
    if let (Some(burst), Some(frame), "mobile") = (t.burst_s, t.frame_s, t.family.as_str())
        && burst > frame
    {
        return Err(row.bad("burst_s", &burst.to_string(), "a burst within its frame"));
    }
    Ok(t)
}

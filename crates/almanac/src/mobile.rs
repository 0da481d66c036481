//! Mobile bands (3GPP), and which end of the link transmits at a frequency.

use crate::table::{Row, TableError, rows};
use crate::{Applies, Places, Provenance, Region};
use units::Band;

/// How a band parts the two directions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Duplex {
    /// Two bands, one for each direction.
    Fdd,
    /// One band, the directions take turns.
    Tdd,
    /// Downlink only, beside another band.
    Sdl,
    /// Uplink only, beside another band.
    Sul,
}

/// Who transmits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Direction {
    /// The terminal, towards the network (a telephone; a ship; a tracker).
    Up,
    /// The network, towards the terminal (a mast).
    Down,
    /// Both, on the same frequency, by turns (TDD) or at will.
    Both,
    /// One sender with many or no particular receivers.
    OneWay,
    /// Bands of the region overlap here and say different things.
    Unclear,
}

/// A row of data/mobile_bands.csv.
#[derive(Debug, Clone, PartialEq)]
pub struct MobileBand {
    /// 'LTE 20', 'n78', 'E-GSM 900'.
    pub band: String,
    /// GSM, UMTS, LTE or NR.
    pub tech: String,
    /// How the directions are parted.
    pub duplex: Duplex,
    /// Where terminals transmit.
    pub uplink: Option<Band>,
    /// Where the network transmits.
    pub downlink: Option<Band>,
    /// Where the band is used.
    pub places: Places,
    /// Remarks.
    pub note: String,
    /// Source.
    pub provenance: Provenance,
}

/// One answer to 'which mobile band is this'.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MobileUse<'a> {
    /// The band.
    pub band: &'a MobileBand,
    /// Up, Down or Both.
    pub direction: Direction,
    /// Whether the band is used in the whole region asked for, or only perhaps.
    pub applies: Applies,
}

impl MobileBand {
    /// Which direction an emission in `band` would have here: that of the half that holds its
    /// middle. `None` where neither does.
    pub fn direction_of(&self, band: Band) -> Option<Direction> {
        let holds = |half: &Option<Band>| half.is_some_and(|half| half.contains(band.centre_hz()));
        match (holds(&self.uplink), holds(&self.downlink)) {
            (true, true) => Some(Direction::Both),
            (true, false) => Some(Direction::Up),
            (false, true) => Some(Direction::Down),
            (false, false) => None,
        }
    }
}

/// The one direction that the best answers give, `Unclear` where they differ, `None` for no
/// answer. A band surely used outranks one that is rare or used in part of the region, and a
/// band of the region itself one of an area around it.
pub(crate) fn agreed(uses: &[MobileUse<'_>], region: Region) -> Option<Direction> {
    let rank = |u: &MobileUse<'_>| {
        let depth = u.band.places.nearest(region).map_or(0, Region::depth);
        (u.applies, std::cmp::Reverse(depth))
    };
    let best = uses.iter().map(rank).min()?;
    let mut found = uses.iter().filter(|u| rank(u) == best).map(|u| u.direction);
    let first = found.next()?;
    Some(if found.all(|d| d == first) { first } else { Direction::Unclear })
}

pub(crate) fn read(text: &str) -> Result<Vec<MobileBand>, TableError> {
    rows("mobile_bands.csv", text, row)
}

fn row(row: &Row<'_>) -> Result<MobileBand, TableError> {
    let duplex =
        [("FDD", Duplex::Fdd), ("TDD", Duplex::Tdd), ("SDL", Duplex::Sdl), ("SUL", Duplex::Sul)];
    let duplex = row.one_of("duplex", &duplex)?;
    let band = |(low, high)| Band::new(low, high);
    let uplink = row.range("uplink_low_hz", "uplink_high_hz", true)?.map(band);
    let downlink = row.range("downlink_low_hz", "downlink_high_hz", true)?.map(band);
    let sound = match duplex {
        Duplex::Fdd => uplink.is_some() && downlink.is_some(),
        Duplex::Tdd => uplink.is_some() && uplink == downlink,
        Duplex::Sdl => uplink.is_none() && downlink.is_some(),
        Duplex::Sul => uplink.is_some() && downlink.is_none(),
    };
    if !sound {
        let found = row.text("duplex")?;
        return Err(row.bad("duplex", found, "edges that fit the duplex"));
    }
    let words = row.text("regions")?;
    Ok(MobileBand {
        band: row.required("band")?,
        tech: row.one_of("tech", &["GSM", "UMTS", "LTE", "NR"].map(|t| (t, t)))?.to_owned(),
        duplex,
        uplink,
        downlink,
        places: Places::parse(words).ok_or_else(|| row.bad("regions", words, "known places"))?,
        note: row.owned("note")?,
        provenance: row.provenance()?,
    })
}

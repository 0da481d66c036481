//! Channel plans: single channels (data/channel_plans.csv) and rasters
//! (data/channel_formulas.csv: centre = first + (channel − first channel) / channel step × step).

use crate::table::{Row, TableError, rows};
use crate::{Applies, Direction, Places, Provenance};
use std::collections::BTreeMap;
use units::Band;

/// A row of data/channel_plans.csv.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Plan, 'wifi_24', 'dect_eu'.
    pub plan: String,
    /// Channel as the plan writes it.
    pub channel: String,
    /// Centre, hertz.
    pub centre_hz: f64,
    /// Width, hertz.
    pub width_hz: f64,
    /// Where the plan holds.
    pub places: Places,
    /// Who transmits.
    pub direction: Direction,
    /// The table's own word for it ('advertising', 'from ship').
    pub direction_word: String,
    /// Source.
    pub provenance: Provenance,
    /// Smallest distance between centres of the plan, hertz; the width for a plan of one channel.
    pub raster_hz: f64,
}

/// A row of data/channel_formulas.csv.
#[derive(Debug, Clone, PartialEq)]
pub struct Raster {
    /// Plan, 'gsm_900_p', 'lte_b20'.
    pub plan: String,
    /// Who transmits.
    pub direction: Direction,
    /// Centre of the first channel, hertz.
    pub first_hz: f64,
    /// From one channel of the row to the next, hertz.
    pub step_hz: f64,
    /// Number of the first channel.
    pub first_channel: i64,
    /// Number of the last channel.
    pub last_channel: i64,
    /// From one channel number of the row to the next.
    pub channel_step: i64,
    /// Width of a channel, hertz, where the plan has one.
    pub width_hz: Option<f64>,
    /// The band that carriers must lie in.
    pub band: Option<Band>,
    /// Where the plan holds.
    pub places: Places,
    /// Remarks.
    pub note: String,
    /// Source.
    pub provenance: Provenance,
}

impl Raster {
    /// Centre of a channel, hertz; `None` for a number that the row does not hold.
    pub fn centre_hz(&self, channel: i64) -> Option<f64> {
        let steps = channel - self.first_channel;
        let held = (self.first_channel..=self.last_channel).contains(&channel)
            && steps % self.channel_step == 0;
        held.then(|| self.first_hz + (steps / self.channel_step) as f64 * self.step_hz)
    }

    /// The channel whose centre is nearest to `hz`, and that centre.
    pub fn nearest(&self, hz: f64) -> (i64, f64) {
        let last = (self.last_channel - self.first_channel) / self.channel_step;
        // A NaN becomes 0 in the cast.
        let steps = (((hz - self.first_hz) / self.step_hz).round() as i64).clamp(0, last);
        let channel = self.first_channel + steps * self.channel_step;
        (channel, self.first_hz + steps as f64 * self.step_hz)
    }
}

/// One answer to 'which channel of which plan is this'.
#[derive(Debug, Clone, PartialEq)]
pub struct ChannelMatch<'a> {
    /// Plan.
    pub plan: &'a str,
    /// Channel as the plan writes it.
    pub channel: String,
    /// Centre, hertz.
    pub centre_hz: f64,
    /// Asked frequency less centre, hertz.
    pub offset_hz: f64,
    /// Width, hertz, where the plan has one.
    pub width_hz: Option<f64>,
    /// Who transmits.
    pub direction: Direction,
    /// Whether the plan holds in the whole region asked for, or only perhaps.
    pub applies: Applies,
    /// Chance that a frequency drawn anywhere in the plan would have matched within the same
    /// tolerance: 2 × tolerance / raster, at most 1. A match that had to happen says nothing.
    pub chance: f64,
    /// Source.
    pub provenance: &'a Provenance,
}

const DIRECTIONS: [(&str, Direction); 12] = [
    ("up", Direction::Up),
    ("down", Direction::Down),
    ("both", Direction::Both),
    ("both (TDD)", Direction::Both),
    ("both (simplex since AIS)", Direction::Both),
    ("one way", Direction::OneWay),
    ("reader", Direction::OneWay),
    ("data", Direction::Both),
    ("advertising", Direction::OneWay),
    ("from ship", Direction::Up),
    ("from coast", Direction::Down),
    ("to repeater", Direction::Up),
];

pub(crate) fn chance(tolerance_hz: f64, raster_hz: f64) -> f64 {
    (2.0 * tolerance_hz / raster_hz).min(1.0)
}

/// Sorted by centre, with each plan's raster filled in.
pub(crate) fn read_channels(text: &str) -> Result<Vec<Channel>, TableError> {
    let mut channels = rows("channel_plans.csv", text, channel)?;
    channels.sort_by(|a, b| a.centre_hz.total_cmp(&b.centre_hz));
    let mut last: BTreeMap<String, f64> = BTreeMap::new();
    let mut raster: BTreeMap<String, f64> = BTreeMap::new();
    for c in &channels {
        if let Some(before) = last.insert(c.plan.clone(), c.centre_hz) {
            let gap = c.centre_hz - before;
            let smallest = raster.entry(c.plan.clone()).or_insert(f64::INFINITY);
            if gap > 0.0 {
                *smallest = smallest.min(gap);
            }
        }
    }
    for c in &mut channels {
        let of_plan = raster.get(&c.plan).copied().filter(|r| r.is_finite());
        c.raster_hz = of_plan.unwrap_or(c.width_hz);
    }
    Ok(channels)
}

fn channel(row: &Row<'_>) -> Result<Channel, TableError> {
    let (centre_hz, width_hz) = (row.number("centre_hz")?, row.number("width_hz")?);
    if !(centre_hz > 1e4 && centre_hz < 4e10) {
        return Err(row.bad("centre_hz", row.text("centre_hz")?, "10 kHz to 40 GHz"));
    }
    if width_hz <= 0.0 {
        return Err(row.bad("width_hz", row.text("width_hz")?, "a width above 0"));
    }
    Ok(Channel {
        plan: row.required("plan")?,
        channel: row.required("channel")?,
        centre_hz,
        width_hz,
        places: places(row)?,
        direction: row.one_of("direction", &DIRECTIONS)?,
        direction_word: row.required("direction")?,
        provenance: row.provenance()?,
        raster_hz: width_hz,
    })
}

fn places(row: &Row<'_>) -> Result<Places, TableError> {
    let words = row.text("region")?;
    Places::parse(words).ok_or_else(|| row.bad("region", words, "known places"))
}

pub(crate) fn read_rasters(text: &str) -> Result<Vec<Raster>, TableError> {
    rows("channel_formulas.csv", text, raster)
}

fn raster(row: &Row<'_>) -> Result<Raster, TableError> {
    let (first_channel, last_channel) = (row.whole("first_channel")?, row.whole("last_channel")?);
    let channel_step = row.whole("channel_step")?;
    let whole = channel_step > 0
        && last_channel >= first_channel
        && (last_channel - first_channel) % channel_step == 0;
    if !whole {
        let found = row.text("last_channel")?;
        return Err(row.bad("last_channel", found, "first_channel plus whole channel steps"));
    }
    let (first_hz, step_hz) = (row.number("first_hz")?, row.number("step_hz")?);
    if step_hz <= 0.0 {
        return Err(row.bad("step_hz", row.text("step_hz")?, "a step above 0"));
    }
    let plan = row.required("plan")?;
    let edges = row.range("band_low_hz", "band_high_hz", true)?;
    let last_hz = first_hz + ((last_channel - first_channel) / channel_step) as f64 * step_hz;
    // The NR rasters are global and end with a number, not with a band.
    let slack = if plan.starts_with("nr_") { 20e6 } else { 0.0 };
    if let Some((low, high)) = edges
        && (first_hz < low - 1.0 || last_hz > high + slack + 1.0)
    {
        let found = format!("{first_hz} to {last_hz}");
        return Err(row.bad("first_hz", &found, format!("centres within {low} to {high}")));
    }
    Ok(Raster {
        plan,
        direction: row.one_of("direction", &DIRECTIONS)?,
        first_hz,
        step_hz,
        first_channel,
        last_channel,
        channel_step,
        width_hz: row.optional("width_hz")?,
        band: edges.map(|(low, high)| Band::new(low, high)),
        places: places(row)?,
        note: row.owned("note")?,
        provenance: row.provenance()?,
    })
}

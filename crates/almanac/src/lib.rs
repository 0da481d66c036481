//! What is known about the radio spectrum: allocations, technologies, channel plans, mobile
//! bands, materials, kinds of hostile transmitter. The tables of `data/`, compiled in and parsed
//! once; every row says where it comes from.
//!
//! Three questions are answered in microseconds: what lives at this frequency in this region,
//! which channel of which plan is this, and does the terminal or the network transmit here.
//!
//! ```
//! use almanac::{Almanac, Direction, Region};
//! use units::Band;
//!
//! let almanac = Almanac::load();
//! let lives = almanac.allocations_at(Band::around(868.3e6, 125e3), Region::Uk);
//! assert!(lives.iter().any(|a| a.service == "licence-exempt" && !a.provenance.source.is_empty()));
//! let channels = almanac.channels_at(1_890.432e6, 20e3, Region::Uk);
//! assert_eq!((channels[0].plan, channels[0].channel.as_str()), ("dect_eu", "4"));
//! let uplink = almanac.mobile_direction(Band::around(900.2e6, 200e3), Region::Uk);
//! assert_eq!(uplink, Some(Direction::Up));
//! ```

mod allocation;
mod channel;
mod index;
mod material;
mod mobile;
mod provenance;
mod region;
mod table;
mod technology;
mod threat;

pub use allocation::Allocation;
pub use channel::{Channel, ChannelMatch, Raster};
pub use material::{Material, MaterialKind};
pub use mobile::{Direction, Duplex, MobileBand, MobileUse};
pub use provenance::{Basis, Provenance};
pub use region::{Applies, Places, Region, RegionError};
pub use table::TableError;
pub use technology::{Carries, RoomSound, Technology};
pub use threat::{StrengthScale, Threat, Trigger};

use index::Index;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;
use units::Band;

/// The text of the tables, each a whole CSV file with its header line.
#[derive(Debug, Clone, Copy)]
pub struct Tables<'a> {
    /// allocations.csv
    pub allocations: &'a str,
    /// technologies.csv
    pub technologies: &'a str,
    /// channel_plans.csv
    pub channel_plans: &'a str,
    /// channel_formulas.csv
    pub channel_formulas: &'a str,
    /// mobile_bands.csv
    pub mobile_bands: &'a str,
    /// materials.csv
    pub materials: &'a str,
    /// threats.csv
    pub threats: &'a str,
    /// strength_scales.csv
    pub strength_scales: &'a str,
}

/// The tables that are compiled in.
pub const TABLES: Tables<'static> = Tables {
    allocations: include_str!("../../../data/allocations.csv"),
    technologies: include_str!("../../../data/technologies.csv"),
    channel_plans: include_str!("../../../data/channel_plans.csv"),
    channel_formulas: include_str!("../../../data/channel_formulas.csv"),
    mobile_bands: include_str!("../../../data/mobile_bands.csv"),
    materials: include_str!("../../../data/materials.csv"),
    threats: include_str!("../../../data/threats.csv"),
    strength_scales: include_str!("../../../data/strength_scales.csv"),
};

/// All tables, typed and indexed.
#[derive(Debug)]
pub struct Almanac {
    allocations: Vec<Allocation>,
    allocation_index: Index,
    technologies: BTreeMap<String, Technology>,
    channels: Vec<Channel>,
    rasters: Vec<Raster>,
    mobile_bands: Vec<MobileBand>,
    materials: Vec<Material>,
    threats: Vec<Threat>,
    strength_scales: Vec<StrengthScale>,
    plans_in_tables: BTreeSet<String>,
}

impl Almanac {
    /// The compiled-in tables, parsed at the first call.
    ///
    /// # Panics
    /// If a compiled-in table is damaged, which the tests of this crate rule out.
    pub fn load() -> &'static Almanac {
        static LOADED: OnceLock<Almanac> = OnceLock::new();
        LOADED.get_or_init(|| match Almanac::parse(&TABLES) {
            Ok(almanac) => almanac,
            Err(error) => panic!("a table of this program is damaged: {error}"),
        })
    }

    /// Parses tables and checks every row: closed vocabularies, numbers, rising edges, sources,
    /// and that each technology id that is referred to exists.
    ///
    /// # Errors
    /// The first row that breaks a rule.
    pub fn parse(tables: &Tables<'_>) -> Result<Almanac, TableError> {
        let technologies = technology::read(tables.technologies)?;
        let technologies =
            unique("technologies.csv", "id", technologies, |t| (t.id.clone(), t.provenance.line))?;
        let allocations = allocation::read(tables.allocations)?;
        let mut seen = BTreeMap::new();
        for row in &allocations {
            let known = row.technologies.iter().find(|id| !technologies.contains_key(*id));
            refer("allocations.csv", "typical_technologies", row.provenance.line, known)?;
            let edges = (row.band.low_hz.to_bits(), row.band.high_hz.to_bits());
            let key = (row.region, edges, row.service.clone(), row.use_.clone());
            once(
                "allocations.csv",
                "use",
                row.provenance.line,
                &row.use_,
                seen.insert(key, row.provenance.line),
            )?;
        }
        let threats = threat::read(tables.threats)?;
        for row in &threats {
            let known = Some(&row.technology).filter(|id| !technologies.contains_key(*id));
            refer("threats.csv", "technology_id", row.provenance.line, known)?;
        }
        let channels = channel::read_channels(tables.channel_plans)?;
        let mut seen = BTreeMap::new();
        for row in &channels {
            let key = (
                (row.plan.clone(), row.channel.clone(), row.places.words.clone()),
                (row.direction_word.clone(), row.centre_hz.to_bits()),
            );
            once(
                "channel_plans.csv",
                "channel",
                row.provenance.line,
                &row.channel,
                seen.insert(key, row.provenance.line),
            )?;
        }
        let mobile_bands = mobile::read(tables.mobile_bands)?;
        let mut seen = BTreeMap::new();
        for row in &mobile_bands {
            once(
                "mobile_bands.csv",
                "band",
                row.provenance.line,
                &row.band,
                seen.insert(row.band.clone(), row.provenance.line),
            )?;
        }
        Ok(Almanac {
            allocation_index: Index::of(&allocations.iter().map(|a| a.band).collect::<Vec<_>>()),
            allocations,
            technologies,
            plans_in_tables: channels.iter().map(|c| c.plan.clone()).collect(),
            channels,
            rasters: channel::read_rasters(tables.channel_formulas)?,
            mobile_bands,
            materials: material::read(tables.materials)?,
            threats,
            strength_scales: threat::read_scales(tables.strength_scales)?,
        })
    }

    /// What lives at `band` (absolute, hertz) in `region`: rows whose region is or holds it, most
    /// specific first, then the better covered, then the narrower. For an area of many states
    /// (WORLD, ITU1 to 3) the rows of the regions inside follow, the widest region first: where
    /// the premises are is then not known, and any of them may hold (see
    /// [`Allocation::applies`]). Noise and conducted signals are left out (see
    /// [`Almanac::noise_at`]).
    pub fn allocations_at(&self, band: Band, region: Region) -> Vec<&Allocation> {
        let covered = |a: &Allocation| a.band.overlap(&band).map_or(0.0, |part| part.width_hz());
        let mut found: Vec<(Applies, &Allocation)> =
            (self.allocation_index.touching(band).into_iter())
                .map(|row| &self.allocations[row])
                .filter(|a| !a.is_noise && a.holds(band))
                .filter_map(|a| Some((a.applies(region)?, a)))
                .collect();
        found.sort_by(|&(surely_a, a), &(surely_b, b)| {
            let specific = match surely_a {
                Applies::Surely => b.region.depth().cmp(&a.region.depth()),
                Applies::Perhaps => a.region.depth().cmp(&b.region.depth()),
            };
            surely_a
                .cmp(&surely_b)
                .then(specific)
                .then(covered(b).total_cmp(&covered(a)))
                .then(a.band.width_hz().total_cmp(&b.band.width_hz()))
                .then(a.provenance.line.cmp(&b.provenance.line))
        });
        found.into_iter().map(|(_, a)| a).collect()
    }

    /// Noise and conducted signals that one meets at `band`; no service is allocated by these.
    pub fn noise_at(&self, band: Band, region: Region) -> Vec<&Allocation> {
        let rows =
            self.allocation_index.touching(band).into_iter().map(|row| &self.allocations[row]);
        rows.filter(|a| a.is_noise && a.holds(band) && a.applies(region).is_some()).collect()
    }

    /// Which channels of which plans have their centre within `tolerance_hz` of `hz` (absolute):
    /// surely used in the region first, then by how little chance the match had, then by
    /// distance. A raster that repeats single channels of a table is left out.
    pub fn channels_at(&self, hz: f64, tolerance_hz: f64, region: Region) -> Vec<ChannelMatch<'_>> {
        let tolerance_hz = tolerance_hz.max(0.5);
        let from = self.channels.partition_point(|c| c.centre_hz < hz - tolerance_hz);
        let singles = self.channels[from..].iter().take_while(|c| c.centre_hz <= hz + tolerance_hz);
        let mut found: Vec<ChannelMatch<'_>> = singles
            .filter_map(|c| {
                Some(ChannelMatch {
                    plan: &c.plan,
                    channel: c.channel.clone(),
                    centre_hz: c.centre_hz,
                    offset_hz: hz - c.centre_hz,
                    width_hz: Some(c.width_hz),
                    direction: c.direction,
                    applies: c.places.applies(region)?,
                    chance: channel::chance(tolerance_hz, c.raster_hz),
                    provenance: &c.provenance,
                })
            })
            .collect();
        for r in &self.rasters {
            let (channel, centre_hz) = r.nearest(hz);
            if (hz - centre_hz).abs() > tolerance_hz || self.repeats_a_table(&r.plan) {
                continue;
            }
            let Some(applies) = r.places.applies(region) else { continue };
            found.push(ChannelMatch {
                plan: &r.plan,
                channel: channel.to_string(),
                centre_hz,
                offset_hz: hz - centre_hz,
                width_hz: r.width_hz,
                direction: r.direction,
                applies,
                chance: channel::chance(tolerance_hz, r.step_hz),
                provenance: &r.provenance,
            });
        }
        found.sort_by(|a, b| {
            (a.applies.cmp(&b.applies))
                .then(a.chance.total_cmp(&b.chance))
                .then(a.offset_hz.abs().total_cmp(&b.offset_hz.abs()))
                .then(a.plan.cmp(b.plan))
                .then(a.channel.cmp(&b.channel))
        });
        found
    }

    /// 'wifi_5' (every 5 MHz) is spelt out by 'wifi_5_20' and its like.
    fn repeats_a_table(&self, plan: &str) -> bool {
        let mut from = self.plans_in_tables.range(plan.to_owned()..);
        from.next().is_some_and(|p| {
            p.strip_prefix(plan).is_some_and(|rest| rest.is_empty() || rest.starts_with('_'))
        })
    }

    /// Which mobile bands hold the middle of `band` in `region`, surely used ones first, then in
    /// table order (GSM, UMTS, LTE, NR).
    pub fn mobile_uses(&self, band: Band, region: Region) -> Vec<MobileUse<'_>> {
        let mut found: Vec<MobileUse<'_>> = (self.mobile_bands.iter())
            .filter_map(|m| {
                let direction = m.direction_of(band)?;
                Some(MobileUse { band: m, direction, applies: m.places.applies(region)? })
            })
            .collect();
        found.sort_by_key(|u| u.applies);
        found
    }

    /// Whether the terminal (`Up`) or the network (`Down`) transmits at `band`; `Both` where they
    /// take turns (TDD); `Unclear` where the bands of this region say different things (always
    /// likely for WORLD); `None` where no mobile band lies.
    pub fn mobile_direction(&self, band: Band, region: Region) -> Option<Direction> {
        mobile::agreed(&self.mobile_uses(band, region), region)
    }

    /// A technology by its id.
    pub fn technology(&self, id: &str) -> Option<&Technology> {
        self.technologies.get(id)
    }

    /// All technologies, by id.
    pub fn technologies(&self) -> impl Iterator<Item = &Technology> {
        self.technologies.values()
    }

    /// All allocations, in table order.
    pub fn allocations(&self) -> &[Allocation] {
        &self.allocations
    }

    /// All single channels, by rising centre.
    pub fn channels(&self) -> &[Channel] {
        &self.channels
    }

    /// All rasters, in table order.
    pub fn rasters(&self) -> &[Raster] {
        &self.rasters
    }

    /// All mobile bands, in table order.
    pub fn mobile_bands(&self) -> &[MobileBand] {
        &self.mobile_bands
    }

    /// All rows about materials, in table order.
    pub fn materials(&self) -> &[Material] {
        &self.materials
    }

    /// The rows of one wall or material id, in table order.
    pub fn material(&self, id: &str) -> impl Iterator<Item = &Material> {
        self.materials.iter().filter(move |m| !m.id.is_empty() && m.id == id)
    }

    /// Kinds of hostile transmitter.
    pub fn threats(&self) -> &[Threat] {
        &self.threats
    }

    /// Kinds of strength scale.
    pub fn strength_scales(&self) -> &[StrengthScale] {
        &self.strength_scales
    }
}

fn once(
    table: &'static str,
    column: &str,
    line: u64,
    found: &str,
    before: Option<u64>,
) -> Result<(), TableError> {
    let Some(before) = before else { return Ok(()) };
    let expected = format!("a row unlike that of line {before}");
    Err(TableError { table, line, column: column.to_owned(), found: found.to_owned(), expected })
}

fn refer(
    table: &'static str,
    column: &str,
    line: u64,
    unknown: Option<&String>,
) -> Result<(), TableError> {
    let Some(unknown) = unknown else { return Ok(()) };
    Err(TableError {
        table,
        line,
        column: column.to_owned(),
        found: unknown.clone(),
        expected: "an id of data/technologies.csv".to_owned(),
    })
}

fn unique<T>(
    table: &'static str,
    column: &str,
    rows: Vec<T>,
    key: impl Fn(&T) -> (String, u64),
) -> Result<BTreeMap<String, T>, TableError> {
    let mut out: BTreeMap<String, T> = BTreeMap::new();
    for row in rows {
        let (id, line) = key(&row);
        let before = out.get(&id).map(|b| key(b).1);
        once(table, column, line, &id, before)?;
        out.insert(id, row);
    }
    Ok(out)
}

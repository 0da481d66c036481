//! Inside or outside, from levels at places.
//!
//! What each place received of one emission, and how far each place is from where the emission
//! might be, give the probability that it radiates from inside the premises. Where places have
//! coordinates their distances count; else distances are priors, as walls and the building always
//! are, integrated over a fixed grid (same input, same bits). Levels compare only inside one
//! chain, so the caller hands in one list of observations a chain; what all of them share is where
//! the emitter is. What the emissions of a survey share is the building: each tells of what it lets
//! through and how unevenly levels lie in it, and `origins` uses that for the others. Where the
//! chain is calibrated, how strong a sender it must be counts too.
//!
//! ```
//! use locate::{Chain, Context, Observation, Received, origin};
//! use units::Zone;
//!
//! let room = Received::Level { db: -40.0, u_db: 0.5 };
//! let yard = Received::Below { limit_db: -90.0 };
//! let at = |zone, room, received| Observation { zone, room, spot: None, received, p_silent: 0.0 };
//! let chain = Chain::from(vec![at(Zone::Inside, 0, room), at(Zone::Outside, 1, yard)]);
//! let found = origin(433.92e6, &Context::default(), &[chain]).expect("something was heard");
//! assert!(found.p_inside > 0.8);
//! ```

mod chain;
mod evidence;
#[cfg(test)]
mod made;
mod others;
mod paths;
mod plan;
mod posterior;
mod power;
mod premises;
mod reasons;
mod scale;
mod scenarios;

pub use paths::FADING_SIGMA_DB;
pub use posterior::{Context, InsideOutside, Weighed, origin, origins, weigh};
pub use scale::{SPAN_LOG_SIGMA, SPAN_MEDIAN_DB};
pub use scenarios::{UNVISITED_ROOM_PRIOR, ZonePrior, zone_prior};

use units::{Strength, Zone};

/// What was received at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Received {
    /// A level, corrected for gain.
    Level {
        /// In the unit of the chain, dB.
        db: f64,
        /// Standard uncertainty as measured, dB.
        u_db: f64,
    },
    /// Listened to and not heard.
    Below {
        /// Level that would have been heard, dB.
        limit_db: f64,
    },
    /// A reading of an ordinal scale, above 0.
    Strength(Strength),
    /// Listened to with such a scale and not heard.
    NoStrength,
}

/// One emission at one place, on one chain.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Zone of the place. A place in a vehicle counts as inside.
    pub zone: Zone,
    /// Number of its room: places in one room share it, through all chains.
    pub room: usize,
    /// Where it is on the plan, as far as known.
    pub spot: Option<Spot>,
    /// What was received.
    pub received: Received,
    /// Where it was not heard: the chance that it was not on air while one listened, 0 to 1.
    pub p_silent: f64,
}

/// A point of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spot {
    /// East, metres.
    pub x_m: f64,
    /// North, metres.
    pub y_m: f64,
    /// Number of its floor, any: only 'the same or another' counts.
    pub floor: usize,
}

/// What one chain received of an emission: levels compare inside it only.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Chain {
    /// One for each place.
    pub observations: Vec<Observation>,
    /// What to add to its levels for the power at the antenna in dBm, dB; `None` where nobody
    /// calibrated it.
    pub to_dbm_db: Option<f64>,
}

impl From<Vec<Observation>> for Chain {
    fn from(observations: Vec<Observation>) -> Chain {
        Chain { observations, to_dbm_db: None }
    }
}

impl Observation {
    fn is_inside(&self) -> bool {
        matches!(self.zone, Zone::Inside | Zone::Moving)
    }
    fn is_heard(&self) -> bool {
        matches!(self.received, Received::Level { .. } | Received::Strength(_))
    }
}

//! Decibels. A level in dBFS and a level in dBm are different types: only a calibrated chain
//! turns one into the other, so nothing here does.

use serde::{Deserialize, Serialize};
use std::ops::{Add, AddAssign, Neg, Sub};

/// A power ratio in dB.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Db(pub f64);

/// A level in dB relative to full scale. 0 dBFS is mean |x|² = 1: a full-scale complex tone.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Dbfs(pub f64);

/// A level in dB relative to one milliwatt, at the antenna connector of the chain.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Dbm(pub f64);

/// 10 log10(ratio). Zero gives −∞, a negative ratio NaN.
pub fn db_from_ratio(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// 10^(db/10).
pub fn ratio_from_db(db: f64) -> f64 {
    10f64.powf(db / 10.0)
}

impl Db {
    /// The ratio in dB of two powers in the same unit.
    pub fn from_ratio(ratio: f64) -> Self {
        Db(db_from_ratio(ratio))
    }
    /// The power ratio.
    pub fn ratio(self) -> f64 {
        ratio_from_db(self.0)
    }
}

impl Dbfs {
    /// From mean |x|², full scale 1 per rail.
    pub fn from_power(mean_square: f64) -> Self {
        Dbfs(db_from_ratio(mean_square))
    }
    /// Mean |x|², full scale 1 per rail.
    pub fn power(self) -> f64 {
        ratio_from_db(self.0)
    }
}

impl Dbm {
    /// From a power in milliwatts.
    pub fn from_milliwatts(mw: f64) -> Self {
        Dbm(db_from_ratio(mw))
    }
    /// The power in milliwatts.
    pub fn milliwatts(self) -> f64 {
        ratio_from_db(self.0)
    }
}

impl Add for Db {
    type Output = Db;
    fn add(self, other: Db) -> Db {
        Db(self.0 + other.0)
    }
}
impl AddAssign for Db {
    fn add_assign(&mut self, other: Db) {
        self.0 += other.0;
    }
}
impl Sub for Db {
    type Output = Db;
    fn sub(self, other: Db) -> Db {
        Db(self.0 - other.0)
    }
}
impl Neg for Db {
    type Output = Db;
    fn neg(self) -> Db {
        Db(-self.0)
    }
}

macro_rules! level {
    ($level:ident) => {
        impl Add<Db> for $level {
            type Output = $level;
            fn add(self, gain: Db) -> $level {
                $level(self.0 + gain.0)
            }
        }
        impl Sub<Db> for $level {
            type Output = $level;
            fn sub(self, loss: Db) -> $level {
                $level(self.0 - loss.0)
            }
        }
        impl Sub for $level {
            type Output = Db;
            fn sub(self, other: $level) -> Db {
                Db(self.0 - other.0)
            }
        }
    };
}
level!(Dbfs);
level!(Dbm);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_differ_by_a_ratio() {
        assert_eq!(Dbm(-40.0) - Dbm(-60.0), Db(20.0));
        assert_eq!(Dbfs(-40.0) + Db(3.0), Dbfs(-37.0));
        assert!((Dbfs::from_power(0.5).0 + 3.0103).abs() < 1e-4);
    }
}

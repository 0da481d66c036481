//! The units that a mapping can name, with their symbols.

use units::LevelUnit;

/// The unit of a counter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CounterUnit {
    /// Seconds.
    S,
    /// Milliseconds.
    Ms,
    /// Microseconds.
    Us,
    /// Nanoseconds.
    Ns,
}

/// The unit of frequencies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrequencyUnit {
    /// Hertz.
    Hz,
    /// Kilohertz.
    KHz,
    /// Megahertz.
    MHz,
    /// Gigahertz.
    GHz,
}

/// The unit of durations.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DurationUnit {
    /// Seconds.
    S,
    /// Minutes.
    Min,
}

impl CounterUnit {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::S, Self::Ms, Self::Us, Self::Ns];

    /// Its symbol.
    pub fn name(self) -> &'static str {
        match self {
            CounterUnit::S => "s",
            CounterUnit::Ms => "ms",
            CounterUnit::Us => "us",
            CounterUnit::Ns => "ns",
        }
    }
    /// One of it in seconds.
    pub fn seconds(self) -> f64 {
        match self {
            CounterUnit::S => 1.0,
            CounterUnit::Ms => 1e-3,
            CounterUnit::Us => 1e-6,
            CounterUnit::Ns => 1e-9,
        }
    }
    /// From its symbol.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.name() == word)
    }
}

impl FrequencyUnit {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Hz, Self::KHz, Self::MHz, Self::GHz];

    /// Its symbol.
    pub fn name(self) -> &'static str {
        match self {
            FrequencyUnit::Hz => "Hz",
            FrequencyUnit::KHz => "kHz",
            FrequencyUnit::MHz => "MHz",
            FrequencyUnit::GHz => "GHz",
        }
    }
    /// One of it in hertz.
    pub fn hertz(self) -> f64 {
        match self {
            FrequencyUnit::Hz => 1.0,
            FrequencyUnit::KHz => 1e3,
            FrequencyUnit::MHz => 1e6,
            FrequencyUnit::GHz => 1e9,
        }
    }
    /// From its symbol, in upper or lower case.
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.name().eq_ignore_ascii_case(word))
    }
}

impl DurationUnit {
    /// Its symbol.
    pub fn name(self) -> &'static str {
        match self {
            DurationUnit::S => "s",
            DurationUnit::Min => "min",
        }
    }
    /// One of it in seconds.
    pub fn seconds(self) -> f64 {
        match self {
            DurationUnit::S => 1.0,
            DurationUnit::Min => 60.0,
        }
    }
    /// From the words that people write for it.
    pub fn from_word(word: &str) -> Option<Self> {
        match word.to_ascii_lowercase().as_str() {
            "s" | "sec" | "secs" | "second" | "seconds" => Some(DurationUnit::S),
            "min" | "mins" | "minute" | "minutes" => Some(DurationUnit::Min),
            _ => None,
        }
    }
}

/// The symbol of a level's unit, as mappings write it.
pub(crate) fn level_name(unit: LevelUnit) -> &'static str {
    match unit {
        LevelUnit::Dbm => "dBm",
        LevelUnit::Dbfs => "dBFS",
        LevelUnit::Dbuv => "dBuV",
    }
}

/// The unit of a level, by its symbol in upper or lower case.
pub(crate) fn level_unit(word: &str) -> Option<LevelUnit> {
    match word.to_lowercase().as_str() {
        "dbm" => Some(LevelUnit::Dbm),
        "dbfs" => Some(LevelUnit::Dbfs),
        "dbuv" | "dbµv" | "dbμv" => Some(LevelUnit::Dbuv),
        _ => None,
    }
}

//! The spectrum around an emission, as a picture: lines over frequency, and levels over time under them.

/// Spectra over one band, and one of them over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Spectrum {
    /// What the marked band is called: the row's id.
    pub mark: String,
    /// The band that is marked, hertz.
    pub band_hz: (f64, f64),
    /// Bands of other rows that the same measurement heard, with what they are called.
    pub others: Vec<(String, (f64, f64))>,
    /// The band that is drawn, hertz.
    pub span_hz: (f64, f64),
    /// Lower and upper end of the axis of levels.
    pub span_db: (f64, f64),
    /// `dBm` or `dBFS`.
    pub unit: &'static str,
    /// Lines, what lies on top last.
    pub lines: Vec<SpectrumLine>,
    /// Unit of the frequencies that `ticks_hz` names.
    pub unit_hz: &'static str,
    /// Places on the axis of frequency, with what is written there.
    pub ticks_hz: Vec<(f64, String)>,
    /// The same band over time.
    pub over_time: Option<LevelsOverTime>,
}

/// One line.
#[derive(Debug, Clone, PartialEq)]
pub struct SpectrumLine {
    /// Where it was received.
    pub place: String,
    /// What it is of: measurement, largest or mean.
    pub what: String,
    /// How it is drawn.
    pub style: LineStyle,
    /// Frequency and level, rising in frequency; no level where nothing was received.
    pub points: Vec<(f64, Option<f64>)>,
}

/// How a line is drawn: told apart by stroke, not by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LineStyle {
    /// Full.
    Full,
    /// Thin.
    Thin,
    /// Dashed.
    Dashed,
}

/// Levels by time and frequency.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelsOverTime {
    /// Length of its axis of time, seconds: that of all rows.
    pub length_s: f64,
    /// Places on the axis of time, with what is written there.
    pub ticks_s: Vec<(f64, String)>,
    /// Cells of a row, over the whole of the band that is drawn.
    pub cells: usize,
    /// Rows of shades from the earliest on, each from the lowest frequency on: 0 where nothing was
    /// received, else 1 for the weakest to 255 for the strongest.
    pub shades: Vec<u8>,
    /// Levels of shades 1 and 255.
    pub levels: (f64, f64),
}

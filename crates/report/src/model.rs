//! What a report says, as plain data: no layout, no markup. Each writer (a page, a printed document)
//! is a function of it.

mod spectrum;

pub use spectrum::{LevelsOverTime, LineStyle, Spectrum, SpectrumLine};
use units::Utc;

/// A report.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// What stands at its head: 'Report of a radio survey'.
    pub title: String,
    /// Name or code name of the survey.
    pub survey: String,
    /// Who answers for it, where that is recorded.
    pub author: Option<String>,
    /// When it was made.
    pub made: Utc,
    /// Lines under the title, name and value: premises, technician, validity.
    pub head: Vec<(String, String)>,
    /// What stands at the foot of every page.
    pub foot: String,
    /// Whether all of it has to fit one page.
    pub one_page: bool,
    /// Its parts, in order.
    pub sections: Vec<Section>,
}

/// A part of a report.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Section {
    /// Word to point to it with: lower-case letters and hyphens, unique in the report.
    pub id: &'static str,
    /// Number or letter, `1` or `A`; empty for one that is not numbered.
    pub number: String,
    /// Heading.
    pub title: String,
    /// Whether it begins a page.
    pub new_page: bool,
    /// What stands in it.
    pub blocks: Vec<Block>,
}

/// One piece of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum Block {
    /// A heading below the section's.
    Heading(String),
    /// The sentence that a reader should take away.
    Answer(Statement),
    /// A statement.
    Paragraph(Statement),
    /// Several statements of one kind, as a list under a few words (which may be none).
    List(Nature, &'static str, Vec<String>),
    /// Something to be heeded: its heading, then the text.
    Caution(String, String),
    /// Names and values.
    Values(Nature, Vec<(String, String)>),
    /// A table.
    Table(Table),
    /// A picture.
    Figure(Figure),
    /// Small photographs side by side.
    Pictures(Vec<Figure>),
}

/// What a statement rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nature {
    /// Recorded, measured or written down.
    Fact,
    /// Computed from what was recorded.
    Calculation,
    /// Judged by a person.
    Opinion,
}

impl Nature {
    /// The word that marks it.
    pub fn word(self) -> &'static str {
        match self {
            Nature::Fact => "fact",
            Nature::Calculation => "calculation",
            Nature::Opinion => "opinion",
        }
    }
}

/// A statement and what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Statement {
    /// What it rests on.
    pub nature: Nature,
    /// Whole sentences.
    pub text: String,
}

/// A table. Its first column heads the rows.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// What it shows, in a sentence.
    pub caption: String,
    /// What its cells rest on.
    pub nature: Nature,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, each as long as `columns`.
    pub rows: Vec<Vec<String>>,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// What stands in it, unit included.
    pub name: &'static str,
    /// How it is set.
    pub kind: ColumnKind,
}

/// How a column is set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColumnKind {
    /// Words.
    Text,
    /// Words of which there may be many: takes the width that is left.
    Wide,
    /// A short name or number that is never broken.
    Short,
    /// Numbers, set to the right.
    Number,
    /// A long code, like a hash.
    Code,
}

/// A picture, as data.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// What it shows, in a sentence.
    pub caption: String,
    /// The same in words for those who cannot see it.
    pub alternative: String,
    /// What its marks rest on.
    pub nature: Nature,
    /// What is drawn.
    pub plot: Plot,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Plot {
    /// A level at each position, on one chain.
    Levels(Levels),
    /// The spectrum around something.
    Spectrum(Box<Spectrum>),
    /// When something was on.
    OnTimes(Lanes),
    /// Levels on the floor plans.
    Plan(Plan),
    /// What words of likelihood stand for: word, from, to, rising from 0 to 1.
    Scale(Vec<(&'static str, f64, f64)>),
    /// A photograph.
    Photograph(Photograph),
}

/// Levels at positions that compare with one another.
#[derive(Debug, Clone, PartialEq)]
pub struct Levels {
    /// `dBm`, `dBFS`, or `steps of 12`.
    pub unit: String,
    /// Lower end of the axis.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// One a position, in the order in which they are drawn.
    pub points: Vec<LevelPoint>,
}

/// The level at one position.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelPoint {
    /// Name of the position.
    pub place: String,
    /// Inside, adjacent, outside or moving.
    pub zone: String,
    /// Whether the position is inside.
    pub inside: bool,
    /// Level where it was heard; where not, the limit below which it could not have been, 0 on a
    /// scale of steps.
    pub value: f64,
    /// Whether it was heard.
    pub heard: bool,
    /// Standard uncertainty, in the unit of the axis.
    pub u: Option<f64>,
}

/// Floors side by side, with what was measured on them.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// `dBm`, `dBFS`, or `steps of 12`.
    pub unit: String,
    /// Level of the smallest mark.
    pub low: f64,
    /// Level of the largest.
    pub high: f64,
    /// Floors, from below.
    pub floors: Vec<PlanFloor>,
}

/// One floor of a plan. Metres, x to the right and y up.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanFloor {
    /// Its name.
    pub name: String,
    /// Rooms: name and corners in order.
    pub rooms: Vec<(String, Vec<[f64; 2]>)>,
    /// Where was measured, and what.
    pub marks: Vec<([f64; 2], LevelPoint)>,
}

/// A photograph, without anything that its camera wrote beside it.
#[derive(Clone, PartialEq)]
pub struct Photograph {
    /// Name of the evidence file.
    pub name: String,
    /// Kind of file.
    pub kind: PhotographKind,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

impl std::fmt::Debug for Photograph {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Photograph({}, {:?}, {} bytes)", self.name, self.kind, self.bytes.len())
    }
}

/// Kinds of photographs that a report shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PhotographKind {
    /// JPEG (ITU-T T.81).
    Jpeg,
    /// PNG (ISO/IEC 15948).
    Png,
}

/// Spans of time, a lane for each measurement.
#[derive(Debug, Clone, PartialEq)]
pub struct Lanes {
    /// Length of the axis, seconds.
    pub length_s: f64,
    /// Places on the axis with what is written there, rising.
    pub ticks: Vec<(f64, String)>,
    /// Lanes, from above.
    pub lanes: Vec<Lane>,
}

/// What one measurement listened to and heard.
#[derive(Debug, Clone, PartialEq)]
pub struct Lane {
    /// Where, and which measurement.
    pub name: String,
    /// From when to when was listened, seconds from the axis' start.
    pub listened: (f64, f64),
    /// When it was on.
    pub on: Vec<(f64, f64)>,
}

/// A fact.
pub(crate) fn fact(text: impl Into<String>) -> Block {
    Block::Paragraph(Statement { nature: Nature::Fact, text: text.into() })
}

/// A calculation.
pub(crate) fn calculation(text: impl Into<String>) -> Block {
    Block::Paragraph(Statement { nature: Nature::Calculation, text: text.into() })
}

/// An opinion.
pub(crate) fn opinion(text: impl Into<String>) -> Block {
    Block::Paragraph(Statement { nature: Nature::Opinion, text: text.into() })
}

/// A column.
pub(crate) fn column(name: &'static str, kind: ColumnKind) -> Column {
    Column { name, kind }
}

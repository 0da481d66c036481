//! Regions that a rule holds in, and the loose words of the tables for them.

use std::fmt;
use std::str::FromStr;

/// Where the premises are, as finely as the tables tell places apart. UK lies in CEPT, CEPT in
/// ITU Region 1, US in Region 2, all of them in WORLD.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Region {
    /// Anywhere, or not stated.
    #[default]
    World,
    /// Europe, Africa, the Middle East, northern Asia (Radio Regulations No. 5.3).
    Itu1,
    /// The Americas.
    Itu2,
    /// The rest of Asia, Oceania.
    Itu3,
    /// The European conference of postal and telecommunications administrations: the common
    /// position; each state differs.
    Cept,
    /// United Kingdom.
    Uk,
    /// United States of America.
    Us,
}

impl Region {
    /// All of them, widest first.
    pub const ALL: [Region; 7] = [
        Region::World,
        Region::Itu1,
        Region::Itu2,
        Region::Itu3,
        Region::Cept,
        Region::Uk,
        Region::Us,
    ];

    /// The region around this one; `None` for WORLD.
    pub fn parent(self) -> Option<Region> {
        match self {
            Region::World => None,
            Region::Itu1 | Region::Itu2 | Region::Itu3 => Some(Region::World),
            Region::Cept => Some(Region::Itu1),
            Region::Uk => Some(Region::Cept),
            Region::Us => Some(Region::Itu2),
        }
    }

    /// Whether `other` is this region or lies inside it.
    pub fn contains(self, other: Region) -> bool {
        std::iter::successors(Some(other), |r| r.parent()).any(|r| r == self)
    }

    /// Steps down from WORLD: 0 for WORLD, 3 for UK. The higher, the more specific.
    pub fn depth(self) -> usize {
        std::iter::successors(self.parent(), |r| r.parent()).count()
    }

    /// Whether this is an area of many administrations (WORLD, ITU1 to 3), so that a question
    /// about it is also a question about what lies inside.
    pub fn is_area(self) -> bool {
        matches!(self, Region::World | Region::Itu1 | Region::Itu2 | Region::Itu3)
    }

    /// The word of the tables and of the command line.
    pub fn word(self) -> &'static str {
        match self {
            Region::World => "WORLD",
            Region::Itu1 => "ITU1",
            Region::Itu2 => "ITU2",
            Region::Itu3 => "ITU3",
            Region::Cept => "CEPT",
            Region::Uk => "UK",
            Region::Us => "US",
        }
    }
}

impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// A text that names no region.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a region: expected one of WORLD, ITU1, ITU2, ITU3, CEPT, UK, US")]
pub struct RegionError(pub String);

impl FromStr for Region {
    type Err = RegionError;
    fn from_str(text: &str) -> Result<Self, RegionError> {
        let same = |r: &Region| r.word().eq_ignore_ascii_case(text);
        Region::ALL.into_iter().find(same).ok_or_else(|| RegionError(text.to_owned()))
    }
}

/// How well a row answers for a region.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Applies {
    /// The row's place is the region or lies around it.
    Surely,
    /// Somewhere inside the region, in a few of its states, or by single licences.
    Perhaps,
}

/// How much of its region a place of a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Extent {
    /// All of it.
    Whole,
    /// All of it, but rare or by single licences.
    Rare,
    /// A country that is no [`Region`] of its own.
    Country,
}

/// One place of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Place {
    region: Region,
    extent: Extent,
}

/// Where a row holds: the words of its table, and what they mean.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Places {
    /// As written in the table.
    pub words: String,
    places: Vec<Place>,
}

/// Countries, and the ITU Region that they lie in.
const COUNTRIES: [(&str, Region); 10] = [
    ("Japan", Region::Itu3),
    ("China", Region::Itu3),
    ("Korea", Region::Itu3),
    ("India", Region::Itu3),
    ("Australia", Region::Itu3),
    ("New Zealand", Region::Itu3),
    ("Hong Kong", Region::Itu3),
    ("Russia", Region::Itu1),
    ("Israel", Region::Itu1),
    ("Middle East", Region::Itu1),
];

/// Words for 'here and there in the world'.
const HERE_AND_THERE: [&str; 3] = ["most of world", "by licence", "satellite"];

/// Words that make a use rare in the place they stand beside.
const RARE: [&str; 4] = ["some ", "few", "disused", "now mobile"];

impl Places {
    /// Reads 'CEPT, UK', 'US; UK indoor', 'ITU1 (few)'. `None` where a part names no place.
    pub(crate) fn parse(words: &str) -> Option<Places> {
        let mut places = Vec::new();
        for part in split(words) {
            places.push(place(&part)?);
        }
        (!places.is_empty()).then(|| Places { words: words.to_owned(), places })
    }

    /// Whether the row answers for `region`, and how surely.
    pub fn applies(&self, region: Region) -> Option<Applies> {
        let one = |p: &Place| match p.extent {
            Extent::Whole if p.region.contains(region) => Some(Applies::Surely),
            Extent::Rare if p.region.contains(region) => Some(Applies::Perhaps),
            _ => (region.is_area() && region.contains(p.region)).then_some(Applies::Perhaps),
        };
        self.places.iter().filter_map(one).min()
    }

    /// The most specific of the row's places that answers for `region`.
    pub fn nearest(&self, region: Region) -> Option<Region> {
        let around = |p: &&Place| p.extent != Extent::Country && p.region.contains(region);
        let around = self.places.iter().filter(around);
        around.map(|p| p.region).max_by_key(|r| r.depth())
    }
}

/// Parts between commas and semicolons that stand outside parentheses.
fn split(words: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut depth = 0;
    for c in words.chars() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            _ => {}
        }
        if depth == 0 && matches!(c, ',' | ';') {
            parts.push(String::new());
        } else if let Some(part) = parts.last_mut() {
            part.push(c);
        }
    }
    parts.iter().map(|p| p.trim().to_owned()).collect()
}

fn place(part: &str) -> Option<Place> {
    if let Some(&(_, region)) = COUNTRIES.iter().find(|(name, _)| part.starts_with(name)) {
        return Some(Place { region, extent: Extent::Country });
    }
    if HERE_AND_THERE.iter().any(|words| part.starts_with(words)) {
        return Some(Place { region: Region::World, extent: Extent::Rare });
    }
    let rare = RARE.iter().any(|word| part.contains(word));
    let first = part.strip_prefix("some ").unwrap_or(part).split([' ', '(']).next()?;
    let extent = if rare { Extent::Rare } else { Extent::Whole };
    Some(Place { region: first.parse().ok()?, extent })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn regions_nest() {
        assert!(Region::World.contains(Region::Uk));
        assert!(Region::Itu1.contains(Region::Uk));
        assert!(Region::Cept.contains(Region::Cept));
        assert!(!Region::Cept.contains(Region::Us));
        assert!(!Region::Uk.contains(Region::Cept));
        assert_eq!(Region::Uk.depth(), 3);
        assert_eq!("cept".parse(), Ok(Region::Cept));
        assert!("Europe".parse::<Region>().is_err());
    }

    #[test]
    fn the_words_of_the_tables_are_understood() {
        let p = |words: &str| Places::parse(words).expect("places");
        assert_eq!(p("CEPT, UK").applies(Region::Uk), Some(Applies::Surely));
        assert_eq!(p("CEPT").applies(Region::Uk), Some(Applies::Surely));
        assert_eq!(p("CEPT").applies(Region::Us), None);
        assert_eq!(p("CEPT").applies(Region::World), Some(Applies::Perhaps));
        assert_eq!(p("UK").applies(Region::Cept), None);
        assert_eq!(p("ITU1 (few)").applies(Region::Cept), Some(Applies::Perhaps));
        assert_eq!(p("UK, ITU3, some CEPT").applies(Region::Cept), Some(Applies::Perhaps));
        assert_eq!(p("UK, ITU3, some CEPT").applies(Region::Uk), Some(Applies::Surely));
        assert_eq!(p("Japan").applies(Region::Itu3), Some(Applies::Perhaps));
        assert_eq!(p("Japan").applies(Region::Us), None);
        assert_eq!(p("Israel").applies(Region::Cept), None);
        assert_eq!(p("by licence").applies(Region::Us), Some(Applies::Perhaps));
        assert_eq!(p("CEPT, UK, world (1-11 in US)").applies(Region::Us), Some(Applies::Surely));
        assert_eq!(p("world (unlicensed)").applies(Region::Us), Some(Applies::Surely));
        let wide = p("US; UK indoor; CEPT only at 25 mW");
        assert_eq!(wide.applies(Region::Cept), Some(Applies::Surely));
        assert_eq!(p("ITU1, CEPT").nearest(Region::Uk), Some(Region::Cept));
        assert_eq!(Places::parse("Atlantis"), None);
    }
}

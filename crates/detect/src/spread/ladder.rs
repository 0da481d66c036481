//! The sub-bands that are looked at: the whole band, its halves, quarters and so on, each
//! overlapped by half with the next, so that a signal of any place, and of any width down to a
//! thirty-second of the band, has one that holds most of it and little else.

/// Halvings of the band.
pub(super) const LEVELS: usize = 6;

/// A part of the band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Part {
    /// How often the band was halved.
    pub level: usize,
    /// Which of that width, from the low edge in steps of half a width.
    pub index: usize,
}

impl Part {
    /// All of a level.
    pub fn of_level(level: usize) -> impl Iterator<Item = Part> {
        (0..(2 << level) - 1).map(move |index| Part { level, index })
    }
    /// First bin and number of bins, of `n` in order of frequency.
    pub fn bins(self, n: usize) -> (usize, usize) {
        let width = n >> self.level;
        (self.index * width / 2, width)
    }
    /// Lower and upper edge as fractions of the band, 0 to 1.
    pub fn edges(self) -> (f64, f64) {
        let width = 1.0 / (1u32 << self.level) as f64;
        let low = self.index as f64 * width / 2.0;
        (low, low + width)
    }
}

//! Telling how far the work is, and being told to stop.

/// Hears of the work while it goes on. Asked several times a second.
pub trait Progress: Sync {
    /// `done` of `of` steps of `what`.
    fn step(&self, done: u64, of: u64, what: &str);
    /// Whether to stop.
    fn cancelled(&self) -> bool {
        false
    }
}

/// Hears nothing and never stops.
#[derive(Debug, Clone, Copy, Default)]
pub struct Quiet;

impl Progress for Quiet {
    fn step(&self, _done: u64, _of: u64, _what: &str) {}
}

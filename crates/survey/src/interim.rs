//! Stands in until the floors below have landed.
#![allow(missing_docs)]
pub trait Progress {
    fn step(&self, done: u64, of: u64, what: &str);
    fn cancelled(&self) -> bool {
        false
    }
}
#[derive(Debug, Clone, Copy, Default)]
pub struct Quiet;
impl Progress for Quiet {
    fn step(&self, _done: u64, _of: u64, _what: &str) {}
}

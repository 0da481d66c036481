//! A span of time, cut into cells; a cell counts as on if a burst touches it. So a single short burst
//! in a night is kept, and memory does not grow with the number of bursts.

use units::Utc;

pub(super) struct Cells {
    cell_s: f64,
    on: Vec<bool>,
}

impl Cells {
    pub(super) fn new(duration_s: f64, cells: usize) -> Self {
        let cells = cells.max(1);
        Cells { cell_s: (duration_s / cells as f64).max(1e-9), on: vec![false; cells] }
    }

    /// A burst, in seconds from the start; what lies outside is left out.
    pub(super) fn mark(&mut self, start_s: f64, stop_s: f64) {
        let cells = self.on.len();
        let end_s = self.cell_s * cells as f64;
        if !(start_s <= end_s && stop_s >= 0.0) {
            return;
        }
        let cell = |s: f64| ((s / self.cell_s).max(0.0) as usize).min(cells - 1);
        let (first, last) = (cell(start_s), cell(stop_s));
        self.on[first..=last.max(first)].fill(true);
    }

    /// What is on, rising and apart, within the span that began and ended then.
    pub(super) fn spans(&self, from: Utc, until: Utc) -> Vec<(Utc, Utc)> {
        let at = |cell: usize| from.plus_seconds(cell as f64 * self.cell_s).min(until.max(from));
        let mut spans = Vec::new();
        let mut first = None;
        for (cell, on) in self.on.iter().chain(std::iter::once(&false)).enumerate() {
            match (on, first) {
                (true, None) => first = Some(cell),
                (false, Some(start)) => {
                    spans.push((at(start), at(cell)));
                    first = None;
                }
                _ => {}
            }
        }
        spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_short_burst_in_a_night_is_kept() {
        let (from, until) = (Utc(0), Utc(0).plus_seconds(36_000.0));
        let mut cells = Cells::new(36_000.0, 2000);
        cells.mark(18_000.0, 18_000.5);
        cells.mark(50_000.0, 50_001.0);
        let spans = cells.spans(from, until);
        assert_eq!(spans.len(), 1);
        assert!(spans[0].0 <= from.plus_seconds(18_000.0));
        assert!(spans[0].1 >= from.plus_seconds(18_000.5));
        // However coarsely it is told.
        let mut one = Cells::new(36_000.0, 1);
        one.mark(18_000.0, 18_000.5);
        assert_eq!(one.spans(from, until), [(from, until)]);
    }
}

//! What emissions tell each other of the premises that they share.

use crate::chain::ln_sum;
use crate::premises::{self, SPREADS};

/// How much of the logarithm of what another emission says is believed: those of one mast share
/// their ways in (our choice, no source).
const BELIEVED: f64 = 0.5;
/// What a building takes of one carrier tells so much less of another, for each octave between them
/// (our choice, no source; materials differ by as much, ITU-R P.2040).
const PER_OCTAVE: f64 = 0.6;

/// What one emission says: of how unevenly levels lie, and given that of what the building takes.
struct Told {
    hz: f64,
    spread: Vec<f64>,
    entry: Vec<f64>,
}

/// What all say.
pub(crate) struct Others(Vec<Option<Told>>);

/// From each carrier with the ln evidence of each kind of premises; `None` for one that says nothing.
pub(crate) fn told(all: impl Iterator<Item = Option<(f64, Vec<f64>)>>) -> Others {
    let kinds = premises::all();
    let of = |one: Option<(f64, Vec<f64>)>| {
        let (hz, ln) = one?;
        // Kinds that differ in nothing but what the building takes lie `SPREADS` apart.
        let marginal = |k: usize| {
            let same = (k % SPREADS..ln.len()).step_by(SPREADS);
            let prior: f64 = same.clone().map(|k| kinds[k].prior).sum();
            let terms: Vec<f64> = same.map(|k| (kinds[k].prior / prior).ln() + ln[k]).collect();
            ln_sum(&terms)
        };
        let spread: Vec<f64> = (0..ln.len()).map(marginal).collect();
        let entry = ln.iter().zip(&spread).map(|(ln, all)| ln - all).collect();
        Some(Told { hz, spread, entry })
    };
    Others(all.map(of).collect())
}

impl Others {
    /// What all but one say to that one, at its carrier, for each kind of premises.
    pub(crate) fn to(&self, index: usize, hz: f64) -> Vec<f64> {
        let mut sum = vec![0.0; premises::all().len()];
        let others = self.0.iter().enumerate().filter(|(k, _)| *k != index);
        for told in others.filter_map(|(_, told)| told.as_ref()) {
            let octaves = (told.hz.max(1e6) / hz.max(1e6)).log2().abs();
            let near = PER_OCTAVE.powf(octaves);
            let both = told.spread.iter().zip(&told.entry);
            let say = both.map(|(spread, entry)| BELIEVED * (spread + near * entry));
            sum.iter_mut().zip(say).for_each(|(sum, say)| *sum += say);
        }
        sum
    }
}

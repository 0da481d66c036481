//! Ids of what lives with the server: they count up, and carry a word that no other start has, so that
//! one that is remembered never means another's thing after the server was started anew.

use std::collections::hash_map::RandomState;
use std::hash::{BuildHasher, Hasher};

/// Gives ids, `U1-5f0c93ab`.
#[derive(Debug)]
pub(crate) struct Ids {
    word: String,
    given: u64,
}

impl Default for Ids {
    fn default() -> Self {
        // Its keys are random, from the operating system.
        let random = RandomState::new().build_hasher().finish();
        Ids { word: format!("{:08x}", random & 0xffff_ffff), given: 0 }
    }
}

impl Ids {
    /// The next one, beginning with this letter.
    pub(crate) fn next(&mut self, letter: char) -> String {
        self.given += 1;
        format!("{letter}{}-{}", self.given, self.word)
    }
}

#[cfg(test)]
mod tests {
    use super::Ids;

    #[test]
    fn no_start_gives_the_ids_of_another() {
        let (mut one, mut other) = (Ids::default(), Ids::default());
        let given = [one.next('J'), one.next('J'), other.next('J'), other.next('J')];
        assert!(given[0].starts_with("J1-") && given[1].starts_with("J2-"), "{given:?}");
        assert!(given.iter().all(|id| given.iter().filter(|same| *same == id).count() == 1));
    }
}

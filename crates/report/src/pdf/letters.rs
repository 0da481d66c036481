//! Text as the typesetter gets it: every letter shown, or named by its number where no font has it, so
//! that nothing is left out unseen; and where a long word may be broken.

use super::fonts::has;

/// Signs that no font has, as people write them on a typewriter.
const WRITTEN: [(char, &str); 5] =
    [('≥', ">="), ('≤', "<="), ('→', "->"), ('\u{2028}', " "), ('\t', " ")];

/// Where a word may be broken. `report.typ` sets it as a space of no width, which is no letter: what
/// is copied from the document holds nothing that was not written.
const BREAK: char = '\u{200b}';
/// Letters of a word that is broken wherever it has to.
const LONG_WORD: usize = 26;
/// Letters between the places where it may be.
const PIECE: usize = 8;
/// Digits of a SHA-256 (FIPS 180-4): set small enough for a line, it is broken nowhere.
const HASH: usize = 64;

/// Makes text ready, and remembers whether a letter had to be named.
#[derive(Default)]
pub(super) struct Letters {
    named: bool,
}

impl Letters {
    /// Text of which long words may be broken, but no hash.
    pub(super) fn shown(&mut self, text: &str) -> String {
        self.broken(text, true)
    }

    /// Text of a cell that may be too narrow for a hash.
    pub(super) fn in_cell(&mut self, text: &str) -> String {
        self.broken(text, false)
    }

    /// Text that is nowhere broken.
    pub(super) fn whole(&mut self, text: &str) -> String {
        let mut out = String::with_capacity(text.len());
        let mut naming = false;
        for c in text.chars() {
            let name = c != '\n' && c != BREAK && !has(c) && written(c).is_none();
            match (naming, name) {
                (false, true) => out.push('['),
                (true, true) => out.push(' '),
                (true, false) => out.push(']'),
                (false, false) => {}
            }
            naming = name;
            self.named |= name;
            match written(c) {
                _ if name => out.push_str(&format!("U+{:04X}", u32::from(c))),
                Some(written) if !has(c) => out.push_str(written),
                _ => out.push(c),
            }
        }
        if naming {
            out.push(']');
        }
        out
    }

    /// What is to be said of letters that were named, if any were.
    pub(super) fn note(&self) -> Option<&'static str> {
        self.named.then_some(
            "Letters that the fonts of this document lack stand in it by their numbers in Unicode, in \
             brackets, like [U+4E2D]. The same report as HTML shows them as they were written.",
        )
    }

    fn broken(&mut self, text: &str, keeps_hashes: bool) -> String {
        let text = self.whole(&text.replace(BREAK, ""));
        let words = text.split(' ').map(|word| {
            let letters: Vec<char> = word.chars().collect();
            if letters.len() <= LONG_WORD {
                return word.to_owned();
            }
            let hash = keeps_hashes.then(|| hash_in(&letters)).flatten();
            let mut out = String::with_capacity(2 * word.len());
            for (k, c) in letters.iter().enumerate() {
                // No break before a last sign or two: they would stand alone in a line.
                let piece = k % PIECE == 0 && letters.len() - k > 2;
                let may = match &hash {
                    Some(hash) if k == hash.start => true,
                    Some(hash) if hash.contains(&k) => false,
                    _ => piece,
                };
                if k > 0 && may {
                    out.push(BREAK);
                }
                out.push(*c);
            }
            out
        });
        words.collect::<Vec<_>>().join(" ")
    }
}

/// Where a word holds a SHA-256.
fn hash_in(letters: &[char]) -> Option<std::ops::Range<usize>> {
    let hex = |c: &char| c.is_ascii_digit() || ('a'..='f').contains(c);
    let start = letters.windows(HASH).position(|part| part.iter().all(hex))?;
    Some(start..start + HASH)
}

fn written(c: char) -> Option<&'static str> {
    WRITTEN.iter().find(|(sign, _)| *sign == c).map(|(_, written)| *written)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_letter_is_shown_or_named() {
        let mut letters = Letters::default();
        let plain = "Łódź, Θήβα, Київ: 3 ± 1 µs, −61 dBm";
        assert_eq!(letters.shown(plain), plain);
        assert_eq!(letters.shown("a ≥ b"), "a >= b");
        assert_eq!(letters.note(), None);
        assert_eq!(letters.shown("→ 中文\u{202e} x"), "-> [U+4E2D U+6587 U+202E] x");
        assert_eq!(letters.whole("שלום"), "[U+05E9 U+05DC U+05D5 U+05DD]");
        assert!(letters.note().is_some());
    }

    #[test]
    fn long_words_may_be_broken_and_a_hash_only_where_it_has_no_room() {
        let mut letters = Letters::default();
        assert_eq!(letters.shown(&"x".repeat(30)).matches(BREAK).count(), 3);
        let hash = "0123456789abcdef".repeat(4);
        assert_eq!(letters.shown(&hash), hash);
        let path = letters.shown(&format!("evidence/01/{hash}."));
        assert!(path.contains(&format!("{BREAK}{hash}")), "{path}");
        assert_eq!(letters.in_cell(&hash).matches(BREAK).count(), 7);
        assert!(letters.in_cell(&hash).replace(BREAK, "") == hash);
    }
}

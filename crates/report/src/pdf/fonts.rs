//! The fonts of the document, and what they have no letter for.

use std::sync::LazyLock;
use typst::foundations::Bytes;
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;

const FILES: [&[u8]; 6] = [
    include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-Light.ttf"),
    include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-Regular.ttf"),
    include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-Italic.ttf"),
    include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-SemiBold.ttf"),
    include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleMono-Regular.ttf"),
    include_bytes!("../../../../data/fonts/NotoSans-Regular.ttf"),
];

/// Signs that no font has, as people write them on a typewriter.
const WRITTEN: [(char, &str); 5] =
    [('≥', ">="), ('≤', "<="), ('→', "->"), ('\u{2028}', " "), ('\t', " ")];

/// Letters of a word that is broken wherever it has to.
const LONG_WORD: usize = 26;
/// Letters between the places where it may be.
const PIECE: usize = 8;

/// All fonts, parsed once.
pub(super) struct Fonts {
    pub(super) fonts: Vec<Font>,
    pub(super) book: LazyHash<FontBook>,
}

pub(super) static FONTS: LazyLock<Fonts> = LazyLock::new(|| {
    let fonts: Vec<Font> =
        FILES.iter().filter_map(|file| Font::new(Bytes::new(*file), 0)).collect();
    let book = LazyHash::new(FontBook::from_fonts(&fonts));
    Fonts { fonts, book }
});

/// A text with every letter that can be shown; one that no font has as its code point, so that
/// nothing is left out unseen. Words too long for a line may be broken.
pub(super) fn shown(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for (i, word) in text.split(' ').enumerate() {
        if i > 0 {
            out.push(' ');
        }
        let letters = word.chars().count();
        for (k, c) in word.chars().enumerate() {
            // No break before a last sign or two: they would stand alone in a line.
            let goes_on = letters - k > 2;
            if letters > LONG_WORD && k > 0 && k % PIECE == 0 && goes_on {
                out.push('\u{200b}');
            }
            letter(&mut out, c);
        }
    }
    out
}

/// The same, nowhere broken.
pub(super) fn letters(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    text.chars().for_each(|c| letter(&mut out, c));
    out
}

fn letter(out: &mut String, c: char) {
    let covered =
        |c: char| FONTS.fonts.iter().any(|font| font.info().coverage.contains(u32::from(c)));
    match WRITTEN.iter().find(|(sign, _)| *sign == c) {
        _ if c == '\n' => out.push(c),
        _ if covered(c) => out.push(c),
        Some((_, written)) => out.push_str(written),
        None => out.push_str(&format!("[U+{:04X}]", u32::from(c))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_font_is_read_and_every_letter_is_shown_or_named() {
        assert_eq!(FONTS.fonts.len(), FILES.len());
        assert_eq!(
            shown("Łódź, Θήβα, Київ: 3 ± 1 µs, −61 dBm"),
            "Łódź, Θήβα, Київ: 3 ± 1 µs, −61 dBm"
        );
        assert_eq!(shown("a ≥ b → 中\u{202e}"), "a >= b -> [U+4E2D][U+202E]");
        assert_eq!(shown(&"x".repeat(30)).matches('\u{200b}').count(), 3);
    }
}

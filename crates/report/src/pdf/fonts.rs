//! The fonts of the document.

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

/// Whether any of the fonts has this letter.
pub(super) fn has(c: char) -> bool {
    FONTS.fonts.iter().any(|font| font.info().coverage.contains(u32::from(c)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_font_is_read() {
        assert_eq!(FONTS.fonts.len(), FILES.len());
        assert!(has('Ł') && has('µ') && !has('中'));
    }
}

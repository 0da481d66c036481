//! The font of the page, inside it: three weights, letters of western Europe. Others fall back on what
//! the reader has.

use crate::escape::base64;
use std::fmt::Write as _;

const FACES: [(u16, &[u8]); 3] = [
    (300, include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-Light-latin.woff2")),
    (400, include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-Regular-latin.woff2")),
    (600, include_bytes!("../../../../data/fonts/AtkinsonHyperlegibleNext-SemiBold-latin.woff2")),
];

/// One `@font-face` for each weight.
pub(super) fn faces() -> String {
    let mut out = String::new();
    for (weight, bytes) in FACES {
        let _ = writeln!(
            out,
            "@font-face {{ font-family: \"Atkinson Hyperlegible Next\"; font-weight: {weight}; \
             src: url(data:font/woff2;base64,{}) format(\"woff2\"); }}",
            base64(bytes)
        );
    }
    out
}

//! Text that others wrote, made safe for each place that it is put in.

/// For element content and double-quoted attributes, of HTML and XML alike. Characters that no
/// document may hold, and those that turn the direction of what follows, are shown as U+FFFD.
pub(crate) fn text(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' | '\t' => safe.push(' '),
            c if c.is_control() || turns(c) => safe.push('\u{fffd}'),
            c => safe.push(c),
        }
    }
    safe
}

/// Bidirectional controls (UAX 9) and non-characters that XML 1.0 excludes.
fn turns(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{fffe}' | '\u{ffff}')
}

/// For a string of a style sheet inside a page, without its quotes: all but plain letters, figures and
/// spaces as escapes (CSS Syntax 3, 4.3.7).
pub(crate) fn css(text: &str) -> String {
    let mut safe = String::new();
    for c in text.chars() {
        match c {
            c if c.is_ascii_alphanumeric() || c == ' ' => safe.push(c),
            c if c.is_control() || turns(c) => safe.push_str("\\fffd "),
            c => safe.push_str(&format!("\\{:x} ", u32::from(c))),
        }
    }
    safe
}

/// Base64 (RFC 4648, section 4).
pub(crate) fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for part in bytes.chunks(3) {
        let three = part.iter().fold(0u32, |sum, byte| (sum << 8) | u32::from(*byte));
        let bits = three << (8 * (3 - part.len()));
        for i in 0..4 {
            if i <= part.len() {
                let letter = (bits >> (18 - 6 * i)) & 63;
                out.push(char::from(LETTERS[letter as usize]));
            } else {
                out.push('=');
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The test vectors of RFC 4648, section 10.
    #[test]
    fn base64_is_that_of_its_standard() {
        for (bytes, is) in
            [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")]
        {
            assert_eq!(base64(bytes.as_bytes()), is);
        }
    }

    #[test]
    fn nothing_that_others_wrote_is_markup() {
        assert_eq!(
            text("<b a=\"x\" c='y'>&\u{1}\u{202e}"),
            "&lt;b a=&quot;x&quot; c=&#39;y&#39;&gt;&amp;\u{fffd}\u{fffd}"
        );
        let style = css("a\"}</style>\\");
        assert_eq!(style, "a\\22 \\7d \\3c \\2f style\\3e \\5c ");
    }
}

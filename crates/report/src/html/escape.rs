//! Text that others wrote, made safe for each place that it is put in.

/// For element content and double-quoted attributes, of HTML and XML alike. Characters that no
/// document may hold, and those that turn the direction of what follows, are shown as U+FFFD.
pub(super) fn text(text: &str) -> String {
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
pub(super) fn css(text: &str) -> String {
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

#[cfg(test)]
mod tests {
    use super::*;

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

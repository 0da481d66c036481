//! What the technician advises, in their own words.

use super::view::View;
use crate::model::{Block, Section, opinion};

/// The section, where any advice is written.
pub(super) fn section(view: &View<'_>) -> Option<Section> {
    let advice = view.statement()?.advice.as_deref()?;
    let blocks: Vec<Block> = paragraphs(advice).into_iter().map(opinion).collect();
    let title = "What we advise".to_owned();
    (!blocks.is_empty()).then(|| Section { id: "advice", title, blocks, ..Section::default() })
}

/// Paragraphs of what somebody wrote: parted by empty lines.
pub(super) fn paragraphs(text: &str) -> Vec<String> {
    let mut paragraphs = vec![String::new()];
    for line in text.lines().map(str::trim) {
        match (line.is_empty(), paragraphs.last_mut()) {
            (true, Some(last)) if !last.is_empty() => paragraphs.push(String::new()),
            (false, Some(last)) => {
                if !last.is_empty() {
                    last.push(' ');
                }
                last.push_str(line);
            }
            _ => {}
        }
    }
    paragraphs.retain(|paragraph| !paragraph.is_empty());
    paragraphs
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_line_parts_paragraphs() {
        assert_eq!(paragraphs("\n a\nb\n\n\n c \r\n"), ["a b", "c"]);
        assert!(paragraphs(" \n ").is_empty());
    }
}

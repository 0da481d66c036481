//! Text for a terminal of 100 columns. What is to be typed stays in one piece: it can be copied.

const COLUMNS: usize = 100;
const INDENT: &str = "    ";

/// A sentence, or several lines of it, over lines of at most 100 columns; those after the first of
/// each are indented. An option with its value in quotes is never parted.
pub fn wrapped(text: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let mut columns = 0;
        for piece in pieces(line) {
            let wide = piece.chars().count();
            if columns > 0 && columns + 1 + wide > COLUMNS {
                out.push('\n');
                out.push_str(INDENT);
                columns = INDENT.len();
            } else if columns > 0 {
                out.push(' ');
                columns += 1;
            }
            out.push_str(&piece);
            columns += wide;
        }
        out.push('\n');
    }
    out
}

/// Words, and what belongs together: 'words in single quotes', and an option before them.
fn pieces(line: &str) -> Vec<String> {
    let words: Vec<&str> = line.split_whitespace().collect();
    let mut pieces: Vec<String> = Vec::new();
    let mut at = 0;
    while let Some(word) = words.get(at) {
        let mut end = at + 1;
        if word.starts_with('\'') && word.matches('\'').count() == 1 {
            let closing = words.iter().skip(end).position(|word| word.contains('\''));
            end = closing.map_or(end, |n| end + n + 1);
        }
        let piece = words.get(at..end).unwrap_or_default().join(" ");
        at = end;
        match pieces.last_mut() {
            Some(option) if option.starts_with("--") && piece.starts_with('\'') => {
                option.push(' ');
                option.push_str(&piece);
            }
            _ => pieces.push(piece),
        }
    }
    pieces
}

/// Without characters that a terminal obeys: names come from files and from other people.
pub fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() && c != '\n' { '\u{fffd}' } else { c }).collect()
}

/// A number with its noun: `1 file`, `2 files`.
pub fn counted(n: u64, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_before_column_100_and_what_is_typed_is_whole() {
        let columns = "time=Time:%Y-%m-%d %H:%M,band=Band,strength=Strength/12,duration=Seconds:s";
        let text =
            format!("{} If this is right, say it: --columns '{columns}'.", "word ".repeat(12));
        let out = wrapped(&text);
        assert!(out.contains(&format!("--columns '{columns}'.")), "{out}");
        assert!(out.lines().all(|line| line.chars().count() <= 100), "{out}");
        assert_eq!(out.lines().count(), 2);
        assert_eq!(wrapped("in the Partners' room\n  | x"), "in the Partners' room\n| x\n");
        assert_eq!(wrapped(""), "");
    }

    #[test]
    fn a_terminal_is_given_no_orders() {
        assert_eq!(printable("a\u{1b}[2Jb\nc"), "a\u{fffd}[2Jb\nc");
    }
}

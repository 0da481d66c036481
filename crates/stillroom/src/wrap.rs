//! Text as wide as the terminal, within limits. What is to be typed stays in one piece: it can be copied.

use std::path::Path;

/// Where no terminal says how wide it is: a file, a pipe.
const COLUMNS: usize = 100;
/// Narrower, tables break; wider, lines are hard to read.
const LIMITS: (usize, usize) = (80, 160);
const INDENT: &str = "    ";

/// Columns of the output: as COLUMNS says, else the terminal, within limits; 100 without either.
pub fn columns() -> usize {
    let said = std::env::var("COLUMNS").ok().and_then(|text| text.trim().parse().ok());
    let terminal =
        || terminal_size::terminal_size_of(std::io::stdout()).map(|(wide, _)| usize::from(wide.0));
    said.or_else(terminal).map_or(COLUMNS, |wide| wide.clamp(LIMITS.0, LIMITS.1))
}

/// A sentence, or several lines of it, over lines as wide as the output; those after the first of
/// each are indented. An option with its value in quotes is never parted, and a line that shows a
/// place of a file (`3 | key = …`, `  |   ^`) stays as it is.
pub fn wrapped(text: &str) -> String {
    wrapped_to(text, self::columns())
}

fn wrapped_to(text: &str, most: usize) -> String {
    let mut out = String::new();
    for line in text.lines() {
        if line.trim_start_matches(|c: char| c == ' ' || c.is_ascii_digit()).starts_with('|') {
            out.push_str(line.trim_end());
            out.push('\n');
            continue;
        }
        let mut columns = 0;
        for piece in pieces(line) {
            let wide = piece.chars().count();
            if columns > 0 && columns + 1 + wide > most {
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

/// A path within a line of text: a name may hold what would end the line.
pub fn path(path: &Path) -> String {
    capture::one_line(&path.to_string_lossy())
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
        let out = wrapped_to(&text, COLUMNS);
        assert!(out.contains(&format!("--columns '{columns}'.")), "{out}");
        assert!(out.lines().all(|line| line.chars().count() <= 100), "{out}");
        assert_eq!(out.lines().count(), 2);
        assert_eq!(wrapped("in the Partners' room\nx"), "in the Partners' room\nx\n");
        let shown = "line 2, column 8\n  |\n2 | name = \n  |        ^\nexpected a string";
        let kept = "line 2, column 8\n  |\n2 | name =\n  |        ^\nexpected a string\n";
        assert_eq!(wrapped(shown), kept);
        assert_eq!(wrapped(""), "");
    }

    #[test]
    fn a_terminal_is_given_no_orders() {
        assert_eq!(
            path(Path::new("a.cu8\nnothing is altered\r\u{1b}[2J")),
            "a.cu8\\nnothing is altered\\r\\u{1b}[2J"
        );
        assert_eq!(printable("a\u{1b}[2Jb\nc"), "a\u{fffd}[2Jb\nc");
    }
}

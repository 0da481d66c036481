//! Numbers and lists in the sentences that are printed, with their units.

/// A frequency, `433.920 MHz`.
pub fn frequency(hz: f64) -> String {
    match hz.abs() {
        size if size >= 1e9 => format!("{:.4}\u{a0}GHz", hz / 1e9),
        size if size >= 1e6 => format!("{:.3}\u{a0}MHz", hz / 1e6),
        size if size >= 1e3 => format!("{:.2}\u{a0}kHz", hz / 1e3),
        _ => format!("{hz:.0}\u{a0}Hz"),
    }
}

/// A length of time.
pub fn length(s: f64) -> String {
    match s {
        s if s >= 3600.0 => {
            let minutes = (s / 60.0).round() as u64;
            format!("{}\u{a0}h\u{a0}{:02}\u{a0}min", minutes / 60, minutes % 60)
        }
        s if s >= 120.0 => format!("{:.1}\u{a0}min", s / 60.0),
        s if s >= 1.0 => format!("{s:.1}\u{a0}s"),
        s if s >= 1e-3 => format!("{:.1}\u{a0}ms", s * 1e3),
        s => format!("{:.0}\u{a0}µs", s * 1e6),
    }
}

/// `1 emission`, `2 emissions`.
pub fn counted(n: u64, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

/// Names in a row: `a, b and c`.
pub fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Ids in a row, three or more that follow each other as a range: `C1, C3 to C5 and C8`.
pub fn ids(ids: &[String]) -> String {
    let mut runs: Vec<Vec<&String>> = Vec::new();
    for id in ids {
        match runs.last_mut().filter(|run| run.last().is_some_and(|last| follows(last, id))) {
            Some(run) => run.push(id),
            None => runs.push(vec![id]),
        }
    }
    let told = runs.iter().flat_map(|run| match run[..] {
        [first, _, .., last] if run.len() > 2 => vec![format!("{first} to {last}")],
        _ => run.iter().map(|id| (*id).clone()).collect(),
    });
    listed(&told.collect::<Vec<_>>())
}

/// Whether two ids are alike but for the number at their end, which is the next.
fn follows(id: &str, next: &str) -> bool {
    let parts = |id: &str| {
        let digits = id.trim_end_matches(|c: char| c.is_ascii_digit()).len();
        let number = id[digits..].parse::<u64>().ok()?;
        Some((id[..digits].to_owned(), number))
    };
    matches!((parts(id), parts(next)), (Some((a, m)), Some((b, n))) if a == b && m.checked_add(1) == Some(n))
}

/// With a capital letter at its head and a full stop at its end.
pub fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut letters = text.chars();
    let head = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    let stop = if text.ends_with(['.', '!', '?', '…']) || text.is_empty() { "" } else { "." };
    format!("{head}{}{stop}", letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_that_follow_each_other_are_a_range() {
        let told = |list: &[&str]| ids(&list.iter().map(|&id| id.to_owned()).collect::<Vec<_>>());
        assert_eq!(told(&[]), "");
        assert_eq!(told(&["C2", "C3"]), "C2 and C3");
        assert_eq!(told(&["C2", "C3", "C4"]), "C2 to C4");
        assert_eq!(told(&["C1", "C3", "C4", "C5", "C8"]), "C1, C3 to C5 and C8");
        assert_eq!(told(&["C9", "C10", "C11", "K12"]), "C9 to C11 and K12");
        assert_eq!(told(&["C1.1", "C1.2", "C1.3", "C2.4"]), "C1.1 to C1.3 and C2.4");
        assert_eq!(
            told(&["yard", "yard", "C18446744073709551615"]),
            "yard, yard and C18446744073709551615"
        );
    }

    #[test]
    fn numbers_carry_their_units() {
        assert_eq!(frequency(433_920_000.0), "433.920\u{a0}MHz");
        assert_eq!(length(7_260.0), "2\u{a0}h\u{a0}01\u{a0}min");
        assert_eq!(listed(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}

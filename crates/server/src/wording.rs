//! The survey's refusals name what is typed on a command line; here they are told so that they hold
//! for a page as well.

use units::Reason;

/// Whole phrases, said better for a page.
const PHRASES: &[(&str, &str)] = &[
    ("Write it into the record first (`describe --apply`).", "Write it into the record first."),
    ("correct the position with `describe --apply`", "correct the position in the record"),
    ("Save one in the record (`describe --apply`), or give", "Save one in the record, or give"),
    ("the columns with --columns.", "the columns."),
    ("first (`note --arrived POSITION --when TIME`).", "first."),
    ("Give --at POSITION,", "Give a position,"),
    ("no --at, no position in its rows", "no position given, none in its rows"),
    ("Say where, like --at boardroom.", "Say where, like 'boardroom'."),
    ("State it with --chain NAME and --gain DB.", "State its chain and gain."),
    ("Give the version that `emissions --json` printed.", "Get the ledger as it is now."),
    ("Give it with --reason; it stays", "Give it; it stays"),
    ("say so with --although-apart and give the reason.", "say so and give the reason."),
    ("Give --ground seen,", "Give a ground: seen,"),
    ("set the capture aside with `amend --set-aside REASON`", "set the capture aside"),
    ("Give it with --centre, like --centre 433.92MHz.", "Give the centre frequency."),
    (
        "use `amend`; if it counts for both, add it with --again.",
        "correct that capture; if it counts for both, say so and import it again.",
    ),
    ("State it with --from and --until.", "State both times."),
    ("State them with --bands.", "State the bands."),
    ("`add --help` says how columns are named.", "Columns are named KEY=COLUMN[:UNIT],…"),
    ("Take what `describe` prints, and edit that.", "Take the record as it is, and edit that."),
    ("`describe` lists the captures.", "The list of captures has them all."),
    (" (`describe` lists them)", ""),
    (" (`reanalyse` tries again)", " (analysing again tries it anew)"),
    ("`undo` without a number lists", "The journal lists"),
    (
        "Give --strength 7/12, --level -61dBm or --bearing DEG.",
        "Give a strength, level or bearing.",
    ),
    ("Give --frequency HZ or --emission ID.", "Give a frequency, a band or a row."),
];

/// What a command does, by its word.
const COMMANDS: &[(&str, &str)] = &[
    ("add", "an import"),
    ("amend", "a correction of the capture"),
    ("analyse", "the analysis"),
    ("decide", "a decision"),
    ("describe", "the record"),
    ("emissions", "the ledger"),
    ("join", "a join"),
    ("new", "starting a survey"),
    ("note", "a note"),
    ("reanalyse", "analysing again"),
    ("split", "a split"),
    ("undo", "taking back"),
    ("verify", "the verification"),
];

/// A text of the survey without commands and options.
pub(crate) fn neutral(text: &str) -> String {
    let mut text = text.to_owned();
    for (typed, said) in PHRASES {
        if text.contains(typed) {
            text = text.replace(typed, said);
        }
    }
    options(&commands(&text))
}

/// The same of reasons.
pub(crate) fn reasons(mut reasons: Vec<Reason>) -> Vec<Reason> {
    reasons.iter_mut().for_each(|reason| reason.text = neutral(&reason.text));
    reasons
}

/// What stands between back quotes and begins with a command's word becomes what that does.
fn commands(text: &str) -> String {
    let mut out = String::new();
    for (i, part) in text.split('`').enumerate() {
        let word = part.split(' ').next().unwrap_or_default();
        let known = COMMANDS.iter().find(|(command, _)| i % 2 == 1 && *command == word);
        match known {
            Some((_, does)) if out.is_empty() || out.ends_with(". ") => {
                let mut letters = does.chars();
                out.extend(letters.next().map(|c| c.to_ascii_uppercase()));
                out.push_str(letters.as_str());
            }
            Some((_, does)) => out.push_str(does),
            None if i % 2 == 1 => out.extend(["`", part, "`"]),
            None => out.push_str(part),
        }
    }
    out
}

/// `--time-zone` becomes 'time zone'.
fn options(text: &str) -> String {
    let word = |word: &str| {
        let head = word.find("--").filter(|at| word[..*at].chars().all(|c| "('".contains(c)))?;
        let name = &word[head + 2..];
        let end = name.find(|c: char| !(c.is_ascii_lowercase() || c == '-')).unwrap_or(name.len());
        let (name, rest) = name.split_at(end);
        (!name.is_empty()).then(|| format!("{}'{}'{rest}", &word[..head], name.replace('-', " ")))
    };
    let words = text.split(' ').map(|one| word(one).unwrap_or_else(|| one.to_owned()));
    words.collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::neutral;

    #[test]
    fn what_is_typed_is_said_for_a_page_too() {
        for (typed, said) in [
            ("`emissions` lists them.", "The ledger lists them."),
            ("Run `verify`, keep this folder.", "Run the verification, keep this folder."),
            ("Correct --from and --until.", "Correct 'from' and 'until'."),
            (
                "Leave --zone out, or correct the position with `describe --apply`.",
                "Leave 'zone' out, or correct the position in the record.",
            ),
            (
                "C3, set aside (x): `amend C3 --restore` lets it count again.",
                "C3, set aside (x): a correction of the capture lets it count again.",
            ),
            ("--time-zone is UTC there", "'time zone' is UTC there"),
            // Names that a person gave stay as they are.
            (
                "a--b.csv: no `colour` here -- and nothing else",
                "a--b.csv: no `colour` here -- and nothing else",
            ),
        ] {
            assert_eq!(neutral(typed), said);
        }
    }
}

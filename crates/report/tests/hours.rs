//! The table of hours, read back by another reader than its writer's.

#![allow(missing_docs)]
// A test may look into its own folders.
#![allow(clippy::disallowed_methods)]

mod made;

use made::office;
use survey::Note;
use units::Utc;

#[test]
fn hours_say_what_they_are_made_of() {
    let made = office("Heron");
    let at = |text: &str| Some(Utc::parse(text).expect("a time"));
    for (from, until) in [
        ("2026-03-01T20:00:00Z", "2026-03-01T20:30:00Z"),
        ("2026-03-01T21:00:00Z", "2026-03-01T21:30:00Z"),
        ("2026-03-02T06:00:00Z", "2026-03-02T06:15:00Z"),
    ] {
        let text = "walked, with a \"known\" sender".to_owned();
        let remark = Note::Remark { text, at: None, from: at(from), until: at(until) };
        made.survey.note(&remark, "T. Ashdown").expect("noted");
    }
    let table = report::hours(&made.facts()).expect("a table");
    let mut lines = table.lines();
    assert_eq!(lines.next(), Some("kind,who,date,from,until,hours,traces,made_of"));
    let rows: Vec<Vec<&str>> = lines.map(|line| line.splitn(8, ',').collect()).collect();
    let of = |kind: &str| rows.iter().filter(|row| row[0] == kind).collect::<Vec<_>>();
    // 21:00 to 22:30 in Vienna, then 07:00 to 07:15: half an hour between the first two is work.
    let site = of("on site");
    assert_eq!(site.len(), 2, "{table}");
    assert_eq!(
        site[0][1..7],
        ["T. Ashdown", "2026-03-01", "2026-03-01 21:00:00", "2026-03-01 22:30:00", "1.50", "2"]
    );
    assert_eq!(site[1][5], "0.25");
    // Recorders ran from 20:00 and from 21:00 UTC: 59 minutes apart.
    let recording = of("recording");
    assert_eq!(recording.len(), 1, "{table}");
    assert_eq!(recording[0][5], "1.18");
    assert!(of("desk").iter().all(|row| row[1] == "T. Ashdown"));
    assert!(!of("desk").is_empty());
}

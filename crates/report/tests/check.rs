//! How the known test sender read, as a report says it, against what was put into the recordings.

#![allow(missing_docs)]
// A test may look into its own folders.
#![allow(clippy::disallowed_methods)]

mod made;

use ledger::Role;
use made::xml::{self, Element};
use made::{Made, survey};
use report::{full, html};

fn page(made: &Made) -> Vec<Element> {
    let page = html(&full(&made.facts()).expect("a report")).replace('\u{a0}', " ");
    xml::read(&page).expect("well-formed")
}

fn coverage(elements: &[Element]) -> String {
    let found = elements.iter().find(|e| e.attribute("aria-labelledby") == Some("coverage"));
    found.expect("the coverage").text.clone()
}

/// A room measured with two chains, one of them checked in two places. The sender was on at the bench
/// alone; beside it a louder stranger.
fn checked() -> Made {
    let made = survey("Heron");
    made.record(
        "2026-03-01T18:00:00Z",
        Role::Check,
        "Bench",
        &[(433.9e6, -60.0), (468.5e6, -30.0)],
    );
    made.record("2026-03-01T18:10:00Z", Role::Check, "Study", &[(468.5e6, -30.0)]);
    made.record("2026-03-01T19:00:00Z", Role::Room, "Study", &[(468.5e6, -30.0)]);
    made.record_with("2026-03-01T20:00:00Z", Role::Room, "Study", &[(468.5e6, -30.0)], |options| {
        options.chain = Some("sweeper".into());
    });
    let text = made.survey.describe().expect("the record");
    let calibrated =
        text.replace("name = \"recorder\"", "name = \"recorder\"\ncalibration_db = 5.0");
    assert_ne!(text, calibrated);
    made.describe(&calibrated);
    made
}

#[test]
fn a_sender_that_the_record_does_not_name_is_said_to_be_missing() {
    let made = checked();
    let said = coverage(&page(&made));
    assert!(said.contains("A known sender was measured (C1 and C2), but the record does not say"));
    let seen = made.survey.coverage().expect("the coverage").checks;
    assert!(seen.iter().all(|one| one.sender.is_none()) && seen.len() == 3, "all that was heard");
}

#[test]
fn the_sender_is_told_from_the_rest_and_compared_with_what_it_should_read() {
    let made = checked();
    made.describe(
        "[[known_devices]]\nowner = \"own kit\"\nwhat = \"test sender\"\ntest_sender = true\n\
         should_read_dbm = -72.0\nband = { low_hz = 433.9e6, high_hz = 433.9e6 }\n",
    );
    let elements = page(&made);
    let said = coverage(&elements);
    // -60 dBFS at a gain of 20 dB, calibrated at 5 dB: -75 dBm, 3 dB under what it should read.
    for word in ["−75 dBm", "−72 dBm", "−3 dB", "test sender, 433.900 MHz", "C1, ", "not heard"]
    {
        assert!(said.contains(word), "{word}: {said}");
    }
    assert!(said.contains("1 reading was without it."), "{said}");
    assert!(said.contains("No known sender was measured with sweeper:"), "{said}");
    let seen = made.survey.coverage().expect("the coverage").checks;
    assert_eq!(seen.len(), 2, "one for each place, and the stranger is none");
    assert!((seen[0].off_db.expect("compared") + 3.0).abs() < 1e-9);
    assert!((seen[0].centre_hz - 433.9e6).abs() < 1.0 && seen[0].emission.is_some());
    assert!(seen[1].emission.is_none() && seen[1].level_dbm.is_none());
}

#[test]
fn a_sender_needs_a_frequency_and_nothing_else_should_read_something() {
    let made = survey("Heron");
    let device = "[[known_devices]]\nowner = \"own kit\"\nwhat = \"test sender\"\n";
    for (more, why) in [
        ("test_sender = true\n", "told from the rest by its frequency"),
        ("should_read_dbm = -40.0\n", "only a test sender"),
    ] {
        let refused = made.survey.apply(&format!("{device}{more}"), "T. Ashdown");
        let said = refused.expect_err("refused").to_string();
        assert!(said.contains(why), "{said}");
    }
}

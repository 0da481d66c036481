//! What a report says of what is missing: only what is, room by room and row by row.

#![allow(missing_docs)]
// A test may look into its own folders.
#![allow(clippy::disallowed_methods)]

mod made;

use ledger::{MayBe, Role, State};
use made::{Made, office, survey};
use report::{Facts, full, html};

/// What the report says.
fn said(made: &Made) -> String {
    text(&made.facts())
}

fn text(facts: &Facts) -> String {
    let page = html(&full(facts).expect("a report")).replace('\u{a0}', " ");
    let elements = made::xml::read(&page).expect("well-formed");
    elements.iter().find(|e| e.name == "main").expect("a main part").text.clone()
}

/// The sentences of the text that begin so.
fn sentence<'a>(text: &'a str, begins: &str) -> &'a str {
    let at = text.find(begins).unwrap_or_else(|| panic!("'{begins}' is not said: {text}"));
    text[at..].lines().next().unwrap_or_default()
}

#[test]
fn how_a_room_was_is_told_of_each_room() {
    let made = survey("Heron");
    let record = |at: &str, hour: u32, condition: Option<&str>| {
        let start = format!("2026-03-01T{hour}:00:00Z");
        made.record_with(&start, Role::Room, at, &[(433.1e6, -60.0)], |options| {
            options.condition = condition.map(str::to_owned);
        });
    };
    record("Board room", 18, Some("meeting"));
    record("Board room", 19, Some("empty"));
    record("Kitchen", 20, Some("empty"));
    record("Study", 21, None);
    record("Hall", 22, Some("empty"));
    record("Hall", 23, None);
    let text = said(&made);
    // A meeting in one room says nothing of another.
    assert!(sentence(&text, "Measured only while empty:").contains("empty: Kitchen. There"));
    assert!(sentence(&text, "Measured while empty, and otherwise").contains("not stated: Hall."));
    assert!(sentence(&text, "Whether the room was in use").contains("not stated for Study."));
}

#[test]
fn rooms_listened_to_with_gaps_are_told_as_such() {
    let made = survey("Heron");
    let row = [(433.1e6, -60.0)];
    made.record("2026-03-01T18:00:00Z", Role::Room, "Kitchen", &row);
    assert!(
        !said(&made).contains("without a gap in") && !said(&made).contains("only with gaps in")
    );
    made.listen(("2026-03-01T19:00:00Z", 12.0), Role::Room, "Study", &row, |_| {});
    let text = said(&made);
    let gaps = sentence(&text, "No band was listened to without a gap in");
    assert!(gaps.contains("in Study: bands were looked at in turns"), "{gaps}");
    assert!(text.contains("The longest listening, in any band: Kitchen 60.0 s."), "{text}");
}

#[test]
fn what_cannot_be_said_is_told_as_the_survey_tells_it() {
    let made = office("Heron");
    made.record("2026-03-01T23:00:00Z", Role::Room, "Attic", &[]);
    let limits = made.survey.coverage().expect("coverage").cannot_say;
    let text = said(&made);
    assert!(limits.len() > 4, "{limits:?}");
    for limit in limits {
        assert!(text.contains(&limit.replace('\u{a0}', " ")), "{limit}");
    }
    let nothing = survey("Nothing").survey.coverage().expect("coverage").cannot_say;
    assert_eq!(nothing[0], "No room was listened to: this survey says nothing of any.");
}

#[test]
fn what_was_done_already_is_not_advised() {
    let made = office("Heron");
    made.decide(446.2e6, State::Unresolved, "heard twice only");
    let text = said(&made);
    // Samples in the yard and in both rooms, on one chain.
    assert!(!text.contains("Would tell inside from outside"), "{text}");
    assert!(!text.contains("a recording of samples at this frequency"), "{text}");
    assert!(text.contains("could not be told from the samples in C1 to C3"), "{text}");

    let within = survey("Within");
    within.record("2026-03-01T20:00:00Z", Role::Room, "Study", &[(433.1e6, -60.0)]);
    within.decide(433.1e6, State::Unresolved, "nothing to compare with");
    let told = "Would tell inside from outside: a reference outside, with recorder, at the same";
    assert!(said(&within).contains(told), "{}", said(&within));
    within.record_with("2026-03-01T21:00:00Z", Role::Reference, "Yard", &[], |options| {
        options.chain = Some("sweeper".into());
    });
    let told = "one equipment at both: the rooms were listened to with recorder, the reference \
                outside with sweeper";
    assert!(said(&within).contains(told), "{}", said(&within));
}

#[test]
fn words_of_likelihood_have_their_scale_where_they_stand() {
    let made = office("Heron");
    made.decide(446.2e6, State::Unresolved, "heard twice only");
    let mut facts = made.facts();
    let body = |facts: &Facts| {
        let text = text(facts);
        text[..text.find("Probabilities").expect("the annex")].to_owned()
    };
    let scale = "Words of likelihood in this report stand for these probabilities";
    assert!(!body(&facts).contains(scale), "no such word is used");
    let row = facts.ledger.emissions.iter_mut().find(|r| r.decision.state == State::Unresolved);
    row.expect("the row").may_be.push(MayBe { id: "E9".into(), probability: 0.4 });
    let text = body(&facts);
    let word = text.find("as likely as not the same emission as E9").expect("said");
    assert_eq!(text.matches(scale).count(), 1, "once");
    assert!(text.find(scale).expect("printed") < word, "before it is used");
}

//! Evidence that was replaced is told as such, and no stranger's.

#![allow(missing_docs)]
// A test may look into its own folders.
#![allow(clippy::disallowed_methods)]

mod common;

use common::{new_survey, place};
use survey::Quiet;

/// Start and end of a PNG (W3C PNG, 5.2 and 11.2.5), and a letter behind it to tell them apart.
fn plan(letter: u8) -> Vec<u8> {
    [b"\x89PNG\r\n\x1a\n\0\0\0\0IEND\xae\x42\x60\x82".as_slice(), &[letter]].concat()
}

#[test]
fn a_plan_that_was_replaced_is_told_by_name_and_entry() {
    let place = place();
    let survey = new_survey(place.path());
    survey.apply("[[floors]]\nname = \"ground\"\n", "T").expect("applied");
    for (name, letter) in [("first.png", b'a'), ("second.png", b'b')] {
        let path = place.path().join(name);
        std::fs::write(&path, plan(letter)).expect("written");
        survey.plan_image("L1", &path, "T", &Quiet).expect("brought in");
    }
    let entry = survey.journal().expect("a journal").last().expect("entries").seq;
    let found = survey.verify(&Quiet).expect("verified");
    assert!(found.ok && found.files == 1);
    let [told] = &found.warnings[..] else { panic!("{:?}", found.warnings) };
    let said = format!("(first.png) was evidence of floor L1 until entry {entry} of the journal");
    assert!(told.contains(&said) && told.ends_with("is kept, as it came in"), "{told}");

    let path = place.path().join("case").join(told.split(' ').next().expect("a path"));
    assert_eq!(std::fs::read(&path).expect("kept"), plan(b'a'));
    std::fs::remove_file(&path).expect("removed");
    std::fs::write(&path, plan(b'c')).expect("written");
    let found = survey.verify(&Quiet).expect("verified");
    assert!(found.warnings[0].contains("but it is altered: its bytes hash to"), "{found:?}");

    let stranger = path.with_file_name("0".repeat(64));
    std::fs::write(stranger, "nobody's").expect("written");
    let found = survey.verify(&Quiet).expect("verified");
    let strange = |told: &&String| told.contains("belongs to nothing in the record");
    assert_eq!(found.warnings.iter().filter(strange).count(), 1, "{found:?}");
}

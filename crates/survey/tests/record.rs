//! The record: what is noted, described as text, edited and applied; what cannot be true is refused.

mod common;

use common::*;
use std::fs;
use survey::{Note, Quiet, ReadingNote};
use units::{Band, Strength};

#[test]
fn notes_are_kept_with_what_they_say() {
    let place = place();
    let survey = small(place.path());
    let reading = ReadingNote {
        at: "boardroom".into(),
        band: Some(Band::new(433.5e6, 433.5e6)),
        strength: Some(Strength { value: 7.0, of: 12.0 }),
        heard: Some("hum".into()),
        ..ReadingNote::default()
    };
    assert_eq!(survey.note(&Note::Reading(reading.clone()), "").expect("noted"), "N1");
    let beyond =
        ReadingNote { strength: Some(Strength { value: 13.0, of: 12.0 }), ..reading.clone() };
    assert!(survey.note(&Note::Reading(beyond), "").is_err());
    let nothing = ReadingNote { strength: None, ..reading.clone() };
    assert!(survey.note(&Note::Reading(nothing), "").is_err());
    let unknown = ReadingNote { emission: Some("E77".into()), ..reading };
    assert!(survey.note(&Note::Reading(unknown), "").is_err());
    let from = survey.time("2026-07-01T21:30").expect("local time");
    assert_eq!(from.to_string(), "2026-07-01T20:30:00Z", "British summer time");
    let music = Note::Stimulus {
        what: "music".into(),
        at: Some("boardroom".into()),
        from: Some(from),
        until: None,
    };
    assert_eq!(survey.note(&music, "").expect("noted"), "S1");
    let seen = Note::Remark { text: "van left".into(), at: None, from: None, until: None };
    assert_eq!(survey.note(&seen, "").expect("noted"), "B1");
    let record = survey.describe().expect("a text");
    for part in ["[[readings]]", "heard = \"hum\"", "[[stimuli]]", "[[remarks]]", "van left"] {
        assert!(record.contains(part), "{part} in\n{record}");
    }
}

#[test]
fn the_record_is_text_that_can_be_edited_and_applied() {
    let place = place();
    let survey = small(place.path());
    let text = survey.describe().expect("a text");
    assert!(survey.apply(&text, "").expect("the same").is_empty(), "no difference:\n{text}");
    let capture = "# C2: room at boardroom, chain receiver A, 2026-03-01T21:00:00Z, 60.0 s, board";
    assert!(text.lines().any(|line| line == capture), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 100), "{text}");
    let edited = text.replace("name = \"boardroom\"", "name = \"boardroom\"\nx_m = 3.5\ny_m = 2");
    assert_ne!(edited, text);
    let edited = format!(
        "{edited}\n[brief]\nleaked = \"the tender\"\nfeared = [\"voice-fm\"]\n\n\
         [[authority]]\nwho = \"the owner\"\nright = \"owner\"\nrooms = [\"boardroom\"]\n\
         from = \"2026-03-01T18:00:00Z\"\nlistening = true\n\n\
         [[known_devices]]\nowner = \"client\"\nwhat = \"cordless telephone\"\n\n\
         [[found_items]]\nwhat = \"a socket with wires\"\nradiating = true\nemissions = [\"E2\"]\n\
         [[found_items.custody]]\nfrom = \"room\"\nto = \"lawyer\"\n\n\
         [[identities]]\nemission = \"{}\"\nidentity = \"02:00:5e:00:53:01\"\n\n\
         [[mappings]]\nname = \"my detector\"\ncolumns = \"time=1,band=2\"\n",
        row_at(&survey, 433_500)
    );
    let entries = survey.journal().expect("entries").len();
    let shown = survey.differences(&edited).expect("differences");
    let applied = survey.apply(&edited, "B. Ito").expect("applied");
    assert_eq!(shown, applied);
    assert_eq!(applied.len(), 7);
    assert_eq!(survey.journal().expect("entries").len(), entries + 7, "one entry each");
    let lines: Vec<_> = applied.iter().map(ToString::to_string).collect();
    assert!(
        lines.contains(&"position P2 (boardroom): x_m nothing → 3.5, y_m nothing → 2".into()),
        "{lines:#?}"
    );
    assert!(survey.apply(&survey.describe().expect("text"), "").expect("same").is_empty());
    let ledger = survey.ledger(&Quiet).expect("a ledger").ledger;
    let row = ledger.emissions.iter().find(|r| r.identity.is_some()).expect("identified");
    assert_eq!(row.identity.as_deref(), Some("02:00:5e:00:53:01"));
    assert_eq!(survey.mapping("my detector").expect("saved"), "time=1,band=2");
    assert!(survey.mapping("other").is_err());
    // Positions may be written by name, also one that the same text makes.
    let text = survey.describe().expect("text");
    let more = "\n[[positions]]\nname = \"attic\"\nzone = \"adjacent\"\n\n\
                [[movements]]\nposition = \"attic\"\nat = \"2026-03-01T23:00:00Z\"\n\n\
                [[movements]]\nposition = \"yard\"\nat = \"2026-03-01T23:05:00Z\"\n";
    survey.apply(&format!("{text}{more}"), "").expect("applied");
    let text = survey.describe().expect("text");
    assert!(text.contains("id = \"V1\"\nposition = \"P4\""), "{text}");
    assert!(text.contains("id = \"V2\"\nposition = \"P1\""), "{text}");
    // What would leave a capture nowhere, or says nonsense, changes nothing.
    let entries = survey.journal().expect("entries").len();
    for (bad, part) in [
        ("[[positions]]\nname = \"only one\"\nzone = \"inside\"\n", "is at position"),
        ("[[positions]]\nid = \"P77\"\nname = \"x\"\nzone = \"inside\"\n", "no position P77"),
        ("[[positions]]\nname = \"x\"\nzone = \"upstairs\"\n", "upstairs"),
        ("[[chains]]\nname = \"a\"\ncolour = \"red\"\n", "colour"),
        ("[[colours]]\nname = \"a\"\n", "colours"),
        ("[survey]\nname = \"x\"\nregion = \"MARS\"\ntime_zone = \"UTC\"\n", "MARS"),
        ("[survey]\nname = \"x\"\nregion = \"UK\"\ntime_zone = \"Mars/Base\"\n", "Mars/Base"),
        ("name = ", "TOML"),
    ] {
        let refused = survey.apply(bad, "").expect_err(bad);
        assert_eq!(refused.exit_code(), 2);
        assert!(refused.to_string().contains(part), "{part}: {refused}");
    }
    assert_eq!(survey.journal().expect("entries").len(), entries);
    assert!(survey.verify(&Quiet).expect("verified").ok);
}

#[test]
fn photographs_of_a_found_item_are_evidence() {
    let place = place();
    let survey = small(place.path());
    let photo = place.path().join("socket.jpg");
    fs::write(&photo, [0xff, 0xd8, 0xff, 0xd9]).expect("written");
    let files = [photo];
    assert!(survey.photograph("F1", &files, "", &Quiet).is_err(), "no such item");
    survey.apply("[[found_items]]\nwhat = \"a socket with wires\"\n", "").expect("applied");
    let cut = place.path().join("cut.jpg");
    fs::write(&cut, [0xff, 0xd8, 0xff]).expect("written");
    let refused = survey.photograph("F1", &[cut], "", &Quiet).expect_err("cut off").to_string();
    assert!(refused.starts_with("'cut.jpg' is not whole"), "{refused}");
    let kept = survey.photograph("F1", &files, "B. Ito", &Quiet).expect("kept");
    assert_eq!(kept[0].bytes, 4);
    survey.photograph("F1", &files, "B. Ito", &Quiet).expect("there already");
    let photographs = survey.journal().expect("entries");
    assert_eq!(photographs.iter().filter(|entry| entry.kind == "photograph").count(), 1);
    assert!(survey.describe().expect("text").contains("socket.jpg"));
    let check = survey.verify(&Quiet).expect("checked");
    assert_eq!((check.ok, check.files), (true, 4));
    fs::remove_file(survey.evidence_path(&kept[0].sha256)).expect("removed");
    let check = survey.verify(&Quiet).expect("checked");
    assert!(check.faults[0].to_string().contains("found item F1"), "{:?}", check.faults);
}

#[test]
fn a_record_that_cannot_be_true_is_refused() {
    let place = place();
    let survey = small(place.path());
    let entries = survey.journal().expect("entries").len();
    for (text, words) in [
        ("[[chains]]\nname = \"k\"\ncalibration_db = nan\n", "chains.calibration_db is NaN"),
        ("[[chains]]\nname = \"k\"\ncalibration_db = 1e6\n", "a calibration of 1e6 dB"),
        ("[[chains]]\nname = \"k\"\nscale_steps = -3\n", "steps from 1 on"),
        ("[[chains]]\nname = \"k\"\nclock_s = 1e300\n", "a clock's correction"),
        ("[[chains]]\nname = \"k\"\nbands = [{ low_hz = 5, high_hz = 1 }]\n", "is no band"),
        ("[[chains]]\nname = \"k\"\nbands = [{ low_hz = 1, high_hz = 5, hue = 1 }]\n", "hue"),
        ("[[positions]]\nname = \"den\"\nzone = \"inside\"\nhue = 1\n", "'hue' is nothing"),
        ("[[positions]]\nname = \"den\"\nzone = \"inside\"\nx_m = 1\n", "one of x_m and y_m"),
        ("[[mappings]]\nname = \"m\"\ncolumns = \"rubbish\"\n", "KEY=COLUMN"),
        ("[[readings]]\nposition = \"yard\"\n", "something that was read"),
        (
            "[[known_devices]]\nowner = \"client\"\nwhat = \"x\"\ntechnology = \"magic\"\n",
            "'magic' is none",
        ),
        ("[[identities]]\nemission = \"E99\"\nidentity = \"x\"\n", "no row E99"),
        ("[[found_items]]\nwhat = \"x\"\nemissions = [\"E99\"]\n", "no row E99"),
        ("[premises]\nouter_wall = \"cheese\"\n", "'cheese' is no material"),
        ("[[remarks]]\ntext = \" \"\n", "the note is empty"),
    ] {
        let refused = survey.apply(text, "").expect_err(text);
        assert!(refused.exit_code() == 2 && refused.to_string().contains(words), "{refused}");
    }
    assert_eq!(survey.journal().expect("entries").len(), entries);
    // A mark at the beginning, as some editors write it, and a time without quotes are read.
    let text = "\u{feff}[[remarks]]\ntext = \"van left\"\nat = 2026-03-01T21:30:00+01:00\n";
    let applied = survey.apply(text, "").expect("applied");
    assert_eq!(
        applied[0].to_string(),
        "remark B1 is new: at \"2026-03-01T20:30:00Z\", text \"van left\""
    );
}

#[test]
fn parts_are_applied_only_if_nobody_changed_them_since() {
    let place = place();
    let survey = new_survey(place.path());
    let parts = |value: serde_json::Value| value.as_object().expect("parts").clone();
    let seen = survey.record().expect("a record").version;
    let rooms = parts(serde_json::json!({"rooms": [{"name": "boardroom"}]}));
    assert_eq!(survey.apply_parts(&rooms, Some(seen), "").expect("applied").len(), 1);
    let record = survey.record().expect("a record");
    assert_eq!((record.version, record.rooms[0].id.as_str()), (seen + 1, "M1"));
    assert_eq!(survey.version().expect("a version"), seen + 1);
    // What was not seen would be taken out.
    let others = parts(serde_json::json!({"rooms": [{"name": "office"}]}));
    let refused = survey.apply_parts(&others, Some(seen), "").expect_err("changed since");
    assert!(
        matches!(refused, survey::SurveyError::RecordChanged { part: "rooms", .. }),
        "{refused}"
    );
    assert_eq!(survey.record().expect("a record").rooms, record.rooms);
    // Other parts, and the same by one who has seen it, may be.
    let floors = parts(serde_json::json!({"floors": [{"name": "ground"}]}));
    survey.apply_parts(&floors, Some(seen), "").expect("applied");
    survey.apply_parts(&others, Some(record.version), "").expect("applied");
    let gone = survey.record().expect("a record");
    assert_eq!((gone.rooms.len(), gone.rooms[0].id.as_str()), (1, "M2"));
    // What a page was given goes back as it came, what is null of a thing included.
    let mut given = parts(serde_json::to_value(&gone).expect("plain data"));
    given.retain(|part, said| part != "version" && !said.is_null());
    assert!(given["rooms"][0]["floor"].is_null());
    assert!(survey.apply_parts(&given, Some(gone.version), "").expect("the same").is_empty());
    // A part that was emptied is changed too.
    let none = parts(serde_json::json!({"rooms": []}));
    survey.apply_parts(&none, Some(gone.version), "").expect("applied");
    assert!(survey.apply_parts(&others, Some(gone.version), "").is_err());
    assert!(survey.apply_parts(&parts(serde_json::json!({"colour": 1})), None, "").is_err());
    assert!(survey.verify(&Quiet).expect("verified").ok);
}

#[test]
fn what_arrived_and_was_not_brought_in_leaves_nothing() {
    let place = place();
    let survey = new_survey(place.path());
    let incoming = survey.incoming("one").expect("a folder");
    let file = recording(incoming.path(), "yard", "2026-03-01T20:00:00Z", &[(433e6, -60.0, 1.0)]);
    // Others that open the survey meanwhile leave it alone.
    let other = open(place.path());
    let later = survey::AddOptions { later: true, ..at(ledger::Role::Room, "yard") };
    survey.add(&[file], &later, "", &Quiet).expect("added");
    assert_eq!((survey.waiting().expect("a number"), other.waiting().expect("a number")), (1, 1));
    let folder = incoming.path().to_owned();
    drop(incoming);
    assert!(!folder.exists());
    survey.finish_pending(&Quiet).expect("derived");
    assert_eq!(survey.waiting().expect("a number"), 0);
    assert!(survey.verify(&Quiet).expect("verified").ok);
}

#[test]
fn what_the_technician_concludes_is_part_of_the_record() {
    let place = place();
    let survey = small(place.path());
    let said = "[statement]\nsummary = \"\"\"One.\n\nTwo.\"\"\"\nadvice = \"Wait.\"\nauthor = \"R. Vale\"\n\
                qualification = \"twelve years\"\n\n[[statement.opinions]]\nof = \"E1\"\ntext = \"Odd.\"\n";
    survey.ledger(&Quiet).expect("a ledger");
    let differences = survey.apply(said, "").expect("applied");
    assert_eq!(differences.len(), 1);
    let statement = survey.record().expect("a record").statement.expect("a statement");
    assert_eq!(statement.summary.as_deref(), Some("One.\n\nTwo."));
    assert_eq!(statement.opinions[0].of, "E1");
    let text = survey.describe().expect("a text");
    assert!(survey.apply(&text, "").expect("the same").is_empty(), "no difference:\n{text}");
    for wrong in [
        "of = \"E99\"",
        "of = \"F1\"",
        "of = \" \"",
        "of = \"E1\"\n[[statement.opinions]]\nof = \"E1\"",
    ] {
        let text = format!("[statement]\n[[statement.opinions]]\n{wrong}\n");
        assert!(survey.apply(&text, "").is_err(), "{wrong}");
    }
    assert_eq!(survey.record().expect("a record").statement, Some(statement), "nothing changed");
}

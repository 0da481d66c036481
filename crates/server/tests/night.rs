//! The work of a night over HTTP: record, captures, notes, ledger, decisions, journal.

mod support;

use serde_json::{Value, json};
use support::{Answer, Served};

const RECORD: &str = "/api/surveys/night-one/record";

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn tag(answer: &Answer) -> String {
    answer.header("etag").expect("a version").to_owned()
}

#[test]
fn the_record_is_read_and_written_with_the_version_seen() {
    let served = Served::folder();
    served.survey("night-one");
    let record = served.get(RECORD).expect(200);
    let first = tag(&record);
    assert_eq!(record.json()["brief"], Value::Null);
    let brief = json!({"brief": {"leaked": "the offer", "feared": ["gsm"]},
        "authority": [{"who": "The owner", "right": "owner", "listening": false}],
        "premises": {"name": "Heron Court"}, "floors": [{"name": "ground"}],
        "rooms": [{"name": "Boardroom", "floor": "ground", "corners_m": [[0, 0], [6, 0], [6, 5]]}],
        "chains": [{"name": "receiver A"}], "known_devices": [{"what": "router", "owner": "client"}]});
    served.with("PATCH", RECORD, &brief).problem(428, "version-needed");
    served.seen("PATCH", RECORD, Some("first"), &brief).problem(400, "request");
    let changed = served.seen("PATCH", RECORD, Some(&first), &brief).expect(200).json();
    assert_eq!(list(&changed).len(), 7, "{changed}");
    assert!(changed[0]["words"].as_str().expect("words").contains("the offer"), "{changed}");
    let record = served.get(RECORD).expect(200);
    assert_eq!(record.json()["rooms"][0]["id"], "M1");
    assert_eq!(record.json()["authority"][0]["who"], "The owner");
    // A second page that saw the record before: what it did not see is not overwritten.
    let old = json!({"rooms": []});
    let refused = served.seen("PATCH", RECORD, Some(&first), &old).problem(412, "changed");
    assert!(refused["detail"].as_str().expect("text").contains("rooms"), "{refused}");
    // Parts that nobody touched since may be written.
    let remarks = json!({"conditions": [{"name": "evening", "state": "empty"}]});
    served.seen("PATCH", RECORD, Some(&first), &remarks).expect(200);
    let second = tag(&record);
    served.seen("PATCH", RECORD, Some(&second), &old).expect(200);
    let record = served.get(RECORD).expect(200);
    assert_eq!(list(&record.json()["rooms"]).len(), 0);
    for wrong in [
        json!({"colour": "red"}),
        json!({"rooms": [{"name": "x", "colour": "red"}]}),
        json!({"rooms": {"name": "x"}}),
        json!({"rooms": [{"id": "M77", "name": "x"}]}),
        json!({"rooms": [7]}),
    ] {
        served.seen("PATCH", RECORD, Some(&tag(&record)), &wrong).problem(422, "refused");
    }
    served.verified("night-one");
}

#[test]
fn captures_are_listed_amended_set_aside_and_restored() {
    let served = Served::folder();
    served.small("night-one");
    let captures = served.get("/api/surveys/night-one/captures").expect(200).json();
    assert_eq!(list(&captures).len(), 2);
    assert_eq!((&captures[0]["id"], &captures[0]["role"]), (&json!("C1"), &json!("reference")));
    let path = "/api/surveys/night-one/captures/C2";
    let amend = json!({"at": "study", "clock_s": 42, "condition": "empty"});
    served.with("PATCH", path, &amend).problem(428, "version-needed");
    // Two tabs look at it; the second to correct it is told.
    let (one, two) = (tag(&served.get(path)), tag(&served.get("/api/surveys/night-one/captures")));
    let amended = served.seen("PATCH", &format!("{path}?by=B.%20Else"), Some(&one), &amend);
    assert_eq!(amended.expect(200).json()["capture"]["clock_s"], 42.0);
    served.seen("PATCH", path, Some(&two), &json!({"clock_s": 7})).problem(412, "changed");
    assert_eq!(served.get(path).expect(200).json()["condition"], "empty");
    let amend = |said: Value| served.seen("PATCH", path, Some(&tag(&served.get(path))), &said);
    amend(json!({"restore": true})).problem(422, "refused");
    // What is null is emptied, what is left out stays (as RFC 7396 has it).
    let said = json!({"gain_db": 12.5, "setting": "wide", "overrides": {"centre_hz": 433e6}});
    amend(said).expect(200);
    let emptied =
        amend(json!({"gain_db": null, "condition": null, "overrides": {"centre_hz": null}}));
    let emptied = emptied.expect(200).json()["capture"].clone();
    for gone in [&emptied["gain_db"], &emptied["condition"], &emptied["overrides"]["centre_hz"]] {
        assert_eq!(*gone, json!(null), "{emptied}");
    }
    assert_eq!((&emptied["setting"], &emptied["clock_s"]), (&json!("wide"), &json!(42.0)));
    amend(json!({"role": null})).problem(422, "request");
    amend(json!({"set_aside": "cable loose"})).expect(200);
    let ledger = served.ledger("night-one");
    assert_eq!(ledger["captures"][1]["set_aside"], "cable loose");
    amend(json!({"restore": true})).expect(200);
    assert_eq!(served.ledger("night-one")["captures"][1]["set_aside"], Value::Null);
    served.get("/api/surveys/night-one/captures/C9").problem(404, "not-found");
    amend(json!({"role": "spy"})).problem(422, "request");
    let journal = served.get("/api/surveys/night-one/journal").expect(200).json();
    assert!(list(&journal).iter().any(|e| e["kind"] == "amend" && e["by"] == "B. Else"));
    served.verified("night-one");
}

#[test]
fn two_pages_decide_one_row_and_the_second_is_told() {
    let served = Served::folder();
    served.small("night-one");
    let ledger = served.ledger("night-one");
    assert_eq!(ledger["schema"], "stillroom.ledger/1");
    let id = ledger["emissions"][0]["id"].as_str().expect("an id").to_owned();
    let path = format!("/api/surveys/night-one/ledger/{id}");
    // Both look at it.
    let (one, two) = (tag(&served.get(&path).expect(200)), tag(&served.get(&path).expect(200)));
    let decisions = "/api/surveys/night-one/decisions";
    let suspect = json!({"ids": [id], "state": "suspect", "reason": "louder inside"});
    served.post(decisions, &suspect).problem(428, "version-needed");
    let done =
        served.seen("POST", &format!("{decisions}?by=One"), Some(&one), &suspect).expect(200);
    assert_eq!(done.json()["rows"][0]["decision"]["by"], "One");
    assert_eq!(tag(&done), format!("\"{}\"", done.json()["version"]));
    let accounted =
        json!({"ids": [id], "state": "accounted", "ground": "seen", "reason": "the gate"});
    let told = served.seen("POST", decisions, Some(&two), &accounted).problem(412, "changed");
    assert_eq!(told["row"]["id"], json!(id));
    assert_eq!(told["row"]["decision"]["state"], "suspect");
    let now = served.get(&path).expect(200);
    assert_eq!(now.json()["decision"]["reason"], "louder inside");
    // Having seen it as it is now, one may decide otherwise.
    served.seen("POST", decisions, Some(&tag(&now)), &accounted).expect(200);
    for wrong in [
        json!({"ids": ["E99"], "state": "suspect", "reason": "x"}),
        json!({"ids": [id], "state": "accounted", "reason": "no ground"}),
        json!({"ids": [], "state": "suspect", "reason": "x"}),
        json!({"ids": [id], "state": "suspect", "reason": " "}),
    ] {
        let now = tag(&served.get(&path).expect(200));
        served.seen("POST", decisions, Some(&now), &wrong).problem(422, "refused");
    }
    // A ground that the levels speak against: the row is 20 dB or more stronger inside (the scene).
    let ledger = served.ledger("night-one");
    let inside = list(&ledger["emissions"])
        .iter()
        .find(|row| row["origin"]["excess_db"].as_f64().is_some_and(|db| db > 10.0))
        .expect("a row that is stronger inside");
    let outside = json!({"ids": [inside["id"]], "state": "accounted",
                         "ground": "stronger-outside", "reason": "from the street"});
    let now = tag(&served.get(&path).expect(200));
    let refused = served.seen("POST", decisions, Some(&now), &outside).problem(422, "refused");
    let said = |member: &str| refused[member].as_str().expect("words").to_owned();
    assert!(
        said("detail").contains("stronger inside") && said("detail").contains("dB"),
        "{refused}"
    );
    assert!(said("remedy").contains("another ground"), "{refused}");
    let word = json!({"ids": [id], "state": "guilty", "reason": "x"});
    served.seen("POST", decisions, Some(&one), &word).problem(422, "request");
    served.seen("POST", decisions, Some("\"99999\""), &suspect).problem(422, "refused");
    served.get("/api/surveys/night-one/ledger/E99").problem(404, "not-found");
    served.verified("night-one");
}

#[test]
fn rows_are_joined_split_and_the_journal_takes_it_back() {
    let served = Served::folder();
    served.small("night-one");
    let emissions = served.ledger("night-one")["emissions"].clone();
    let ids: Vec<&str> =
        list(&emissions).iter().map(|row| row["id"].as_str().expect("an id")).collect();
    // The scene has two senders; both are heard (that they are is what `detect` is tested for).
    assert!(ids.len() >= 2, "{ids:?}");
    let version = || tag(&served.get("/api/surveys/night-one/ledger"));
    let (joins, splits) = ("/api/surveys/night-one/joins", "/api/surveys/night-one/splits");
    let seen = version();
    // They lie 90 kHz apart (the scene), and one capture heard both at once: that is said.
    let apart = json!({"ids": ids, "reason": "one sender, two channels"});
    served.post(joins, &apart).problem(428, "version-needed");
    let refused = served.seen("POST", joins, Some(&seen), &apart).problem(422, "refused");
    let told = refused["detail"].as_str().expect("words");
    let apart_khz = |told: &str| -> f64 {
        let number = told.split(" kHz apart").next().and_then(|before| before.rsplit(' ').next());
        number.and_then(|number| number.parse().ok()).unwrap_or_else(|| panic!("{told}"))
    };
    assert!((apart_khz(told) - 90.0).abs() < 2.0, "{told}");
    assert!(ids[..2].iter().all(|id| told.contains(id)) && told.contains(" MHz"), "{told}");
    let mut join = apart.clone();
    join["although_apart"] = json!(true);
    for (member, why) in [("reason", "..."), ("reason", " ")] {
        let mut silent = join.clone();
        silent[member] = json!(why);
        served.seen("POST", joins, Some(&seen), &silent).problem(422, "refused");
    }
    served.seen("POST", joins, Some(&seen), &json!({"ids": ids})).problem(422, "request");
    let joined = served.seen("POST", joins, Some(&seen), &join).expect(200).json();
    assert_eq!(list(&joined["rows"]).len(), 1, "{joined}");
    assert_eq!(list(&served.ledger("night-one")["emissions"]).len(), 1);
    // A second tab that saw them apart is told, and given the row as it is now.
    let told = served.seen("POST", joins, Some(&seen), &join).problem(412, "changed");
    assert_eq!(told["row"]["id"], joined["rows"][0]["id"]);
    served.seen("POST", joins, Some(&version()), &join).problem(422, "refused");
    let undo = "/api/surveys/night-one/undo";
    let listed = served.get(undo).expect(200).json();
    assert_eq!(listed[0]["entry"], joined["entries"][0], "{listed}");
    let what = listed[0]["what"].as_str().expect("words");
    assert_eq!(what.matches(" at 433.").count(), ids.len(), "{what}");
    assert!(what.ends_with("are one row: one sender, two channels"), "{what}");
    let entry = json!({"entry": joined["entries"][0]});
    served.post(undo, &entry).expect(200);
    assert_eq!(list(&served.ledger("night-one")["emissions"]).len(), ids.len());
    served.post(undo, &entry).problem(422, "refused");
    let heard =
        |row: &&Value| list(&row["receptions"]).iter().filter(|r| r["heard"] == true).count() == 2;
    let both = list(&emissions).iter().find(heard).expect("a row that both heard");
    let mut split = json!({"id": both["id"], "captures": ["C2"], "reason": " "});
    let seen = version();
    served.seen("POST", splits, Some(&seen), &split).problem(422, "refused");
    split["reason"] = json!("another sender's channel");
    let parted = served.seen("POST", splits, Some(&seen), &split).expect(200).json();
    assert_eq!(list(&parted["rows"]).len(), 2, "{parted}");
    served.seen("POST", splits, Some(&seen), &split).problem(412, "changed");
    served.seen("POST", splits, Some(&version()), &split).problem(422, "refused");
    let journal = served.get("/api/surveys/night-one/journal").expect(200).json();
    let journal = list(&journal);
    assert_eq!(journal[0]["kind"], "new");
    let body = |kind: &str| {
        let of = journal.iter().find(|e| e["kind"] == kind).expect("an entry");
        serde_json::from_str::<Value>(of["body"].as_str().expect("text")).expect("JSON")
    };
    let (join, split) = (body("join"), body("split"));
    let reason = "/changes/0/is/act/what/reason";
    assert_eq!(join.pointer(reason), Some(&json!("one sender, two channels")));
    assert_eq!(split.pointer(reason), Some(&json!("another sender's channel")));
    let although = join["although"][0].as_str().expect("the objection");
    assert!((apart_khz(although) - 90.0).abs() < 2.0, "{although}");
    assert!(["join", "undo", "split"].iter().all(|k| journal.iter().any(|e| e["kind"] == *k)));
    let last = journal.last().expect("an entry")["seq"].as_u64().expect("a number");
    let rest =
        served.get(&format!("/api/surveys/night-one/journal?after={}", last - 1)).expect(200);
    assert_eq!(list(&rest.json()).len(), 1);
    assert_eq!(served.verified("night-one")["entries"], last);
}

#[test]
fn readings_stimuli_remarks_and_movements_are_noted() {
    let served = Served::folder();
    served.survey("night-one");
    let notes = "/api/surveys/night-one/notes";
    let note = |note: Value, id: &str| {
        let noted = served.post(notes, &json!({"note": note, "zone": null})).expect(201).json();
        assert_eq!(noted["id"], id);
    };
    note(
        json!({"kind": "reading", "at": "desk", "band": {"low_hz": 433.9e6, "high_hz": 433.9e6},
               "strength": {"value": 7, "of": 12}, "heard": "clicks", "when": "2026-03-01T21:30"}),
        "N1",
    );
    note(json!({"kind": "stimulus", "what": "music on", "at": "desk"}), "S1");
    note(json!({"kind": "remark", "text": "lift running"}), "B1");
    note(json!({"kind": "movement", "at": "hall", "when": "2026-03-01T21:40:00Z"}), "V1");
    let yard = json!({"zone": "outside", "note": {"kind": "movement", "at": "yard"}});
    served.post(notes, &yard).expect(201);
    let record = served.get(RECORD).expect(200).json();
    assert_eq!(record["readings"][0]["heard"], "clicks");
    // London keeps UTC in March before the last Sunday (tz database).
    assert_eq!(record["readings"][0]["at"], "2026-03-01T21:30:00Z");
    assert_eq!(list(&record["movements"]).len(), 2);
    assert_eq!(record["positions"][2]["zone"], "outside");
    for (wrong, code) in [
        (json!({"kind": "reading", "at": "desk"}), "refused"),
        (json!({"kind": "remark", "text": " "}), "refused"),
        (json!({"kind": "remark", "text": "x", "from": "soon"}), "refused"),
        (json!({"kind": "guess", "text": "x"}), "request"),
        (json!({"kind": "remark", "text": "x", "colour": "red"}), "request"),
    ] {
        served.post(notes, &json!({"note": wrong})).problem(422, code);
    }
    served.verified("night-one");
}

#[test]
fn a_walk_is_noted_as_a_table_all_or_none() {
    let served = Served::folder();
    served.survey("night-one");
    let path = "/api/surveys/night-one/movements?chain=stepper";
    let csv = [("content-type", "text/csv; charset=utf-8")];
    let send = |table: &str| served.send("POST", path, &csv, table.as_bytes());
    let moved = || list(&served.get(RECORD).expect(200).json()["movements"]).to_vec();
    for (wrong, words) in [
        ("", "Arrived"),
        ("Arrived,Place\n2026-03-01T20:10,yard\n", "Position"),
        ("Arrived,Position\n", "no row"),
        ("Arrived,Position\n2026-03-01T20:10,yard\nsoon,hall\n", "line 3"),
        ("Arrived,Position\n2026-03-01T20:10,yard\n2026-03-01T20:20,\n", "line 3: the position"),
        ("Arrived,Position\n2026-03-01T20:10,yard\n,hall\n", "line 3: the time"),
        ("Arrived,Position\n2026-03-01T20:10,yard,more\n", "line"),
    ] {
        let refused = send(wrong).problem(422, "refused");
        assert!(refused["detail"].as_str().expect("words").contains(words), "{words}: {refused}");
        assert_eq!(moved(), [] as [Value; 0], "{wrong}");
    }
    // Another site's form can send plain text, and nothing else without asking.
    let plain = [("content-type", "text/plain")];
    served.send("POST", path, &plain, b"Arrived,Position\n").problem(415, "request");
    let table =
        "\u{feff}Position,Arrived\nyard,2026-03-01T20:10\n\"hall, back\",2026-03-01T20:20:30Z\n";
    let noted = send(table).expect(201).json();
    assert_eq!(noted["ids"], json!(["V1", "V2"]));
    let record = served.get(RECORD).expect(200).json();
    assert_eq!(record["positions"][1]["name"], "hall, back");
    assert_eq!(record["movements"][1]["position"], record["positions"][1]["id"]);
    assert_eq!(record["movements"][1]["at"], "2026-03-01T20:20:30Z");
    // One is noted to the minute, the other as it is.
    let steps = [&record["movements"][0]["clock_step_s"], &record["movements"][1]["clock_step_s"]];
    assert_eq!(steps, [&json!(60.0), &json!(0.0)]);
    served.verified("night-one");
}

#[test]
fn the_description_is_served_and_names_every_route() {
    let served = Served::folder();
    let described = served.get("/api/openapi.json").expect(200).json();
    assert!(described["openapi"].as_str().expect("a version").starts_with("3.1"));
    for (path, method) in [
        ("/api/surveys", "post"),
        ("/api/surveys/{survey}/decisions", "post"),
        ("/api/surveys/{survey}/events", "get"),
        ("/api/surveys/{survey}/uploads/{id}/{name}", "put"),
    ] {
        assert!(described["paths"][path][method]["responses"]["default"].is_object(), "{path}");
    }
    let text = described.to_string();
    let mut names: Vec<_> = text.split("\"operationId\":\"").skip(1).collect();
    names.iter_mut().for_each(|rest| *rest = rest.split('"').next().unwrap_or_default());
    let all = names.len();
    names.sort();
    names.dedup();
    assert!(all > 20 && names.len() == all, "{names:?}");
    let wanted = text.split("\"#/components/schemas/").skip(1);
    for name in wanted.filter_map(|rest| rest.split('"').next()) {
        let schema = &described["components"]["schemas"][name];
        assert!(schema.as_object().is_some_and(|s| !s.is_empty()), "{name} is described nowhere");
    }
}

//! What pages show at one glance: stages, balance, next steps, coverage, on-times, bursts.

mod support;

use serde_json::{Value, json};
use support::Served;

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn stage<'a>(overview: &'a Value, name: &str) -> &'a Value {
    let found = list(&overview["stages"]).iter().find(|stage| stage["stage"] == name);
    found.unwrap_or_else(|| panic!("no stage {name}: {overview}"))
}

#[test]
fn an_empty_survey_says_what_is_missing() {
    let served = Served::folder();
    served.survey("night-one");
    let overview = served.get("/api/surveys/night-one/overview").expect(200).json();
    let names: Vec<_> = list(&overview["stages"]).iter().map(|s| s["stage"].clone()).collect();
    // The stages of the job (design, 1), in order.
    let order = [
        "brief",
        "authority",
        "known-devices",
        "equipment-check",
        "references",
        "no-antenna",
        "rooms",
        "search",
        "decisions",
        "report",
    ];
    assert_eq!(names, order.map(|name| json!(name)));
    for name in order.iter().filter(|name| **name != "no-antenna") {
        let stage = stage(&overview, name);
        assert_eq!(stage["standing"], "missing", "{stage}");
        assert!(!list(&stage["missing"]).is_empty() && list(&stage["done"]).is_empty());
    }
    assert_eq!(stage(&overview, "no-antenna")["standing"], "not-needed");
    assert_eq!(overview["next"]["steps"][0]["kind"], "record-first");
    assert_eq!((&overview["balanced"], &overview["kinds"]), (&json!(false), &json!([])));
    let coverage = served.get("/api/surveys/night-one/coverage").expect(200).json();
    assert_eq!(coverage["covered"], json!([]));
}

#[test]
fn a_night_is_told_with_counts() {
    let served = Served::folder();
    served.small("night-one");
    let record = "/api/surveys/night-one/record";
    let seen = served.get(record).expect(200);
    // The room was recorded at 20:25: after the authority's end.
    let said = json!({
        "authority": [{"who": "The owner", "right": "owner", "rooms": ["boardroom", "study"],
            "from": "2026-03-01T20:00:00Z", "to": "2026-03-01T20:20:00Z", "listening": false}],
        "brief": {"leaked": "the offer", "feared": ["gsm"]},
        "known_devices": [{"what": "router", "owner": "client"}]});
    served.seen("PATCH", record, seen.header("etag"), &said).expect(200);
    let ledger = served.ledger("night-one");
    let overview = served.get("/api/surveys/night-one/overview").expect(200).json();
    assert_eq!(overview["version"], ledger["version"]);
    assert_eq!(overview["balance"], ledger["balance"]);
    assert_eq!(overview["kinds"], json!(["iq"]));
    assert_eq!(overview["outside_time"][0]["capture"], "C2", "{overview}");
    assert_eq!(list(&overview["outside_time"]).len(), 1);
    let authority = stage(&overview, "authority");
    assert_eq!(authority["standing"], "part");
    assert!(authority["missing"].to_string().contains("1 capture outside"), "{authority}");
    assert_eq!(stage(&overview, "known-devices")["done"], json!(["1 known device"]));
    assert_eq!(stage(&overview, "references")["done"], json!(["1 capture at 1 place"]));
    assert!(stage(&overview, "no-antenna")["missing"].to_string().contains("receiver A"));
    assert!(stage(&overview, "rooms")["missing"].to_string().contains("study"), "{overview}");
    let open = ledger["balance"]["open"].as_u64().expect("a number");
    assert_eq!(stage(&overview, "decisions")["missing"], json!([format!("{open} open")]));
    let steps = list(&overview["next"]["steps"]);
    assert_eq!(steps[0]["kind"], "record-no-antenna");
    let found = steps.iter().find(|step| step["kind"] == "find-out").expect("a row to look at");
    assert_eq!(found["rows"], json!([ledger["emissions"][0]["id"]]));

    let coverage = served.get("/api/surveys/night-one/coverage").expect(200).json();
    let covered = list(&coverage["covered"]);
    let room = covered.iter().find(|c| c["place"] == "boardroom").expect("the room");
    assert_eq!((&room["inside"], &room["in_turns"]), (&json!(true), &json!(false)), "{room}");
    // One second was recorded, at 250 kHz around 433.92 MHz.
    let listened = room["listened_s"].as_f64().expect("a time");
    assert!((0.9..=1.01).contains(&listened), "{room}");
    assert!(room["band_hz"][0].as_f64() >= Some(433.79e6));
    assert!(room["band_hz"][1].as_f64() <= Some(434.05e6));
    assert!(room["limit_dbfs"].is_number() && room["conditions"][0]["name"].is_null(), "{room}");
    assert_eq!(coverage["rooms_not_heard"], json!(["study"]));
    let limits = list(&coverage["cannot_say"]);
    let study = |one: &&Value| {
        one.as_str().is_some_and(|text| text.starts_with("Nothing was measured in study:"))
    };
    assert_eq!(limits.iter().filter(study).count(), 1, "{limits:?}");
}

#[test]
fn on_times_and_bursts_are_bounded_and_lose_none() {
    let served = Served::folder();
    served.small("night-one");
    let ledger = served.ledger("night-one");
    let row = &ledger["emissions"][0];
    let id = row["id"].as_str().expect("an id");
    let path = "/api/surveys/night-one/on-times";
    let all = served.get(&format!("{path}?ids={id},E99")).expect(200).json();
    assert_eq!(
        (&all[0]["id"], &all[1]["id"], &all[1]["heard"]),
        (&json!(id), &json!("E99"), &json!([]))
    );
    let heard = list(&all[0]["heard"]);
    let receptions = list(&row["receptions"]).iter().filter(|r| r["heard"] == true).count();
    assert_eq!(heard.len(), receptions, "{all}");
    // The sender is on all the while: one on-time in each capture.
    assert!(heard.iter().all(|capture| list(&capture["on"]).len() == 1), "{all}");
    // A whole night in ten cells: what was on a second long is not lost.
    let night = "from=2026-03-01T18:00:00Z&until=2026-03-02T06:00:00Z";
    let coarse = served.get(&format!("{path}?ids={id}&{night}&cells=10")).expect(200).json();
    let heard = list(&coarse[0]["heard"]);
    assert!(
        heard.len() == receptions && heard.iter().all(|c| list(&c["on"]).len() == 1),
        "{coarse}"
    );
    let before = "from=2026-02-01T18:00:00Z&until=2026-02-02T06:00:00Z";
    let none = served.get(&format!("{path}?ids={id}&{before}")).expect(200).json();
    assert_eq!(none[0]["heard"], json!([]));
    for wrong in ["cells=0", "cells=9000000", "from=2026-03-01T18:00:00Z", "from=soon&until=later"]
    {
        let answer = served.get(&format!("{path}?ids={id}&{wrong}"));
        assert_eq!(answer.status, 422, "{wrong}: {}", answer.text());
    }
    let many = vec!["E1"; 201].join(",");
    served.get(&format!("{path}?ids={many}")).problem(422, "request");

    let bursts = served.get(&format!("/api/surveys/night-one/ledger/{id}/bursts?most=5"));
    let bursts = bursts.expect(200).json();
    assert_eq!(list(&bursts).len(), receptions, "{bursts}");
    for heard in list(&bursts) {
        let told = list(&heard["bursts"]);
        assert!((1..=5).contains(&told.len()), "{heard}");
        let counts = told.iter().map(|b| b["count"].as_u64().expect("a number")).sum::<u64>();
        assert_eq!(heard["count"], counts);
        let centre = told[0]["centre_hz"].as_f64().expect("a frequency");
        assert!((centre - row["centre_hz"].as_f64().expect("a frequency")).abs() < 5e3, "{heard}");
    }
}

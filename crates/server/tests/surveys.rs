//! Which surveys there are, and starting one.

mod support;

use serde_json::json;
use support::{Answer, Served, below};

#[test]
fn surveys_are_listed_and_started() {
    let served = Served::folder();
    assert_eq!(served.get("/api/surveys").expect(200).json(), json!([]));
    served.survey("night-one");
    let new = json!({"survey": "night-one"});
    served.post("/api/surveys", &new).problem(409, "conflict");
    let listed = served.get("/api/surveys").expect(200).json();
    assert_eq!(listed[0]["survey"], "night-one");
    assert_eq!(listed[0]["head"]["name"], "Heron");
    assert_eq!(listed.as_array().expect("a list").len(), 1);
    let head = served.get("/api/surveys/night-one").expect(200).json();
    assert_eq!((&head["region"], &head["technician"]), (&json!("UK"), &json!("T. Ashdown")));
    let wrong = json!({"survey": "night-two", "region": "MARS"});
    served.post("/api/surveys", &wrong).problem(422, "refused");
    let wrong = json!({"survey": "night-two", "time_zone": "Nowhere/Else"});
    served.post("/api/surveys", &wrong).problem(422, "refused");
    // What was refused left nothing that could not be started rightly.
    served.survey("night-two");
}

#[test]
fn names_lead_nowhere_else() {
    let served = Served::folder();
    served.survey("night-one");
    let outside = served.folder.path().with_extension("outside");
    let before = below(served.folder.path());
    for name in [
        "../x",
        "..",
        ".",
        "",
        "/tmp/x",
        "a/b",
        "a\\b",
        ".hidden",
        "x\u{0}",
        "x\n",
        "night-one/evidence",
    ] {
        served.post("/api/surveys", &json!({"survey": name})).problem(422, "request");
    }
    for path in [
        "..",
        ".",
        "%2e%2e",
        "..%2f..%2fetc",
        "night-one%2f",
        "%2fetc",
        "..%5c..",
        "night-one%00",
        "nobody",
        "%ff",
    ] {
        let answer = served.get(&format!("/api/surveys/{path}/ledger"));
        assert!([400, 404].contains(&answer.status), "{path}: {}", answer.head);
    }
    assert_eq!(below(served.folder.path()), before);
    assert!(!outside.exists());
}

#[test]
#[cfg(unix)]
fn a_link_in_the_surveys_folder_is_not_followed() {
    let elsewhere = Served::folder();
    elsewhere.survey("private");
    let served = Served::folder();
    let link = served.folder.path().join("night-one");
    std::os::unix::fs::symlink(elsewhere.folder.path().join("private"), link).expect("a link");
    assert_eq!(served.get("/api/surveys").expect(200).json(), json!([]));
    served.get("/api/surveys/night-one").problem(404, "not-found");
    served.post("/api/surveys", &json!({"survey": "night-one"})).problem(409, "conflict");
}

#[test]
fn one_survey_is_served_alone() {
    let served = Served::folder();
    served.survey("night-one");
    served.survey("night-two");
    let served = Served::one(served.end(), "night-one");
    let listed = served.get("/api/surveys").expect(200).json();
    assert_eq!(listed.as_array().expect("a list").len(), 1);
    served.get("/api/surveys/night-one/ledger").expect(200);
    served.get("/api/surveys/night-two").problem(404, "not-found");
    // A page can know beforehand (RFC 9110: Allow).
    let allow = |answer: &Answer| answer.header("allow").expect("methods").to_owned();
    assert_eq!(allow(&served.get("/api/surveys")), "GET, HEAD");
    let refused = served.post("/api/surveys", &json!({"survey": "night-three"}));
    assert_eq!(allow(&refused), "GET, HEAD");
    refused.problem(405, "refused");
    let all = Served::folder();
    assert_eq!(allow(&all.get("/api/surveys")), "GET, HEAD, POST");
}

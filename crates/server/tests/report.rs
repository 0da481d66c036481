//! The report over HTTP: made as a job, fetched as files that can do nothing in a browser.

mod support;

use serde_json::json;
use support::Served;

const REPORT: &str = "/api/surveys/night-one/report";

#[test]
fn the_report_is_made_listed_and_fetched() {
    let served = Served::folder();
    served.small("night-one");
    assert_eq!(served.get(REPORT).expect(200).json(), json!(null));
    served.get(&format!("{REPORT}/report.pdf")).problem(404, "not-found");
    let job = served.post(REPORT, &json!(null)).expect(202).json();
    assert_eq!(job["kind"], "report");
    let ended = served.ended("night-one", job["id"].as_str().expect("an id"));
    assert_eq!(ended["state"], "done", "{ended}");
    let stage = || {
        let overview = served.get("/api/surveys/night-one/overview").expect(200).json();
        let mut stages = overview["stages"].as_array().expect("stages").iter();
        stages.find(|stage| stage["stage"] == "report").expect("the report's").clone()
    };
    assert_eq!(stage()["done"], json!(["made of all that stands"]));
    let made = served.get(REPORT).expect(200).json();
    assert_eq!((&made["stale"], &made["verified"]), (&json!(false), &json!(true)), "{made}");
    let kinds = [
        ("report.pdf", "application/pdf", "%PDF-"),
        ("report.html", "text/html; charset=utf-8", "<!DOCTYPE html>"),
        ("interim.pdf", "application/pdf", "%PDF-"),
        ("interim.html", "text/html; charset=utf-8", "<!DOCTYPE html>"),
        ("hours.csv", "text/csv; charset=utf-8", "kind,who,date,"),
    ];
    for ((name, kind, start), told) in kinds.iter().zip(made["files"].as_array().expect("files")) {
        assert_eq!(told["file"], *name);
        let file = served.get(&format!("{REPORT}/{name}")).expect(200);
        assert_eq!(file.header("content-type"), Some(*kind));
        assert_eq!(told["bytes"], file.body.len());
        assert!(file.body.starts_with(start.as_bytes()), "{name}");
        // CSP Level 3: an origin of its own, no script, nothing from or to elsewhere.
        let policy = file.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("sandbox; default-src 'none'") && !policy.contains("script"));
        let kept = served.get(&format!("{REPORT}/{name}?save=true")).expect(200);
        let said = kept.header("content-disposition").expect("said");
        assert_eq!(said, format!("attachment; filename=\"{name}\""));
    }
    for other in ["report.exe", "..%2Fsurvey.sqlite", "%00"] {
        served.get(&format!("{REPORT}/{other}")).problem(404, "not-found");
    }
    // What is written afterwards makes it stale, and a new one is not.
    let brief = json!({"statement": {"summary": "All is quiet.", "author": "R. Vale"}});
    let version = served.get("/api/surveys/night-one/record").expect(200);
    let version = version.header("etag").expect("a version").to_owned();
    served.seen("PATCH", "/api/surveys/night-one/record", Some(&version), &brief).expect(200);
    assert_eq!(served.get(REPORT).expect(200).json()["stale"], true);
    assert_eq!(stage()["missing"], json!(["the survey changed since: make it again"]));
    let job = served.post(REPORT, &json!(null)).expect(202).json();
    served.ended("night-one", job["id"].as_str().expect("an id"));
    let page = served.get(&format!("{REPORT}/report.html")).expect(200).text();
    assert!(page.contains("All is quiet.") && page.contains("R. Vale"));
    served.get("/api/surveys/nowhere/report").problem(404, "not-found");
}

//! Pictures among the evidence: photographs, plans; and that nothing else is given out.

mod support;

use serde_json::{Value, json};
use support::Served;

const RECORD: &str = "/api/surveys/night-one/record";
const EVIDENCE: &str = "/api/surveys/night-one/evidence";
/// The smallest PNG: one grey pixel (W3C PNG, 5: signature, IHDR, IDAT, IEND).
const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55\
    \0\0\0\nIDAT\x78\x9c\x63\x68\0\0\0\x82\0\x81\x77\xcd\x72\xb6\0\0\0\0IEND\xae\x42\x60\x82";
const JPEG: &[u8] = b"\xff\xd8\xff\xe0\0\x0ba picture\xff\xd9";
/// A drawing that tries to run a script in whoever shows it.
const SVG: &[u8] = b"<?xml version=\"1.0\"?>\n<svg xmlns=\"http://www.w3.org/2000/svg\">\
    <script>fetch('/api/surveys')</script></svg>";

fn apply(served: &Served, said: &Value) {
    let seen = served.get(RECORD).expect(200);
    served.seen("PATCH", RECORD, seen.header("etag"), said).expect(200);
}

/// Brings files in; gives the job as it ended.
fn bring_in(served: &Served, path: &str, said: &Value, files: &[(&str, &[u8])]) -> Value {
    let mut said = said.clone();
    said["upload"] = json!(served.upload("night-one", files));
    let path = format!("/api/surveys/night-one/{path}");
    let job = served.post(&path, &said).expect(202).json();
    served.ended("night-one", job["id"].as_str().expect("an id"))
}

fn sha256(job: &Value) -> String {
    assert_eq!(job["state"], "done", "{job}");
    job["pictures"][0]["sha256"].as_str().expect("a hash").to_owned()
}

#[test]
fn photographs_are_kept_and_shown() {
    let served = Served::folder();
    served.survey("night-one");
    apply(
        &served,
        &json!({"found_items": [{"what": "grey box behind the socket"}],
            "rooms": [{"name": "Boardroom"}]}),
    );
    let of_item =
        bring_in(&served, "found-items/F1/photographs", &json!({}), &[("socket.jpg", JPEG)]);
    let room = json!({"room": "boardroom", "taken_at": "2026-03-01T21:00"});
    let of_room = bring_in(&served, "photographs", &room, &[("wall.png", PNG)]);
    let desk = json!({"position": "desk"});
    let of_desk = bring_in(&served, "photographs", &desk, &[("a.png", PNG), ("b.jpg", JPEG)]);
    assert_eq!(of_desk["pictures"].as_array().map(Vec::len), Some(2), "{of_desk}");
    // The same again is no other photograph.
    bring_in(&served, "photographs", &desk, &[("again.png", PNG)]);
    let record = served.get(RECORD).expect(200).json();
    assert_eq!(record["found_items"][0]["photographs"][0]["name"], "socket.jpg");
    let photographs = record["photographs"].as_array().expect("a list");
    assert_eq!(photographs.len(), 3, "{record}");
    assert_eq!(
        (&photographs[0]["id"], &photographs[0]["room"]),
        (&json!("G1"), &json!("Boardroom"))
    );
    assert_eq!(photographs[1]["position"], record["positions"][0]["id"]);

    let shown = served.get(&format!("{EVIDENCE}/{}", sha256(&of_item))).expect(200);
    assert_eq!((shown.header("content-type"), &shown.body[..]), (Some("image/jpeg"), JPEG));
    let shown = served.get(&format!("{EVIDENCE}/{}", sha256(&of_room))).expect(200);
    assert_eq!((shown.header("content-type"), &shown.body[..]), (Some("image/png"), PNG));
    assert_eq!(shown.header("x-content-type-options"), Some("nosniff"));

    let html: &[u8] = b"<!doctype html><title>x</title>";
    let refused = bring_in(&served, "photographs", &desk, &[("x.png", html)]);
    assert_eq!(refused["state"], "failed", "{refused}");
    assert!(refused["problem"]["detail"].to_string().contains("x.png"), "{refused}");
    assert!(!refused.to_string().contains("staging"), "{refused}");
    let cut = bring_in(&served, "photographs", &desk, &[("cut.png", &PNG[..PNG.len() - 5])]);
    let told = cut["problem"]["detail"].as_str().unwrap_or_default();
    assert!(told.starts_with("'cut.png' is not whole"), "{cut}");
    let nobody = bring_in(&served, "photographs", &json!({"room": "attic"}), &[("a.png", PNG)]);
    assert_eq!(nobody["state"], "failed", "{nobody}");
    let upload = served.upload("night-one", &[("a.png", PNG)]);
    let both = json!({"upload": upload, "room": "Boardroom", "position": "desk"});
    served.post("/api/surveys/night-one/photographs", &both).problem(422, "request");
    // What only the record knows of is a fault as soon as it is missing.
    assert_eq!(served.verified("night-one")["files"], 2);
}

#[test]
fn a_plan_is_an_image_with_scale_and_origin() {
    let served = Served::folder();
    served.survey("night-one");
    apply(&served, &json!({"floors": [{"name": "ground"}]}));
    let plan = bring_in(&served, "floors/L1/image", &json!({}), &[("ground.svg", SVG)]);
    let hash = sha256(&plan);
    let mut floors = served.get(RECORD).expect(200).json()["floors"].clone();
    assert_eq!(floors[0]["image"]["name"], "ground.svg");
    floors[0]["scale_m_per_px"] = json!(0.02);
    floors[0]["origin_px"] = json!([100, 40]);
    apply(&served, &json!({"floors": floors}));
    let record = served.get(RECORD).expect(200).json();
    assert_eq!(record["floors"][0]["scale_m_per_px"], 0.02);
    assert_eq!(record["floors"][0]["image"]["sha256"], json!(hash));
    // A script in it runs nowhere: shown as an image it cannot, opened by itself it may not.
    let shown = served.get(&format!("{EVIDENCE}/{hash}")).expect(200);
    assert_eq!((shown.header("content-type"), &shown.body[..]), (Some("image/svg+xml"), SVG));
    let policy = shown.header("content-security-policy").expect("a policy");
    assert!(policy.contains("sandbox") && policy.contains("default-src 'none'"), "{policy}");
    assert!(!policy.contains("allow-scripts") && !policy.contains("script-src"), "{policy}");
    assert_eq!(shown.header("x-content-type-options"), Some("nosniff"));
    // Another image has another scale.
    bring_in(&served, "floors/l1/image", &json!({}), &[("ground.png", PNG)]);
    let floor = served.get(RECORD).expect(200).json()["floors"][0].clone();
    assert_eq!(
        (&floor["image"]["name"], &floor["scale_m_per_px"]),
        (&json!("ground.png"), &Value::Null)
    );
    served.get(&format!("{EVIDENCE}/{hash}")).problem(404, "not-found");
    let two = bring_in(&served, "floors/L1/image", &json!({}), &[("a.png", PNG), ("b.png", PNG)]);
    assert_eq!(two["state"], "failed", "{two}");
    let none = bring_in(&served, "floors/L9/image", &json!({}), &[("a.png", PNG)]);
    assert_eq!(none["state"], "failed", "{none}");
    served.verified("night-one");
}

#[test]
fn other_evidence_is_not_given_out() {
    let served = Served::folder();
    served.small("night-one");
    let captures = served.get("/api/surveys/night-one/captures").expect(200).json();
    for file in captures[0]["files"].as_array().expect("a list") {
        let hash = file["sha256"].as_str().expect("a hash");
        served.get(&format!("{EVIDENCE}/{hash}")).problem(404, "not-found");
    }
    // Nor by a record that calls it a photograph: it is no picture.
    let item = json!({"what": "x", "photographs": [captures[0]["files"][0]]});
    apply(&served, &json!({"found_items": [item]}));
    let hash = captures[0]["files"][0]["sha256"].as_str().expect("a hash");
    served.get(&format!("{EVIDENCE}/{hash}")).problem(404, "not-found");
    // A name that leads elsewhere is no hash.
    for wrong in ["../../../../etc/passwd", "..", &"A".repeat(64), &"0".repeat(63)] {
        let file = json!({"name": "x.png", "sha256": wrong, "bytes": 1});
        let item = json!({"what": "x", "photographs": [file]});
        let seen = served.get(RECORD).expect(200);
        let said = json!({"found_items": [item]});
        served.seen("PATCH", RECORD, seen.header("etag"), &said).problem(422, "refused");
        let path = format!("{EVIDENCE}/{}", wrong.replace('/', "%2f"));
        assert_eq!(served.get(&path).status, 404, "{wrong}");
    }
}

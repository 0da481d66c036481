//! Nothing is let in but a page of this server on this machine (RFC 6454 Origin, RFC 9110 Host, W3C
//! Fetch Metadata Request Headers).

mod support;

use serde_json::json;
use support::Served;

#[test]
fn a_foreign_host_is_refused() {
    let served = Served::folder();
    let port = served.port;
    let ask = |hosts: &str| {
        served.raw(
            format!("GET /api/surveys HTTP/1.1\r\n{hosts}connection: close\r\n\r\n").as_bytes(),
        )
    };
    for own in ["127.0.0.1", "localhost", "LOCALHOST", "[::1]"] {
        ask(&format!("host: {own}:{port}\r\n")).expect(200);
    }
    // A name that somebody else makes point here (DNS rebinding), other ports, other forms.
    for foreign in [
        format!("rebind.example:{port}"),
        "rebind.example".into(),
        "127.0.0.1".into(),
        format!("127.0.0.1:{}", port ^ 1),
        format!("127.0.0.1.rebind.example:{port}"),
        format!("localhost:{port}@rebind.example"),
        format!("0.0.0.0:{port}"),
        String::new(),
    ] {
        ask(&format!("host: {foreign}\r\n")).problem(421, "foreign");
    }
    let twice = format!("host: localhost:{port}\r\nhost: rebind.example\r\n");
    assert!([400, 421].contains(&ask(&twice).status));
    let none = served.raw(b"GET /api/surveys HTTP/1.0\r\n\r\n");
    assert!([400, 421].contains(&none.status), "{none:?}");
    let absolute = format!(
        "GET http://rebind.example/api/surveys HTTP/1.1\r\nhost: localhost:{port}\r\n\
         connection: close\r\n\r\n"
    );
    served.raw(absolute.as_bytes()).problem(421, "foreign");
}

#[test]
fn a_page_of_another_site_is_refused() {
    let served = Served::folder();
    let port = served.port;
    let new = json!({"survey": "night-one", "region": "UK", "time_zone": "UTC"}).to_string();
    let post = |headers: &[(&str, &str)]| {
        let all = [&[("content-type", "application/json")], headers].concat();
        served.send("POST", "/api/surveys", &all, new.as_bytes())
    };
    for origin in [
        "http://elsewhere.example".to_owned(),
        "null".into(),
        format!("https://127.0.0.1:{port}"),
        format!("http://127.0.0.1:{}", port ^ 1),
        format!("http://127.0.0.1:{port}.elsewhere.example"),
        "http://127.0.0.1".into(),
    ] {
        post(&[("origin", &origin)]).problem(403, "foreign");
        served.send("GET", "/api/surveys", &[("origin", &origin)], b"").problem(403, "foreign");
    }
    for site in ["cross-site", "same-site", "x"] {
        post(&[("sec-fetch-site", site)]).problem(403, "foreign");
    }
    // A form of another page without these headers cannot send JSON.
    let form = [("content-type", "text/plain")];
    served.send("POST", "/api/surveys", &form, new.as_bytes()).problem(415, "request");
    assert!(served.get("/api/surveys").json().as_array().expect("a list").is_empty());
    // A link elsewhere may lead to the page, but not into the API.
    let followed = [
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-mode", "navigate"),
        ("sec-fetch-dest", "document"),
    ];
    served.send("GET", "/", &followed, b"").expect(200);
    served.send("GET", "/api/surveys", &followed, b"").problem(403, "foreign");
    let own = format!("http://127.0.0.1:{port}");
    post(&[("origin", &own), ("sec-fetch-site", "same-origin")]).expect(201);
}

#[test]
fn every_answer_carries_the_policy() {
    let served = Served::folder();
    let foreign = served.raw(b"GET / HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n");
    for answer in [served.get("/"), served.get("/api/surveys"), served.get("/nowhere"), foreign] {
        let policy = answer.header("content-security-policy").expect("a policy").to_owned();
        assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"));
        assert!(policy.contains("script-src 'self'") && !policy.contains("unsafe"), "{policy}");
        for (name, value) in [
            ("x-content-type-options", "nosniff"),
            ("referrer-policy", "no-referrer"),
            ("cross-origin-resource-policy", "same-origin"),
            ("cache-control", "no-store"),
        ] {
            assert_eq!(answer.header(name), Some(value), "{name}");
        }
        assert_eq!(answer.header("access-control-allow-origin"), None);
    }
    let page = served.get("/").expect(200);
    assert!(page.header("content-type").expect("a type").starts_with("text/html"));
    // Nothing inline: the policy would refuse it, and the page would stay empty.
    let text = page.text();
    assert!(!text.contains("style=") && !text.contains("<style"), "{text}");
    for script in text.split("<script").skip(1) {
        let name = script.split("src=\"").nth(1).and_then(|rest| rest.split('"').next());
        let script = served.get(name.expect("a script of its own file")).expect(200);
        assert!(script.header("content-type").expect("a type").starts_with("text/javascript"));
    }
    for nowhere in ["/assets/none.js", "/assets/..%2findex.html", "/assets/%2e%2e/index.html"] {
        served.get(nowhere).problem(404, "not-found");
    }
}

#[test]
fn what_no_handler_sees_is_told_as_a_problem_too() {
    let served = Served::folder();
    served.get("/nowhere").problem(404, "not-found");
    let method = served.send("DELETE", "/api/surveys", &[], b"");
    assert!(method.header("allow").expect("methods").contains("GET"));
    method.problem(405, "request");
    let json = [("content-type", "application/json")];
    let broken =
        served.send("POST", "/api/surveys", &json, b"{\"survey\":").problem(400, "request");
    assert!(broken["detail"].as_str().expect("text").contains("line 1"), "{broken}");
    let unknown = json!({"survey": "x", "colour": "red"}).to_string();
    let unknown = served.send("POST", "/api/surveys", &json, unknown.as_bytes());
    let unknown = unknown.problem(422, "request");
    assert!(unknown["detail"].as_str().expect("text").contains("colour"), "{unknown}");
    let long = format!("{{\"survey\": \"{}\"}}", "x".repeat(3 << 20));
    served.send("POST", "/api/surveys", &json, long.as_bytes()).problem(413, "limit");
}

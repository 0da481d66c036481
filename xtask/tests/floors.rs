//! The floors: which crate of the workspace may use which, and what the pure ones must never
//! reach. Read from `cargo metadata`, so that a manifest cannot drift from the plan.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::process::Command;

/// Who may use whom (normal and build dependencies), lowest floor first.
const FLOORS: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("dsp", &["units"]),
    ("almanac", &["units"]),
    ("propagate", &["units", "almanac"]),
    ("simulate", &["units", "dsp", "almanac", "propagate"]),
    ("spectrum", &["units", "dsp"]),
    ("detect", &["units", "dsp", "spectrum"]),
    ("identify", &["units", "dsp", "almanac", "spectrum", "detect"]),
    ("content", &["units", "dsp"]),
    ("capture", &["units"]),
    ("frames", &["units", "almanac"]),
    (
        "analyse",
        &[
            "units", "dsp", "almanac", "spectrum", "detect", "identify", "content", "capture",
            "frames",
        ],
    ),
    ("locate", &["units", "dsp", "propagate"]),
    ("ledger", &["units", "almanac", "detect", "identify", "locate"]),
    ("coverage", &["units", "almanac", "propagate", "locate", "ledger"]),
    (
        "survey",
        &[
            "analyse", "ledger", "coverage", "locate", "capture", "content", "frames", "almanac",
            "units",
        ],
    ),
    ("report", &["survey", "ledger", "coverage", "almanac", "units"]),
    ("server", &["survey", "report", "ledger", "analyse", "units"]),
    (
        "stillroom",
        &["server", "report", "survey", "analyse", "ledger", "capture", "simulate", "units"],
    ),
];

/// Crates that must stay pure, and what must not be reachable from them.
const PURE: &[&str] = &[
    "units",
    "dsp",
    "almanac",
    "propagate",
    "simulate",
    "spectrum",
    "detect",
    "identify",
    "locate",
    "ledger",
];
const WORLDLY: &[&str] = &[
    "rusqlite",
    "libsqlite3-sys",
    "tokio",
    "axum",
    "tempfile",
    "indicatif",
    "ctrlc",
    "clap",
    "tar",
    "zstd",
    "notify",
    "capture",
    "survey",
    "stillroom",
];

struct Edge {
    from: String,
    to: String,
    dev: bool,
}

fn workspace() -> Value {
    // One platform, or cargo would want the sources of every other one's dependencies.
    let host = Command::new("rustc").arg("-vV").output().expect("rustc runs").stdout;
    let host = String::from_utf8(host).expect("text");
    let host = host.lines().find_map(|l| l.strip_prefix("host: ")).expect("a host line").to_owned();
    let out = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--filter-platform", &host])
        .current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
        .output()
        .expect("cargo metadata runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).expect("cargo metadata prints JSON")
}

fn packages(meta: &Value) -> impl Iterator<Item = &Value> {
    meta["packages"].as_array().expect("list").iter()
}

fn members(meta: &Value) -> BTreeSet<String> {
    let list = meta["workspace_members"].as_array().expect("list");
    let ids: BTreeSet<&str> = list.iter().filter_map(Value::as_str).collect();
    packages(meta)
        .filter(|p| p["id"].as_str().is_some_and(|id| ids.contains(id)))
        .filter_map(|p| p["name"].as_str().map(str::to_owned))
        .collect()
}

fn edges(meta: &Value) -> Vec<Edge> {
    let inside = members(meta);
    let mut found = Vec::new();
    for package in packages(meta) {
        let from = package["name"].as_str().expect("name");
        if !inside.contains(from) {
            continue;
        }
        for dep in package["dependencies"].as_array().expect("list") {
            let to = dep["name"].as_str().expect("name");
            if inside.contains(to) {
                let dev = dep["kind"].as_str() == Some("dev");
                found.push(Edge { from: from.to_owned(), to: to.to_owned(), dev });
            }
        }
    }
    found
}

/// The rule, on any list of edges: what breaks it, in words.
fn broken(edges: &[Edge]) -> Vec<String> {
    let allowed: BTreeMap<&str, &[&str]> = FLOORS.iter().copied().collect();
    let mut faults = Vec::new();
    for Edge { from, to, dev } in edges {
        if from == "xtask" || (*dev && to == "simulate") {
            continue;
        }
        if to == "xtask" {
            faults.push(format!("{from} uses xtask: nothing may"));
            continue;
        }
        match allowed.get(from.as_str()) {
            None => faults.push(format!("{from} is on no floor: add it to FLOORS")),
            Some(list) if !list.contains(&to.as_str()) => {
                faults.push(format!("{from} may not use {to}: it may use only {list:?}"));
            }
            Some(_) => {}
        }
    }
    faults
}

/// A path from `from` to `to` over normal dependencies, if there is one.
fn path_to(graph: &BTreeMap<String, Vec<String>>, from: &str, to: &str) -> Option<Vec<String>> {
    let mut stack = vec![vec![from.to_owned()]];
    let mut seen = BTreeSet::new();
    while let Some(path) = stack.pop() {
        let last = path.last().expect("never empty").clone();
        if last == to {
            return Some(path);
        }
        if seen.insert(last.clone()) {
            for next in graph.get(&last).into_iter().flatten() {
                let mut longer = path.clone();
                longer.push(next.clone());
                stack.push(longer);
            }
        }
    }
    None
}

fn normal_dependencies(meta: &Value) -> BTreeMap<String, Vec<String>> {
    let name: BTreeMap<&str, &str> = packages(meta)
        .map(|p| (p["id"].as_str().expect("id"), p["name"].as_str().expect("name")))
        .collect();
    let mut out: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for node in meta["resolve"]["nodes"].as_array().expect("list") {
        let from = name[node["id"].as_str().expect("id")];
        for dep in node["deps"].as_array().expect("list") {
            let kinds = dep["dep_kinds"].as_array().expect("list");
            if kinds.iter().any(|k| k["kind"].is_null()) {
                let to = name[dep["pkg"].as_str().expect("id")];
                out.entry(from.to_owned()).or_default().push(to.to_owned());
            }
        }
    }
    out
}

#[test]
fn every_edge_is_on_the_list() {
    let faults = broken(&edges(&workspace()));
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_rule_refuses_what_it_must() {
    let edge = |from: &str, to: &str, dev| Edge { from: from.into(), to: to.into(), dev };
    for (bad, word) in [
        (edge("detect", "capture", false), "detect may not use capture"),
        (edge("units", "dsp", false), "units may not use dsp"),
        (edge("ledger", "survey", true), "ledger may not use survey"),
        (edge("stillroom", "xtask", false), "nothing may"),
        (edge("newcomer", "units", false), "on no floor"),
    ] {
        let faults = broken(&[bad]);
        assert!(faults.len() == 1 && faults[0].contains(word), "{faults:?}");
    }
    assert!(broken(&[edge("detect", "simulate", true), edge("xtask", "survey", false)]).is_empty());
    assert_eq!(broken(&[edge("detect", "simulate", false)]).len(), 1);
}

#[test]
fn pure_floors_reach_nothing_worldly() {
    let meta = workspace();
    let graph = normal_dependencies(&meta);
    let inside = members(&meta);
    for pure in PURE {
        assert!(inside.contains(*pure), "{pure} is no crate of the workspace");
        for worldly in WORLDLY {
            if let Some(path) = path_to(&graph, pure, worldly) {
                panic!("{pure} reaches {worldly}: {}", path.join(" -> "));
            }
        }
    }
    // The search finds what is there, or the loop above would prove nothing.
    assert!(path_to(&graph, "survey", "libsqlite3-sys").is_some());
}

#[test]
fn architecture_names_every_crate_once() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../ARCHITECTURE.md");
    let text = std::fs::read_to_string(file).expect("ARCHITECTURE.md is there");
    let listed: Vec<String> = text
        .lines()
        .filter_map(|line| Some(line.strip_prefix("| `")?.split_once('`')?.0.to_owned()))
        .collect();
    let unique: BTreeSet<String> = listed.iter().cloned().collect();
    assert_eq!(listed.len(), unique.len(), "a crate is listed twice");
    assert_eq!(unique, members(&workspace()), "ARCHITECTURE.md and the workspace differ");
}

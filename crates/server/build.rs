//! Builds the page (ui/) into this crate's own output folder, and nothing when nothing changed.
//!
//! `STILLROOM_UI_DIST=DIR` takes a folder that was built before, for those without Node;
//! `STILLROOM_UI=none` embeds a page that says so, for work on other crates.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::{env, fs};

/// What the page is made of, in ui/.
const SOURCES: [&str; 8] = [
    "src",
    "public",
    "index.html",
    "package.json",
    "package-lock.json",
    "vite.config.ts",
    "svelte.config.js",
    "tsconfig.json",
];
/// Where it is written which packages are installed.
const STAMP: &str = "node_modules/.stillroom-lock";

fn main() {
    let ui = PathBuf::from(var("CARGO_MANIFEST_DIR")).join("../../ui");
    let out = PathBuf::from(var("OUT_DIR")).join("ui");
    for source in SOURCES {
        println!("cargo::rerun-if-changed={}", ui.join(source).display());
    }
    println!("cargo::rerun-if-env-changed=STILLROOM_UI");
    println!("cargo::rerun-if-env-changed=STILLROOM_UI_DIST");

    // What an older page left would be embedded too.
    if out.exists() {
        fs::remove_dir_all(&out).expect("the last page can be taken out");
    }
    fs::create_dir_all(&out).expect("the output folder can be written");
    if let Ok(dist) = env::var("STILLROOM_UI_DIST") {
        copy(Path::new(&dist), &out);
    } else if env::var("STILLROOM_UI").is_ok_and(|ui| ui == "none") {
        fs::write(out.join("index.html"), NO_PAGE).expect("the output folder can be written");
    } else {
        install(&ui);
        let mut vite = npm(&ui);
        vite.args(["run", "--silent", "build"]).env("STILLROOM_UI_OUT", &out);
        run(vite, "building the page");
    }
}

const NO_PAGE: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Ledger</title>\
<p>This program was built without its page (STILLROOM_UI=none). The command line does the same work.";

/// Installs the page's packages if the lock file is another than the one installed from.
fn install(ui: &Path) {
    let lock = fs::read(ui.join("package-lock.json")).expect("ui/package-lock.json can be read");
    if fs::read(ui.join(STAMP)).is_ok_and(|installed| installed == lock) {
        return;
    }
    println!("cargo::warning=installing the page's packages (once)");
    let mut ci = npm(ui);
    ci.args(["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--fetch-retries=1"]);
    run(ci, "installing the page's packages");
    fs::write(ui.join(STAMP), lock).expect("ui/node_modules can be written");
}

fn npm(ui: &Path) -> Command {
    let mut npm = Command::new("npm");
    npm.current_dir(ui);
    npm
}

fn run(mut command: Command, doing: &str) {
    let output = command.output().unwrap_or_else(|error| {
        panic!(
            "{doing}: npm cannot be run ({error}). Install Node 20.19 or newer with npm; or set \
             STILLROOM_UI_DIST to a folder with the built page, or STILLROOM_UI=none to do without it."
        )
    });
    assert!(
        output.status.success(),
        "{doing} failed. Node 20.19 or newer is needed; STILLROOM_UI_DIST takes a folder with the built \
         page, STILLROOM_UI=none does without it.\n{}\n{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}

fn copy(from: &Path, to: &Path) {
    let entries = fs::read_dir(from)
        .unwrap_or_else(|error| panic!("STILLROOM_UI_DIST {}: {error}", from.display()));
    for entry in entries {
        let entry = entry.expect("the built page can be listed");
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            fs::create_dir_all(&target).expect("the output folder can be written");
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).expect("the built page can be copied");
        }
    }
}

fn var(name: &str) -> String {
    env::var(name).unwrap_or_else(|_| panic!("cargo sets {name}"))
}

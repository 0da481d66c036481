//! The PDF, judged by other programs: qpdf (structure), poppler's pdfinfo, pdffonts, pdftotext and
//! pdfdetach. Where one is not installed its check is left out, and that is printed.

#![allow(missing_docs)]
#![cfg(feature = "pdf")]
// A test may look into its own folders and ask other programs.
#![allow(clippy::disallowed_methods)]

mod made;

use ledger::{Role, State};
use made::{Made, office};
use report::{Attachment, Facts, full, interim, pdf};
use std::path::{Path, PathBuf};
use std::process::Command;
use survey::Quiet;

fn written(facts: &Facts, place: &Path) -> [PathBuf; 2] {
    let attachment = Attachment::ledger(facts).expect("the ledger");
    let reports = [full(facts).expect("a report"), interim(facts).expect("an interim page")];
    let mut files = reports.iter().zip(["report.pdf", "interim.pdf"]).map(|(report, name)| {
        let bytes = pdf(report, std::slice::from_ref(&attachment)).expect("a PDF");
        let path = place.join(name);
        std::fs::write(&path, bytes).expect("written");
        path
    });
    std::array::from_fn(|_| files.next().expect("two files"))
}

/// What a program prints; `None`, said aloud, where it is not there.
fn ask(program: &str, args: &[&str], file: &Path, more: &[&str]) -> Option<(bool, String)> {
    match Command::new(program).args(args).arg(file).args(more).output() {
        Ok(out) => {
            let text = [out.stdout, out.stderr].concat();
            Some((out.status.success(), String::from_utf8_lossy(&text).into_owned()))
        }
        Err(_) => {
            println!("skipped: {program} is not installed");
            None
        }
    }
}

fn text(file: &Path) -> Option<String> {
    let (_, text) = ask("pdftotext", &["-enc", "UTF-8"], file, &["-"])?;
    Some(text.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn pages(file: &Path) -> Option<u32> {
    let (_, info) = ask("pdfinfo", &[], file, &[])?;
    info.lines().find_map(|line| line.strip_prefix("Pages:")?.trim().parse().ok())
}

fn decided() -> Made {
    let made = office("Heron");
    made.describe(
        "[statement]\nsummary = \"A transmitter stands in the board room.\\n\\nIt was left there.\"\n\
         advice = \"Keep the room as it is.\"\nauthor = \"R. Vale\"\n\
         qualification = \"twelve years of practice\"\n",
    );
    made.decide(468.55e6, State::Located, "behind the skirting");
    made.decide(446.2e6, State::Unresolved, "heard twice only");
    made
}

#[test]
fn the_document_is_sound_tagged_and_for_keeping() {
    let made = decided();
    for file in written(&made.facts(), made.place.path()) {
        if let Some((sound, said)) = ask("qpdf", &["--check"], &file, &[]) {
            assert!(sound && said.contains("No syntax or stream encoding errors"), "{said}");
        }
        if let Some((_, info)) = ask("pdfinfo", &[], &file, &[]) {
            let value = |name: &str| {
                let line = info.lines().find_map(|line| line.strip_prefix(name));
                line.unwrap_or_else(|| panic!("no {name} {info}")).trim().to_owned()
            };
            assert_eq!(value("Tagged:"), "yes");
            assert_eq!(value("Author:"), "R. Vale");
            assert_eq!(value("Encrypted:"), "no");
            assert!(value("Title:").ends_with("of a radio survey – Heron"), "{info}");
            assert!(value("Page size:").contains("A4"), "{info}");
        }
        if let Some((_, fonts)) = ask("pdffonts", &[], &file, &[]) {
            let rows: Vec<&str> = fonts.lines().skip(2).collect();
            assert!(!rows.is_empty(), "{fonts}");
            for row in rows {
                // emb sub uni, before the object's number and generation.
                let words: Vec<&str> = row.split_whitespace().rev().collect();
                assert_eq!(words[4], "yes", "embedded: {row}");
                assert_eq!(words[2], "yes", "with its letters' meaning: {row}");
            }
        }
        // ISO 19005-3, 6.6.4, and ISO 14289-1, 5: what it claims stands in its metadata, unpacked.
        let bytes = std::fs::read(&file).expect("there");
        let has = |what: &str| bytes.windows(what.len()).any(|part| part == what.as_bytes());
        assert!(has("<pdfaid:part>3</pdfaid:part>") && has("<pdfaid:conformance>A<"));
        assert!(has("<pdfuaid:part>1</pdfuaid:part>"));
    }
}

#[test]
fn its_text_is_read_in_order() {
    let made = decided();
    let [report, one] = written(&made.facts(), made.place.path());
    let Some(text) = text(&report) else { return };
    let order = [
        "A transmitter stands in the board room.",
        "It was left there.",
        "How the account stands",
        "The authority is missing",
        "Findings",
        "behind the skirting",
        "What we advise",
        "Keep the room as it is.",
        "What could not be resolved",
        "Coverage: what this survey could have received",
        "What was recorded",
        "Every emission and how it was decided",
        "Cautions",
        "Probabilities",
        "Evidence",
        "Journal and program",
    ];
    let mut rest = text.as_str();
    for said in order {
        let lower = rest.to_lowercase();
        let at = lower.find(&said.to_lowercase()).unwrap_or_else(|| panic!("'{said}' in: {rest}"));
        rest = &rest[at + said.len()..];
    }
    let said = self::text(&one).expect("it is installed");
    assert!(said.contains("1 emission was traced to its place"), "{said}");
}

#[test]
fn the_tags_tell_headings_tables_and_pictures_with_their_words() {
    let made = decided();
    let [report, _] = written(&made.facts(), made.place.path());
    let Some((_, tags)) = ask("pdfinfo", &["-struct-text"], &report, &[]) else { return };
    for tag in ["H1", "H2", "Table", "TH", "TD", "Figure", "Caption", "LI"] {
        assert!(tags.contains(tag), "{tag}: {tags}");
    }
    let figures = tags.lines().filter(|line| line.trim_start().starts_with("Figure")).count();
    assert!(figures >= 3, "the scale, levels and on-times: {figures}");
    let Some((_, alt)) = ask("qpdf", &["--qdf", "--object-streams=disable"], &report, &["-"])
    else {
        return;
    };
    let alternatives = alt.lines().filter(|line| line.trim_start().starts_with("/Alt ")).count();
    assert_eq!(alternatives, figures, "every picture has its words");
}

#[test]
fn what_is_copied_from_it_is_what_was_written() {
    let made = decided();
    let name = "a_recording_under_a_very_long_name_".repeat(3);
    made.record("2026-03-01T22:00:00Z", Role::Room, &name, &[(433.1e6, -60.0)]);
    let facts = made.facts();
    let [report, one] = written(&facts, made.place.path());
    let in_order = ask("pdftotext", &["-raw", "-enc", "UTF-8"], &report, &["-"]);
    let (Some(report), Some(one), Some((_, in_order))) = (text(&report), text(&one), in_order)
    else {
        return;
    };
    let in_order: String = in_order.split_whitespace().collect();
    assert!(!report.contains('\u{200b}') && !report.contains("[U+"), "{report}");
    assert!(!report.contains("by their numbers in Unicode"), "there is none to tell of");
    let head = &facts.verification.head;
    assert!(report.contains(head) && one.contains(head), "{head}: {report}");
    for file in facts.captures.iter().flat_map(|capture| &capture.files) {
        assert!(report.contains(&file.sha256), "{}: {report}", file.sha256);
        // A name may be broken between two lines; nothing else comes into it.
        assert!(in_order.contains(&file.name.replace(' ', "")), "{}: {report}", file.name);
    }
    assert!(in_order.contains(&name), "{report}");
}

#[test]
fn small_photographs_are_set_with_their_words() {
    let made = decided();
    let path = made.place.path().join("attic.png");
    std::fs::write(&path, include_bytes!("made/place.png")).expect("written");
    made.describe("[[rooms]]\nname = \"Attic\"\n");
    let attic = survey::PlaceOf::Room("Attic".into());
    made.survey.photograph_place(&attic, None, &[path], "T. Ashdown", &Quiet).expect("brought in");
    let [report, _] = written(&made.facts(), made.place.path());
    if let Some((sound, said)) = ask("qpdf", &["--check"], &report, &[]) {
        assert!(sound, "{said}");
    }
    let Some(text) = text(&report) else { return };
    assert!(text.contains("Photographs of the place") && text.contains("G1: Attic."), "{text}");
    if let Some((_, images)) = ask("pdfimages", &["-list"], &report, &[]) {
        assert!(images.lines().count() > 2, "a picture is there: {images}");
    }
}

#[test]
fn the_ledger_goes_with_it() {
    let made = decided();
    let facts = made.facts();
    let [report, _] = written(&facts, made.place.path());
    let out = made.place.path().join("ledger.json");
    let to = out.to_str().expect("a plain path");
    if let Some((taken, said)) = ask("pdfdetach", &["-save", "1", "-o", to], &report, &[]) {
        assert!(taken, "{said}");
        assert_eq!(std::fs::read(&out).expect("taken out"), facts.ledger_json().expect("JSON"));
    }
}

#[test]
fn the_same_facts_give_the_same_bytes() {
    let made = decided();
    let facts = made.facts();
    let report = full(&facts).expect("a report");
    let one = pdf(&report, &[]).expect("a PDF");
    assert!(one == pdf(&report, &[]).expect("a PDF"));
}

#[test]
fn the_interim_page_is_one_page_whatever_was_found() {
    let made = made::survey("Many");
    let rows: Vec<(f64, f64)> = (0..24).map(|i| (410e6 + 2.5e6 * f64::from(i), -50.0)).collect();
    for room in 0..20 {
        let start = format!("2026-03-01T{:02}:00:00Z", room);
        made.record(&start, Role::Room, &format!("Room with a long name, number {room}"), &rows);
    }
    for (hz, _) in &rows {
        made.decide(*hz, State::Suspect, &"a reason that goes on for a long time ".repeat(20));
    }
    made.describe(&format!("[statement]\nsummary = \"{}\"\n", "Much was found. ".repeat(60)));
    let [report, one] = written(&made.facts(), made.place.path());
    if let (Some(many), Some(single)) = (pages(&report), pages(&one)) {
        assert_eq!(single, 1);
        assert!(many > 8, "{many}");
    }
}

#[test]
fn whatever_others_wrote_is_set_as_it_stands() {
    let evil = "#panic(\"x\") $1/0$ [[ _a_ *b* `c` <label> @ref \\ // /* 中文 \u{202e} \u{1F600}";
    let made = made::survey(evil);
    made.record("2026-03-01T21:00:00Z", Role::Room, "Room #1 & 'more' <b>", &[(433.1e6, -60.0)]);
    made.decide(433.1e6, State::Suspect, evil);
    let [report, one] = written(&made.facts(), made.place.path());
    for file in [report, one] {
        let Some(text) = text(&file) else { return };
        for said in [
            "#panic(",
            "$1/0$ [[ _a_ *b* `c` <label> @ref \\ // /*",
            "[U+4E2D U+6587] [U+202E] [U+1F600]",
        ] {
            assert!(text.contains(said), "{said}: {text}");
        }
        assert!(text.contains("Room #1 & 'more' <b>"), "{text}");
        assert!(text.contains("stand in it by their numbers in Unicode"), "{text}");
    }
}

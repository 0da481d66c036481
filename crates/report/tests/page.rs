//! What a client reads, compared with what was put into the survey.

#![allow(missing_docs)]
// A test may look into its own folders.
#![allow(clippy::disallowed_methods)]

mod made;

use ledger::{Role, State};
use made::xml::{self, Element};
use made::{office, survey};
use report::{Facts, full, html, interim};
use survey::Quiet;

fn pages(facts: &Facts) -> [String; 2] {
    let reports = [full(facts).expect("a report"), interim(facts).expect("an interim page")];
    // A number and its unit are kept together by a space that does not break.
    reports.map(|report| html(&report).replace('\u{a0}', " "))
}

fn read(page: &str) -> Vec<Element> {
    xml::read(page).unwrap_or_else(|why| panic!("not well-formed: {why}"))
}

/// All text of the section with this id.
fn section(elements: &[Element], id: &str) -> String {
    let found = elements.iter().find(|e| e.attribute("aria-labelledby") == Some(id));
    found.unwrap_or_else(|| panic!("no section {id}")).text.clone()
}

const AUTHORITY: &str = r#"
[[authority]]
who = "the owner"
right = "owner of the building"
rooms = ["Board room", "Kitchen"]
from = "2026-03-01T18:00:00Z"
to = "2026-03-01T21:05:00Z"
listening = false
document = "letter of 27 February"
"#;

#[test]
fn the_first_page_says_that_the_authority_is_missing() {
    let made = office("Heron");
    for page in pages(&made.facts()) {
        let elements = read(&page);
        let word = "The authority is missing";
        assert!(page.contains(word));
        let first_break = page.find("class=\"new-page\"").unwrap_or(page.len());
        assert!(page.find(word).expect("said") < first_break, "after the first page");
        assert!(elements.iter().any(|e| e.name == "strong" && e.text == word));
    }
}

#[test]
fn what_was_measured_outside_the_authority_is_named() {
    let made = office("Heron");
    made.describe(AUTHORITY);
    for page in pages(&made.facts()) {
        assert!(!page.contains("The authority is missing"));
        let text = read(&page)[0].text.clone();
        assert!(text.to_lowercase().contains("given by") && text.contains("the owner"), "{text}");
        // Two of three lie before 21:05 UTC; the kitchen's, at 21:10, does not.
        assert!(text.contains("1 measurement lies not within the time"), "{text}");
        assert!(text.contains("C3 (2026-03-01 22:10–22:11)"), "{text}");
    }
}

#[test]
fn every_emission_of_the_ledger_is_in_the_table_once() {
    let made = office("Heron");
    made.decide(433.1e6, State::Accounted, "the neighbour's gate");
    made.decide(446.2e6, State::Unresolved, "heard twice only");
    made.decide(468.55e6, State::Suspect, "only in the board room");
    let facts = made.facts();
    let [page, _] = pages(&facts);
    let elements = read(&page);
    let heading = elements.iter().position(|e| e.attribute("id") == Some("emissions"));
    let parent = elements[heading.expect("a heading")].inside.last().expect("a section");
    let heads: Vec<&str> = elements
        .iter()
        .filter(|e| e.inside.contains(parent) && e.attribute("scope") == Some("row"))
        .map(|e| e.text.as_str())
        .collect();
    let ids: Vec<&str> = facts.ledger.emissions.iter().map(|row| row.id.as_str()).collect();
    assert_eq!(ids.len(), 3);
    assert_eq!(heads, ids, "once each, in the order of the ledger");
    let table = section(&elements, "emissions");
    for said in ["the transmitter was seen", "The neighbour's gate.", "433.100 MHz", "468.550 MHz"]
    {
        assert!(table.to_lowercase().contains(&said.to_lowercase()), "{said}: {table}");
    }
    let unresolved = section(&elements, "unresolved");
    assert!(unresolved.contains("Heard twice only.") && unresolved.contains("Would settle it"));
}

#[test]
fn a_finding_says_where_it_was_heard_and_draws_it() {
    let made = office("Heron");
    made.decide(468.55e6, State::Located, "behind the skirting");
    let facts = made.facts();
    let [page, one] = pages(&facts);
    let elements = read(&page);
    let text = section(&elements, "findings");
    for said in [
        "located",
        "Heard at Board room.",
        "−60 dBFS",
        "Why it matters",
        "Behind the skirting.",
        "Touch, move",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    // Not heard in the yard: its limit there, as the ledger has it.
    let row = facts.ledger.emissions.iter().find(|row| row.decision.state == State::Located);
    let yard = row.expect("the row").receptions.iter().find(|r| r.role == Role::Reference);
    let limit = yard.and_then(|r| r.limit_dbfs).expect("a limit").0;
    assert!(limit < -60.0 && text.contains(&format!("not heard, under −{:.0}", -limit)), "{text}");
    let drawn: Vec<&Element> = elements.iter().filter(|e| e.name == "svg").collect();
    assert_eq!(drawn.len(), 3, "the scale, levels and on-times");
    for picture in drawn {
        assert!(picture.attribute("aria-label").is_some_and(|words| words.len() > 20));
    }
    // Three bursts of 2 s in 60 s, put into the recording: three bars.
    let on = &facts.on_times.values().next().expect("a finding's")[0].on;
    assert_eq!(on.len(), 3);
    for (burst, at_s) in on.iter().zip([5.0, 25.0, 45.0]) {
        let start = facts.ledger.captures[1].start.expect("a start");
        assert!((burst.0.seconds_since(start) - at_s).abs() <= 0.03 + 1e-9);
        assert!((burst.1.seconds_since(burst.0) - 2.0).abs() <= 0.06 + 1e-9);
    }
    assert!(read(&one)[0].text.contains("1 emission was traced to its place"), "{one}");
}

#[test]
fn hashes_and_head_are_those_of_verify() {
    let made = office("Heron");
    let facts = made.facts();
    let verified = made.survey.verify(&Quiet).expect("verified");
    assert!(verified.ok);
    let [page, one] = pages(&facts);
    assert!(page.contains(&verified.head) && one.contains(&verified.head));
    let evidence = section(&read(&page), "evidence");
    let captures = made.survey.captures().expect("captures");
    assert_eq!(captures.len(), 3);
    for file in captures.iter().flat_map(|capture| &capture.files) {
        assert_eq!(evidence.matches(&file.sha256).count(), 1, "{}", file.name);
    }
    let journal = section(&read(&page), "journal");
    assert!(
        journal.contains("nothing is altered or missing") && journal.contains("stillroom 9.9.9")
    );
}

#[test]
fn altered_evidence_is_told_on_the_first_page() {
    let made = office("Heron");
    let sha256 = made.survey.captures().expect("captures")[0].files[0].sha256.clone();
    let file = made.survey.evidence_path(&sha256);
    std::fs::remove_file(&file).expect("removed");
    std::fs::write(&file, "something else").expect("written");
    for page in pages(&made.facts()) {
        let text = read(&page)[0].text.clone();
        assert!(text.contains("Evidence or journal is not as it was written"), "{text}");
        assert!(!text.contains("nothing is altered or missing"));
    }
}

#[test]
fn what_others_wrote_is_never_markup() {
    let evil = "<script>alert('x')</script>&amp;\"</style>";
    let made = survey(evil);
    made.record("2026-03-01T21:00:00Z", Role::Room, "Room <b>1</b> & 'more'", &[(433.1e6, -60.0)]);
    made.decide(433.1e6, State::Suspect, evil);
    made.survey
        .note(&survey::Note::Remark { text: evil.into(), at: None, from: None, until: None }, evil)
        .expect("noted");
    for page in pages(&made.facts()) {
        let elements = read(&page);
        assert!(elements.iter().all(|e| e.name != "script" && e.name != "b"));
        assert_eq!(page.matches("</style>").count(), 1);
        assert!(elements.iter().any(|e| e.name == "h1" && e.text == evil));
        assert!(elements[0].text.contains("Room <b>1</b> & 'more'"));
    }
}

#[test]
fn without_a_decision_it_says_so_and_without_coverage_nothing_more() {
    let made = office("Heron");
    for page in pages(&made.facts()) {
        let text = read(&page)[0].text.to_lowercase();
        assert!(text.contains("nothing has been decided yet"));
        assert!(text.contains("coverage: 2 rooms and places inside were listened to"), "{text}");
        assert!(!text.contains("nothing found") && !text.contains("accounted for. that"));
    }
    let empty = survey("Empty");
    for page in pages(&empty.facts()) {
        let text = read(&page)[0].text.to_lowercase();
        assert!(text.contains("nothing was measured"), "{text}");
        assert!(!text.contains("nothing found") && !text.contains("was accounted for"));
    }
    let outside = survey("Outside");
    outside.record("2026-03-01T20:00:00Z", Role::Reference, "Yard", &[(433.1e6, -60.0)]);
    outside.decide(433.1e6, State::Accounted, "the gate");
    for page in pages(&outside.facts()) {
        let text = read(&page)[0].text.clone();
        assert!(text.contains("No room was listened to."), "{text}");
        assert!(!text.contains("Every emission that was received was accounted for"));
    }
}

#[test]
fn all_accounted_is_told_with_the_coverage() {
    let made = office("Heron");
    for (hz, reason) in [(433.1e6, "gate"), (446.2e6, "taxis"), (468.55e6, "baby monitor")] {
        made.decide(hz, State::Accounted, reason);
    }
    let [page, _] = pages(&made.facts());
    let elements = read(&page);
    let answer = section(&elements, "answer");
    assert!(answer.contains("Every emission that was received was accounted for."), "{answer}");
    assert!(answer.contains("does not show that no transmitter is there"));
    // 60 s of 400 to 500 MHz in each room, down to −110 dBFS less 20 dB of gain: what each recording says.
    let coverage = section(&elements, "coverage");
    for said in ["Board room", "Kitchen", "400–500 MHz", "60.0 s", "−130 dBFS", "empty"] {
        assert!(coverage.contains(said), "{said}: {coverage}");
    }
    assert!(
        coverage.contains("A device silent for longer than the longest listening was not covered")
    );
    assert!(coverage.contains("Measured only while empty: Board room and Kitchen."), "{coverage}");
}

#[test]
fn every_statement_says_what_it_rests_on() {
    let made = office("Heron");
    made.describe(AUTHORITY);
    made.decide(468.55e6, State::Suspect, "only in the board room");
    for page in pages(&made.facts()) {
        let elements = read(&page);
        let marks = ["fact", "calculation", "opinion", "caution"];
        for (at, row) in elements.iter().enumerate() {
            let class = row.attribute("class").unwrap_or_default();
            if class.starts_with("row") || row.name == "caption" || row.name == "figcaption" {
                let mark = elements.iter().find(|e| {
                    let class = e.attribute("class").unwrap_or_default();
                    e.inside.contains(&at) && class.starts_with("nature ")
                });
                assert!(mark.is_some_and(|m| marks.contains(&m.text.as_str())), "{}", row.text);
            }
        }
    }
}

#[test]
fn tables_and_headings_are_tagged() {
    let made = office("Heron");
    made.decide(468.55e6, State::Suspect, "only in the board room");
    let [page, _] = pages(&made.facts());
    let elements = read(&page);
    assert!(elements.iter().filter(|e| e.name == "th").all(|e| e.attribute("scope").is_some()));
    assert_eq!(elements.iter().filter(|e| e.name == "h1").count(), 1);
    let tables = elements.iter().filter(|e| e.name == "table").count();
    assert_eq!(tables, elements.iter().filter(|e| e.name == "caption").count());
    // Nothing is fetched and nothing runs.
    for name in ["script", "link", "iframe", "object"] {
        assert!(elements.iter().all(|e| e.name != name), "{name}");
    }
    let reaches = |e: &Element| {
        e.attributes
            .iter()
            .any(|(k, v)| (k == "src" && !v.starts_with("data:image/")) || k.starts_with("on"))
    };
    assert!(!elements.iter().any(reaches));
}

/// Pictures of 16 by 12 dots, written by Pillow 13.0 with a place (GPS), a camera and a comment in
/// their metadata.
const PLACE_JPEG: &[u8] = include_bytes!("made/place.jpg");
const PLACE_PNG: &[u8] = include_bytes!("made/place.png");

#[test]
fn photographs_of_a_found_item_are_shown_without_their_place() {
    let made = office("Heron");
    made.decide(468.55e6, State::Located, "behind the skirting");
    made.describe("[[found_items]]\nwhat = \"a small case\"\nplace = \"Board room\"\n");
    let files: Vec<_> = [("a.jpg", PLACE_JPEG), ("b.png", PLACE_PNG), ("c.heic", b"no picture")]
        .into_iter()
        .map(|(name, bytes)| {
            let path = made.place.path().join(name);
            std::fs::write(&path, bytes).expect("written");
            path
        })
        .collect();
    made.survey.photograph("F1", &files, "T. Ashdown", &Quiet).expect("brought in");
    let facts = made.facts();
    assert_eq!(facts.photographs.len(), 2);
    let [page, _] = pages(&facts);
    let elements = read(&page);
    let pictures: Vec<&Element> = elements.iter().filter(|e| e.name == "img").collect();
    assert_eq!(pictures.len(), 2);
    for (picture, kind) in pictures.iter().zip(["jpeg", "png"]) {
        assert_eq!(picture.attribute("alt"), Some("Photograph of F1: a small case"));
        let source = picture.attribute("src").expect("a source");
        assert!(source.starts_with(&format!("data:image/{kind};base64,")), "{source:.40}");
    }
    let has = |bytes: &[u8], what: &[u8]| bytes.windows(what.len()).any(|part| part == what);
    for (photograph, file) in facts.photographs.values().map(|p| (p, &p.name)) {
        let whole = if file == "a.jpg" { PLACE_JPEG } else { PLACE_PNG };
        assert!(has(whole, b"SECRET") && !has(&photograph.bytes, b"SECRET"), "{file}");
        // The tag of the GPS directory (TIFF tag 34853), in either order of bytes.
        assert!(!has(&photograph.bytes, &[0x88, 0x25, 0, 4]), "{file}");
        assert!(!has(&photograph.bytes, &[0x25, 0x88, 4, 0]), "{file}");
    }
    assert!(section(&elements, "findings").contains("Photograph c.heic is kept as evidence"));
    // The evidence itself is as it came.
    let kept = &made.survey.record().expect("a record").found_items[0].photographs[0];
    let kept = std::fs::read(made.survey.evidence_path(&kept.sha256)).expect("kept");
    assert_eq!(kept, PLACE_JPEG);
}

#[test]
fn photographs_of_rooms_are_shown_small_and_the_rest_is_told() {
    let made = office("Heron");
    let files: Vec<_> = (0..14u8)
        .map(|i| {
            // What follows the end of a picture is no part of it, and makes it another file.
            let path = made.place.path().join(format!("{i}.png"));
            std::fs::write(&path, [PLACE_PNG, &[i]].concat()).expect("written");
            path
        })
        .collect();
    made.describe("[[rooms]]\nname = \"Attic\"\n");
    let attic = survey::PlaceOf::Room("Attic".into());
    made.survey.photograph_place(&attic, None, &files, "T. Ashdown", &Quiet).expect("brought in");
    let facts = made.facts();
    let [page, _] = pages(&facts);
    let elements = read(&page);
    assert_eq!(elements.iter().filter(|e| e.name == "img").count(), 12);
    let said = section(&elements, "photographs");
    assert!(said.contains("G1: Attic.") && said.contains("2 photographs are kept"), "{said}");
    assert!(said.contains("G13 (Attic) and G14 (Attic)."), "{said}");
    let has = |bytes: &[u8], what: &[u8]| bytes.windows(what.len()).any(|part| part == what);
    assert!(facts.photographs.values().all(|one| !has(&one.bytes, b"SECRET")));
}

#[test]
fn the_first_page_says_for_whom_and_what_is_feared_as_far_as_it_is_recorded() {
    let made = office("Heron");
    let [bare, _] = pages(&made.facts());
    assert!(!bare.contains("What the client said") && !bare.contains("<dt>For</dt>"));
    made.describe(
        "[brief]\nclient = \"the owner of Heron House\"\nleaked = \"two offers\"\n\
         who_had_access = \"the night cleaner\"\nfeared = [\"voice in the board room\"]\n",
    );
    for page in pages(&made.facts()) {
        assert!(page.contains("<dt>For</dt><dd>the owner of Heron House</dd>"));
        assert!(!page.contains("the night cleaner"), "a report is passed on");
    }
    let [page, _] = pages(&made.facts());
    let answer = section(&read(&page), "answer");
    assert!(answer.contains("two offers") && answer.contains("voice in the board room"));
    assert!(!answer.contains("when and where"), "nothing is recorded of it");
    made.describe("[brief]\nheard_where = \"a café in town\"\n");
    let [page, _] = pages(&made.facts());
    assert!(page.contains("<dt>when and where</dt><dd>a café in town</dd>"));
}

#[test]
fn what_the_technician_concludes_comes_first_and_the_account_stays() {
    let made = office("Heron");
    made.decide(468.55e6, State::Suspect, "only in the board room");
    let id = &made.facts().ledger.emissions;
    let id = id.iter().find(|row| row.decision.state == State::Suspect).expect("it").id.clone();
    made.describe(&format!(
        "[statement]\nsummary = \"There is a transmitter.\\n\\nIt can be heard.\"\n\
         advice = \"Meet elsewhere.\"\nauthor = \"R. Vale\"\nqualification = \"by practice\"\n\
         [[statement.opinions]]\nof = \"{id}\"\ntext = \"It sends speech.\"\nadvice = \"Leave it.\"\n\
         [[chains]]\nname = \"recorder\"\nserial = \"SN 4711\"\nlast_checked = \"2026-02-14, own bench\"\n"
    ));
    let [page, one] = pages(&made.facts());
    let elements = read(&page);
    let answer = section(&elements, "answer");
    let first = answer.find("There is a transmitter.").expect("said");
    let counted = answer.find("1 emission is suspect and not yet traced").expect("said too");
    assert!(first < counted, "{answer}");
    assert!(section(&elements, "findings").contains("It sends speech."));
    assert!(section(&elements, "findings").contains("Leave it."));
    assert!(section(&elements, "advice").contains("Meet elsewhere."));
    let measured = section(&elements, "measurements");
    assert!(
        measured.contains("SN 4711") && measured.contains("2026-02-14, own bench"),
        "{measured}"
    );
    for page in [&page, &one] {
        let text = &read(page)[0].text;
        assert!(text.contains("R. Vale, by practice") && text.contains("There is a transmitter."));
    }
}

#[test]
fn a_finding_is_drawn_on_the_plan_of_its_floor() {
    let made = office("Heron");
    made.decide(468.55e6, State::Located, "behind the skirting");
    let drawn = |made: &made::Made| {
        read(&pages(&made.facts())[0]).iter().filter(|e| e.name == "svg").count()
    };
    let before = drawn(&made);
    made.describe(
        "[[floors]]\nname = \"ground\"\n[[rooms]]\nname = \"Board room\"\nfloor = \"ground\"\n\
         corners_m = [[0, 0], [8, 0], [8, 5], [0, 5]]\n",
    );
    let text = made.survey.describe().expect("the record");
    let placed = text.replace(
        "name = \"Board room\"\nzone",
        "name = \"Board room\"\nfloor = \"ground\"\nx_m = 3.0\ny_m = 2.0\nzone",
    );
    assert_ne!(text, placed);
    made.describe(&placed);
    assert_eq!(drawn(&made), before + 1);
    let [page, _] = pages(&made.facts());
    let plan = read(&page);
    let plan = plan.iter().find(|e| {
        e.attribute("aria-label").is_some_and(|words| words.starts_with("Floor plan of ground"))
    });
    assert!(plan.expect("a plan").text.contains("−60 dBFS"), "as it was recorded, less the gain");
}

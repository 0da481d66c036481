//! The order in which recordings are brought in carries no meaning: twenty permutations of the
//! same files, through the real readers and analysis, give the same rows, levels and ranks.

mod support;

use ledger::{Ledger, Reception, Role};
use std::path::{Path, PathBuf};
use support::{Tone, sigmf, tone};
use survey::{AddOptions, NewSurvey, Overrides, Quiet, Survey};
use units::{Band, Utc};

const PERMUTATIONS: usize = 20;
/// A detector's log: minute stamps, a band in words, a strength of twelve steps, whole seconds.
const LOG: &str = "Time,Band,Strength,Seconds\n\
    2026-03-01 20:03,433-435 MHz,4,12\n2026-03-01 20:06,433-435 MHz,4,12\n\
    2026-03-01 20:09,433-435 MHz,5,12\n2026-03-01 20:09,868-870 MHz,9,2\n";
const COLUMNS: &str = "time=Time:%Y-%m-%d %H:%M,band=Band,strength=Strength/12,duration=Seconds:s";

/// One thing to add: its file and what is said of it.
type Item = (PathBuf, AddOptions);

fn iq(dir: &Path, name: &str, hour: u32, role: Role, tones: &[Tone]) -> Item {
    let start = format!("2026-03-01T{hour}:00:00Z");
    let file = sigmf(dir, name, &start, 0.4, tones, u64::from(hour));
    let at = (role != Role::NoAntenna).then(|| name.to_owned());
    let chain = Some("receiver A".into());
    (file, AddOptions { at, chain, gain_db: Some(20.0), ..AddOptions::new(role) })
}

fn items(dir: &Path) -> Vec<Item> {
    let burst = |offset_hz| Tone { offset_hz, dbfs: -30.0, on_s: (0.1, 0.25) };
    let log = dir.join("stick.csv");
    std::fs::write(&log, LOG).expect("written");
    let utc = |text| Some(Utc::parse(text).expect("a time"));
    let of_log = AddOptions {
        at: Some("office".into()),
        chain: Some("hand-held".into()),
        from: utc("2026-03-01T20:00:00Z"),
        until: utc("2026-03-01T20:20:00Z"),
        bands: vec![Band::new(433e6, 435e6), Band::new(868e6, 870e6)],
        overrides: Overrides { columns: Some(COLUMNS.into()), ..Overrides::default() },
        ..AddOptions::new(Role::Room)
    };
    vec![
        iq(dir, "yard", 18, Role::Reference, &[tone(-80e3, -35.0), tone(61e3, -45.0)]),
        iq(dir, "passage", 19, Role::Reference, &[tone(-80e3, -38.0)]),
        iq(dir, "office", 20, Role::Room, &[tone(-80e3, -44.0), tone(20e3, -25.0)]),
        iq(dir, "boardroom", 21, Role::Room, &[tone(20e3, -41.0), burst(-33e3)]),
        iq(dir, "no antenna", 22, Role::NoAntenna, &[tone(61e3, -45.0)]),
        (log, of_log),
    ]
}

/// What a ledger says, in words that no order of ids can change.
fn said(ledger: &Ledger) -> Vec<String> {
    let place = |id: &Option<String>| {
        let position = ledger.positions.iter().find(|p| Some(&p.id) == id.as_ref());
        position.map_or("nowhere", |p| p.name.as_str()).to_owned()
    };
    let file = |id: &str| {
        let capture = ledger.captures.iter().find(|c| c.id == id).expect("its capture");
        capture.files[0].sha256.clone()
    };
    let reception = |r: &Reception| {
        format!(
            "{} {} {} {:?} {:?} {:?} {:?}",
            file(&r.capture),
            place(&r.position),
            r.heard,
            r.level_dbfs,
            r.strength,
            r.first,
            r.limit_dbfs
        )
    };
    let row = |row: &ledger::LedgerRow| {
        let mut receptions: Vec<String> = row.receptions.iter().map(reception).collect();
        receptions.sort();
        let reasons: Vec<&str> = row.attention.reasons.iter().map(|r| r.code.as_str()).collect();
        format!(
            "{} {} {:?} {:?} {:?} {:?} {:?} {:?}",
            row.attention.rank,
            row.attention.score,
            reasons,
            row.emission,
            row.origin,
            row.first,
            row.receiver_line.as_deref().map(file),
            receptions
        )
    };
    ledger.emissions.iter().map(row).collect()
}

fn survey_of(dir: &Path, items: &[&Item]) -> Ledger {
    let new = NewSurvey {
        name: Some("orders".into()),
        region: Some("CEPT".into()),
        time_zone: Some("UTC".into()),
        by: Some("a test".into()),
    };
    let survey = Survey::create(dir, &new).expect("a survey");
    for (file, options) in items {
        survey.add(std::slice::from_ref(file), options, "", &Quiet).expect("added");
    }
    survey.ledger(&Quiet).expect("a ledger").ledger
}

#[test]
fn the_order_of_add_changes_nothing() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let items = items(place.path());
    let mut order: Vec<&Item> = items.iter().collect();
    let first = survey_of(&place.path().join("0"), &order);
    let expected = said(&first);
    // Four steady tones, one burst, the log's two bands: nothing here is empty.
    assert!(expected.len() >= 5, "{expected:#?}");
    let mut state = 7u64;
    for permutation in 1..PERMUTATIONS {
        // Fisher and Yates, with Knuth's generator.
        for i in (1..order.len()).rev() {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            order.swap(i, (state >> 33) as usize % (i + 1));
        }
        let ledger = survey_of(&place.path().join(permutation.to_string()), &order);
        let names: Vec<_> = order.iter().map(|(file, _)| file.file_name()).collect();
        assert_eq!(said(&ledger), expected, "in the order {names:?}");
        assert_eq!(ledger.balance, first.balance);
    }
}

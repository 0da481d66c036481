//! Every row of every table obeys the rules, and each rule has a table that breaks it: a check
//! that cannot fail checks nothing.

use almanac::{Almanac, Basis, Duplex, MaterialKind, TABLES, TableError, Tables};

#[test]
fn every_row_obeys_the_rules() {
    let a = Almanac::parse(&TABLES).expect("sound tables");
    let lines = |text: &str| text.lines().count() - 1;
    assert_eq!(a.allocations().len(), lines(TABLES.allocations));
    assert_eq!(a.technologies().count(), lines(TABLES.technologies));
    assert_eq!(a.channels().len(), lines(TABLES.channel_plans));
    assert_eq!(a.rasters().len(), lines(TABLES.channel_formulas));
    assert_eq!(a.mobile_bands().len(), lines(TABLES.mobile_bands));
    assert_eq!(a.materials().len(), lines(TABLES.materials));
    assert_eq!(a.threats().len(), lines(TABLES.threats));
    assert_eq!(a.strength_scales().len(), lines(TABLES.strength_scales));
    assert!(a.allocations().len() >= 250 && a.threats().len() >= 16);
}

/// LTE and NR took over the bands of their predecessors: the numbers must agree (TS 38.104
/// Table 5.2-1, TS 36.101 Table 5.5-1). Band 66 grew.
#[test]
fn nr_bands_agree_with_the_lte_bands_they_come_from() {
    let a = Almanac::load();
    let band = |name: String| a.mobile_bands().iter().find(|b| b.band == name);
    let mut seen = 0;
    for n in [1, 2, 3, 4, 5, 7, 8, 12, 13, 20, 28, 38, 40, 41, 71] {
        let (Some(lte), Some(nr)) = (band(format!("LTE {n}")), band(format!("n{n}"))) else {
            continue;
        };
        assert_eq!((lte.uplink, lte.downlink), (nr.uplink, nr.downlink), "band {n}");
        seen += 1;
    }
    assert!(seen >= 13);
    assert!(a.mobile_bands().iter().any(|b| b.duplex == Duplex::Sul));
}

#[test]
fn files_are_plain() {
    for text in [
        TABLES.allocations,
        TABLES.technologies,
        TABLES.channel_plans,
        TABLES.channel_formulas,
        TABLES.mobile_bands,
        TABLES.materials,
        TABLES.threats,
        TABLES.strength_scales,
    ] {
        assert!(!text.contains('\r') && !text.starts_with('\u{feff}') && text.ends_with('\n'));
    }
}

#[test]
fn channels_of_a_raster_and_of_its_table_agree() {
    let a = Almanac::load();
    for (plan, first, last) in [("bt_br_edr", 0, 78), ("wifi_24", 1, 13)] {
        let raster = a.rasters().iter().find(|r| r.plan == plan).expect("a raster");
        for n in first..=last {
            let single = a.channels().iter().find(|c| c.plan == plan && c.channel == n.to_string());
            assert_eq!(raster.centre_hz(n), single.map(|c| c.centre_hz), "{plan} {n}");
        }
    }
}

#[test]
fn basis_and_kinds_are_read() {
    let a = Almanac::load();
    assert!(a.allocations().iter().any(|r| r.provenance.is_firm()));
    assert!(a.allocations().iter().any(|r| r.provenance.basis == Basis::Memory));
    assert!(!a.threats().iter().any(|r| r.provenance.is_firm()));
    assert_eq!(a.material("light_partition").count(), 6);
    assert!(a.material("concrete").all(|m| m.kind == MaterialKind::P2040));
    assert_eq!(a.material("").count(), 0);
}

/// One table with one row changed.
fn broken(table: &str, row: &str, from: &str, to: &str) -> Result<Almanac, TableError> {
    let text = match table {
        "allocations" => TABLES.allocations,
        "technologies" => TABLES.technologies,
        "channel_plans" => TABLES.channel_plans,
        "channel_formulas" => TABLES.channel_formulas,
        "mobile_bands" => TABLES.mobile_bands,
        "materials" => TABLES.materials,
        "threats" => TABLES.threats,
        _ => TABLES.strength_scales,
    };
    let line = text.lines().find(|l| l.starts_with(row)).unwrap_or_else(|| panic!("no {row}"));
    assert!(line.contains(from), "{line}");
    let changed = text.replacen(line, &line.replacen(from, to, 1), 1);
    let mut tables: Tables<'_> = TABLES;
    match table {
        "allocations" => tables.allocations = &changed,
        "technologies" => tables.technologies = &changed,
        "channel_plans" => tables.channel_plans = &changed,
        "channel_formulas" => tables.channel_formulas = &changed,
        "mobile_bands" => tables.mobile_bands = &changed,
        "materials" => tables.materials = &changed,
        "threats" => tables.threats = &changed,
        _ => tables.strength_scales = &changed,
    }
    Almanac::parse(&tables)
}

#[test]
fn a_row_that_breaks_a_rule_is_refused_in_words() {
    let p_gsm = "P-GSM 900";
    for (table, row, from, to, column) in [
        ("allocations", "WORLD,9000", "WORLD", "MARS", "region"),
        ("allocations", "WORLD,9000", "9000,14000", "14000,9000", "high_hz"),
        ("allocations", "WORLD,9000", "9000,", "8000,", "low_hz"),
        ("allocations", "WORLD,9000", "standard", "hearsay", "basis"),
        ("allocations", "WORLD,9000", ",yes", ",maybe", "checked"),
        ("allocations", "WORLD,9000", "14000", "fourteen", "high_hz"),
        ("allocations", "WORLD,9000", "9000", " 9000", "low_hz"),
        ("allocations", "WORLD,9000", "radionavigation", "", "service"),
        ("allocations", "CEPT,9000,148500", "plc_audio", "plc_nothing", "typical_technologies"),
        ("allocations", "CEPT,9000,148500", ",,,,", ",1,1,,", "eirp_dbm"),
        ("allocations", "CEPT,9000,148500", ",,,,", ",,,2,", "duty_max"),
        ("technologies", "gsm,", "gsm", "GSM", "id"),
        ("technologies", "umts,", "umts", "gsm", "id"),
        ("technologies", "gsm,", "voice;data", "voice;smell", "carries"),
        ("technologies", "gsm,", ",yes,training", ",often,training", "could_carry_room_sound"),
        ("technologies", "gsm,", "25,33", "35,33", "typical_eirp_dbm"),
        ("technologies", "gsm,", "0.000546", "0.5", "burst_s"),
        ("technologies", "lte_3,", "15000", "16000", "ofdm_useful_s"),
        ("channel_plans", "wifi_24,1,", "2412000000", "2417000000", "channel"),
        ("channel_plans", "wifi_24,1,", "20000000", "0", "width_hz"),
        ("channel_plans", "wifi_24,1,", "2412000000", "2412", "centre_hz"),
        ("channel_plans", "wifi_24,1,", "both", "sideways", "direction"),
        ("channel_plans", "wifi_24,1,", "CEPT, UK, world (1-11 in US)", "Mars", "region"),
        ("channel_formulas", "gsm_900_p,up", "890200000", "880000000", "first_hz"),
        ("channel_formulas", "gsm_900_p,up", "124", "0", "last_channel"),
        ("channel_formulas", "gsm_900_p,up", ",200000,1,124", ",0,1,124", "step_hz"),
        ("channel_formulas", "gsm_900_p,up", ",124,1,", ",124,2,", "last_channel"),
        ("mobile_bands", p_gsm, "FDD", "TDD", "duplex"),
        ("mobile_bands", p_gsm, "FDD", "SDL", "duplex"),
        ("mobile_bands", p_gsm, "FDD", "XDD", "duplex"),
        ("mobile_bands", p_gsm, "890000000", "", "uplink_high_hz"),
        ("mobile_bands", "E-GSM 900", "E-GSM", "P-GSM", "band"),
        ("materials", "concrete,p2040", "p2040", "p2041", "kind"),
        ("materials", "concrete,p2040", "concrete", "", "id"),
        ("materials", "concrete,p2040", ",5.24,", ",,", "value"),
        ("materials", "concrete,p2040", "1000000000,", "200000000000,", "freq_high_hz"),
        ("threats", "fm_free,", "room_fm_free", "room_fm_none", "technology_id"),
        ("threats", "fm_free,", "always", "never", "trigger"),
        ("threats", "fm_free,", "76000000-130000000", "130000000-76000000", "band_list_hz"),
        ("threats", "fm_free,", "-10,17", "18,17", "eirp_dbm_high"),
        ("strength_scales", "ordinal bars", "common practice, no source", "", "source"),
    ] {
        let found = if column == "channel" {
            // A second channel 1 on the centre of channel 2 is sound; the same row twice is not.
            broken(table, "wifi_24,2,", "wifi_24,2,2417000000", "wifi_24,1,2412000000")
        } else {
            broken(table, row, from, to)
        };
        match found {
            Ok(_) => panic!("{table} {row}: '{from}' to '{to}' was accepted"),
            Err(e) => {
                assert_eq!(e.column, column, "{e}");
                assert!(e.line > 1 && e.to_string().contains(".csv"), "{e}");
            }
        }
    }
}

#[test]
fn a_missing_column_or_field_is_named() {
    let changed = TABLES.threats.replacen("trigger", "cause", 1);
    let e = Almanac::parse(&Tables { threats: &changed, ..TABLES }).expect_err("no trigger column");
    assert_eq!(e.column, "trigger");
    let short = TABLES.threats.replacen(",always", "", 1);
    let e = Almanac::parse(&Tables { threats: &short, ..TABLES }).expect_err("a short row");
    assert_eq!(e.line, 2, "{e}");
}

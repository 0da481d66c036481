//! The tables against published facts, each with its clause.

use almanac::{Almanac, Direction, Raster, Region, Technology};
use units::Band;

fn almanac() -> &'static Almanac {
    Almanac::load()
}

fn raster(plan: &str, direction: Direction) -> &'static Raster {
    let mut rows = almanac().rasters().iter();
    rows.find(|r| r.plan == plan && r.direction == direction).expect("a raster")
}

fn centre(plan: &str, channel: &str) -> f64 {
    let mut rows = almanac().channels().iter();
    rows.find(|c| c.plan == plan && c.channel == channel).expect("a channel").centre_hz
}

/// 3GPP TS 45.005 clause 2: Fl(n) in MHz, and the duplex distance.
#[test]
fn gsm_channel_numbers() {
    type Formula = (&'static str, i64, i64, f64, f64);
    let formulas: [Formula; 10] = [
        ("gsm_450", 259, 293, 450.6 - 0.2 * 259.0, 10.0),
        ("gsm_480", 306, 340, 479.0 - 0.2 * 306.0, 10.0),
        ("gsm_850", 128, 251, 824.2 - 0.2 * 128.0, 45.0),
        ("gsm_900_p", 1, 124, 890.0, 45.0),
        ("gsm_900_e0", 0, 124, 890.0, 45.0),
        ("gsm_900_e", 975, 1023, 890.0 - 0.2 * 1024.0, 45.0),
        ("gsm_900_r", 955, 1023, 890.0 - 0.2 * 1024.0, 45.0),
        ("gsm_900_er", 940, 1023, 890.0 - 0.2 * 1024.0, 45.0),
        ("gsm_1800", 512, 885, 1710.2 - 0.2 * 512.0, 95.0),
        ("gsm_1900", 512, 810, 1850.2 - 0.2 * 512.0, 80.0),
    ];
    for (plan, first, last, base_mhz, duplex_mhz) in formulas {
        for (direction, shift) in [(Direction::Up, 0.0), (Direction::Down, duplex_mhz)] {
            let r = raster(plan, direction);
            assert_eq!((r.first_channel, r.last_channel), (first, last), "{plan}");
            for n in [first, (first + last) / 2, last] {
                let want = (base_mhz + 0.2 * n as f64 + shift) * 1e6;
                let got = r.centre_hz(n).expect("a channel");
                assert!((got - want).abs() < 1.0, "{plan} {n}: {got} {want}");
            }
            assert_eq!(r.centre_hz(first - 1), None);
            assert_eq!(r.centre_hz(last + 1), None);
        }
    }
}

/// 3GPP TS 36.101 Table 5.7.3-1: F = F_low + 0.1 MHz (N − N_offs), and the ranges of N.
#[test]
fn lte_channel_numbers() {
    type Row = (u32, f64, i64, i64, Option<(f64, i64, i64)>);
    let table: [Row; 10] = [
        (1, 2110.0, 0, 599, Some((1920.0, 18000, 18599))),
        (2, 1930.0, 600, 1199, Some((1850.0, 18600, 19199))),
        (3, 1805.0, 1200, 1949, Some((1710.0, 19200, 19949))),
        (4, 2110.0, 1950, 2399, Some((1710.0, 19950, 20399))),
        (7, 2620.0, 2750, 3449, Some((2500.0, 20750, 21449))),
        (8, 925.0, 3450, 3799, Some((880.0, 21450, 21799))),
        (20, 791.0, 6150, 6449, Some((832.0, 24150, 24449))),
        (28, 758.0, 9210, 9659, Some((703.0, 27210, 27659))),
        (38, 2570.0, 37750, 38249, None),
        (40, 2300.0, 38650, 39649, None),
    ];
    for (band, mhz, first, last, up) in table {
        let plan = format!("lte_b{band}");
        let down = if up.is_some() { Direction::Down } else { Direction::Both };
        let halves = [Some((mhz, first, last, down)), up.map(|(a, b, c)| (a, b, c, Direction::Up))];
        for (mhz, first, last, direction) in halves.into_iter().flatten() {
            let r = raster(&plan, direction);
            assert_eq!((r.first_channel, r.last_channel), (first, last), "{plan}");
            assert_eq!(r.centre_hz(first), Some(mhz * 1e6), "{plan}");
            assert_eq!(r.centre_hz(first + 25), Some(mhz * 1e6 + 2.5e6), "{plan}");
        }
    }
}

/// The same in every band: numbers run in steps of 100 kHz from edge to edge of the band of
/// TS 36.101 Table 5.5-1.
#[test]
fn lte_rasters_fill_their_bands() {
    let mut seen = 0;
    for r in almanac().rasters().iter().filter(|r| r.plan.starts_with("lte_b")) {
        let name = r.plan.replace("lte_b", "LTE ");
        let band = almanac().mobile_bands().iter().find(|b| b.band == name).expect("a band");
        let half = match r.direction {
            Direction::Up => band.uplink,
            _ => band.downlink,
        };
        let half = half.expect("a half");
        assert_eq!(r.first_hz, half.low_hz, "{name}");
        let last = r.centre_hz(r.last_channel).expect("the last");
        assert!((last + 1e5 - half.high_hz).abs() < 1.0, "{name}: {last}");
        seen += 1;
    }
    assert!(seen > 90, "{seen}");
}

/// 3GPP TS 38.104 clause 5.4.2.1 (NR-ARFCN) and 5.4.3.1 (GSCN), with its examples n = 1, m = 3.
#[test]
fn nr_channel_numbers() {
    let at = |plan: &str, n: i64| {
        let rows = almanac().rasters().iter().filter(|r| r.plan == plan);
        let found: Vec<f64> = rows.filter_map(|r| r.centre_hz(n)).collect();
        assert_eq!(found.len(), 1, "{plan} {n}");
        found[0]
    };
    assert_eq!(at("nr_arfcn_0_3000", 422_000), 2110e6);
    assert_eq!(at("nr_arfcn_3000_24250", 620_000), 3300e6);
    assert_eq!(at("nr_arfcn_3000_24250", 636_667), 3_550_005_000.0);
    for n in [2i64, 3, 4, 5, 6, 1000, 7498] {
        // GSCN = 3 n + (m − 3)/2, m in 1, 3, 5.
        let (block, m) = ((n + 1) / 3, 3 + 2 * (n - 3 * ((n + 1) / 3)));
        let want = block as f64 * 1.2e6 + m as f64 * 50e3;
        assert_eq!(at("nr_gscn_0_3000", n), want, "{n}");
    }
    assert_eq!(at("nr_gscn_3000_24250", 7499), 3000e6);
}

#[test]
fn wireless_lan_channels() {
    // IEEE 802.11-2020 Annex E: centre = starting frequency + 5 MHz × channel.
    for c in almanac().channels() {
        let start = match c.plan.as_str() {
            "wifi_24" => 2407e6,
            "wifi_5_20" | "wifi_5_40" | "wifi_5_80" | "wifi_5_160" => 5000e6,
            // IEEE 802.11ax-2021 operating classes 131 to 136.
            "wifi_6_20" | "wifi_6_40" | "wifi_6_80" | "wifi_6_160" => 5950e6,
            _ => continue,
        };
        let n: f64 = c.channel.parse().expect("a number");
        let want = match (c.plan.as_str(), c.channel.as_str()) {
            ("wifi_24", "14") => 2484e6,
            ("wifi_6_20", "2") => 5935e6,
            _ => start + 5e6 * n,
        };
        assert_eq!(c.centre_hz, want, "{} {}", c.plan, c.channel);
    }
}

#[test]
fn bluetooth_channels() {
    // Bluetooth Core Vol 6 Part B 1.4.1: advertising 37, 38, 39; data in between.
    for index in 0..40u32 {
        let k = match index {
            37 => 0,
            38 => 12,
            39 => 39,
            0..=10 => index + 1,
            _ => index + 2,
        };
        assert_eq!(centre("ble", &index.to_string()), 2402e6 + 2e6 * f64::from(k), "{index}");
    }
    // Bluetooth Core Vol 2 Part A 2: f = 2402 + k MHz, k = 0 … 78.
    for k in 0..79u32 {
        assert_eq!(centre("bt_br_edr", &k.to_string()), 2402e6 + 1e6 * f64::from(k));
    }
}

#[test]
fn cordless_and_licence_exempt_channels() {
    // EN 300 175-2 clause 4.1.1: Fc = 1897.344 MHz − c × 1.728 MHz, c = 0 … 9.
    for c in 0..10u32 {
        let want = 1_897_344_000.0 - 1_728_000.0 * f64::from(c);
        assert_eq!(centre("dect_eu", &c.to_string()), want);
    }
    // ECC/DEC/(15)05: PMR446, 16 channels of 12.5 kHz and 32 of 6.25 kHz in 446.0 to 446.2 MHz.
    for n in 1..=16u32 {
        assert_eq!(centre("pmr446", &n.to_string()), 446_006_250.0 + 12_500.0 * f64::from(n - 1));
    }
    for n in 1..=32u32 {
        let want = 446_003_125.0 + 6_250.0 * f64::from(n - 1);
        assert_eq!(centre("pmr446_6k25", &n.to_string()), want);
    }
    // 47 CFR 95.963: the order of channels 22 to 25 is not that of their frequencies.
    for (n, khz) in
        [(1, 26_965), (9, 27_065), (22, 27_225), (23, 27_255), (24, 27_235), (40, 27_405)]
    {
        assert_eq!(centre("cb_cept_us", &n.to_string()), f64::from(khz) * 1e3, "{n}");
    }
    // IEEE 802.15.4-2020 clause 10.1.3: 2405 + 5 (k − 11) MHz; 906 + 2 (k − 1) MHz; 868.3 MHz.
    assert_eq!(centre("ieee802154", "0"), 868.3e6);
    assert_eq!(centre("ieee802154", "10"), 924e6);
    assert_eq!(centre("ieee802154", "26"), 2480e6);
    // LoRaWAN Regional Parameters EU863-870: join channels.
    assert_eq!(centre("lorawan_eu868", "0"), 868.1e6);
}

#[test]
fn broadcast_and_maritime_channels() {
    // EN 300 401 / GE06: blocks 5A, 12C, 13F.
    for (block, khz) in [("5A", 174_928), ("11D", 222_064), ("12C", 227_360), ("13F", 239_200)] {
        assert_eq!(centre("dab", block), f64::from(khz) * 1e3, "{block}");
    }
    // GE06: channel n is centred on 306 + 8 n MHz.
    for n in 21..=69u32 {
        assert_eq!(centre("tv_uhf_eu", &n.to_string()), 306e6 + 8e6 * f64::from(n));
    }
    // 47 CFR 73.603: channel 14 is 470 to 476 MHz.
    assert_eq!(centre("tv_us", "14"), 473e6);
    // Radio Regulations Appendix 18: distress 16, digital selective calling 70.
    assert_eq!(centre("marine_vhf", "16"), 156.8e6);
    assert_eq!(centre("marine_vhf", "70"), 156.525e6);
}

#[test]
fn a_frequency_finds_its_channel() {
    let best = |mhz: f64, tolerance: f64, region| {
        let found = almanac().channels_at(mhz * 1e6, tolerance, region);
        let names = found.iter().map(|m| format!("{} {}", m.plan, m.channel));
        names.collect::<Vec<_>>()
    };
    let dect = best(1890.432, 20e3, Region::Cept);
    assert_eq!(dect[0], "dect_eu 4", "{dect:?}");
    let wifi = best(2437.0, 50e3, Region::Cept);
    assert!(wifi.contains(&"wifi_24 6".to_owned()) && wifi.contains(&"bt_br_edr 35".to_owned()));
    // Every 5 MHz is not a channel: 5190 MHz is a 40 MHz channel only.
    assert_eq!(best(5190.0, 50e3, Region::Us).iter().filter(|n| n.starts_with("wifi")).count(), 1);
    // European carriers are not offered in the United States, and the other way round.
    assert!(!best(1890.432, 20e3, Region::Us).iter().any(|n| n.starts_with("dect_eu")));
    assert!(!best(1924.992, 20e3, Region::Uk).iter().any(|n| n.starts_with("dect_us")));
    // 30 kHz off the raster and certain of it: no channel of 12.5 kHz.
    assert!(!best(446.009, 500.0, Region::Uk).iter().any(|n| n.starts_with("pmr446 ")));
    // What had to match by chance says so.
    let all = almanac().channels_at(1842.6e6, 50e3, Region::Cept);
    let nr = all.iter().find(|m| m.plan == "nr_arfcn_0_3000").expect("the global raster");
    assert_eq!(nr.chance, 1.0);
    let gsm = all.iter().find(|m| m.plan == "gsm_1800").expect("GSM 1800");
    assert_eq!((gsm.channel.as_str(), gsm.direction), ("699", Direction::Down));
    assert!((gsm.chance - 0.5).abs() < 1e-9);
}

#[test]
fn terminals_are_told_from_masts() {
    use Direction::{Both, Down, Unclear, Up};
    let says = |mhz: f64, region| almanac().mobile_direction(Band::around(mhz * 1e6, 2e5), region);
    // TS 36.101 Table 5.5-1 and the harmonised use of each region.
    for (mhz, region, want) in [
        (900.2, Region::Cept, Some(Up)),
        (945.0, Region::Cept, Some(Down)),
        (1747.0, Region::Uk, Some(Up)),
        (1842.6, Region::Uk, Some(Down)),
        (715.0, Region::Cept, Some(Up)),
        // ECC/DEC/(15)01: the middle of the 700 MHz band is downlink only.
        (748.0, Region::Cept, Some(Down)),
        (806.0, Region::Cept, Some(Down)),
        (847.0, Region::Cept, Some(Up)),
        (1950.0, Region::Cept, Some(Up)),
        (2140.0, Region::Cept, Some(Down)),
        (2535.0, Region::Cept, Some(Up)),
        (2655.0, Region::Cept, Some(Down)),
        (2595.0, Region::Cept, Some(Both)),
        (3600.0, Region::Cept, Some(Both)),
        (1470.0, Region::Cept, Some(Down)),
        // 47 CFR parts 22, 24, 27.
        (836.0, Region::Us, Some(Up)),
        (880.0, Region::Us, Some(Down)),
        (1880.0, Region::Us, Some(Up)),
        (1960.0, Region::Us, Some(Down)),
        (710.0, Region::Us, Some(Up)),
        (740.0, Region::Us, Some(Down)),
        (751.0, Region::Us, Some(Down)),
        (782.0, Region::Us, Some(Up)),
        (2593.0, Region::Us, Some(Both)),
        // Band 23 sends up where band 70 sends down.
        (2010.0, Region::Us, Some(Unclear)),
        // 836 MHz: uplink in the Americas, inside the European 832 to 862 MHz uplink as well.
        (836.0, Region::World, Some(Up)),
        // 885 MHz: European uplink, American downlink. Nobody said where.
        (885.0, Region::World, Some(Unclear)),
        (885.0, Region::Cept, Some(Up)),
        (885.0, Region::Us, Some(Down)),
        (433.92, Region::World, None),
        (100.0, Region::Cept, None),
        (2450.0, Region::Cept, None),
    ] {
        assert_eq!(says(mhz, region), want, "{mhz} MHz in {region}");
    }
}

/// Two tables written from different documents (Radio Regulations and national plans; 3GPP)
/// must not contradict each other about who transmits.
#[test]
fn allocations_and_mobile_bands_agree_on_the_direction() {
    let mut seen = 0;
    for a in almanac().allocations().iter().filter(|a| a.service == "mobile") {
        let want = match (a.use_.contains(", up"), a.use_.contains(", down")) {
            (true, false) => Direction::Up,
            (false, true) => Direction::Down,
            _ => continue,
        };
        let got = almanac().mobile_direction(a.band, a.region);
        assert_eq!(got, Some(want), "{} {:?} {}", a.region, a.band, a.use_);
        seen += 1;
    }
    assert!(seen >= 35, "{seen}");
}

#[test]
fn what_lives_where() {
    let lives = |mhz: f64, region| almanac().allocations_at(Band::around(mhz * 1e6, 2e4), region);
    let services = |mhz, region| {
        let rows = lives(mhz, region);
        rows.iter().map(|a| a.service.as_str()).collect::<Vec<_>>()
    };
    // Radio Regulations Article 5, ERC/REC 70-03, 47 CFR 15.
    for (mhz, region, service) in [
        (100.0, Region::Cept, "broadcasting"),
        (121.5, Region::Cept, "aeronautical"),
        (433.92, Region::Cept, "licence-exempt"),
        (446.1, Region::Uk, "licence-exempt"),
        (868.3, Region::Cept, "licence-exempt"),
        (915.0, Region::Us, "ISM"),
        (945.0, Region::Cept, "mobile"),
        (1090.0, Region::World, "aeronautical radionavigation"),
        (1575.42, Region::World, "radionavigation-satellite"),
        (1890.0, Region::Uk, "cordless telephone"),
        (2437.0, Region::Cept, "licence-exempt"),
        (5800.0, Region::Us, "licence-exempt"),
    ] {
        let found = services(mhz, region);
        assert!(found.contains(&service), "{mhz} MHz in {region}: {found:?}");
    }
    // Most specific first, each answer with its source.
    let rows = lives(446.1, Region::Uk);
    assert!(rows.windows(2).all(|w| w[0].region.depth() >= w[1].region.depth()));
    assert!(rows.iter().all(|a| !a.provenance.source.is_empty()));
    // 868 MHz is no licence-exempt band in the United States.
    assert!(!services(868.3, Region::Us).contains(&"licence-exempt"));
    // 902 to 928 MHz is none in Europe at 905 MHz (GSM uplink), but may be somewhere.
    assert!(services(905.0, Region::World).contains(&"ISM"));
    // Noise is told apart from services: nothing is allocated by it.
    assert!(lives(2.0, Region::World).iter().all(|a| !a.is_noise));
    assert!(!almanac().noise_at(Band::around(2e6, 1e4), Region::World).is_empty());
}

/// Rows of numerology.csv whose number the tables hold too. Written independently of the tables
/// from memory of the same standards: a disagreement is a question to either.
#[test]
fn numerology_agrees() {
    let text = include_str!("numerology.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let mut rows = std::collections::BTreeMap::new();
    for row in reader.records() {
        let row = row.expect("a row");
        let values = row[4].split(';').map(|v| v.parse::<f64>().expect("a number"));
        rows.insert(row[0].to_owned(), values.collect::<Vec<_>>());
    }
    let tech = |id: &str| -> &Technology { almanac().technology(id).expect("a technology") };
    let same = |id: &str, at: usize, unit: f64, held: Option<f64>| {
        let want = rows[id][at] * unit;
        let held = held.unwrap_or_else(|| panic!("{id}: the table has no figure"));
        // The tables print four digits and more.
        assert!((held - want).abs() <= 5e-4 * want, "{id} value {at}: table {held}, check {want}");
    };
    for wifi in ["wifi_a", "wifi_g"] {
        same("NUM-001", 0, 1.0, tech(wifi).ofdm_spacing_hz);
        same("NUM-001", 1, 1e-6, tech(wifi).ofdm_useful_s);
        same("NUM-001", 2, 1e-6, tech(wifi).cp_s);
    }
    same("NUM-002", 0, 1.0, tech("wifi_ax_20").ofdm_spacing_hz);
    same("NUM-002", 1, 1e-6, tech("wifi_ax_20").ofdm_useful_s);
    same("NUM-003", 0, 1.0, tech("wifi_b").symbol_rate_hz);
    for (k, lte) in
        ["lte_1_4", "lte_3", "lte_5", "lte_10", "lte_15", "lte_20"].into_iter().enumerate()
    {
        same("NUM-005", 0, 1.0, tech(lte).ofdm_spacing_hz);
        same("NUM-005", 1, 1e-6, tech(lte).ofdm_useful_s);
        same("NUM-005", 3, 1e-6, tech(lte).cp_s);
        same("NUM-006", 0, 1e-3, tech(lte).frame_s);
        same("NUM-008", 6 + k, 1e6, tech(lte).occupied_bandwidth_hz);
    }
    same("NUM-009", 0, 1.0, tech("nb_iot").occupied_bandwidth_hz);
    same("NUM-010", 0, 1.0, tech("umts").symbol_rate_hz);
    same("NUM-010", 2, 1e-3, tech("umts").frame_s);
    same("NUM-011", 0, 1.0, tech("gsm").symbol_rate_hz);
    same("NUM-011", 2, 1e-3, tech("gsm").frame_s);
    same("NUM-011", 3, 1e3, tech("gsm").channel_raster_hz);
    same("NUM-013", 0, 1e-3, tech("dect").frame_s);
    same("NUM-013", 3, 1.0, tech("dect").symbol_rate_hz);
    same("NUM-013", 4, 1.0, tech("dect").channel_raster_hz);
    for (k, channel) in ["37", "38", "39"].into_iter().enumerate() {
        same("NUM-014", k, 1e6, Some(centre("ble", channel)));
    }
    same("NUM-015", 0, 1.0, tech("ble_1m").symbol_rate_hz);
    same("NUM-016", 1, 1.0, tech("bt_br").hop_rate_hz);
    same("NUM-016", 3, 1e6, Some(centre("bt_br_edr", "0")));
    for sensor in ["ieee802154_24", "zigbee", "thread"] {
        same("NUM-017", 0, 1.0, tech(sensor).symbol_rate_hz);
    }
    same("NUM-017", 2, 1e6, Some(centre("ieee802154", "11")));
    same("NUM-018", 0, 1.0, tech("tetra").symbol_rate_hz);
    same("NUM-018", 2, 1e-3, tech("tetra").frame_s);
    same("NUM-018", 3, 1e3, tech("tetra").channel_raster_hz);
    same("NUM-019", 0, 1.0, tech("dmr").symbol_rate_hz);
    same("NUM-019", 2, 1.0, tech("dmr").deviation_hz);
    same("NUM-019", 4, 1e3, tech("dmr").channel_raster_hz);
    same("NUM-020", 0, 1.0, tech("p25_p1").symbol_rate_hz);
    same("NUM-020", 2, 1.0, tech("p25_p1").deviation_hz);
    same("NUM-021", 0, 1.0, tech("dpmr").symbol_rate_hz);
    same("NUM-021", 2, 1.0, tech("dpmr").deviation_hz);
    same("NUM-021", 3, 1e3, tech("dpmr").channel_raster_hz);
    same("NUM-022", 1, 1.0, tech("pocsag").symbol_rate_hz);
    same("NUM-022", 3, 1.0, tech("pocsag").deviation_hz);
    same("NUM-023", 0, 1.0, tech("adsb").symbol_rate_hz);
    same("NUM-023", 3, 1e-6, tech("adsb").burst_s);
    same("NUM-024", 0, 1e-6, tech("dab").ofdm_useful_s);
    same("NUM-024", 1, 1e-6, tech("dab").cp_s);
    same("NUM-024", 3, 1e-3, tech("dab").frame_s);
    same("NUM-024", 5, 1.0, tech("dab").ofdm_spacing_hz);
    same("NUM-025", 0, 1e-6, tech("dvb_t").ofdm_useful_s);
    same("NUM-025", 1, 1.0, tech("dvb_t").ofdm_spacing_hz);
    same("NUM-025", 3, 1e6, tech("dvb_t").occupied_bandwidth_hz);
    same("NUM-027", 0, 1.0, tech("atsc").symbol_rate_hz);
    same("NUM-028", 0, 1.0, tech("fm_mono").deviation_hz);
    same("NUM-029", 0, 1.0, tech("wmbus_t").symbol_rate_hz);
    same("NUM-029", 1, 1.0, tech("wmbus_t").deviation_hz);
}

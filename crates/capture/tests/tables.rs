//! Tables written by hand, and what they must be read as.

#![allow(missing_docs)]

mod common;

use capture::table::{EventLog, Shape, TraceFile};
use capture::{CaptureError, OpenOptions, Opened, Recording};
use common::{codes, open_bytes};
use std::sync::Arc;
use units::{Event, LevelUnit, Trace, Traces, Utc};

fn read(text: &str, columns: &str) -> Result<Opened, CaptureError> {
    let mapping = (!columns.is_empty()).then(|| columns.parse().expect("a mapping"));
    let time_zone = Some("Europe/Vienna".to_owned());
    open_bytes(
        "t.csv",
        text.as_bytes(),
        &OpenOptions { mapping, time_zone, ..OpenOptions::default() },
    )
}

fn opened(text: &str, columns: &str) -> Opened {
    read(text, columns).unwrap_or_else(|e| panic!("{e}"))
}

fn refusal(text: &str, columns: &str) -> String {
    read(text, columns).expect_err("refused").to_string()
}

fn file(opened: &Opened) -> TraceFile {
    match &opened.recording {
        Recording::Traces(file) => file.reopen(),
        other => panic!("{other:?}"),
    }
}

fn traces(opened: &Opened) -> Vec<Trace> {
    let mut file = file(opened);
    let mut all = Vec::new();
    while let Some(trace) = file.next_trace().expect("a trace") {
        all.push(trace);
    }
    all
}

fn log(opened: &Opened) -> &EventLog {
    match &opened.recording {
        Recording::Events(log) => log,
        other => panic!("{other:?}"),
    }
}

fn utc(text: &str) -> Utc {
    Utc::parse(text).expect("a time")
}

fn hz(trace: &Trace) -> Vec<f64> {
    trace.frequencies_hz.iter().map(|f| f.round()).collect()
}

#[test]
fn a_sweep_that_names_its_units_is_read_as_it_is() {
    let text = "Time (dBm),88.0 MHz,88.1 MHz,0.0882 GHz\n\
                2026-03-01T21:30:00Z,-90.5,-91,\n\
                2026-03-01T21:30:10Z,-90,nan,-inf\n";
    let opened = opened(text, "");
    assert_eq!(opened.format, "trace sweep");
    assert_eq!((opened.start, opened.duration_s), (Some(utc("2026-03-01T21:30:00Z")), 10.0));
    assert_eq!(codes(&opened), [""; 0]);
    assert_eq!((file(&opened).unit(), file(&opened).shape()), (LevelUnit::Dbm, Shape::Sweep));
    let all = traces(&opened);
    assert_eq!(all.len(), 2);
    assert_eq!(hz(&all[0]), [88_000_000.0, 88_100_000.0, 88_200_000.0]);
    assert!(Arc::ptr_eq(&all[0].frequencies_hz, &all[1].frequencies_hz));
    assert_eq!(all[0].levels_db[..2], [-90.5, -91.0]);
    assert!(
        all[0].levels_db[2].is_nan()
            && all[1].levels_db[1].is_nan()
            && all[1].levels_db[2].is_nan()
    );
    assert_eq!((all[1].start_s, all[1].start), (10.0, Some(utc("2026-03-01T21:30:10Z"))));
}

#[test]
fn semicolons_decimal_commas_and_a_bom() {
    let text = "\u{feff}Datum;Zeit;88,0;88,1\r\n01.03.2026;21:30:00;-90,5;-91\r\n01.03.2026;21:30:05;-80;-81,25\r\n";
    let opened =
        opened(text, "shape=sweep,date=Datum:%d.%m.%Y,time=Zeit,frequency=:MHz,level=:dBuV");
    let all = traces(&opened);
    assert_eq!(file(&opened).unit(), LevelUnit::Dbuv);
    assert_eq!(hz(&all[0]), [88_000_000.0, 88_100_000.0]);
    assert_eq!(all[1].levels_db, [-80.0, -81.25]);
    // Vienna is an hour ahead of UTC on 1 March (tz database).
    assert_eq!(all[1].start, Some(utc("2026-03-01T20:30:05Z")));
}

#[test]
fn segments_make_sweeps_in_whatever_order_they_come() {
    // The last level of each part lies at its high edge, where the next part has its own.
    let text = "date, time, hz low, hz high, hz step, samples, dBm, dBm, dBm\n\
                2026-03-01, 21:30:00, 100, 120, 10, 7, -1, -2, -9\n\
                2026-03-01, 21:30:00, 140, 160, 10, 7, -5, -6, -7\n\
                2026-03-01, 21:30:01, 120, 140, 10, 7, -3, -4, -9\n\
                2026-03-01, 21:30:08, 100, 120, 10, 7, -11, -12\n";
    let opened = opened(text, "");
    assert_eq!(opened.format, "trace segment");
    assert_eq!((opened.start, opened.duration_s), (Some(utc("2026-03-01T20:30:00Z")), 8.0));
    let all = traces(&opened);
    assert_eq!(all.len(), 2);
    assert_eq!(hz(&all[0]), [100.0, 110.0, 120.0, 130.0, 140.0, 150.0, 160.0]);
    assert_eq!(all[0].levels_db, [-1.0, -2.0, -3.0, -4.0, -5.0, -6.0, -7.0]);
    assert_eq!((all[0].sweep_s, all[1].sweep_s), (Some(1.0), None));
    assert_eq!((hz(&all[1]), all[1].start_s), (vec![100.0, 110.0], 8.0));
}

#[test]
fn a_segment_without_a_header_needs_its_units_said() {
    let text = "2026-03-01,21:30,88,89,0.5,1,-50,-60\n2026-03-01,21:31,88,89,0.5,1,-51,-61,-71\n";
    let refused = refusal(text, "");
    assert!(refused.contains("--columns 'shape=segment,frequency=:MHz,level=:dBFS'"), "{refused}");
    let opened = opened(text, "shape=segment,frequency=:MHz,level=:dBFS");
    let all = traces(&opened);
    assert_eq!(hz(&all[1]), [88e6, 88.5e6, 89e6]);
    assert_eq!((all.len(), all[1].start_s), (2, 60.0));
}

#[test]
fn points_make_sweeps() {
    let text = "time_ms,frequency_khz,level_dbm\n\
                5,100,-1\n5,200,-2\n5,300,-3\n\
                7,100,-4\n7,200,-5\n7,300,-6\n";
    let opened = opened(text, "");
    assert_eq!((opened.format.as_str(), opened.start), ("trace point", None));
    let all = traces(&opened);
    assert_eq!(all.len(), 2);
    assert_eq!(hz(&all[1]), [100e3, 200e3, 300e3]);
    assert_eq!(all[1].levels_db, [-4.0, -5.0, -6.0]);
    assert!((all[1].start_s - 0.002).abs() < 1e-12);
}

#[test]
fn a_sweep_of_points_goes_on_over_a_change_of_its_stamp() {
    // A stepped receiver whose stamps show whole seconds, three points in each.
    let mut text = String::from("time,MHz,dBm\n");
    for sweep in 0..3 {
        for point in 0..12 {
            let second = sweep * 4 + point / 3;
            text += &format!("2026-03-01 21:30:{second:02},{},-{}\n", 100 + point, 50 + point);
        }
    }
    let opened = opened(&text, "");
    let all = traces(&opened);
    assert_eq!(all.iter().map(|t| t.levels_db.len()).collect::<Vec<_>>(), [12, 12, 12]);
    assert_eq!((all[1].start_s, all[1].sweep_s), (4.0, Some(3.0)));
    // Two bands in turn, each under one stamp: the leap between them ends a sweep.
    let text = "t [s],Hz,dBm\n1,10,-1\n1,11,-1\n2,50,-1\n2,51,-1\n3,10,-1\n3,11,-1\n";
    let opened = self::opened(text, "");
    assert_eq!(traces(&opened).iter().map(|t| hz(t)[0]).collect::<Vec<_>>(), [10.0, 50.0, 10.0]);
}

#[test]
fn points_without_a_time_fall_back_to_begin_anew() {
    let text = "row,frequency_hz,level_dbm\n0,10,-1\n0,20,-2\n1,10,-3\n1,20,-4\n";
    let opened = opened(text, "");
    assert_eq!(codes(&opened), ["time_unstated"]);
    assert_eq!(traces(&opened).len(), 2);
    let refused = refusal("frequency_hz,level_dbm\n10,-1\n30,-2\n20,-3\n", "");
    assert!(refused.contains("line 4, column 1 'frequency_hz': it says '20'"), "{refused}");
}

#[test]
fn a_counter_that_begins_anew_goes_on() {
    let text = "time_s,hz,dbm\n8,1,-1\n9,1,-1\n2,1,-1\n4,1,-1\n";
    let opened = opened(text, "");
    assert_eq!(codes(&opened), ["time_goes_back"]);
    let starts: Vec<f64> = traces(&opened).iter().map(|t| t.start_s).collect();
    assert_eq!(starts, [0.0, 1.0, 1.0, 3.0]);
}

#[test]
fn a_night_by_the_time_of_day_goes_over_midnight() {
    let text = "time,MHz,dBm\n23:59,1,-1\n00:01,1,-1\n";
    let mut opened = opened(text, "");
    assert_eq!((opened.start, opened.duration_s), (None, 120.0));
    let start = Some(utc("2026-03-01T22:59:00Z"));
    opened = open_bytes("t.csv", text.as_bytes(), &OpenOptions { start, ..OpenOptions::default() })
        .expect("with a start");
    assert_eq!(traces(&opened)[1].start, Some(utc("2026-03-01T23:01:00Z")));
}

#[test]
fn the_log_of_a_hand_held_detector() {
    let text = "Time,Band,Strength,Seconds\n\
                01.03.2026 21:30,868-870 MHz (alarm),7,2\n\
                01.03.2026 21:31,900,12,61\n\
                01.03.2026 21:31,GSM up,0,\n";
    let opened =
        opened(text, "time=Time:%d.%m.%Y %H:%M,band=Band,strength=Strength/12,duration=Seconds:s");
    assert_eq!(opened.format, "event-log");
    assert_eq!(opened.start, Some(utc("2026-03-01T20:30:00Z")));
    assert_eq!(opened.duration_s, 121.0);
    assert_eq!(codes(&opened), ["band_in_megahertz", "frequency_unknown"]);
    let events = &log(&opened).events;
    let told = |e: &Event| {
        let band = e.band.map(|b| (b.low_hz, b.high_hz));
        let step = e.start.until.seconds_since(e.start.from);
        (
            e.line,
            e.start.from.to_string(),
            step,
            band,
            e.strength.map(|s| (s.value, s.of)),
            e.duration_s,
        )
    };
    let at = |t: &str| format!("2026-03-01T20:{t}:00Z");
    assert_eq!(
        told(&events[0]),
        (2, at("30"), 60.0, Some((868e6, 870e6)), Some((7.0, 12.0)), Some(2.0))
    );
    assert_eq!(
        told(&events[1]),
        (3, at("31"), 60.0, Some((850e6, 950e6)), Some((12.0, 12.0)), Some(61.0))
    );
    assert_eq!(told(&events[2]), (4, at("31"), 60.0, None, Some((0.0, 12.0)), None));
    assert_eq!(events[0].label.as_deref(), Some("868-870 MHz (alarm)"));
    assert_eq!((events[1].duration_step_s, events[2].label.as_deref()), (1.0, Some("GSM up")));
}

#[test]
fn every_key_of_a_log() {
    let text = "Day;At;F;P;Dur;Where;Ant;Az;Ear;Memo\n\
                2026-03-01;21:30:05;433,920 MHz;-61 dBm;1:30;Board room;2;270°;clicks;\"door; window\"\n\
                2026-03-01;21:30:06;868,3 MHz;-;-;Corridor;-;360;;\n";
    let columns = "date=Day,time=At,frequency=F,level=P:dBm,duration=Dur:s,position=Where,setting=Ant,\
                   bearing=Az,heard=Ear,note=Memo";
    let opened = opened(text, columns);
    let log = log(&opened);
    let event = &log.events[0];
    // The finest step of the column is 0.001 MHz.
    let band = event.band.expect("a band");
    assert!((band.centre_hz() - 433.92e6).abs() < 1e-3 && (band.width_hz() - 1000.0).abs() < 1e-3);
    assert!((log.events[1].band.expect("a band").width_hz() - 1000.0).abs() < 1e-3);
    assert_eq!(event.level, Some((-61.0, LevelUnit::Dbm)));
    assert_eq!((event.duration_s, event.bearing_deg), (Some(90.0), Some(270.0)));
    assert_eq!(
        (event.heard.as_deref(), event.note.as_deref()),
        (Some("clicks"), Some("door; window"))
    );
    assert_eq!((event.setting.as_deref(), log.events[1].setting.as_deref()), (Some("2"), None));
    assert_eq!((log.events[1].level, log.events[1].bearing_deg), (None, Some(0.0)));
    assert_eq!(log.positions, ["Board room", "Corridor"]);
    assert_eq!(event.start.until.seconds_since(event.start.from), 1.0);
}

#[test]
fn columns_by_number_and_a_title_before_the_header() {
    let text = "My detector,,\nserial,77,\nTime,MHz,Bars\n2026-03-01 21:30,868.35,3\n";
    let opened = self::opened(text, "time=Time,frequency=MHz,strength=Bars/5");
    assert_eq!(log(&opened).events[0].line, 4);
    let text = "2026-03-01 21:30,868.35,3\n2026-03-01 21:31,868.35,4\n";
    let opened = self::opened(text, "time=1,frequency=2:MHz,strength=3/5");
    assert_eq!(log(&opened).events.len(), 2);
    let text = "When,F,S\n2026-03-01 21:30,868.35,3\n";
    let opened = self::opened(text, "time=1,frequency=2:MHz,strength=3/5");
    assert_eq!(log(&opened).events.len(), 1);
}

#[test]
fn the_newest_first_is_turned_round_and_minute_clocks_are_seen() {
    let mut text = String::from("time,MHz,bars\n");
    for minute in (10..16).rev() {
        text += &format!("2026-03-01 21:{minute}:00,868.3,3\n2026-03-01 21:{minute}:00,433.9,2\n");
    }
    let opened = opened(&text, "time=time,frequency=MHz,strength=bars/5");
    let events = &log(&opened).events;
    assert_eq!(events[0].start.from, utc("2026-03-01T20:10:00Z"));
    // Rows of one stamp were exported newest first too.
    assert_eq!((events[0].line, events[1].line), (13, 12));
    assert_eq!(events[0].start.until.seconds_since(events[0].start.from), 60.0);
    assert_eq!(codes(&opened), ["clock_to_the_minute"]);
}

#[test]
fn readings_take_their_time_from_a_person() {
    let text = "position,frequency_mhz,strength\nDesk,868.3,4\nWindow,868.3,9\nDesk,868.3,5\n";
    let columns = "position=position,frequency=frequency_mhz,strength=strength/10";
    assert!(refusal(text, columns).contains("--start"));
    let options = OpenOptions {
        mapping: Some(columns.parse().expect("a mapping")),
        start: Some(utc("2026-03-01T21:00:00Z")),
        ..OpenOptions::default()
    };
    let opened = open_bytes("r.csv", text.as_bytes(), &options).expect("readings");
    assert_eq!((opened.format.as_str(), opened.duration_s), ("readings", 0.0));
    let log = log(&opened);
    assert!(log.is_readings);
    assert_eq!(log.positions, ["Desk", "Window"]);
    assert_eq!(log.events[2].start.from, utc("2026-03-01T21:00:00Z"));
}

#[test]
fn a_start_that_is_given_moves_every_stamp() {
    let text = "time,MHz,bars\n2000-01-01 00:00:10,868,1\n2000-01-01 00:01:10,868,1\n";
    let options = OpenOptions {
        mapping: Some("time=time,frequency=MHz,strength=bars/5".parse().expect("a mapping")),
        start: Some(utc("2026-03-01T21:00:00Z")),
        ..OpenOptions::default()
    };
    let opened = open_bytes("t.csv", text.as_bytes(), &options).expect("a log");
    assert_eq!(log(&opened).events[1].start.from, utc("2026-03-01T21:01:00Z"));
    assert_eq!(codes(&opened), ["time_zone_unstated", "start_overridden"]);
}

#[test]
fn a_last_row_that_the_recorder_did_not_finish_is_left_out() {
    let text = "time,MHz,bars\n2026-03-01 21:30,868,1\n2026-03-01 21:3";
    let opened = self::opened(text, "time=time,frequency=MHz,strength=bars/5");
    assert_eq!((log(&opened).events.len(), codes(&opened)), (1, vec!["last_row_cut"]));
    let text = "time (dBm),1 MHz,2 MHz\n2026-03-01 21:30,-1,-2\n2026-03-01 21:31,-1";
    let opened = self::opened(text, "");
    assert_eq!((traces(&opened).len(), codes(&opened)), (1, vec!["last_row_cut"]));
    // In the middle it is an error.
    assert!(
        refusal("time (dBm),1 MHz,2 MHz\n2026-03-01 21:30,-1\n2026-03-01 21:31,-1,-2\n", "")
            .contains("line 2")
    );
}

#[test]
fn a_line_of_megabytes_is_read_and_one_without_end_refused() {
    let points = 500_000;
    let mut text = String::from("time (dBm)");
    for point in 0..points {
        text += &format!(",{point}.5 kHz");
    }
    text += "\n2026-03-01 21:30";
    text += &",-90.25".repeat(points);
    assert!(text.len() > 8_000_000);
    assert_eq!(traces(&opened(&text, ""))[0].levels_db.len(), points);
    let endless = format!("time,a\n{}", "1,".repeat(20 << 20));
    let refused = refusal(&endless, "time=time,strength=a/5");
    assert!(refused.contains("line 2: the line is longer than 16 MiB"), "{refused}");
    let quoted = format!("time,a\n\"{}", "1,\n".repeat(8 << 20));
    let refused = refusal(&quoted, "time=time,strength=a/5");
    assert!(refused.contains("longer than 16 MiB"), "{refused}");
}

#[test]
fn letters_of_an_older_encoding_are_read_and_said() {
    let options = OpenOptions {
        mapping: Some("time=1,strength=2/5,position=3,duration=4:s".parse().expect("a mapping")),
        time_zone: Some("UTC".to_owned()),
        ..OpenOptions::default()
    };
    let opened =
        open_bytes("t.csv", b"t,s,p,d\n2026-03-01 21:30,3,K\xfcche,1\n", &options).expect("a log");
    assert_eq!(log(&opened).positions, ["Küche"]);
    assert!(codes(&opened).contains(&"not_utf8"));
}

#[test]
fn an_impossible_clock_and_an_unknown_zone() {
    let options =
        OpenOptions { time_zone: Some("Europe/Nowhere".to_owned()), ..OpenOptions::default() };
    let error = open_bytes("t.csv", b"time_s,hz,dbm\n1,2,-3\n", &options).expect_err("refused");
    assert!(error.to_string().contains("'Europe/Nowhere' is no time zone"));
}

#[test]
fn titles_and_a_spreadsheets_note_above_the_header() {
    let text =
        "sep=;\r\nMy detector;;\r\nserial;77;\r\nTime;MHz;dBm\r\n2026-03-01 21:30;88,5;-50\r\n";
    let opened = self::opened(text, "");
    assert_eq!(hz(&traces(&opened)[0]), [88.5e6]);
}

/// Each cell carries its unit: the table names its units by them.
#[test]
fn traces_whose_cells_carry_their_units_are_read_as_they_are() {
    let sweep = "Time,88.0 MHz,88.1 MHz\n\
                 2026-03-01T21:30:00Z,-90.1 dBm,-91dBm\n\
                 2026-03-01T21:30:10Z,-90 dBm,n/a\n";
    let read = opened(sweep, "");
    assert_eq!((file(&read).unit(), file(&read).shape()), (LevelUnit::Dbm, Shape::Sweep));
    let all = traces(&read);
    assert_eq!(all[0].levels_db, [-90.1, -91.0]);
    assert!(all[1].levels_db[0] == -90.0 && all[1].levels_db[1].is_nan());

    let point = "Time;Frequency;Level\n\
                 2026-03-01T21:30:00Z;999,9 kHz;17,5 dBµV\n\
                 2026-03-01T21:30:00Z;1,25 MHz;16,0 dBµV\n\
                 2026-03-01T21:30:09Z;999,9 kHz;15 dBµV\n";
    let read = opened(point, "");
    assert_eq!((file(&read).unit(), file(&read).shape()), (LevelUnit::Dbuv, Shape::Point));
    let all = traces(&read);
    assert_eq!(hz(&all[0]), [999_900.0, 1_250_000.0]);
    assert_eq!((&all[0].levels_db[..], &all[1].levels_db[..]), (&[17.5, 16.0][..], &[15.0][..]));

    let segment = "2026-03-01,21:30:00,88 MHz,88.2 MHz,100 kHz,1,-90 dBFS,-91 dBFS\n\
                   2026-03-01,21:30:01,88.2 MHz,88.4 MHz,100 kHz,1,-92 dBFS,-93 dBFS\n";
    let read = opened(segment, "");
    assert_eq!((file(&read).unit(), file(&read).shape()), (LevelUnit::Dbfs, Shape::Segment));
    let all = traces(&read);
    assert_eq!(hz(&all[0]), [88e6, 88.1e6, 88.2e6, 88.3e6]);
    assert_eq!(all[0].levels_db, [-90.0, -91.0, -92.0, -93.0]);

    // A unit that is not the table's, and a number without one where each has its own.
    let other = "Time (dBm),88 MHz,88.1 MHz\n2026-03-01T21:30:00Z,-90 dBm,17 dBuV\n";
    let said = refusal(other, "shape=sweep");
    assert!(said.contains("column 3") && said.contains("expected a level in dBm"), "{said}");
    let bare = "Time,Frequency,Level\n\
                2026-03-01T21:30:00Z,433.90 MHz,-90 dBm\n2026-03-01T21:30:00Z,433.95,-90 dBm\n";
    let said = refusal(bare, "shape=point,time=Time,frequency=Frequency,level=Level");
    assert!(said.contains("line 3") && said.contains("'433.95'"), "{said}");
}

#[test]
fn what_no_detector_logs_is_refused() {
    let log = |band: &str, seconds: &str| {
        let text = format!("Time,Band,Bars,Seconds\n2026-03-01 20:00,{band},3,{seconds}\n");
        read(&text, "time=Time,band=Band,strength=Bars/5,duration=Seconds:s")
    };
    assert!(log("GSM/UMTS 900 up", "4").is_ok());
    for (band, seconds, words) in [
        ("880-915 MHz", "1e300", "no more than a year"),
        ("880-915 MHz", "99999:00:00", "no more than a year"),
        ("915-880 MHz", "4", "its lower edge first"),
    ] {
        let refused = log(band, seconds).expect_err(band).to_string();
        assert!(refused.contains("line 2") && refused.contains(words), "{refused}");
    }
    let scale = "strength=Bars/99999999999999999999".parse::<capture::table::Mapping>();
    assert!(scale.expect_err("no scale").to_string().contains("at most 1000000"));
}

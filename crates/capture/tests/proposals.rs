//! What is proposed for tables as sticks and programs give them: the text that a person confirms.

#![allow(missing_docs)]

mod common;

use capture::OpenOptions;
use capture::table::propose;
use common::Folder;

/// The mapping proposed and how much of it was assumed; empty where the table is read as it is.
fn proposed(text: &str) -> (String, usize) {
    let folder = Folder::new();
    let path = folder.put("t.csv", text);
    match propose(&path, &OpenOptions::default()) {
        Ok(None) => (String::new(), 0),
        Ok(Some(proposal)) => {
            // What is proposed can be said, and reads the table.
            let text = proposal.mapping.to_string();
            let mapping = Some(text.parse().expect("a mapping"));
            let options =
                OpenOptions { mapping, start: Some(units::Utc(0)), ..OpenOptions::default() };
            capture::open(&path, &options).unwrap_or_else(|e| panic!("{text}: {e}"));
            (text, proposal.assumed.len())
        }
        Err(e) => (e.to_string(), 0),
    }
}

#[test]
fn proposals() {
    for (text, mapping, assumed) in [
        (
            "Time,Band,Strength,Seconds\n2026-02-12 17:30,832-862 MHz (800 up),5,14\n",
            "time=Time,band=Band,strength=Strength/5,duration=Seconds:s",
            1,
        ),
        (
            "No;Date;Time;Frequency (MHz);Level (dBm);Duration (s)\n1;12.02.2026;17:30:05;868,35;-61;4\n",
            "date=Date:%d.%m.%Y,time=Time,frequency=Frequency (MHz):MHz,level=Level (dBm):dBm,duration=Duration (s):s",
            0,
        ),
        (
            "Datum;Uhrzeit;Band;Stärke;Dauer\n12.02.2026;17:30;900 MHz;7/12;12\n",
            "date=Datum:%d.%m.%Y,time=Uhrzeit,band=Band,strength=Stärke/12,duration=Dauer:s",
            1,
        ),
        (
            "Timestamp\tFreq\tBars\n02/13/2026 05:30 PM\t433.92 MHz\t3\n",
            "time=Timestamp:%m/%d/%Y %I:%M %p,frequency=Freq,strength=Bars/5",
            1,
        ),
        (
            "position,frequency_mhz,strength,bearing,heard\nDesk,868.3,4,270,clicks\n",
            "frequency=frequency_mhz:MHz,strength=strength/5,position=position,bearing=bearing,heard=heard",
            1,
        ),
        (
            "When,Signal type,Signal strength (0-10)\n2026-02-12 17:30:00,GSM up,4\n",
            "time=When,band=Signal type,strength=Signal strength (0-10)/10",
            0,
        ),
        (
            "time,freq_hz,power\n2026-02-12 17:30:00,100000000,-61\n",
            "shape=point,time=time,frequency=freq_hz:Hz,level=power:dBFS",
            1,
        ),
        ("time,freq_hz,power_dbm\n2026-02-12 17:30:00,100000000,-61\n", "", 0),
        ("# levels in dBm\nTime,100 MHz,101 MHz\n2026-02-12 17:30:00,-61,-62\n", "", 0),
        (
            "Date,Time,100,101\n2026-02-12,17:30:00,-61,-62\n",
            "shape=sweep,date=Date,time=Time,frequency=:MHz,level=:dBFS",
            2,
        ),
    ] {
        assert_eq!(proposed(text), (mapping.to_owned(), assumed), "{text}");
    }
    assert!(
        proposed("name,colour\nx,y\n")
            .0
            .contains("nothing tells what its columns are: 1 'name', 2 'colour'")
    );
}

//! Looking at a recording over HTTP: what there is, tiles, traces, allocations, and what is refused.

mod support;

use serde_json::Value;
use support::Served;

const AT: &str = "/api/surveys/night-one/captures";

/// Levels of the description, each with its time levels.
fn levels(described: &Value) -> Vec<(i64, f64, f64, Vec<i64>)> {
    let list = described["levels"].as_array().expect("levels");
    let one = |l: &Value| {
        let times = l["time_levels"].as_array().expect("times");
        (
            l["frequency_level"].as_i64().expect("a number"),
            l["low_hz"].as_f64().expect("hertz"),
            l["cell_hz"].as_f64().expect("hertz"),
            times.iter().map(|t| t.as_i64().expect("a number")).collect(),
        )
    };
    list.iter().map(one).collect()
}

#[test]
fn a_capture_is_looked_at_from_its_whole_span_down_to_samples() {
    let served = Served::folder();
    served.small("night-one");
    let answer = served.get(&format!("{AT}/C2/spectrum")).expect(200);
    assert_eq!(answer.header("cache-control"), Some("no-store"));
    let described = answer.json();
    assert_eq!(described["low_hz"], 433.92e6 - 125e3);
    assert_eq!(described["high_hz"], 433.92e6 + 125e3);
    assert_eq!(described["unit"], "dBFS");
    let pixels = |name: &str| described[name].as_u64().expect("pixels") as usize;
    let (wide, high) = (pixels("tile_cells"), pixels("tile_rows"));
    assert_eq!(described["segments"].as_array().expect("segments").len(), 1);
    let number = |name: &str| described[name].as_f64().expect("a number");
    assert!(number("floor_db") < number("ceiling_db"));
    let row_s = number("row_s");
    let mut seen = 0;
    for (frequency, low_hz, cell_hz, times) in levels(&described) {
        // The sender in the room, at 433.95 MHz, which shifts by 2.4 kHz to either side. A cell narrower
        // than that is not lit all the time.
        let column = ((433.95e6 - low_hz) / cell_hz) as usize / wide;
        for time in times {
            let row = (0.5 / (row_s * 2f64.powi(time as i32))) as usize / high;
            let tile = format!(
                "{AT}/C2/spectrum/tile?frequency_level={frequency}&time_level={time}&column={column}&row={row}"
            );
            let largest = served.get(&tile).expect(200);
            assert_eq!(largest.header("cache-control"), Some("no-store"));
            assert_eq!(largest.header("content-type"), Some("application/octet-stream"));
            assert_eq!(largest.body.len(), wide * high);
            let mean = served.get(&format!("{tile}&of=mean")).expect(200).body;
            let pairs = largest.body.iter().zip(&mean);
            assert!(pairs.clone().all(|(max, mean)| max >= mean), "{frequency} {time}");
            assert!(mean.iter().any(|code| *code > 0), "{frequency} {time}");
            if time >= 0 && frequency >= 0 {
                let x = ((433.95e6 - low_hz) / cell_hz) as usize % wide;
                let y = (0.5 / (row_s * 2f64.powi(time as i32))) as usize % high;
                let line = &largest.body[y * wide..(y + 1) * wide];
                let loudest = (0..wide).max_by_key(|x| line[*x]).expect("cells");
                let off_hz = (loudest as f64 - x as f64) * cell_hz;
                assert!(off_hz.abs() <= 6e3 + 2.0 * cell_hz, "{frequency} {time}: {off_hz} Hz off");
            }
            seen += 1;
        }
    }
    assert!(seen > 30, "{seen}");
}

#[test]
fn what_is_not_there_is_refused_in_words() {
    let served = Served::folder();
    served.small("night-one");
    for (query, status, code) in [
        ("frequency_level=0&time_level=0&column=4&row=0", 404, "not-found"),
        ("frequency_level=0&time_level=0&column=0&row=18446744073709551615", 404, "not-found"),
        ("frequency_level=-99&time_level=0&column=0&row=0", 404, "not-found"),
        ("frequency_level=2147483647&time_level=-2147483648&column=0&row=0", 404, "not-found"),
        ("frequency_level=0&time_level=0&column=-1&row=0", 400, "request"),
        ("frequency_level=0&time_level=0", 400, "request"),
        ("frequency_level=0&time_level=0&column=0&row=0&of=loudest", 400, "request"),
    ] {
        served.get(&format!("{AT}/C2/spectrum/tile?{query}")).problem(status, code);
    }
    let trace = |query: &str| served.get(&format!("{AT}/C2/spectrum/trace?{query}"));
    for query in [
        "from_s=1&until_s=0&low_hz=433e6&high_hz=434e6&points=100",
        "from_s=0&until_s=1&low_hz=434e6&high_hz=433e6&points=100",
        "from_s=0&until_s=NaN&low_hz=433e6&high_hz=434e6&points=100",
        "from_s=0&until_s=1&low_hz=433e6&high_hz=inf&points=100",
        "from_s=0&until_s=1&low_hz=433e6&high_hz=434e6&points=0",
        "from_s=0&until_s=1&low_hz=433e6&high_hz=434e6&points=99999",
        "from_s=0&until_s=1&low_hz=433e6&high_hz=434e6&points=100&percentile=101",
    ] {
        trace(query).problem(422, "request");
    }
    trace("from_s=50&until_s=60&low_hz=433e6&high_hz=434e6&points=100").problem(404, "not-found");
    trace("from_s=0&until_s=1&low_hz=1e6&high_hz=2e6&points=100").problem(404, "not-found");
    served.get(&format!("{AT}/C9/spectrum")).problem(422, "refused");
    served.get(&format!("{AT}/..%2F..%2Fx/spectrum")).problem(422, "refused");
    served.get("/api/surveys/none/captures/C1/spectrum").problem(404, "not-found");
}

#[test]
fn a_trace_shows_the_sender_and_the_reference_does_not() {
    let served = Served::folder();
    served.small("night-one");
    let ask =
        "from_s=0&until_s=1&low_hz=433.8e6&high_hz=434.04e6&points=500&percentile=10&at_s=0.5";
    let level_at = |id: &str, hz: f64| {
        let trace = served.get(&format!("{AT}/{id}/spectrum/trace?{ask}")).expect(200).json();
        let (low, cell) = (trace["low_hz"].as_f64(), trace["cell_hz"].as_f64());
        let (low, cell) = (low.expect("hertz"), cell.expect("hertz"));
        let max = trace["max"].as_array().expect("levels");
        assert!(max.len() <= 500 && max.len() > 100, "{}", max.len());
        for kind in ["mean", "percentile", "now"] {
            assert_eq!(trace[kind].as_array().expect("levels").len(), max.len());
        }
        let near = |x: usize| (low + (x as f64 + 0.5) * cell - hz).abs() < 4e3;
        let levels = (0..max.len()).filter(|x| near(*x)).filter_map(|x| max[x].as_f64());
        levels.fold(f64::NEG_INFINITY, f64::max)
    };
    assert!(level_at("C2", 433.95e6) > level_at("C1", 433.95e6) + 10.0);
}

#[test]
fn allocations_of_a_band_come_with_their_sources() {
    let served = Served::folder();
    let list =
        served.get("/api/allocations?region=CEPT&low_hz=430e6&high_hz=440e6").expect(200).json();
    let rows = list.as_array().expect("rows");
    // ERC/REC 70-03 annex 1: 433.05 to 434.79 MHz for short-range devices.
    assert!(rows.iter().any(|r| r["low_hz"] == 433.05e6 && r["high_hz"] == 434.79e6), "{list}");
    assert!(rows.iter().all(|r| r["source"].as_str().is_some_and(|s| !s.is_empty())));
    assert!(rows.iter().all(|r| {
        r["low_hz"].as_f64().expect("hertz") <= 440e6
            && r["high_hz"].as_f64().expect("hertz") >= 430e6
    }));
    served.get("/api/allocations?region=MARS&low_hz=430e6&high_hz=440e6").problem(422, "refused");
    served.get("/api/allocations?region=UK&low_hz=440e6&high_hz=430e6").problem(422, "request");
    served.get("/api/allocations?region=UK").problem(400, "request");
}

//! The plane of a recording at every zoom, against closed forms: a tone reads its level in its cell,
//! and a burst of one sample lights a pixel, whatever the level.

#![allow(clippy::disallowed_methods, reason = "it writes the recordings that are looked at")]

use analyse::plane::{CutAsk, Level, Plane, Scale, TILE_CELLS, TILE_ROWS};
use analyse::{AnalyseOptions, Quiet, analyse};
use capture::{OpenOptions, RawFormat};
use rand::RngExt;
use rand::SeedableRng;
use std::path::{Path, PathBuf};

const RATE_HZ: f64 = 1e6;
const CENTRE_HZ: f64 = 433.92e6;
const SAMPLES: usize = 12_000_000;
/// On a bin of every transform from 8 samples on.
const TONE_HZ: f64 = RATE_HZ / 8.0;
const TONE_DBFS: f64 = -40.0;
/// Power of the noise.
const NOISE: f64 = 1e-6;
/// In the middle of a row of the overview, which is 67 hops of 512 samples.
const BURST: usize = 34_304 * 203 + 17_000;

fn options() -> AnalyseOptions {
    AnalyseOptions {
        open: OpenOptions {
            format: Some(RawFormat::Ci16Le),
            rate_hz: Some(RATE_HZ),
            centre_hz: Some(CENTRE_HZ),
            ..OpenOptions::default()
        },
        ..AnalyseOptions::default()
    }
}

/// A tone in noise, and one sample of full scale.
fn recorded(folder: &Path) -> PathBuf {
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(11);
    // Uniform in ±a has a power of a²/3 a rail.
    let a = (NOISE / 2.0 * 3.0).sqrt();
    let amplitude = 10f64.powf(TONE_DBFS / 20.0);
    let mut bytes = Vec::with_capacity(4 * SAMPLES);
    for n in 0..SAMPLES {
        let phase = std::f64::consts::TAU * ((n % 8) as f64 / 8.0);
        let burst = if n == BURST { 0.9 } else { 0.0 };
        for (rail, burst) in [(phase.cos(), burst), (phase.sin(), 0.0)] {
            let value = amplitude * rail + random.random_range(-a..a) + burst;
            bytes.extend(((value * 32768.0).round() as i16).to_le_bytes());
        }
    }
    let path = folder.join("tone.raw");
    std::fs::write(&path, bytes).expect("written");
    path
}

fn opened(folder: &Path) -> Plane {
    let path = recorded(folder);
    let overview = folder.join("overview.zarr");
    let options = AnalyseOptions { overview: Some(overview.clone()), ..options() };
    analyse(&path, &options, &Quiet).expect("analysed");
    assert!(overview.join("max-4").is_dir(), "a coarser level");
    Plane::open(&path, &options, Some(&overview)).expect("opened")
}

#[test]
fn a_tone_reads_its_level_and_one_sample_lights_a_pixel_at_every_zoom() {
    let folder = tempfile::tempdir().expect("a folder");
    let plane = opened(folder.path());
    let Scale { unit, step_db, .. } = plane.scale();
    assert_eq!(unit, "dBFS");
    assert_eq!(plane.span_hz(), (CENTRE_HZ - RATE_HZ / 2.0, CENTRE_HZ + RATE_HZ / 2.0));
    let burst_s = BURST as f64 / RATE_HZ;
    let mut seen = 0;
    for levels in plane.levels() {
        for time in levels.times.clone() {
            let level = Level { frequency: levels.frequency, time };
            let pixel_s = plane.row_s() * 2f64.powi(time);
            let cell_of = |hz: f64| ((hz - levels.low_hz) / levels.cell_hz).floor() as u64;
            let cell = cell_of(CENTRE_HZ + TONE_HZ);
            let y = (burst_s / pixel_s).floor() as u64;
            let column = cell / TILE_CELLS as u64;
            let tiles = plane.tiles(level, column, y / TILE_ROWS as u64, &|| true);
            let tiles = tiles.expect("made").unwrap_or_else(|| panic!("no tile at {level:?}"));
            let tile = tiles.iter().find(|t| t.column == column).expect("the one asked for");
            let (x, y) = ((cell % TILE_CELLS as u64) as usize, (y % TILE_ROWS as u64) as usize);
            let row = |y: usize| &tile.pixels.max[y * TILE_CELLS..(y + 1) * TILE_CELLS];
            let said = |code: u8| plane.scale().level(code).expect("a level");
            // The tone, in its cell, in mean and maximum of every row but the burst's. A transform
            // of few samples holds more of the noise: two standard deviations of its power beside
            // the tone's.
            let bins = match level.frequency >= 0 && level.time >= 0 {
                true => 1024.0,
                false => 1024.0 / 2f64.powi(level.frequency),
            };
            let noise_db = 10.0 * (NOISE * 1.5 / bins).log10();
            let slack_db = step_db / 2.0 + 8.7 * 10f64.powf((noise_db - TONE_DBFS + 6.0) / 20.0);
            // A row shorter than its transform holds some of what is beside it.
            let reach = (bins / (pixel_s * RATE_HZ)).ceil() as usize + 1;
            let others = (0..TILE_ROWS).filter(|other| other.abs_diff(y) > reach);
            // Over several cells of the overview the mean is of those beside the tone too.
            let codes = match level.frequency > 0 && time >= 0 {
                true => &tile.pixels.max,
                false => &tile.pixels.mean,
            };
            let others: Vec<usize> = others.filter(|y| codes[y * TILE_CELLS + x] > 0).collect();
            assert!(others.len() > 20 || pixel_s > 0.5, "{level:?}");
            for y in others {
                let level_db = said(codes[y * TILE_CELLS + x]);
                assert!((level_db - TONE_DBFS).abs() <= slack_db, "{level:?}: {level_db}");
                assert!(row(y)[x] >= row(y)[(x + 100) % TILE_CELLS], "{level:?}");
            }
            // The burst: a sample of power p has p·w²/(Σw)² in every bin, and one of two frames that
            // overlap by half has it where w is at least a half of a Hann window whose sum is N/2.
            let least_db = 20.0 * (0.9 / bins).log10() - step_db / 2.0;
            let width = TILE_CELLS.min((RATE_HZ / levels.cell_hz) as usize);
            let free: Vec<usize> = (0..width)
                .filter(|x| x.abs_diff((cell % TILE_CELLS as u64) as usize) > 3)
                .collect();
            if width > 8 {
                // Of the middle cell: the noise adds to the burst here and takes from it there.
                let middle = |mut codes: Vec<u8>| {
                    codes.sort_unstable();
                    said(codes[codes.len() / 2])
                };
                let near = y.saturating_sub(1)..=(y + 1).min(TILE_ROWS - 1);
                let lit =
                    free.iter().map(|&x| near.clone().map(|y| row(y)[x]).max().expect("rows"));
                let lit_db = middle(lit.collect());
                assert!(lit_db >= least_db, "{level:?}: {lit_db} under {least_db}");
                // And it stands out of what is beside it.
                if pixel_s < 0.2 {
                    let beside = if y > reach { y - reach - 1 } else { y + reach + 1 };
                    let beside_db = middle(free.iter().map(|&x| row(beside)[x]).collect());
                    assert!(beside_db < lit_db - 3.0, "{level:?}: {lit_db} beside {beside_db}");
                }
            }
            seen += 1;
        }
    }
    assert!(seen > 60, "{seen} levels");
    // Outside there is nothing.
    let level = Level { frequency: 0, time: 0 };
    assert!(plane.tiles(level, 4, 0, &|| true).expect("no error").is_none());
    assert!(plane.tiles(level, 0, 99, &|| true).expect("no error").is_none());
    let absurd = Level { frequency: -30, time: 0 };
    assert!(plane.tiles(absurd, 0, 0, &|| true).expect("no error").is_none());
    let gone = plane.tiles(Level { frequency: 0, time: -2 }, 0, 0, &|| false);
    assert!(matches!(gone, Err(analyse::AnalyseError::Cancelled)));
}

#[test]
fn a_trace_keeps_the_burst_in_its_maximum_and_not_in_its_median() {
    let folder = tempfile::tempdir().expect("a folder");
    let plane = opened(folder.path());
    let ask = CutAsk {
        from_s: 0.0,
        until_s: 12.0,
        low_hz: CENTRE_HZ - 5e5,
        high_hz: CENTRE_HZ + 5e5,
        points: 1200,
        percentile: 50.0,
        at_s: Some(1.0),
    };
    let cut = plane.cut(&ask, &|| true).expect("made").expect("inside");
    assert!(cut.max.len() > 1000 && cut.max.len() <= 1200, "{}", cut.max.len());
    let said = |code: u8| plane.scale().level(code).expect("a level");
    let cell = ((CENTRE_HZ + TONE_HZ - cut.low_hz) / cut.cell_hz).floor() as usize;
    // In the maximum, the burst adds up to 2·0.9/1024 to the tone's amplitude of 0.01: 1.4 dB.
    assert!((0.0..1.8).contains(&(said(cut.max[cell]) - TONE_DBFS)), "{}", said(cut.max[cell]));
    for codes in [&cut.mean, &cut.percentile, &cut.now] {
        assert!((said(codes[cell]) - TONE_DBFS).abs() <= 0.5, "{}", said(codes[cell]));
    }
    // White noise of power p reads p·ENBW/N (Hann: 1.5 bins).
    let noise_db = 10.0 * (NOISE * 1.5 / 1024.0).log10();
    let beside = cell + 200;
    assert!((said(cut.mean[beside]) - noise_db).abs() < 1.0, "{}", said(cut.mean[beside]));
    assert!((said(cut.percentile[beside]) - noise_db).abs() < 1.0);
    // The burst: 0.9 in one sample, under at least half of the window.
    assert!(said(cut.max[beside]) >= 20.0 * (0.9f64 / 1024.0).log10() - 0.5);
    // A narrow band in a short time comes from the samples, in finer cells.
    let close = CutAsk {
        from_s: 1.0,
        until_s: 1.2,
        low_hz: CENTRE_HZ + TONE_HZ - 2e3,
        high_hz: CENTRE_HZ + TONE_HZ + 2e3,
        ..ask
    };
    let cut = plane.cut(&close, &|| true).expect("made").expect("inside");
    assert!(cut.cell_hz < 100.0, "{}", cut.cell_hz);
    let loudest = (0..cut.mean.len()).max_by_key(|&i| cut.mean[i]).expect("points");
    let hz = cut.low_hz + (loudest as f64 + 0.5) * cut.cell_hz;
    assert!((hz - CENTRE_HZ - TONE_HZ).abs() <= cut.cell_hz, "{hz}");
    let outside = CutAsk { from_s: 13.0, until_s: 14.0, ..ask };
    assert!(plane.cut(&outside, &|| true).expect("no error").is_none());
}

#[test]
fn swept_spectra_keep_a_single_sweep_at_every_zoom() {
    let folder = tempfile::tempdir().expect("a folder");
    // 600 sweeps, ten seconds apart, of 801 points at 25 kHz; one carrier, and one level in one sweep.
    let mut csv = String::from("time,");
    let hz = |i: usize| 430_000_000 + 25_000 * i as u64;
    csv += &(0..801).map(|i| format!("{} Hz", hz(i))).collect::<Vec<_>>().join(",");
    csv += ",unit dBm\n";
    let path = folder.path().join("sweeps.csv");
    let mut lines = csv.replace(",unit dBm", "");
    for sweep in 0..600u32 {
        let at = 3600 * 20 + 10 * sweep;
        let time = format!(
            "2026-03-{:02}T{:02}:{:02}:{:02}Z",
            1 + at / 86400,
            at / 3600 % 24,
            at / 60 % 60,
            at % 60
        );
        let level = |i: usize| match (sweep, i) {
            (_, 400) => "-50.0",
            (333, 123) => "-60.0",
            _ => "-110.0",
        };
        lines += &format!("{time},{}\n", (0..801).map(level).collect::<Vec<_>>().join(","));
    }
    std::fs::write(&path, lines).expect("written");
    let mapping = "time=time,shape=sweep,level=:dBm,frequency=:Hz".parse().expect("a mapping");
    let options = AnalyseOptions {
        open: OpenOptions { mapping: Some(mapping), ..OpenOptions::default() },
        ..AnalyseOptions::default()
    };
    let plane = Plane::open(&path, &options, None).expect("opened");
    assert_eq!(plane.scale().unit, "dBm");
    assert!((plane.row_s() - 10.0).abs() < 1e-9);
    let said = |code: u8| plane.scale().level(code).expect("a level");
    for levels in plane.levels() {
        for time in levels.times {
            let level = Level { frequency: levels.frequency, time };
            let pixel = |hz: u64, s: f64| {
                let x = ((hz as f64 - levels.low_hz) / levels.cell_hz).floor() as u64;
                let y = (s / (plane.row_s() * 2f64.powi(time))).floor() as u64;
                let (wide, high) = (TILE_CELLS as u64, TILE_ROWS as u64);
                let tiles = plane.tiles(level, x / wide, y / high, &|| true).expect("made");
                let tiles = tiles.expect("a tile");
                let of = tiles.iter().find(|t| t.column == x / wide).expect("the one asked for");
                of.pixels.max[(y % high * wide + x % wide) as usize]
            };
            assert!((said(pixel(hz(400), 3000.0)) + 50.0).abs() <= 0.3125, "{level:?}");
            assert!((said(pixel(hz(123), 3330.0)) + 60.0).abs() <= 0.3125, "{level:?}");
            assert!((said(pixel(hz(700), 3330.0)) + 110.0).abs() <= 0.3125, "{level:?}");
        }
    }
}

//! The overview keeps extremes and means, and stays small.

mod common;

use common::{db, noise, rng, tone};
use spectrum::{Overview, Resolution, Rows, Stft, dbfs_from_code};
use units::Iq;

type Kept = Vec<(u64, Vec<u8>, Vec<u8>)>;

fn overview(iq: &[Iq], r: Resolution, bytes_per_sample: f64) -> (Overview, Kept) {
    let frames = r.frames(iq.len() as u64) as usize;
    let mut power = vec![0.0; frames * r.bins()];
    Stft::new(r).rows(iq, &mut power);
    let mut overview = Overview::new(r, bytes_per_sample);
    let mut kept: Kept = Vec::new();
    let mut take =
        |row: spectrum::OverviewRow<'_>| kept.push((row.row, row.max.to_vec(), row.mean.to_vec()));
    for (i, part) in power.chunks(r.bins() * 100).enumerate() {
        let rows = Rows { first_frame: 100 * i as u64, bins: r.bins(), power: part };
        overview.push(&rows, &mut take);
    }
    overview.finish(&mut take);
    (overview, kept)
}

#[test]
fn a_burst_of_one_frame_lights_its_cell_and_the_mean_is_the_mean() {
    let r = Resolution::hann(4096);
    let samples = 4096 * 600;
    // A full-scale burst as long as two frames, at an offset in the middle of bin 3000.
    let mut iq = noise(samples, 1e-6, &mut rng(1));
    let turns = r.offset_hz(3000, 1.0);
    let at = 4096 * 300;
    for (x, t) in iq[at..at + 8192].iter_mut().zip(tone(8192, 1.0, turns)) {
        *x += t;
    }
    let (o, kept) = overview(&iq, r, 4.0);
    let cell = 3000 * o.cells() / 4096;
    let row = at / r.hop() / o.frames_per_row() as usize;
    assert_eq!(
        kept.iter().map(|k| k.0).collect::<Vec<_>>(),
        (0..kept.len() as u64).collect::<Vec<_>>()
    );
    // 0 dBFS in its cell, within half a step of 0.625 dB.
    assert!(dbfs_from_code(kept[row].1[cell]).abs() <= 0.3126);
    let (brightest, _) = kept.iter().enumerate().max_by_key(|(_, k)| k.1[cell]).expect("rows");
    assert_eq!(brightest, row);
    // Elsewhere the mean is the noise's power per bin, within half a step and three sd.
    let want = db(r.noise_per_bin(1e-6));
    for k in kept.iter().filter(|k| k.0 as usize != row).take(20) {
        let mean = k.2.iter().map(|c| dbfs_from_code(*c)).sum::<f64>() / k.2.len() as f64;
        assert!((mean - want).abs() < 0.5, "row {}: {mean}, want {want}", k.0);
    }
}

#[test]
fn two_per_cent_of_the_evidence_with_its_pyramid() {
    for (bins, bytes_per_sample) in [(64, 2.0), (1024, 2.0), (4096, 4.0), (65536, 8.0)] {
        let r = Resolution::hann(bins);
        let samples = 1 << 22;
        let (o, kept) = overview(&vec![Iq::new(0.5, 0.0); samples], r, bytes_per_sample);
        let bytes = 2 * o.cells() * kept.len();
        // A pyramid of halved levels adds a third; one row more for the part at the end.
        let most = 0.02 * bytes_per_sample * samples as f64 * 0.75 + 2.0 * o.cells() as f64;
        assert!(bytes as f64 <= most, "{bins}: {bytes} bytes of {most}");
    }
}

#[test]
fn silence_is_code_zero_and_codes_are_monotonous() {
    let (_, kept) = overview(&vec![Iq::default(); 1 << 16], Resolution::hann(256), 4.0);
    assert!(kept.iter().all(|k| k.1.iter().chain(&k.2).all(|c| *c == 0)));
    assert_eq!(dbfs_from_code(0), f64::NEG_INFINITY);
    assert_eq!(dbfs_from_code(249), 0.0);
    assert!((1..=255).all(|c| dbfs_from_code(c) > dbfs_from_code(c - 1)));
}

//! Scaling, order and completeness of the streamed spectra, against closed forms.

mod common;

use common::{Memory, db, noise, rng, tone};
use dsp::Window;
use spectrum::{Resolution, Stft, Workspace, stream};
use units::{Iq, ReadError, Samples, Segment};

fn one_row(resolution: Resolution, iq: &[Iq]) -> Vec<f32> {
    let mut row = vec![0.0; resolution.bins()];
    Stft::new(resolution).row(iq, &mut row, &mut Workspace::default());
    row
}

#[test]
fn a_full_scale_tone_reads_zero_dbfs_in_its_bin() {
    // Closed form: |X|²/(Σw)² of a tone at a bin is its power, whatever the window; and a tone
    // half-way between bins reads low by the scalloping loss (WIN-030, WIN-033).
    for (window, scalloping) in [(Window::Hann, 1.4236228), (Window::BlackmanHarris4, 0.82557223)] {
        let r = Resolution::new(1024, 512, window);
        for bin in [0usize, 1, 300, 512, 513, 1023] {
            let turns = r.offset_hz(bin, 1.0);
            let row = one_row(r, &tone(1024, 1.0, turns));
            assert!(db(row[bin].into()).abs() < 1e-4, "{window:?} bin {bin}: {}", row[bin]);
            let most = row.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
            assert_eq!(most.map(|m| m.0), Some(bin));
        }
        let row = one_row(r, &tone(1024, 1.0, r.offset_hz(700, 1.0) + 0.5 / 1024.0));
        assert!((db(row[700].into()) + scalloping).abs() < 0.005, "{window:?}");
    }
}

#[test]
fn band_power_over_noise_bandwidth_is_the_signals_power() {
    // methods.md 1: tone sweep in 1/16-bin steps reads true within 0.01 dB by the sum over its main
    // lobe over ENBW; SCL-002: a real full-scale tone in one rail holds −3.0103 dBFS in all.
    let r = Resolution::new(256, 128, Window::BlackmanHarris4);
    for step in 0..=16 {
        let turns = (40.0 + f64::from(step) / 16.0) / 256.0;
        let row = one_row(r, &tone(256, 0.5, turns));
        let sum: f64 = row[160..178].iter().map(|p| f64::from(*p)).sum();
        let level = db(sum / r.window().enbw_bins());
        assert!((level + 6.0206).abs() < 0.01, "step {step}: {level}");
    }
    let real: Vec<Iq> = tone(256, 1.0, 40.0 / 256.0).iter().map(|x| Iq::new(x.re, 0.0)).collect();
    let sum: f64 = one_row(r, &real).iter().map(|p| f64::from(*p)).sum();
    assert!((db(sum / r.window().enbw_bins()) + 3.01029995664).abs() < 1e-3);
}

#[test]
fn white_noise_reads_its_density() {
    // Closed form: mean power per bin is p·ENBW/N; K_eff of WIN-047 gives the allowed error.
    let r = Resolution::hann(512);
    let iq = noise(512 * 500, 0.01, &mut rng(11));
    let frames = r.frames(iq.len() as u64) as usize;
    let mut power = vec![0.0; frames * 512];
    Stft::new(r).rows(&iq, &mut power);
    let mean = power.iter().map(|p| f64::from(*p)).sum::<f64>() / power.len() as f64;
    // All samples but the ends count evenly: relative sd 1/√samples; five of them.
    let allowed = 5.0 / (iq.len() as f64).sqrt();
    assert!((mean / r.noise_per_bin(0.01) - 1.0).abs() < allowed, "{mean}");
    // The powers of one bin are exponential: second moment twice the square of the first.
    let square = power.iter().map(|p| f64::from(*p).powi(2)).sum::<f64>() / power.len() as f64;
    assert!((square / (mean * mean) - 2.0).abs() < 0.03, "{}", square / (mean * mean));
}

/// All rows of a ladder by streaming, and the samples handed up.
fn streamed(m: &Memory, segment: &Segment, ladder: &[Resolution]) -> (Vec<Vec<f32>>, Vec<Iq>) {
    let mut rows = vec![Vec::new(); ladder.len()];
    let mut seen = Vec::new();
    stream::<ReadError>(m, segment, ladder, &mut |block| {
        assert_eq!(block.first_sample as usize, seen.len());
        seen.extend_from_slice(block.iq);
        for (level, all) in rows.iter_mut().enumerate() {
            let new = block.rows(level);
            assert_eq!(new.first_frame as usize, all.len() / new.bins);
            assert_eq!(new.len(), new.iter().count());
            all.extend_from_slice(new.power);
        }
        Ok(())
    })
    .expect("memory reads");
    (rows, seen)
}

fn ladder() -> [Resolution; 4] {
    [
        Resolution::hann(64),
        Resolution::new(1024, 300, Window::BlackmanHarris4),
        Resolution::hann(8192),
        Resolution::hann(1 << 19),
    ]
}

#[test]
fn every_sample_once_and_every_frame_as_transformed_alone() {
    let mut m = Memory::one(noise(1_700_123, 1.0, &mut rng(12)));
    m.segments[0].samples = 100;
    let at = Segment { first_sample: 777, samples: 1_699_000, centre_hz: None, start: None };
    m.segments.push(at.clone());
    let (rows, seen) = streamed(&m, &at, &ladder());
    assert_eq!(seen, m.iq[777..777 + 1_699_000]);
    for (r, rows) in ladder().iter().zip(&rows) {
        let frames = r.frames(at.samples) as usize;
        assert_eq!(rows.len(), frames * r.bins());
        for f in [0, 1, frames / 3, frames / 2, frames - 1] {
            let start = r.first_sample(f as u64, &at) as usize;
            let alone = one_row(*r, &m.iq[start..start + r.bins()]);
            assert_eq!(alone, rows[f * r.bins()..(f + 1) * r.bins()], "{r:?} frame {f}");
        }
    }
}

#[test]
fn the_same_bits_at_any_number_of_threads() {
    let m = Memory::one(noise(900_001, 1.0, &mut rng(13)));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads");
        pool.install(|| streamed(&m, &m.segments()[0], &ladder()).0)
    };
    let one = with(1);
    assert!(one == with(2) && one == with(5));
}

#[test]
fn short_segments_and_failing_reads() {
    let m = Memory::one(noise(100, 1.0, &mut rng(14)));
    let (rows, seen) = streamed(&m, &m.segments()[0], &ladder());
    assert_eq!((rows[0].len(), rows[1].len(), seen.len()), (2 * 64, 0, 100));
    let none = Segment { first_sample: 0, samples: 0, centre_hz: None, start: None };
    assert!(streamed(&m, &none, &ladder()).1.is_empty());
    let beyond = Segment { first_sample: 50, samples: 100, centre_hz: None, start: None };
    let failed = stream::<ReadError>(&m, &beyond, &ladder(), &mut |_| Ok(()));
    assert!(failed.is_err());
    // What the visitor returns ends the reading.
    let long = Memory::one(noise(1 << 20, 1.0, &mut rng(15)));
    let mut visits = 0;
    let stop = ReadError { what: "enough".into(), source: None };
    let mut stop = Some(stop);
    let stopped = stream::<ReadError>(&long, &long.segments()[0], &ladder()[..1], &mut |_| {
        visits += 1;
        stop.take().map_or(Ok(()), Err)
    });
    assert_eq!((stopped.map_err(|e| e.what), visits), (Err("enough".to_owned()), 1));
}

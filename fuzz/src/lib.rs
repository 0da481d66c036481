//! What the targets share: opening bytes as a file, and reading what was opened to its end.

use capture::{CaptureError, OpenOptions, Opened, Recording, open_source};
use std::path::Path;
use std::sync::Arc;
use units::{Iq, Samples, Traces};

/// Opens bytes as a file.
pub fn open(bytes: &[u8], options: &OpenOptions) -> Result<Opened, CaptureError> {
    let opened = open_source(Arc::new(bytes.to_vec()), Path::new("fuzz"), options);
    if let Err(error) = &opened {
        // Every message is made, and is a sentence.
        assert!(error.to_string().ends_with(['.', ')']), "{error}");
        assert!(!error.is_disk(), "{error}");
    }
    opened
}

/// Reads all of a recording, and checks what every caller relies on.
pub fn read(opened: &Opened) {
    assert!(opened.duration_s >= 0.0, "{} s", opened.duration_s);
    match &opened.recording {
        Recording::Iq(iq) => samples(iq),
        Recording::Sound(sound) => {
            let channels = usize::from(sound.channels());
            let frames = sound.len().min(1 << 16);
            let _ = sound.read(0, &mut vec![0.0; frames as usize * channels]);
        }
        Recording::Traces(file) => {
            let mut file = file.reopen();
            // Opening has read it through: reading it again cannot fail.
            while let Some(trace) = file.next_trace().expect("read before") {
                assert_eq!(trace.frequencies_hz.len(), trace.levels_db.len());
                assert!(!trace.levels_db.is_empty());
                assert!(trace.frequencies_hz.iter().all(|hz| hz.is_finite()));
                assert!(trace.frequencies_hz.windows(2).all(|pair| pair[0] < pair[1]));
                assert!(trace.levels_db.iter().all(|level| !level.is_infinite()));
                assert!(trace.start_s.is_finite());
            }
        }
        Recording::Events(log) => {
            assert!(!log.events.is_empty());
            assert!(log.events.windows(2).all(|e| e[0].start.from <= e[1].start.from));
            for event in &log.events {
                assert!(event.start.from <= event.start.until);
                assert!(event.duration_s.is_none_or(|s| s >= 0.0 && s.is_finite()));
                assert!(event.band.is_none_or(|b| b.low_hz <= b.high_hz && b.high_hz.is_finite()));
                assert!(event.strength.is_none_or(|s| (0.0..=s.of).contains(&s.value)));
            }
        }
    }
}

fn samples(iq: &capture::IqRecording) {
    let segments = iq.segments();
    assert!(!segments.is_empty() && iq.sample_rate_hz() > 0.0);
    let ends = segments.iter().map(|s| s.first_sample + s.samples);
    let firsts = segments.iter().skip(1).map(|s| s.first_sample);
    assert!(ends.zip(firsts).all(|(end, first)| end <= first));
    let mut block = vec![Iq::default(); iq.len().min(1 << 16) as usize];
    let _ = iq.read(0, &mut block);
    let mut last = [Iq::default()];
    let _ = iq.read(iq.len() - 1, &mut last);
    assert!(iq.read(iq.len(), &mut last).is_err());
}

//! Samples without a header: a person says the format and the rate.

use crate::assemble::{check_options, recording, whole_samples};
use crate::iq::{Rails, Stretch};
use crate::number::{Number, NumberKind};
use crate::source::ByteSource;
use crate::{CaptureError, OpenOptions, Opened, Place, RawFormat, Recording};
use std::path::Path;
use std::sync::Arc;
use units::Segment;

impl RawFormat {
    /// How one number of it is stored.
    pub fn number(self) -> Number {
        Number::little(match self {
            RawFormat::Cu8 => NumberKind::U8,
            RawFormat::Ci8 => NumberKind::I8,
            RawFormat::Ci16Le => NumberKind::I16,
            RawFormat::Cf32Le => NumberKind::F32,
        })
    }
}

pub(crate) fn open(
    source: Arc<dyn ByteSource>,
    path: &Path,
    format: RawFormat,
    options: &OpenOptions,
) -> Result<Opened, CaptureError> {
    check_options(path, options)?;
    let Some(rate_hz) = options.rate_hz else {
        return Err(CaptureError::refused(
            path,
            Place::Whole,
            format!("{} samples without a header do not say their rate", format.name()),
            "a rate",
            "Say --rate HZ, and --centre HZ if it is known.",
        ));
    };
    let mut warnings = Vec::new();
    let number = format.number();
    let samples = whole_samples(source.size(), 2 * number.bytes(), &mut warnings);
    let stretches = vec![Stretch { first: 0, count: 2 * samples, byte: 0 }];
    let rails = Rails { source, file: path.to_owned(), number, stretches };
    let segment = Segment { first_sample: 0, samples, centre_hz: options.centre_hz, start: None };
    let iq = recording(rails, rate_hz, vec![segment], options, &mut warnings)?;
    Ok(Opened {
        files: vec![path.to_owned()],
        data_file: path.to_owned(),
        format: format!("raw {}", format.name()),
        duration_s: iq.duration_s(),
        start: options.start,
        claims: Vec::new(),
        warnings,
        recording: Recording::Iq(iq),
    })
}

//! A level in one byte: 255 codes of 0.625 dB reach over 158 dB.

use std::sync::LazyLock;

/// Decibels from one code to the next.
const STEP_DB: f64 = 0.625;
/// The code of full scale.
const FULL_SCALE: f64 = 249.0;

/// Level of a code, dBFS per bin: 0 is silence (−∞), 1 … 255 are −155 … +3.75 in steps of 0.625 dB.
pub fn dbfs_from_code(code: u8) -> f64 {
    if code == 0 { f64::NEG_INFINITY } else { (f64::from(code) - FULL_SCALE) * STEP_DB }
}

/// The nearest code of a power per bin; 0 for none.
pub fn code_from_power(power: f32) -> u8 {
    /// Decibels of a factor of two, in codes.
    const OCTAVE: f32 = 3.010_3 / STEP_DB as f32;
    if power <= 0.0 {
        return 0;
    }
    (power.log2() * OCTAVE + (FULL_SCALE as f32 + 0.5)).clamp(1.0, 255.0) as u8
}

/// Power per bin of a code; 0 for code 0.
pub fn power_from_code(code: u8) -> f32 {
    static POWERS: LazyLock<[f32; 256]> = LazyLock::new(|| {
        std::array::from_fn(|code| match code {
            0 => 0.0,
            code => 10f64.powf((code as f64 - FULL_SCALE) * STEP_DB / 10.0) as f32,
        })
    });
    POWERS[usize::from(code)]
}

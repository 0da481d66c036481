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
    if power.is_nan() || power <= 0.0 {
        return 0;
    }
    let Codes { least, of } = &*CODES;
    let code = of[(power.to_bits() >> SHIFT) as usize];
    // A bucket holds one boundary at most: a 32nd of an octave is under a sixth of a step.
    code + u8::from(code < 255 && power >= least[usize::from(code) + 1])
}

/// A table in place of a logarithm, which was a third of a picture's time.
struct Codes {
    /// The least power that is of a code.
    least: [f32; 256],
    /// The code at the lower end of each bucket of powers: by exponent and five bits of mantissa.
    of: Vec<u8>,
}

/// Bits of a float below those that name its bucket; the sign bit is never set.
const SHIFT: u32 = 18;

static CODES: LazyLock<Codes> = LazyLock::new(|| {
    let least = std::array::from_fn(|code| match code {
        0 | 1 => 0.0,
        code => 10f64.powf((code as f64 - 0.5 - FULL_SCALE) * STEP_DB / 10.0) as f32,
    });
    let code_at = |bucket: u32| {
        let power = f32::from_bits(bucket << SHIFT);
        least.iter().rposition(|least| power >= *least).unwrap_or(255) as u8
    };
    Codes { least, of: (0..1 << (31 - SHIFT)).map(code_at).collect() }
});

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

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the logarithm itself, away from the boundaries by what an f32 leaves.
    #[test]
    fn codes_are_those_of_the_logarithm() {
        for i in 0..400_000 {
            let db = -175.0 + 195.0 * f64::from(i) / 400_000.0;
            let exact = db / STEP_DB + FULL_SCALE;
            if (exact.fract().abs() - 0.5).abs() < 1e-4 {
                continue;
            }
            let power = 10f64.powf(db / 10.0) as f32;
            assert_eq!(code_from_power(power), exact.round().clamp(1.0, 255.0) as u8, "{db} dB");
        }
        let extremes = [0.0, -1.0, f32::MIN_POSITIVE, 1e-45, f32::INFINITY].map(code_from_power);
        assert_eq!(extremes, [0, 0, 1, 1, 255]);
        assert_eq!(code_from_power(f32::MAX), 255);
    }
}

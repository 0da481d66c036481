//! How one number of a recording is stored, and its conversion to f32 with full scale 1.
//!
//! Signed n-bit: v / 2^(n−1). Offset-binary n-bit (SigMF's unsigned types): the middle is
//! 2^(n−1) − ½, so both ends are exactly ±1. Eight-bit WAV has its middle at 128 (RIFF 1991).

use bytemuck::{AnyBitPattern, cast_slice, cast_slice_mut};

/// One stored number: its kind and byte order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Number {
    /// Kind and width.
    pub kind: NumberKind,
    /// Most significant byte first.
    pub big_endian: bool,
}

/// Kind and width of a stored number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NumberKind {
    /// Unsigned byte, middle 127.5.
    U8,
    /// Unsigned byte, middle 128, as WAV has it.
    U8Wav,
    /// Signed byte.
    I8,
    /// Unsigned 16-bit.
    U16,
    /// Signed 16-bit.
    I16,
    /// Signed 24-bit in three bytes, little-endian.
    I24,
    /// Unsigned 32-bit.
    U32,
    /// Signed 32-bit.
    I32,
    /// 32-bit float.
    F32,
    /// 64-bit float.
    F64,
}
use NumberKind::{F32, F64, I8, I16, I24, I32, U8, U8Wav, U16, U32};

impl Number {
    /// Little-endian, or of one byte.
    pub const fn little(kind: NumberKind) -> Self {
        Number { kind, big_endian: false }
    }

    /// Bytes that one takes.
    pub const fn bytes(self) -> usize {
        match self.kind {
            U8 | U8Wav | I8 => 1,
            U16 | I16 => 2,
            I24 => 3,
            U32 | I32 | F32 => 4,
            F64 => 8,
        }
    }

    /// Whether it is a float, which may hold NaN and has no limit.
    pub const fn is_float(self) -> bool {
        matches!(self.kind, F32 | F64)
    }

    /// Its name as the number of a complex sample: `ci16_le`, `cu8`.
    pub fn complex_name(self) -> String {
        let (name, wide) = match self.kind {
            U8 | U8Wav => ("cu8", false),
            I8 => ("ci8", false),
            U16 => ("cu16", true),
            I16 => ("ci16", true),
            I24 => ("ci24", true),
            U32 => ("cu32", true),
            I32 => ("ci32", true),
            F32 => ("cf32", true),
            F64 => ("cf64", true),
        };
        match (wide, self.big_endian) {
            (false, _) => name.to_owned(),
            (true, false) => format!("{name}_le"),
            (true, true) => format!("{name}_be"),
        }
    }

    /// The values that the lowest and the highest stored number become; `None` for floats.
    pub fn limits(self) -> Option<(f32, f32)> {
        Some(match self.kind {
            U8 => (u8_value(0), u8_value(255)),
            U8Wav => (u8_wav_value(0), u8_wav_value(255)),
            I8 => (i8_value(i8::MIN), i8_value(i8::MAX)),
            U16 => (u16_value(0), u16_value(u16::MAX)),
            I16 => (i16_value(i16::MIN), i16_value(i16::MAX)),
            I24 => (i24_value([0, 0, 0x80]), i24_value([0xff, 0xff, 0x7f])),
            U32 => (u32_value(0), u32_value(u32::MAX)),
            I32 => (i32_value(i32::MIN), i32_value(i32::MAX)),
            F32 | F64 => return None,
        })
    }

    /// Converts `bytes` (whole numbers, aligned for their width) into `out`, one to one.
    /// Values that are no finite f32 come out as NaN or infinite.
    pub(crate) fn convert(self, bytes: &[u8], out: &mut [f32]) {
        let big = self.big_endian;
        match self.kind {
            U8 => each(bytes, out, u8_value),
            U8Wav => each(bytes, out, u8_wav_value),
            I8 => each(cast_slice(bytes), out, i8_value),
            U16 if big => each(cast_slice(bytes), out, |v| u16_value(u16::from_be(v))),
            U16 => each(cast_slice(bytes), out, |v| u16_value(u16::from_le(v))),
            I16 if big => each(cast_slice(bytes), out, |v| i16_value(i16::from_be(v))),
            I16 => each(cast_slice(bytes), out, |v| i16_value(i16::from_le(v))),
            I24 => each(cast_slice::<u8, [u8; 3]>(bytes), out, i24_value),
            U32 if big => each(cast_slice(bytes), out, |v| u32_value(u32::from_be(v))),
            U32 => each(cast_slice(bytes), out, |v| u32_value(u32::from_le(v))),
            I32 if big => each(cast_slice(bytes), out, |v| i32_value(i32::from_be(v))),
            I32 => each(cast_slice(bytes), out, |v| i32_value(i32::from_le(v))),
            F32 if big => each(cast_slice(bytes), out, |v| f32::from_bits(u32::from_be(v))),
            F32 => each(cast_slice(bytes), out, |v| f32::from_bits(u32::from_le(v))),
            F64 if big => each(cast_slice(bytes), out, |v| f64::from_bits(u64::from_be(v)) as f32),
            F64 => each(cast_slice(bytes), out, |v| f64::from_bits(u64::from_le(v)) as f32),
        }
    }

    /// Writes `values` (full scale 1, beyond it clipped for integers) as stored numbers at the end
    /// of `out`. The inverse of reading, to the nearest step.
    pub(crate) fn store(self, values: &[f32], out: &mut Vec<u8>) {
        out.reserve(values.len() * self.bytes());
        for &value in values {
            let x = f64::from(value);
            match self.kind {
                U8 => out.push((x * 127.5 + 127.5).round() as u8),
                U8Wav => out.push((x * 128.0 + 128.0).round() as u8),
                I8 => out.push((x * 128.0).round() as i8 as u8),
                U16 => self.put(out, ((x * 32767.5 + 32767.5).round() as u16).to_le_bytes()),
                I16 => self.put(out, ((x * 32768.0).round() as i16).to_le_bytes()),
                I24 => {
                    let v = (x * 8_388_608.0).round().clamp(-8_388_608.0, 8_388_607.0) as i32;
                    let [a, b, c, _] = v.to_le_bytes();
                    self.put(out, [a, b, c]);
                }
                U32 => {
                    let v = (x * 2_147_483_647.5 + 2_147_483_647.5).round() as u32;
                    self.put(out, v.to_le_bytes());
                }
                I32 => self.put(out, ((x * 2_147_483_648.0).round() as i32).to_le_bytes()),
                F32 => self.put(out, value.to_le_bytes()),
                F64 => self.put(out, x.to_le_bytes()),
            }
        }
    }

    fn put<const N: usize>(self, out: &mut Vec<u8>, mut little: [u8; N]) {
        if self.big_endian {
            little.reverse();
        }
        out.extend_from_slice(&little);
    }
}

fn each<T: AnyBitPattern>(stored: &[T], out: &mut [f32], value: impl Fn(T) -> f32) {
    for (x, &v) in out.iter_mut().zip(stored) {
        *x = value(v);
    }
}

fn u8_value(v: u8) -> f32 {
    (f32::from(v) - 127.5) / 127.5
}
fn u8_wav_value(v: u8) -> f32 {
    (f32::from(v) - 128.0) * (1.0 / 128.0)
}
fn i8_value(v: i8) -> f32 {
    f32::from(v) * (1.0 / 128.0)
}
fn u16_value(v: u16) -> f32 {
    (f32::from(v) - 32767.5) / 32767.5
}
fn i16_value(v: i16) -> f32 {
    f32::from(v) * (1.0 / 32768.0)
}
fn i24_value([a, b, c]: [u8; 3]) -> f32 {
    i32::from_le_bytes([0, a, b, c]) as f32 * (1.0 / 2_147_483_648.0)
}
fn u32_value(v: u32) -> f32 {
    // Through f64: the half step in the middle is lost in f32.
    ((f64::from(v) - 2_147_483_647.5) / 2_147_483_647.5) as f32
}
fn i32_value(v: i32) -> f32 {
    v as f32 * (1.0 / 2_147_483_648.0)
}

/// Index of the first value that is NaN or infinite. Integer compares on the bits, so that the
/// scan stays in vector registers and costs little beside the read.
pub(crate) fn first_not_finite(values: &[f32]) -> Option<usize> {
    const INFINITE: u32 = 0x7f80_0000;
    let magnitude = |x: &f32| x.to_bits() & 0x7fff_ffff;
    for (block, chunk) in values.chunks(4096).enumerate() {
        if chunk.iter().map(magnitude).fold(0, u32::max) >= INFINITE {
            let inside = chunk.iter().position(|x| magnitude(x) >= INFINITE)?;
            return Some(block * 4096 + inside);
        }
    }
    None
}

/// In place: floats of the other byte order become this machine's.
pub(crate) fn swap_floats(values: &mut [f32]) {
    for v in cast_slice_mut::<f32, u32>(values) {
        *v = v.swap_bytes();
    }
}

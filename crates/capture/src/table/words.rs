//! Words and numbers as tables write them: numbers with either decimal sign, units, bands.

/// A number with `decimal` as its decimal sign, and nothing else.
pub(crate) fn number(text: &[u8], decimal: u8) -> Option<f64> {
    let text = text.trim_ascii();
    let text = text.strip_prefix(b"+").unwrap_or(text);
    if decimal == b'.' {
        return fast_float2::parse(text).ok();
    }
    let mut copy = [0u8; 64];
    let copy = copy.get_mut(..text.len())?;
    for (to, from) in copy.iter_mut().zip(text) {
        *to = match *from {
            b'.' => return None,
            sign if sign == decimal => b'.',
            other => other,
        };
    }
    fast_float2::parse(&*copy).ok()
}

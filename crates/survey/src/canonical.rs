//! One way to write a JSON value, so that its bytes can be hashed: RFC 8785 (JSON
//! Canonicalization Scheme). Keys sorted by UTF-16 code units, no spaces, numbers as ECMAScript
//! prints them. Integers beyond 2^53 are printed in full rather than rounded.

use crate::SurveyError;
use serde::Serialize;
use serde_json::{Map, Value};
use std::fmt::Write;

/// The value's canonical text.
pub(crate) fn text_of(value: &Value) -> String {
    let mut out = String::new();
    write_value(value, &mut out);
    out
}

/// A thing as a JSON value without empty members: what is not stated is not written.
///
/// # Errors
/// If it cannot be written as JSON (a map with keys that are no text).
pub(crate) fn value_of<T: Serialize>(thing: &T) -> Result<Value, SurveyError> {
    let mut value = serde_json::to_value(thing)
        .map_err(|e| SurveyError::internal(format!("cannot be written as JSON: {e}")))?;
    drop_nulls(&mut value);
    Ok(value)
}

/// Takes members that are null out of every object; array elements stay.
fn drop_nulls(value: &mut Value) {
    match value {
        Value::Object(members) => {
            *members = std::mem::take(members)
                .into_iter()
                .filter(|(_, member)| !member.is_null())
                .map(|(key, mut member)| {
                    drop_nulls(&mut member);
                    (key, member)
                })
                .collect::<Map<_, _>>();
        }
        Value::Array(items) => items.iter_mut().for_each(drop_nulls),
        _ => {}
    }
}

fn write_value(value: &Value, out: &mut String) {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(true) => out.push_str("true"),
        Value::Bool(false) => out.push_str("false"),
        Value::Number(n) => match (n.as_u64(), n.as_i64(), n.as_f64()) {
            (Some(n), _, _) => drop(write!(out, "{n}")),
            (_, Some(n), _) => drop(write!(out, "{n}")),
            (_, _, Some(x)) => out.push_str(&number(x)),
            _ => out.push_str("null"),
        },
        Value::String(text) => write_text(text, out),
        Value::Array(items) => {
            out.push('[');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write_value(item, out);
            }
            out.push(']');
        }
        Value::Object(members) => {
            let mut sorted: Vec<_> = members.iter().collect();
            sorted.sort_by(|a, b| a.0.encode_utf16().cmp(b.0.encode_utf16()));
            out.push('{');
            for (i, (key, member)) in sorted.into_iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write_text(key, out);
                out.push(':');
                write_value(member, out);
            }
            out.push('}');
        }
    }
}

/// RFC 8785 3.2.2.2: the short escapes, \u00xx for other controls, everything else as it is.
pub(crate) fn write_text(text: &str, out: &mut String) {
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{8}' => out.push_str("\\b"),
            '\u{9}' => out.push_str("\\t"),
            '\u{a}' => out.push_str("\\n"),
            '\u{c}' => out.push_str("\\f"),
            '\u{d}' => out.push_str("\\r"),
            c if c < ' ' => drop(write!(out, "\\u{:04x}", c as u32)),
            c => out.push(c),
        }
    }
    out.push('"');
}

/// ECMAScript Number::toString: shortest digits that read back, plain from 1e-6 to 1e21.
fn number(x: f64) -> String {
    if x == 0.0 {
        return "0".into();
    }
    // The JSON writer's digits are the shortest that read back, ties to even as ECMAScript asks
    // (Rust's own `{}` rounds ties up): 12.5, 1e300, 5e-324. Not finite is no JSON.
    let Some(shortest) = serde_json::Number::from_f64(x.abs()) else { return "null".into() };
    let (sign, shortest) = (if x < 0.0 { "-" } else { "" }, shortest.to_string());
    let (mantissa, exponent) = shortest.split_once('e').unwrap_or((&shortest, "0"));
    let (whole, fraction) = mantissa.split_once('.').unwrap_or((mantissa, ""));
    let all = format!("{whole}{fraction}");
    let leading = all.len() - all.trim_start_matches('0').len();
    let digits = all.trim_matches('0');
    let count = digits.len() as i32;
    // Digits before the decimal point.
    let point = exponent.parse::<i32>().unwrap_or(0) + whole.len() as i32 - leading as i32;
    let body = if count <= point && point <= 21 {
        format!("{digits}{}", "0".repeat((point - count) as usize))
    } else if 0 < point && point <= 21 {
        format!("{}.{}", &digits[..point as usize], &digits[point as usize..])
    } else if -6 < point && point <= 0 {
        format!("0.{}{digits}", "0".repeat(-point as usize))
    } else {
        let sign = if point > 0 { '+' } else { '-' };
        let tail = if count > 1 { format!(".{}", &digits[1..]) } else { String::new() };
        format!("{}{tail}e{sign}{}", &digits[..1], (point - 1).abs())
    };
    format!("{sign}{body}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    /// RFC 8785 appendix B: IEEE 754 bits and the text that they must give.
    #[test]
    fn numbers_are_printed_as_the_standard_says() {
        for (bits, text) in [
            (0x0000000000000000u64, "0"),
            (0x8000000000000000, "0"),
            (0x0000000000000001, "5e-324"),
            (0x8000000000000001, "-5e-324"),
            (0x7fefffffffffffff, "1.7976931348623157e+308"),
            (0xffefffffffffffff, "-1.7976931348623157e+308"),
            (0x4340000000000000, "9007199254740992"),
            (0xc340000000000000, "-9007199254740992"),
            (0x4430000000000000, "295147905179352830000"),
            (0x44b52d02c7e14af5, "9.999999999999997e+22"),
            (0x44b52d02c7e14af6, "1e+23"),
            (0x44b52d02c7e14af7, "1.0000000000000001e+23"),
            (0x444b1ae4d6e2ef4e, "999999999999999700000"),
            (0x444b1ae4d6e2ef4f, "999999999999999900000"),
            (0x444b1ae4d6e2ef50, "1e+21"),
            (0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"),
            (0x3eb0c6f7a0b5ed8d, "0.000001"),
            (0x41b3de4355555553, "333333333.3333332"),
            (0x41b3de4355555554, "333333333.33333325"),
            (0x41b3de4355555555, "333333333.3333333"),
            (0x41b3de4355555556, "333333333.3333334"),
            (0x41b3de4355555557, "333333333.33333343"),
            (0xbecbf647612f3696, "-0.0000033333333333333333"),
            (0x43143ff3c1cb0959, "1424953923781206.2"),
        ] {
            assert_eq!(number(f64::from_bits(bits)), text, "{bits:016x}");
        }
    }

    /// RFC 8785 3.2.3: keys by UTF-16 code units, not by code points.
    #[test]
    fn keys_are_sorted_as_the_standard_says() {
        let value = json!({
            "\u{20ac}": "Euro Sign", "\r": "Carriage Return", "\u{fb33}": "Hebrew Letter Dalet With Dagesh",
            "1": "One", "\u{1f600}": "Emoji: Grinning Face", "\u{80}": "Control", "\u{f6}": "Latin Small Letter O With Diaeresis"
        });
        let text = text_of(&value);
        let order = ["Carriage", "One", "Control", "Latin", "Euro", "Emoji", "Hebrew"];
        let places: Vec<_> = order.iter().map(|word| text.find(word).expect("present")).collect();
        assert!(places.is_sorted(), "{text}");
    }

    /// RFC 8785 3.2.2: the standard's own example.
    #[test]
    fn the_example_of_the_standard() {
        let value: Value = serde_json::from_str(
            r#"{"numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
                "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
                "literals": [null, true, false]}"#,
        )
        .expect("valid JSON");
        assert_eq!(
            text_of(&value),
            "{\"literals\":[null,true,false],\"numbers\":[333333333.3333333,1e+30,4.5,0.002,1e-27],\
             \"string\":\"€$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}"
        );
    }
}

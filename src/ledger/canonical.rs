//! Canonical JSON: one spelling for one value. The integer part of RFC 8785 (JSON
//! Canonicalization Scheme): members sorted, no blanks, shortest escapes. Numbers are whole;
//! members without a value are left out.

use serde_json::Value;

/// Why a value has no canonical form.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CanonicalError {
    /// A number with a fraction or an exponent.
    #[error("{0} is not a whole number; a quantity is written as text with its unit")]
    Float(String),
}

/// Writes a value in its canonical form.
pub fn canonical_json(value: &Value) -> Result<String, CanonicalError> {
    let mut out = String::new();
    write(value, &mut out)?;
    Ok(out)
}

fn is_absent(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::Array(items) => items.is_empty(),
        _ => false,
    }
}

fn write(value: &Value, out: &mut String) -> Result<(), CanonicalError> {
    match value {
        Value::Null => out.push_str("null"),
        Value::Bool(b) => out.push_str(if *b { "true" } else { "false" }),
        Value::Number(n) => {
            let text = n.to_string();
            if !text.bytes().all(|b| b.is_ascii_digit() || b == b'-') {
                return Err(CanonicalError::Float(text));
            }
            out.push_str(&text);
        }
        Value::String(s) => write_string(s, out),
        Value::Array(items) => {
            out.push('[');
            for (i, item) in items.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write(item, out)?;
            }
            out.push(']');
        }
        Value::Object(members) => {
            out.push('{');
            // RFC 8785 sorts by UTF-16 code units; member names here are ASCII, where bytes agree.
            let mut names: Vec<_> = members.iter().filter(|(_, v)| !is_absent(v)).collect();
            names.sort_by(|a, b| a.0.cmp(b.0));
            for (i, (name, member)) in names.into_iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                write_string(name, out);
                out.push(':');
                write(member, out)?;
            }
            out.push('}');
        }
    }
    Ok(())
}

fn write_string(s: &str, out: &mut String) {
    out.push('"');
    for c in s.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\u{08}' => out.push_str("\\b"),
            '\t' => out.push_str("\\t"),
            '\n' => out.push_str("\\n"),
            '\u{0c}' => out.push_str("\\f"),
            '\r' => out.push_str("\\r"),
            c if u32::from(c) < 0x20 => {
                let code = u32::from(c);
                out.push_str("\\u00");
                out.extend([code >> 4, code & 15].map(|d| char::from_digit(d, 16).unwrap_or('0')));
            }
            c => out.push(c),
        }
    }
    out.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    #[test]
    fn one_spelling_for_one_value() {
        let value =
            json!({"b": [1, null, "x\n\u{1}"], "a": {"z": null, "y": [], "x": -3}, "é": true});
        assert_eq!(
            canonical_json(&value).unwrap(),
            "{\"a\":{\"x\":-3},\"b\":[1,null,\"x\\n\\u0001\"],\"é\":true}"
        );
    }

    #[test]
    fn floats_never_reach_the_hash() {
        for bad in [json!(0.1), json!({"a": [1.0]}), json!(1e300)] {
            assert!(canonical_json(&bad).is_err());
        }
    }

    fn any_json() -> impl Strategy<Value = Value> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            any::<i64>().prop_map(Value::from),
            any::<String>().prop_map(Value::from),
        ];
        leaf.prop_recursive(3, 24, 6, |inner| {
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..6).prop_map(Value::from),
                prop::collection::btree_map("[a-z]{1,4}", inner, 0..6)
                    .prop_map(|m| Value::Object(m.into_iter().collect())),
            ]
        })
    }

    proptest! {
        #[test]
        fn canonical_text_is_json_and_a_fixed_point(value in any_json()) {
            let text = canonical_json(&value).unwrap();
            let back: Value = serde_json::from_str(&text).unwrap();
            prop_assert_eq!(canonical_json(&back).unwrap(), text);
        }
    }
}

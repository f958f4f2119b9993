//! The canonical JSON of a body: one value has one spelling.
//!
//! Keys stand in the order of their bytes, nothing separates what need not be separated, numbers
//! are whole, and text is escaped only where JSON demands it, in one way. Reading refuses every
//! other spelling, so what is read would be written with the same bytes.

use std::collections::BTreeMap;

use serde_json::Value;
use thiserror::Error;

/// A value in a body.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Json {
    /// Nothing.
    Null,
    /// A whole number.
    Number(i128),
    /// A text.
    Text(String),
    /// Values in order.
    List(Vec<Self>),
    /// Values by name.
    Object(BTreeMap<String, Self>),
}

/// Why bytes are not a canonical body.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum JsonError {
    /// They are not JSON.
    #[error("it is not JSON: {0}")]
    Syntax(String),
    /// They hold a value that bodies do not use.
    #[error("`{0}` is not a value that a body uses")]
    Value(String),
    /// They are spelled in another way than they are written.
    #[error("it is not spelled as it is written here")]
    Spelling,
}

impl Json {
    /// The one spelling of this value.
    pub(crate) fn to_bytes(&self) -> Vec<u8> {
        let mut out = String::new();
        self.spell(&mut out);
        out.into_bytes()
    }

    /// Reads a value from its one spelling.
    pub(crate) fn from_bytes(bytes: &[u8]) -> Result<Self, JsonError> {
        let value: Value =
            serde_json::from_slice(bytes).map_err(|cause| JsonError::Syntax(cause.to_string()))?;
        let json = Self::of(value)?;
        if json.to_bytes() == bytes { Ok(json) } else { Err(JsonError::Spelling) }
    }

    fn of(value: Value) -> Result<Self, JsonError> {
        Ok(match value {
            Value::Null => Self::Null,
            Value::Bool(_) => return Err(JsonError::Value(value.to_string())),
            Value::Number(ref number) => {
                let whole = number.as_i64().map(i128::from);
                let whole = whole.or_else(|| number.as_u64().map(i128::from));
                Self::Number(whole.ok_or_else(|| JsonError::Value(value.to_string()))?)
            }
            Value::String(text) => Self::Text(text),
            Value::Array(values) => {
                Self::List(values.into_iter().map(Self::of).collect::<Result<_, _>>()?)
            }
            Value::Object(fields) => Self::Object(
                fields
                    .into_iter()
                    .map(|(name, value)| Ok((name, Self::of(value)?)))
                    .collect::<Result<_, JsonError>>()?,
            ),
        })
    }

    fn spell(&self, out: &mut String) {
        match self {
            Self::Null => out.push_str("null"),
            Self::Number(number) => out.push_str(&number.to_string()),
            Self::Text(text) => spell_text(text, out),
            Self::List(values) => spell_all(out, ['[', ']'], values, |value, out| value.spell(out)),
            Self::Object(fields) => spell_all(out, ['{', '}'], fields, |(name, value), out| {
                spell_text(name, out);
                out.push(':');
                value.spell(out);
            }),
        }
    }
}

fn spell_all<T>(
    out: &mut String,
    [open, close]: [char; 2],
    items: impl IntoIterator<Item = T>,
    spell: impl Fn(T, &mut String),
) {
    out.push(open);
    for (place, item) in items.into_iter().enumerate() {
        if place > 0 {
            out.push(',');
        }
        spell(item, out);
    }
    out.push(close);
}

/// Escapes the quotation mark, the backslash and the 32 control characters (RFC 8259 7); all
/// else stands as it is.
fn spell_text(text: &str, out: &mut String) {
    out.push('"');
    for character in text.chars() {
        match character {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\0'..='\u{1f}' => out.push_str(&format!("\\u{:04x}", u32::from(character))),
            _ => out.push(character),
        }
    }
    out.push('"');
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(bytes: &str, refused: &str) {
        match Json::from_bytes(bytes.as_bytes()) {
            Ok(json) => {
                assert_eq!(refused, "", "{bytes} was read");
                assert_eq!(String::from_utf8(json.to_bytes()).unwrap(), bytes);
            }
            Err(why) => {
                assert!(why.to_string().starts_with(refused) && !refused.is_empty(), "{why}");
            }
        }
    }

    #[test]
    fn one_value_has_one_spelling() {
        check(r#"{"a":[1,-2,null],"b":"23 °C \"in\" \\ \n \u0001"}"#, "");
        check("18446744073709551615", "");
        let other = "it is not spelled as it is written here";
        check(r#"{"a":1 }"#, other);
        check(r#"{"b":1,"a":2}"#, other);
        check(r#"{"a":1,"a":2}"#, other);
        check(r#""\u0041""#, other);
        check(r#""\t""#, other);
        check("-0", "`-0.0` is not a value that a body uses");
        check("1.5", "`1.5` is not a value that a body uses");
        check("true", "`true` is not a value that a body uses");
        check("18446744073709551616", "`1");
        check("{", "it is not JSON");
        check(&"[".repeat(1000), "it is not JSON: recursion limit");
    }
}

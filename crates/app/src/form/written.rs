//! Quantities and moments as people write them: a number and its unit.

use std::fmt;
use std::marker::PhantomData;
use std::str::FromStr;

use metrology::{Area, Duration, Length, Mass, Quantity, Ratio, Temperature};
use serde::Deserialize;
use serde::de::{self, Deserializer, Visitor};
use trial::moment::{Elapsed, Moment};
use trial::rules::Range;

/// Text that was read into a value of `T`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Written<T>(pub(crate) T);

/// A kind of value that can be written as text.
pub(crate) trait FromText: Sized {
    /// What is expected, for an error: `a duration such as "30.2 s"`.
    const EXPECTED: &'static str;

    /// The value, or nothing if the text is not of this kind.
    fn from_text(text: &str) -> Option<Self>;
}

impl<T: FromText> FromStr for Written<T> {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        T::from_text(text.trim())
            .map(Self)
            .ok_or_else(|| format!("`{text}` is not {}", T::EXPECTED))
    }
}

impl<'de, T: FromText> Deserialize<'de> for Written<T> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Text<T>(PhantomData<T>);
        impl<T: FromText> Visitor<'_> for Text<T> {
            type Value = Written<T>;

            fn expecting(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                out.write_str(T::EXPECTED)
            }

            fn visit_str<E: de::Error>(self, text: &str) -> Result<Written<T>, E> {
                text.parse().map_err(E::custom)
            }
        }
        from.deserialize_str(Text(PhantomData))
    }
}

/// A decimal number and the unit behind it. Both decimal signs are taken.
fn number_and_unit(text: &str) -> Option<(f64, &str)> {
    let end = text.find(|letter: char| !matches!(letter, '0'..='9' | '.' | ',' | '-' | '+'));
    let (number, unit) = text.split_at(end.unwrap_or(text.len()));
    let value: f64 = number.replace(',', ".").parse().ok()?;
    value.is_finite().then_some((value, unit.trim()))
}

/// Whole microseconds in a text such as `41.7 s`, `-2 s` or `41,7`; a bare number is seconds.
fn microseconds(text: &str) -> Option<i64> {
    let (sign, text) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (-1, rest),
        None => (1, text),
    };
    let number = text.strip_suffix('s').unwrap_or(text).trim_end();
    let (whole, part) = number.split_once(['.', ',']).unwrap_or((number, ""));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || whole.len() > 9 || part.len() > 6 || !digits(whole) || !digits(part) {
        return None;
    }
    format!("{whole}{part:0<6}").parse::<i64>().ok().map(|count| sign * count)
}

impl FromText for Elapsed {
    const EXPECTED: &'static str =
        "a time on the stop-watch such as \"41.7 s\", with at most six decimals";

    fn from_text(text: &str) -> Option<Self> {
        microseconds(text).map(Self::from_microseconds)
    }
}

impl FromText for Moment {
    const EXPECTED: &'static str = "a date and time such as \"2026-11-25T09:40:00+01:00\"";

    fn from_text(text: &str) -> Option<Self> {
        Self::parse(text).ok()
    }
}

impl FromText for Duration {
    const EXPECTED: &'static str = "a duration such as \"0.2 s\", \"30 min\" or \"4 h\"";

    fn from_text(text: &str) -> Option<Self> {
        let (value, unit) = number_and_unit(text)?;
        let seconds = match unit {
            "s" => 1.0,
            "min" => 60.0,
            "h" => 3600.0,
            "d" => 86_400.0,
            _ => return None,
        };
        (value >= 0.0).then_some(Self::from_seconds(value * seconds))
    }
}

impl FromText for Length {
    const EXPECTED: &'static str = "a length such as \"12 mm\"";

    fn from_text(text: &str) -> Option<Self> {
        let (value, unit) = number_and_unit(text)?;
        let millimetres = match unit {
            "mm" => 1.0,
            "cm" => 10.0,
            _ => return None,
        };
        (value >= 0.0).then_some(Self::from_millimetres(value * millimetres))
    }
}

impl FromText for Mass {
    const EXPECTED: &'static str = "a mass such as \"0.581 g\" or \"2 kg\"";

    fn from_text(text: &str) -> Option<Self> {
        let (value, unit) = number_and_unit(text)?;
        let grams = match unit {
            "g" => 1.0,
            "mg" => 1e-3,
            "kg" => 1000.0,
            _ => return None,
        };
        (value > 0.0).then_some(Self::from_grams(value * grams))
    }
}

impl FromText for Area {
    const EXPECTED: &'static str = "an area such as \"89.8 mm²\"";

    fn from_text(text: &str) -> Option<Self> {
        match number_and_unit(text)? {
            (value, "mm²" | "mm2") if value > 0.0 => Some(Self::from_square_millimetres(value)),
            _ => None,
        }
    }
}

impl FromText for Temperature {
    const EXPECTED: &'static str = "a temperature such as \"23 °C\"";

    fn from_text(text: &str) -> Option<Self> {
        match number_and_unit(text)? {
            (value, "°C" | "C") => Some(Self::from_celsius(value)),
            (value, "K") => Some(Self::from_kelvin(value)),
            _ => None,
        }
    }
}

impl FromText for Ratio {
    const EXPECTED: &'static str = "a share such as \"50 %\"";

    fn from_text(text: &str) -> Option<Self> {
        match number_and_unit(text)? {
            (value, "%") => Some(Self::from_percent(value)),
            _ => None,
        }
    }
}

impl<Q: Quantity + FromText> FromText for Range<Q> {
    const EXPECTED: &'static str =
        "a range with units at both ends, such as \"22 °C to 24 °C\" or \"48 % to 52 %\"";

    fn from_text(text: &str) -> Option<Self> {
        let (from, to) = text.split_once(" to ").unwrap_or((text, text));
        let (from, to) = (Q::from_text(from.trim())?, Q::from_text(to.trim())?);
        (from <= to).then_some(Self { from, to })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check<T: FromText + fmt::Debug + PartialEq>(text: &str, expected: Option<T>) {
        assert_eq!(text.parse().ok(), expected.map(Written), "{text}");
    }

    #[test]
    fn times_are_whole_microseconds_with_either_decimal_sign() {
        check("41.7 s", Some(Elapsed::from_microseconds(41_700_000)));
        check("41,7", Some(Elapsed::from_microseconds(41_700_000)));
        check("-2 s", Some(Elapsed::from_microseconds(-2_000_000)));
        check::<Elapsed>("1.2345678 s", None);
        check::<Elapsed>("soon", None);
    }

    #[test]
    fn a_quantity_needs_its_unit() {
        check("4 h", Some(Duration::from_seconds(14_400.0)));
        check::<Duration>("4", None);
        check("296.15 K", Some(Temperature::from_kelvin(296.15)));
        check::<Temperature>("23", None);
        check::<Length>("-3 mm", None);
        check("2 kg", Some(Mass::from_grams(2000.0)));
        check::<Mass>("2", None);
    }

    #[test]
    fn a_range_has_its_ends_in_order() {
        let (from, to) = (Ratio::from_percent(48.0), Ratio::from_percent(52.0));
        check("48 % to 52 %", Some(Range { from, to }));
        check("48 %", Some(Range { from, to: from }));
        check::<Range<Ratio>>("52 % to 48 %", None);
    }
}

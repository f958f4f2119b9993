//! Numbers as people type them into a page: either decimal sign, with or without the unit.
//!
//! `30`, `30 s`, `30,0` and `3 0` are thirty. `1.234` and `1,234` can be read in two ways, and so
//! they are asked about and never guessed.

use std::fmt;

/// Which number is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Kind {
    /// The unit that a number without one has.
    pub(crate) unit: &'static str,
    /// Other units that may be typed, and how many of the first they are.
    pub(crate) also: &'static [(&'static str, i64)],
    /// The least value, in whole units.
    pub(crate) least: i64,
    /// The greatest value, in whole units.
    pub(crate) most: i64,
}

/// A time at the flame.
pub(crate) const SECONDS: Kind =
    Kind { unit: "s", also: &[("min", 60), ("h", 3600)], least: 0, most: 36_000 };
/// A temperature of a room or a chamber.
pub(crate) const CELSIUS: Kind = Kind { unit: "°C", also: &[("C", 1)], least: -60, most: 100 };
/// A relative humidity.
pub(crate) const PERCENT: Kind = Kind { unit: "%", also: &[], least: 0, most: 100 };
/// A length on a specimen.
pub(crate) const MILLIMETRES: Kind =
    Kind { unit: "mm", also: &[("cm", 10)], least: 0, most: 10_000 };

/// A mass on a balance.
pub(crate) const GRAMS: Kind = Kind { unit: "g", also: &[], least: 0, most: 1000 };
/// A surface.
pub(crate) const SQUARE_MILLIMETRES: Kind =
    Kind { unit: "mm²", also: &[], least: 0, most: 100_000 };

/// A typed number, exact to the millionth of its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Number {
    /// Millionths of the unit.
    pub(crate) millionths: i64,
}

/// Why a text is no such number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// Nothing was typed.
    Empty,
    /// It can be read in two ways: with a decimal sign, and with one between thousands.
    TwoWays {
        /// With a decimal sign.
        small: String,
        /// With a sign between thousands.
        large: String,
    },
    /// It has signs between thousands.
    Grouped,
    /// It is no number.
    NoNumber,
    /// The unit is not one of those to choose from.
    Unit(String),
    /// It has more decimals than are kept.
    TooFine,
    /// It is below the least.
    TooSmall(Number),
    /// It is above the greatest.
    TooLarge(Number),
}

/// Decimals that are kept.
const DECIMALS: usize = 6;
const MILLION: i64 = 1_000_000;

/// Reads a typed number.
///
/// # Errors
///
/// [`Fault`] that says what is wrong with it.
pub(crate) fn read(typed: &str, kind: &Kind) -> Result<Number, Fault> {
    let text: String = typed.chars().filter(|letter| !letter.is_whitespace()).collect();
    if text.is_empty() {
        return Err(Fault::Empty);
    }
    let part_of_number =
        |letter: char| matches!(letter, '0'..='9' | '.' | ',' | '-' | '−' | '+' | '\'');
    let end = text.find(|letter| !part_of_number(letter)).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let times = multiplier(unit, kind).ok_or_else(|| {
        if number.is_empty() { Fault::NoNumber } else { Fault::Unit(unit.to_owned()) }
    })?;
    let millionths = millionths(number)?.checked_mul(times).ok_or(Fault::NoNumber)?;
    let number = Number { millionths };
    if millionths < kind.least * MILLION {
        Err(Fault::TooSmall(number))
    } else if millionths > kind.most * MILLION {
        Err(Fault::TooLarge(number))
    } else {
        Ok(number)
    }
}

fn multiplier(unit: &str, kind: &Kind) -> Option<i64> {
    if unit.is_empty() || unit == kind.unit {
        return Some(1);
    }
    kind.also.iter().find(|(word, _)| *word == unit).map(|(_, times)| *times)
}

/// Whole millionths in a text of digits, at most one sign and one decimal sign.
fn millionths(text: &str) -> Result<i64, Fault> {
    let (sign, digits) = match text.strip_prefix(['-', '−']) {
        Some(rest) => (-1, rest),
        None => (1, text.strip_prefix('+').unwrap_or(text)),
    };
    if digits.contains(['-', '−', '+']) || !digits.contains(|letter: char| letter.is_ascii_digit())
    {
        return Err(Fault::NoNumber);
    }
    if digits.contains('\'') || digits.matches(['.', ',']).count() > 1 {
        return Err(Fault::Grouped);
    }
    let (whole, part) = digits.split_once(['.', ',']).unwrap_or((digits, ""));
    if part.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0') {
        let sign = if sign < 0 { "-" } else { "" };
        let small = format!("{sign}{whole}.{part}0");
        return Err(Fault::TwoWays { small, large: format!("{sign}{whole}{part}") });
    }
    if part.len() > DECIMALS {
        return Err(Fault::TooFine);
    }
    let digits = format!("{whole}{part:0<DECIMALS$}");
    let digits = digits.trim_start_matches('0');
    let value: i64 =
        if digits.is_empty() { 0 } else { digits.parse().map_err(|_| Fault::NoNumber)? };
    Ok(sign * value)
}

impl Number {
    /// In its unit. Exact to the last digit that was typed.
    #[expect(clippy::cast_precision_loss, reason = "far below 2^53 millionths")]
    pub(crate) fn value(self) -> f64 {
        self.millionths as f64 / 1e6
    }
}

impl fmt::Display for Number {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.millionths < 0 { "-" } else { "" };
        let size = self.millionths.unsigned_abs();
        let (whole, part) = (size / 1_000_000, size % 1_000_000);
        let part = format!("{part:06}");
        match part.trim_end_matches('0') {
            "" => write!(out, "{sign}{whole}"),
            part => write!(out, "{sign}{whole}.{part}"),
        }
    }
}

impl Fault {
    /// What is wrong as a sentence: the value got, the range wanted. `what` opens it, such as
    /// "Duration of application".
    pub(crate) fn words(&self, what: &str, typed: &str, kind: &Kind) -> String {
        let Kind { unit, least, most, .. } = kind;
        // A number without a unit has its limits elsewhere.
        let (unit, range) = if unit.is_empty() {
            (String::new(), String::new())
        } else {
            (format!(" {unit}"), format!(" from {least} to {most} {unit}"))
        };
        match self {
            Self::Empty => format!("{what}: type a number{range}."),
            Self::TwoWays { small, large } => format!(
                "{what}: `{typed}` can be read as {large}{unit} or as {small}{unit}. \
                 Type {large} or {small}."
            ),
            Self::Grouped => {
                format!("{what}: `{typed}` has signs between its digits. Type it without them.")
            }
            Self::NoNumber => format!("{what}: `{typed}` is no number. Type one{range}."),
            Self::Unit(other) if unit.is_empty() => {
                format!("{what}: `{typed}` ends in `{other}`. Type the number alone.")
            }
            Self::Unit(other) => {
                format!("{what}: `{typed}` is in `{other}`. Type it in{unit},{range}.")
            }
            Self::TooFine => {
                format!("{what}: `{typed}` has more than {DECIMALS} decimals. Type fewer.")
            }
            Self::TooSmall(found) | Self::TooLarge(found) => {
                format!("{what} is {found}{unit}. Type a number{range}.")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(typed: &str, kind: &Kind, expected: Result<&str, Fault>) {
        let found = read(typed, kind).map(|number| number.to_string());
        assert_eq!(found, expected.map(str::to_owned), "`{typed}`");
    }

    fn two_ways(small: &str, large: &str) -> Fault {
        Fault::TwoWays { small: small.to_owned(), large: large.to_owned() }
    }

    #[test]
    fn a_number_may_have_its_unit_spaces_and_either_decimal_sign() {
        for typed in ["30", "30 s", "30s", " 30,0 ", "30.0 s", "3 0", "+30", "0,5 min", "030"] {
            check(typed, &SECONDS, Ok("30"));
        }
        check("23,5 °C", &CELSIUS, Ok("23.5"));
        check("−4", &CELSIUS, Ok("-4"));
        check("0.125", &SECONDS, Ok("0.125"));
        check(".5", &SECONDS, Ok("0.5"));
        check("2 cm", &MILLIMETRES, Ok("20"));
        check("12.3456", &SECONDS, Ok("12.3456"));
        check("1234,5", &SECONDS, Ok("1234.5"));
    }

    #[test]
    fn what_can_be_read_in_two_ways_is_asked_about() {
        check("1.234", &SECONDS, Err(two_ways("1.2340", "1234")));
        check("1,234", &SECONDS, Err(two_ways("1.2340", "1234")));
        check("12.345 s", &SECONDS, Err(two_ways("12.3450", "12345")));
        check("-1.234", &CELSIUS, Err(two_ways("-1.2340", "-1234")));
        // Both ways out can be typed and mean what they were said to mean.
        check("1.2340", &SECONDS, Ok("1.234"));
        check("1234", &SECONDS, Ok("1234"));
        let words = two_ways("1.2340", "1234").words("The time", "1.234", &SECONDS);
        assert_eq!(
            words,
            "The time: `1.234` can be read as 1234 s or as 1.2340 s. Type 1234 or 1.2340."
        );
    }

    #[test]
    fn each_other_fault_has_its_own_name() {
        check("", &SECONDS, Err(Fault::Empty));
        check("  ", &SECONDS, Err(Fault::Empty));
        check("abc", &SECONDS, Err(Fault::NoNumber));
        check("-", &SECONDS, Err(Fault::NoNumber));
        check("5-3", &SECONDS, Err(Fault::NoNumber));
        check("s", &SECONDS, Err(Fault::NoNumber));
        check("1.234,5", &SECONDS, Err(Fault::Grouped));
        check("1'234", &SECONDS, Err(Fault::Grouped));
        check("30 kg", &SECONDS, Err(Fault::Unit("kg".to_owned())));
        check("1.2345678", &SECONDS, Err(Fault::TooFine));
        check("-5", &SECONDS, Err(Fault::TooSmall(Number { millionths: -5_000_000 })));
        check("101 %", &PERCENT, Err(Fault::TooLarge(Number { millionths: 101_000_000 })));
        check("99999999999999999999", &SECONDS, Err(Fault::NoNumber));
        check("9223372036854775", &SECONDS, Err(Fault::NoNumber));
    }

    #[test]
    fn a_fault_says_the_value_and_the_range() {
        let words =
            |typed: &str| read(typed, &PERCENT).unwrap_err().words("Humidity", typed, &PERCENT);
        assert_eq!(words("abc"), "Humidity: `abc` is no number. Type one from 0 to 100 %.");
        assert_eq!(words("120"), "Humidity is 120 %. Type a number from 0 to 100 %.");
        assert_eq!(words(""), "Humidity: type a number from 0 to 100 %.");
    }
}

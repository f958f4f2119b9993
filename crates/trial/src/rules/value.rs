//! Texts such as `23.5 s`, `± 1.0 s`, `15 °C to 35 °C`, `≤ 30 s` as quantities.
//!
//! Edges of a band are summed in whole millionths of the unit, so that 23.5 s − 1.0 s is 22.5 s
//! whatever the digits, and a time from whole microseconds can lie exactly on it.

use super::{Entry, RulesProblem};
use metrology::decision::Limit;
use metrology::{
    Count, Duration, Length, Mass, Quantity, Ratio, Temperature, TemperatureDifference,
};

/// A target with what may be missing from it and what may be over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band<Q> {
    /// What is aimed at.
    pub target: Q,
    /// The lower edge, itself inside.
    pub low: Q,
    /// The upper edge, itself inside.
    pub high: Q,
}

impl<Q: Quantity> Band<Q> {
    /// Whether `value` lies in the band, edges included.
    #[must_use]
    pub fn holds(&self, value: Q) -> bool {
        self.low <= value && value <= self.high
    }
}

/// From one value to another, both inside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range<Q> {
    /// The lowest value.
    pub from: Q,
    /// The highest value.
    pub to: Q,
}

impl<Q: Quantity> Range<Q> {
    /// Whether `other` lies wholly in this range.
    #[must_use]
    pub fn holds(&self, other: &Self) -> bool {
        self.from <= other.from && other.to <= self.to
    }
}

/// What may be over a chosen value, and what may be missing from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    plus_microseconds: i64,
    minus_microseconds: i64,
}

impl Tolerance {
    /// The band about `target`.
    #[must_use]
    pub fn about(self, target: Duration) -> Band<Duration> {
        let target = whole_microseconds(target);
        Band {
            target: Duration::from_microseconds(target),
            low: Duration::from_microseconds(target - self.minus_microseconds),
            high: Duration::from_microseconds(target + self.plus_microseconds),
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "durations of a test are far below 2^63 µs")]
fn whole_microseconds(duration: Duration) -> i64 {
    (duration.seconds() * 1e6).round() as i64
}

/// A kind of value that an entry of a rules file can hold.
pub trait Value: Sized {
    /// Reads it.
    ///
    /// # Errors
    ///
    /// [`RulesProblem`] if the entry holds something else.
    fn read(entry: &Entry) -> Result<Self, RulesProblem>;
}

/// A number in millionths of the unit it was written in.
type Millionths = i64;

/// A quantity that can be written as a number and a unit.
trait Written: Quantity {
    /// The units it may be written in, and for each the divisor from millionths of it to the
    /// fixed unit, and a whole multiplier before it.
    const UNITS: &'static [(&'static str, i64, f64)];
}

impl Written for Duration {
    const UNITS: &'static [(&'static str, i64, f64)] =
        &[("s", 1, 1e6), ("min", 60, 1e6), ("h", 3600, 1e6)];
}
impl Written for Length {
    const UNITS: &'static [(&'static str, i64, f64)] = &[("mm", 1, 1e6)];
}
impl Written for Mass {
    const UNITS: &'static [(&'static str, i64, f64)] = &[("g", 1, 1e6)];
}
impl Written for Temperature {
    const UNITS: &'static [(&'static str, i64, f64)] = &[("°C", 1, 1e6)];
}
impl Written for TemperatureDifference {
    const UNITS: &'static [(&'static str, i64, f64)] = &[("K", 1, 1e6)];
}
impl Written for Ratio {
    const UNITS: &'static [(&'static str, i64, f64)] = &[("%", 1, 1e8)];
}

/// The problem of this entry's value.
fn problem(entry: &Entry, why: impl Into<String>) -> RulesProblem {
    RulesProblem::Value { key: entry.key.0.clone(), found: entry.text(), why: why.into() }
}

/// A decimal number to millionths, and what follows it.
fn decimal<'t>(entry: &Entry, text: &'t str) -> Result<(Millionths, &'t str), RulesProblem> {
    let text = text.trim();
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(text.len());
    let (number, rest) = text.split_at(end);
    let (whole, part) = number.split_once('.').unwrap_or((number, ""));
    if whole.is_empty() || whole.len() > 9 || part.len() > 6 || part.contains('.') {
        let why = format!("`{text}` does not begin with a number of at most six decimals");
        return Err(problem(entry, why));
    }
    let digits = format!("{whole}{part:0<6}");
    let millionths = digits.parse().map_err(|_| problem(entry, "not a number"))?;
    Ok((millionths, rest.trim()))
}

/// Millionths of the fixed unit's written form, and the divisor to the fixed unit.
fn amount<Q: Written>(entry: &Entry, text: &str) -> Result<(i64, f64), RulesProblem> {
    let (millionths, unit) = decimal(entry, text)?;
    if unit.is_empty() {
        return Err(RulesProblem::NoUnit { key: entry.key.0.clone(), found: entry.text() });
    }
    let known = Q::UNITS.iter().find(|(word, _, _)| *word == unit);
    let Some((_, multiplier, divisor)) = known else {
        let words: Vec<&str> = Q::UNITS.iter().map(|(word, _, _)| *word).collect();
        let why = format!("the unit `{unit}` is not one of {}", words.join(", "));
        return Err(problem(entry, why));
    };
    Ok((millionths * multiplier, *divisor))
}

#[expect(clippy::cast_precision_loss, reason = "below 2^53: at most nine digits and six decimals")]
fn of<Q: Written>((millionths, divisor): (i64, f64)) -> Q {
    Q::of_unit(millionths as f64 / divisor)
}

fn plain<Q: Written>(entry: &Entry) -> Result<Q, RulesProblem> {
    no_tolerance(entry)?;
    amount::<Q>(entry, &entry.value).map(of)
}

fn no_tolerance(entry: &Entry) -> Result<(), RulesProblem> {
    match entry.tolerance {
        Some(_) => Err(problem(entry, "a tolerance has no meaning here")),
        None => Ok(()),
    }
}

/// `± 1 s`, or `+0 s / -1 s`: over and missing, in millionths.
fn tolerance<D: Written>(entry: &Entry, text: &str) -> Result<(i64, i64), RulesProblem> {
    if let Some(both) = text.strip_prefix('±') {
        let (size, _) = amount::<D>(entry, both)?;
        return Ok((size, size));
    }
    let parts = text.split_once('/').and_then(|(plus, minus)| {
        let minus = minus.trim();
        Some((
            plus.trim().strip_prefix('+')?,
            minus.strip_prefix('-').or_else(|| minus.strip_prefix('−'))?,
        ))
    });
    let Some((plus, minus)) = parts else {
        return Err(problem(entry, "write a tolerance as `± 1 s` or `+0 s / -1 s`"));
    };
    Ok((amount::<D>(entry, plus)?.0, amount::<D>(entry, minus)?.0))
}

impl<Q: Written> Value for Band<Q>
where
    Q::Difference: Written,
{
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        let (target, divisor) = amount::<Q>(entry, &entry.value)?;
        let Some(said) = &entry.tolerance else {
            return Err(RulesProblem::Lacks { key: entry.key.0.clone(), what: "tolerance" });
        };
        let (plus, minus) = tolerance::<Q::Difference>(entry, said)?;
        Ok(Self {
            target: of((target, divisor)),
            low: of((target - minus, divisor)),
            high: of((target + plus, divisor)),
        })
    }
}

impl<Q: Written> Value for Range<Q> {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        let Some((from, to)) = entry.value.split_once(" to ") else {
            return Err(problem(entry, "write a range as `15 °C to 35 °C`"));
        };
        let (from, to) = (of(amount::<Q>(entry, from)?), of(amount::<Q>(entry, to)?));
        if from > to {
            return Err(problem(entry, "the range ends below its beginning"));
        }
        Ok(Self { from, to })
    }
}

impl<Q: Written> Value for Limit<Q> {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        type Make<Q> = fn(Q) -> Limit<Q>;
        let operators: [(&str, Make<Q>); 4] = [
            ("≤", Limit::AtMost),
            ("<", Limit::LessThan),
            ("≥", Limit::AtLeast),
            (">", Limit::MoreThan),
        ];
        let found =
            operators.iter().find_map(|(sign, make)| Some((entry.value.strip_prefix(sign)?, make)));
        match found {
            Some((text, make)) => Ok(make(of(amount::<Q>(entry, text)?))),
            None => Err(problem(entry, "a limit opens with ≤, <, ≥ or >")),
        }
    }
}

impl Value for Tolerance {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        let (plus_microseconds, minus_microseconds) = tolerance::<Duration>(entry, &entry.value)?;
        Ok(Self { plus_microseconds, minus_microseconds })
    }
}

impl Value for Duration {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        plain(entry)
    }
}

impl Value for Length {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        plain(entry)
    }
}

impl Value for Vec<Duration> {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        entry.value.split(',').map(|text| amount::<Duration>(entry, text).map(of)).collect()
    }
}

impl Value for Count {
    /// The unit of a count is the thing counted: `3 specimens`.
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        let (number, thing) = entry.value.split_once(' ').unwrap_or((&entry.value, ""));
        if thing.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(RulesProblem::NoUnit { key: entry.key.0.clone(), found: entry.text() });
        }
        match number.parse() {
            Ok(number) if (1..=1000).contains(&number) => Ok(Self::of(number)),
            Ok(_) | Err(_) => Err(problem(entry, "write a count from 1 to 1000 and the thing")),
        }
    }
}

impl Value for String {
    fn read(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        Ok(entry.value.clone())
    }
}

/// A closed list of words that an entry may hold.
pub(crate) trait Word: Copy + 'static {
    /// The words and what they mean.
    const WORDS: &'static [(&'static str, Self)];

    /// The one an entry names.
    fn of_entry(entry: &Entry) -> Result<Self, RulesProblem> {
        no_tolerance(entry)?;
        let known = Self::WORDS.iter().find(|(word, _)| *word == entry.value);
        known.map(|(_, meaning)| *meaning).ok_or_else(|| {
            let words: Vec<&str> = Self::WORDS.iter().map(|(word, _)| *word).collect();
            problem(entry, format!("write one of {}", words.join(", ")))
        })
    }
}

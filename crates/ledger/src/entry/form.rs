//! How values become canonical JSON and back, each by one table that serves both directions.

use jiff::civil::Date;
use metrology::{
    Area, DegreesOfFreedom, Duration, Length, Mass, Measurement, Quantity, Ratio, Temperature,
};
use std::collections::BTreeMap;
use thiserror::Error;
use trial::moment::{Elapsed, Moment};

use super::json::Json;

/// A value that has a written form.
pub(crate) trait Written: Sized {
    /// Its written form.
    fn write(&self) -> Json;

    /// The value of a written form; refuses what [`Written::write`] never writes.
    fn read(json: Json) -> Result<Self, FormError>;
}

/// Why a body does not say what its kind says.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("`{}` {why}", path.join("."))]
pub struct FormError {
    path: Vec<String>,
    why: String,
}

impl FormError {
    fn found(expected: &str, found: &Json) -> Self {
        let found = String::from_utf8_lossy(&found.to_bytes()).chars().take(60).collect::<String>();
        Self { path: Vec::new(), why: format!("is {found}; {expected} was expected") }
    }

    /// The same, seen from one step further out.
    fn within(mut self, name: impl ToString) -> Self {
        self.path.insert(0, name.to_string());
        self
    }
}

/// The named values of an object, taken out one by one.
pub(crate) struct Fields(BTreeMap<String, Json>);

impl Fields {
    /// Reads an object whole: `read` takes every field, and none is left over.
    pub(crate) fn all<T>(
        json: Json,
        read: impl FnOnce(&mut Self) -> Result<T, FormError>,
    ) -> Result<T, FormError> {
        let Json::Object(fields) = json else { return Err(FormError::found("an object", &json)) };
        let mut fields = Self(fields);
        let read = read(&mut fields)?;
        match fields.0.into_keys().next() {
            None => Ok(read),
            Some(name) => Err(FormError { path: vec![name], why: "is unknown here".to_owned() }),
        }
    }

    pub(crate) fn take<T: Written>(&mut self, name: &str) -> Result<T, FormError> {
        let json = self.0.remove(name).ok_or_else(|| FormError {
            path: vec![name.to_owned()],
            why: "is missing".to_owned(),
        })?;
        T::read(json).map_err(|why| why.within(name))
    }

    /// A field that is left out where there is nothing to say.
    pub(crate) fn take_if_there<T: Written>(&mut self, name: &str) -> Result<Option<T>, FormError> {
        let json = self.0.remove(name);
        json.map(T::read).transpose().map_err(|why| why.within(name))
    }
}

/// An object of these fields.
pub(crate) fn object<const N: usize>(fields: [(&str, Json); N]) -> Json {
    Json::Object(fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect())
}

/// A text as a value.
pub(crate) fn text(text: impl ToString) -> Json {
    Json::Text(text.to_string())
}

/// One of several forms: its word alone, or its word with what belongs to it.
pub(crate) fn tagged(word: &str, content: Json) -> Json {
    if content == Json::Null { text(word) } else { object([(word, content)]) }
}

/// Takes apart what [`tagged`] made.
pub(crate) fn untag(json: Json) -> Result<(String, Json), FormError> {
    match json {
        Json::Text(word) => Ok((word, Json::Null)),
        Json::Object(fields) if fields.len() == 1 => {
            fields.into_iter().next().ok_or_else(|| FormError::found("a word", &Json::Null))
        }
        other @ (Json::Null | Json::Number(_) | Json::List(_) | Json::Object(_)) => {
            Err(FormError::found("a word, or a word with what belongs to it", &other))
        }
    }
}

/// The refusal of a word that [`untag`] gave.
pub(crate) fn unknown_word(word: String) -> FormError {
    FormError::found("one of the known words", &Json::Text(word))
}

/// Reads a text by `parse`; `None` is refused as not `expected`.
pub(crate) fn read_text<T>(
    json: Json,
    expected: &str,
    parse: impl Fn(&str) -> Option<T>,
) -> Result<T, FormError> {
    let read = if let Json::Text(text) = &json { parse(text) } else { None };
    read.ok_or_else(|| FormError::found(expected, &json))
}

/// Structs: the domain's fields, each with its written name. A field more or less in the domain
/// does not compile; a renamed one leaves the written name as it is.
macro_rules! written {
    ($($name:path { $($field:ident: $key:literal),* $(,)? })*) => {$(
        impl Written for $name {
            fn write(&self) -> Json {
                let Self { $($field),* } = self;
                object([$(($key, $field.write())),*])
            }

            fn read(json: Json) -> Result<Self, FormError> {
                Fields::all(json, |fields| Ok(Self { $($field: fields.take($key)?),* }))
            }
        }
    )*};
}
pub(crate) use written;

/// Types that are a number or a text with a name of its own.
macro_rules! written_as {
    ($inner:ty: $($name:path),* $(,)?) => {$(
        impl Written for $name {
            fn write(&self) -> Json {
                self.0.write()
            }

            fn read(json: Json) -> Result<Self, FormError> {
                <$inner>::read(json).map(Self)
            }
        }
    )*};
}
pub(crate) use written_as;

/// Closed lists of words.
macro_rules! written_by_word {
    ($($name:path),* $(,)?) => {$(
        impl Written for $name {
            fn write(&self) -> Json {
                text(self.word())
            }

            fn read(json: Json) -> Result<Self, FormError> {
                read_text(json, "one of the known words", Self::of_word)
            }
        }
    )*};
}
pub(crate) use written_by_word;

impl Written for String {
    fn write(&self) -> Json {
        text(self)
    }

    fn read(json: Json) -> Result<Self, FormError> {
        read_text(json, "a text", |text| Some(text.to_owned()))
    }
}

macro_rules! written_number {
    ($($number:ty),*) => {$(
        impl Written for $number {
            fn write(&self) -> Json {
                Json::Number((*self).into())
            }

            fn read(json: Json) -> Result<Self, FormError> {
                let read = if let Json::Number(number) = json { number.try_into().ok() } else { None };
                read.ok_or_else(|| FormError::found("a whole number in range", &json))
            }
        }
    )*};
}
written_number!(u32, u64);

impl<T: Written> Written for Option<T> {
    fn write(&self) -> Json {
        self.as_ref().map_or(Json::Null, T::write)
    }

    fn read(json: Json) -> Result<Self, FormError> {
        if json == Json::Null { Ok(None) } else { T::read(json).map(Some) }
    }
}

impl<T: Written> Written for Box<T> {
    fn write(&self) -> Json {
        self.as_ref().write()
    }

    fn read(json: Json) -> Result<Self, FormError> {
        T::read(json).map(Self::new)
    }
}

impl<T: Written> Written for Vec<T> {
    fn write(&self) -> Json {
        Json::List(self.iter().map(T::write).collect())
    }

    fn read(json: Json) -> Result<Self, FormError> {
        let Json::List(values) = json else { return Err(FormError::found("a list", &json)) };
        let numbered = values.into_iter().enumerate();
        numbered.map(|(n, value)| T::read(value).map_err(|why| why.within(n))).collect()
    }
}

/// A part whose own form is not looked at.
pub(crate) struct AsItIs(pub(crate) Json);

impl Written for AsItIs {
    fn write(&self) -> Json {
        self.0.clone()
    }

    fn read(json: Json) -> Result<Self, FormError> {
        Ok(Self(json))
    }
}

/// A number without a unit, in the shortest decimal form that reads back to the same bits.
pub(crate) struct Decimal(pub(crate) f64);

impl Written for Decimal {
    fn write(&self) -> Json {
        text(self.0)
    }

    fn read(json: Json) -> Result<Self, FormError> {
        read_text(json, "a number", read_decimal).map(Self)
    }
}

fn read_decimal(text: &str) -> Option<f64> {
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

/// A quantity as its shortest decimal and its unit, such as `30.2 s`.
fn write_quantity(quantity: impl Quantity) -> Json {
    text(format!("{} {}", quantity.in_unit(), unit_of(quantity)))
}

fn unit_of<Q: Quantity>(_: Q) -> &'static str {
    Q::UNIT
}

fn read_quantity<Q: Quantity>(json: Json) -> Result<Q, FormError> {
    let expected = format!("a number in {}", Q::UNIT);
    read_text(json, &expected, |text| {
        let number = text.strip_suffix(Q::UNIT)?.strip_suffix(' ')?;
        read_decimal(number).map(Q::of_unit)
    })
}

macro_rules! written_quantity {
    ($($name:ident),*) => {$(
        impl Written for $name {
            fn write(&self) -> Json {
                write_quantity(*self)
            }

            fn read(json: Json) -> Result<Self, FormError> {
                read_quantity(json)
            }
        }
    )*};
}
written_quantity!(Area, Duration, Length, Mass, Ratio, Temperature);

impl<Q: Quantity + Written> Written for Measurement<Q>
where
    Q::Difference: Written,
{
    fn write(&self) -> Json {
        let Self { value, uncertainty, degrees_of_freedom } = self;
        object([
            ("value", value.write()),
            ("uncertainty", uncertainty.write()),
            ("degrees_of_freedom", degrees_of_freedom.write()),
        ])
    }

    fn read(json: Json) -> Result<Self, FormError> {
        Fields::all(json, |fields| {
            Ok(Self {
                value: fields.take("value")?,
                uncertainty: fields.take("uncertainty")?,
                degrees_of_freedom: fields.take("degrees_of_freedom")?,
            })
        })
    }
}

impl Written for DegreesOfFreedom {
    fn write(&self) -> Json {
        match self {
            Self::Of(number) => text(number),
            Self::Infinite => text("infinite"),
        }
    }

    fn read(json: Json) -> Result<Self, FormError> {
        read_text(json, "a number, or `infinite`", |text| match text {
            "infinite" => Some(Self::Infinite),
            number => read_decimal(number).map(Self::Of),
        })
    }
}

impl Written for Elapsed {
    fn write(&self) -> Json {
        text(format!("{} µs", self.microseconds()))
    }

    fn read(json: Json) -> Result<Self, FormError> {
        read_text(json, "whole microseconds", |text| {
            text.strip_suffix(" µs")?.parse().ok().map(Self::from_microseconds)
        })
    }
}

impl Written for Moment {
    fn write(&self) -> Json {
        text(self)
    }

    fn read(json: Json) -> Result<Self, FormError> {
        read_text(json, "a moment in UTC", |text| Self::parse(text).ok())
    }
}

impl Written for Date {
    fn write(&self) -> Json {
        text(self)
    }

    fn read(json: Json) -> Result<Self, FormError> {
        read_text(json, "a date", |text| text.parse().ok())
    }
}

//! What may be stated about the file, the sensor and the window.

use std::str::FromStr;

use clap::Args;
use metrology::{Duration, Ratio, Temperature, ThermocoupleType, ToleranceClass};
use reading::import::{
    ChannelChoice, DateOrder, Decimal, Delimiter, Encoding, ImportOptions, MissingCodes,
    TemperatureUnit, TimeUnit, Wire,
};
use reading::{Circumstances, SensorUncertainty, Window};

use crate::problem::Problem;

/// What is timed, and what it is held against.
#[derive(Args, Debug)]
#[command(next_help_heading = "What is timed and judged")]
pub(super) struct WindowOptions {
    /// Where the timing begins, in °C [default: as the method says]
    #[arg(long, value_name = "CELSIUS", value_parser = number, allow_negative_numbers = true)]
    pub(super) from: Option<f64>,
    /// Where it ends, in °C [default: as the method says]
    #[arg(long, value_name = "CELSIUS", value_parser = number, allow_negative_numbers = true)]
    pub(super) to: Option<f64>,
    /// Read only this part of the trace, in seconds on its own clock
    #[arg(long, num_args = 2, value_names = ["START", "END"], value_parser = number,
        allow_negative_numbers = true)]
    pub(super) between: Option<Vec<f64>>,
    /// The method whose band is held against
    #[arg(long, value_name = "STANDARD/EDITION", default_value = "iec-60695-11-5/2016")]
    pub(super) method: String,
    /// Accept and refuse only outside a guard band of this many expanded uncertainties
    /// [default: simple acceptance]
    #[arg(long, value_name = "RATIO", value_parser = number, allow_negative_numbers = true)]
    pub(super) guard_band: Option<f64>,
}

/// What the file is.
#[derive(Args, Debug)]
#[command(next_help_heading = "What the file is, where it does not say so itself")]
pub(crate) struct FileOptions {
    /// The column with the temperature, by name or by number from 1
    #[arg(long, value_name = "NAME|NUMBER")]
    channel: Option<String>,
    /// Its unit: C, K, F, mV, uV or V
    #[arg(long, value_parser = unit)]
    unit: Option<TemperatureUnit>,
    /// A number that stands for a missing value, given once or more; or `none`
    #[arg(long, value_name = "NUMBER", value_parser = missing, allow_negative_numbers = true)]
    missing: Vec<Missing>,
    /// The column with the time, by name or by number from 1
    #[arg(long, value_name = "NAME|NUMBER")]
    time_column: Option<String>,
    /// Its unit: us, ms, s, min, h or d
    #[arg(long, value_parser = TimeUnit::from_str)]
    time_unit: Option<TimeUnit>,
    /// Count rows at this many readings a second, instead of reading a time
    #[arg(long, value_name = "PER-SECOND", value_parser = number)]
    rate: Option<f64>,
    /// The order in dates such as 03/04/2026: day-first or month-first
    #[arg(long, value_parser = DateOrder::from_str)]
    date_order: Option<DateOrder>,
    /// Between cells: comma, semicolon, tab, blank, pipe or none
    #[arg(long, value_parser = delimiter)]
    delimiter: Option<Delimiter>,
    /// The decimal sign: point or comma
    #[arg(long, value_parser = decimal)]
    decimal: Option<Decimal>,
    /// The text: utf-8, utf-16le, utf-16be or latin-1
    #[arg(long, value_parser = Encoding::from_str)]
    encoding: Option<Encoding>,
    /// Leave this many rows at the top unread
    #[arg(long, value_name = "ROWS", default_value_t = 0)]
    skip_rows: usize,
}

/// What the sensor and the clock are.
#[derive(Args, Debug)]
#[command(next_help_heading = "What the sensor and the logger's clock are")]
pub(crate) struct SensorOptions {
    /// The thermocouple's letter [default: K]
    #[arg(long = "type", value_name = "LETTER", value_parser = letter)]
    kind: Option<ThermocoupleType>,
    /// Its tolerance class by IEC 60584-1, to count in its uncertainty
    #[arg(long, value_name = "1|2|3", value_parser = class)]
    class: Option<ToleranceClass>,
    /// The temperature of its reference junction in °C, where the file holds a voltage
    #[arg(long, value_name = "CELSIUS", value_parser = number, allow_negative_numbers = true)]
    junction: Option<f64>,
    /// The step in seconds to which the logger rounds its times, such as 0.1, to count in the
    /// uncertainty; needless where readings come at even times
    #[arg(long, value_name = "SECONDS", value_parser = step)]
    time_step: Option<f64>,
    /// The temperature at the logger's terminals in °C, where the block rested at it at the start:
    /// a block that reads otherwise tells of another thermocouple type, and is void
    #[arg(long, value_name = "CELSIUS", value_parser = number, allow_negative_numbers = true)]
    terminals: Option<f64>,
}

/// What the air around the block is.
#[derive(Args, Debug)]
#[command(next_help_heading = "What the air around the block is")]
pub(crate) struct AirOptions {
    /// The room's temperature in °C, read beside the block
    #[arg(long, value_name = "CELSIUS", value_parser = number, allow_negative_numbers = true)]
    room: Option<f64>,
}

impl AirOptions {
    /// The room's temperature, where it was read.
    pub(crate) fn room(&self) -> Option<Temperature> {
        self.room.map(Temperature::from_celsius)
    }
}

impl WindowOptions {
    /// The part of the trace to read.
    pub(super) fn circumstances(&self) -> Circumstances {
        let part = self.between.as_deref().and_then(|ends| match ends {
            [from, to] => Some((Duration::from_seconds(*from), Duration::from_seconds(*to))),
            _ => None,
        });
        Circumstances { part, ..Circumstances::default() }
    }

    /// The window asked for, where it is not that of the method.
    pub(super) fn window(&self, method: Window) -> Result<Window, Problem> {
        let or = |asked: Option<f64>, method| asked.map_or(method, Temperature::from_celsius);
        Window::new(or(self.from, method.bottom()), or(self.to, method.top())).map_err(|error| {
            Problem::used_wrongly(error.to_string()).hint("Give `--from` below `--to`.")
        })
    }
}

impl FileOptions {
    /// What the importer is told.
    pub(crate) fn import(&self, sensor: &SensorOptions) -> Result<ImportOptions, Problem> {
        let codes = self.missing.iter().filter_map(|missing| match missing {
            Missing::Code(number) => Some(*number),
            Missing::Nothing => None,
        });
        Ok(ImportOptions {
            channel: self.channel.as_deref().map(ChannelChoice::from),
            delimiter: self.delimiter,
            decimal: self.decimal,
            encoding: self.encoding,
            time_column: self.time_column.as_deref().map(ChannelChoice::from),
            time_unit: self.time_unit,
            rate_per_second: self.rate,
            date_order: self.date_order,
            unit: self.unit,
            wire: sensor.wire(),
            missing_codes: if self.missing.is_empty() {
                MissingCodes::Ask
            } else {
                MissingCodes::Stated(codes.collect())
            },
            skip_rows: self.skip_rows,
            ..ImportOptions::default()
        })
    }
}

impl SensorOptions {
    /// The thermocouple's letter.
    pub(crate) fn kind(&self) -> ThermocoupleType {
        self.kind.unwrap_or(ThermocoupleType::K)
    }

    /// The wire of a voltage, where its junction is stated.
    fn wire(&self) -> Option<Wire> {
        self.junction.map(|celsius| Wire {
            letter: self.kind(),
            junction: Temperature::from_celsius(celsius),
        })
    }

    /// The class that is stated.
    pub(crate) const fn class(&self) -> Option<ToleranceClass> {
        self.class
    }

    /// The temperature of the terminals, at which the block rested at the start.
    pub(crate) fn resting_at(&self) -> Option<Temperature> {
        self.terminals.map(Temperature::from_celsius)
    }

    /// The uncertainty of an unused thermocouple of `class` in `window`: its tolerance taken as
    /// a rectangle. Where its errors at the two ends are correlated is not known, so they are
    /// taken as independent: that is too large if they share a sign, as they mostly do.
    pub(crate) fn uncertainty(
        &self,
        class: ToleranceClass,
        window: Window,
    ) -> Result<SensorUncertainty, Problem> {
        let rectangle = 3.0_f64.sqrt();
        let at = |temperature| {
            let tolerance = self
                .kind()
                .tolerance(class, temperature)
                .map_err(|error| Problem::used_wrongly(error.to_string()).hint(error.hint()))?;
            Ok::<_, Problem>(tolerance / rectangle)
        };
        Ok(SensorUncertainty {
            at_bottom: at(window.bottom())?,
            at_top: at(window.top())?,
            correlation: Ratio::from_fraction(0.0),
            ..self.clock()
        })
    }

    /// The uncertainty of the logger's times, of a thermocouple without error.
    pub(crate) fn clock(&self) -> SensorUncertainty {
        let time_step = self.time_step.map_or(Duration::ZERO, Duration::from_seconds);
        SensorUncertainty { time_step, ..SensorUncertainty::NONE }
    }
}

/// A finite number; a decimal comma is understood.
fn number(text: &str) -> Result<f64, String> {
    let number: f64 = text.replace(',', ".").parse().map_err(|_| "not a number".to_owned())?;
    if number.is_finite() { Ok(number) } else { Err("not a finite number".to_owned()) }
}

/// A step of time: a finite number above zero.
fn step(text: &str) -> Result<f64, String> {
    match number(text)? {
        step if step > 0.0 => Ok(step),
        _ => Err("a step is above zero".to_owned()),
    }
}

/// What stands for a missing value.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Missing {
    Code(f64),
    Nothing,
}

fn missing(text: &str) -> Result<Missing, String> {
    if text == "none" { Ok(Missing::Nothing) } else { number(text).map(Missing::Code) }
}

fn unit(text: &str) -> Result<TemperatureUnit, String> {
    let plain = text.trim_start_matches('°').replace('µ', "u");
    TemperatureUnit::from_str(&plain).map_err(|error| error.to_string())
}

/// A delimiter by its word or by itself.
fn delimiter(text: &str) -> Result<Delimiter, String> {
    match text {
        "," => Ok(Delimiter::Comma),
        ";" => Ok(Delimiter::Semicolon),
        "\t" | "\\t" => Ok(Delimiter::Tab),
        " " => Ok(Delimiter::Blank),
        "|" => Ok(Delimiter::Pipe),
        word => Delimiter::from_str(word).map_err(|error| error.to_string()),
    }
}

/// A decimal sign by its word or by itself.
fn decimal(text: &str) -> Result<Decimal, String> {
    match text {
        "." => Ok(Decimal::Point),
        "," => Ok(Decimal::Comma),
        word => Decimal::from_str(word).map_err(|error| error.to_string()),
    }
}

fn letter(text: &str) -> Result<ThermocoupleType, String> {
    let known = ThermocoupleType::ALL.into_iter();
    let mut same = known.filter(|kind| kind.letter().eq_ignore_ascii_case(text));
    same.next().ok_or_else(|| "the letters are B, E, J, K, N, R, S and T".to_owned())
}

fn class(text: &str) -> Result<ToleranceClass, String> {
    let mut same =
        ToleranceClass::ALL.into_iter().filter(|class| class.number().to_string() == text);
    same.next().ok_or_else(|| "the classes are 1, 2 and 3".to_owned())
}

/// Names options as they are typed: the rooms below call them `time_unit`, the shell
/// `--time-unit`.
pub(super) fn as_typed(text: &str) -> String {
    // Words of the rooms below, each with the option that states it.
    const NAMES: &str = "channel unit missing time_column time_unit rate date_order delimiter \
                         decimal encoding skip_rows junction type";
    let typed = NAMES.split(' ').fold(text.to_owned(), |text, name| {
        text.replace(&format!("`{name}`"), &format!("`--{}`", name.replace('_', "-")))
    });
    typed.replace("`thermocouple`", "`--type`").replace("(missing ", "(--missing ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_are_named_as_they_are_typed() {
        let hint = "Name its columns with the options `time_column` and `channel`.";
        let typed = "Name its columns with the options `--time-column` and `--channel`.";
        assert_eq!(as_typed(hint), typed);
    }

    #[test]
    fn words_and_signs_are_both_understood() {
        assert_eq!(delimiter(";"), Ok(Delimiter::Semicolon));
        assert_eq!(decimal("comma"), Ok(Decimal::Comma));
        assert_eq!(unit("°F"), Ok(TemperatureUnit::Fahrenheit));
        assert_eq!(number("23,5"), Ok(23.5));
        assert!(number("inf").is_err() && letter("X").is_err() && class("4").is_err());
    }
}

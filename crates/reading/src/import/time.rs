//! Which column holds the time, and in which form.

use super::clock::{self, Spelt};
use super::columns::{self, Column};
use super::error::{ImportError, Question};
use super::number::number;
use super::options::{DateOrder, Decimal, ImportOptions, TimeUnit};
use super::sniff::Look;
use super::table::Table;
use super::unit::{self, Unit};

/// Where the time of a row comes from.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum TimeSource {
    /// Rows are counted: so many a second, or a step from a first time on.
    Counted {
        per_second: f64,
    },
    Stepped {
        first: f64,
        step: f64,
    },
    Number {
        column: usize,
        unit: TimeUnit,
        unit_stated: bool,
        decimal: Decimal,
    },
    /// Dates and clocks, in one column or in two.
    Stamp {
        date: Option<usize>,
        clock: usize,
        order: Option<DateOrder>,
        first_day: i64,
    },
}

impl TimeSource {
    /// The columns that serve it.
    pub(super) fn columns(&self) -> Vec<usize> {
        match self {
            Self::Counted { .. } | Self::Stepped { .. } => Vec::new(),
            Self::Number { column, .. } => vec![*column],
            Self::Stamp { date, clock, .. } => {
                let mut columns: Vec<usize> = date.iter().copied().collect();
                if *date != Some(*clock) {
                    columns.push(*clock);
                }
                columns
            }
        }
    }
}

/// Columns that look like time or count the rows; none of them is a temperature.
pub(super) fn not_temperature(columns: &[Column]) -> Vec<usize> {
    let timely = columns.iter().filter(|column| column.look.is_time() || is_numeric_time(column));
    timely.map(|column| column.index).collect()
}

/// Finds the time of `table`, or asks for it.
pub(super) fn find(
    table: &Table<'_>,
    columns: &[Column],
    options: &ImportOptions,
) -> Result<TimeSource, ImportError> {
    if let Some(rate) = options.rate_per_second {
        if !(rate.is_finite() && rate > 0.0) {
            let text = format!("a rate of {rate} readings a second is not above 0");
            return Err(ImportError::Option(text));
        }
        return Ok(TimeSource::Counted { per_second: rate });
    }
    if let Some(choice) = &options.time_column {
        return of_column(table, columns, columns::chosen(columns, choice)?, options);
    }
    let numeric: Vec<&Column> = columns.iter().filter(|column| is_numeric_time(column)).collect();
    match numeric.as_slice() {
        [only] => return of_column(table, columns, only, options),
        [] => {}
        several => return Err(which(several)),
    }
    let stamps: Vec<&Column> = columns
        .iter()
        .filter(|column| matches!(column.look, Look::Clock | Look::DateAndClock))
        .collect();
    match stamps.as_slice() {
        [only] => return of_column(table, columns, only, options),
        [] => {}
        several => return Err(which(several)),
    }
    if let Some(stepped) = stepped(table, columns)? {
        return Ok(stepped);
    }
    unnamed(table, columns, options)
}

fn which(several: &[&Column]) -> ImportError {
    ImportError::Ask(Question {
        what: format!("{} columns may hold the time", several.len()),
        choices: several.iter().map(|column| column.to_string()).collect(),
        option: "time_column",
    })
}

fn is_numeric_time(column: &Column) -> bool {
    let unit_allows = matches!(column.unit, None | Some(Unit::Time(_)));
    let told = matches!(column.unit, Some(Unit::Time(_))) || unit::is_time(&column.name);
    column.look == Look::Number && unit_allows && told
}

/// A header block may state the step of each column instead of a column of time.
fn stepped(table: &Table<'_>, columns: &[Column]) -> Result<Option<TimeSource>, ImportError> {
    let named = |row: &[Option<f64>]| -> Vec<f64> {
        let filled = columns.iter().filter(|column| column.look == Look::Number);
        filled.filter_map(|column| row.get(column.index).copied().flatten()).collect()
    };
    let (firsts, steps) = (named(&table.block_first_times), named(&table.block_steps));
    let Some(step) = steps.first().copied().filter(|step| step.is_finite() && *step > 0.0) else {
        return Ok(None);
    };
    let first = firsts.first().copied().filter(|first| first.is_finite()).unwrap_or(0.0);
    let same =
        |values: &[f64], one: f64| values.iter().all(|value| value.to_bits() == one.to_bits());
    if !same(&steps, step) || !(firsts.is_empty() || same(&firsts, first)) {
        return Err(ImportError::Ask(Question {
            what: "the header states different steps of time for different columns".to_owned(),
            choices: steps.iter().map(|step| format!("{step} s")).collect(),
            option: "rate",
        }));
    }
    Ok(Some(TimeSource::Stepped { first, step }))
}

/// A table whose columns do not say which of them is the time.
fn unnamed(
    table: &Table<'_>,
    columns: &[Column],
    options: &ImportOptions,
) -> Result<TimeSource, ImportError> {
    let ask = |what: String| {
        Err(ImportError::Ask(Question {
            what,
            choices: vec![
                "a column that holds it (option `time_column`)".to_owned(),
                "the readings a second, with the rows counted (option `rate`)".to_owned(),
            ],
            option: "time_column` or `rate",
        }))
    };
    let first = &columns[0];
    if table.names.is_some() {
        let temperature = columns.iter().any(|column| {
            matches!(column.unit, Some(Unit::Temperature(_))) || unit::is_temperature(&column.name)
        });
        if temperature || options.channel.is_some() || columns.len() == 1 {
            return ask(format!(
                "no column is named as the time; there is {}",
                columns::list(columns)
            ));
        }
        return Err(ImportError::NotATrace { columns: columns::list(columns) });
    }
    let decimal = columns::decimal(table, first, options)?;
    let cells = table.body.sample.iter().map(|row| number(row[0], decimal.byte()));
    let Some(values) = cells.collect::<Option<Vec<f64>>>() else {
        return ask("no column is named as the time".to_owned());
    };
    let steps: Vec<f64> = values.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let climbs = columns.len() > 1 && steps.iter().all(|step| *step > 0.0);
    if !climbs {
        return ask("no column holds the time".to_owned());
    }
    if options.time_unit.is_none() && steps.iter().all(|step| step.to_bits() == 1.0_f64.to_bits()) {
        return Err(ImportError::Ask(Question {
            what: "the first column has no name and counts 1, 2, 3".to_owned(),
            choices: vec![
                "seconds (option `time_unit`)".to_owned(),
                "rows (option `rate`)".to_owned(),
            ],
            option: "time_unit` or `rate",
        }));
    }
    of_column(table, columns, first, options)
}

/// The time as it stands in `column`.
fn of_column(
    table: &Table<'_>,
    columns: &[Column],
    column: &Column,
    options: &ImportOptions,
) -> Result<TimeSource, ImportError> {
    match column.look {
        Look::Number => {
            let stated = match (&options.time_unit, &column.unit) {
                (Some(unit), _) | (None, Some(Unit::Time(unit))) => Some(*unit),
                _ => unit::time_unit_in_name(&column.name),
            };
            let decimal = columns::decimal(table, column, options)?;
            let lower = column.name.to_lowercase();
            if stated.is_none()
                && ["date", "datum", "stamp"].iter().any(|word| lower.contains(word))
            {
                return Err(ImportError::Ask(Question {
                    what: format!("column {column} holds dates as bare numbers"),
                    choices: vec!["days (d)".to_owned(), "seconds (s)".to_owned()],
                    option: "time_unit",
                }));
            }
            Ok(TimeSource::Number {
                column: column.index,
                unit: stated.unwrap_or(TimeUnit::Seconds),
                unit_stated: stated.is_some(),
                decimal,
            })
        }
        Look::DateAndClock => stamped(table, Some(column.index), column.index, options),
        Look::Clock => {
            let date = columns.iter().find(|other| other.look == Look::Date).map(|it| it.index);
            stamped(table, date, column.index, options)
        }
        Look::Blank | Look::Word | Look::Date | Look::Text => Err(ImportError::WrongColumn {
            column: column.to_string(),
            wanted: "time",
            because: "it holds neither numbers nor clocks".to_owned(),
        }),
    }
}

fn stamped(
    table: &Table<'_>,
    date: Option<usize>,
    clock: usize,
    options: &ImportOptions,
) -> Result<TimeSource, ImportError> {
    let Some(column) = date else {
        return Ok(TimeSource::Stamp { date, clock, order: None, first_day: 0 });
    };
    let cells = table.body.sample.iter();
    let mut dates: Vec<Spelt> =
        cells.filter_map(|row| clock::stamp(row[column]).and_then(|stamp| stamp.date)).collect();
    dates.dedup();
    let order = match options.date_order {
        None => order(&dates)?,
        stated => stated,
    };
    let first = dates.first().and_then(|date| date.date(order.unwrap_or(DateOrder::DayFirst)));
    let either = || dates.first().and_then(|date| date.date(DateOrder::MonthFirst));
    let first_day = first.or_else(either).map_or(0, clock::day_number);
    Ok(TimeSource::Stamp { date, clock, order, first_day })
}

/// The order of day and month that `dates` allow; none where it makes no difference so far.
fn order(dates: &[Spelt]) -> Result<Option<DateOrder>, ImportError> {
    let open = dates.iter().find(|date| matches!(date, Spelt::Either { .. }));
    let Some(Spelt::Either { first, second, year }) = open else {
        return Ok(Some(DateOrder::DayFirst));
    };
    let runs = |order: DateOrder| {
        let days: Option<Vec<i64>> =
            dates.iter().map(|date| date.date(order).map(clock::day_number)).collect();
        days.is_some_and(|days| days.is_sorted())
    };
    match (runs(DateOrder::DayFirst), runs(DateOrder::MonthFirst)) {
        (true, false) => Ok(Some(DateOrder::DayFirst)),
        (false, true) => Ok(Some(DateOrder::MonthFirst)),
        _ if dates.len() == 1 => Ok(None),
        _ => Err(date_question(&format!("{first:02}/{second:02}/{year}"))),
    }
}

/// Asks for the order of day and month.
pub(super) fn date_question(example: &str) -> ImportError {
    ImportError::Ask(Question {
        what: format!("`{example}` can be read in two ways, and the times differ"),
        choices: vec!["day-first".to_owned(), "month-first".to_owned()],
        option: "date_order",
    })
}

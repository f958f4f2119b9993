//! The columns of a table: their names, units and decimal signs, and which one is wanted.

use std::fmt;

use super::error::{ColumnList, ImportError, Question};
use super::number::number;
use super::options::{ChannelChoice, Decimal, ImportOptions};
use super::sniff::Look;
use super::table::{self, Table};
use super::unit::{self, Unit};

/// A column of the file.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Column {
    /// Counted from 0.
    pub(super) index: usize,
    /// Without its unit; empty where none is given.
    pub(super) name: String,
    /// As it stands in the file.
    pub(super) full_name: String,
    pub(super) unit: Option<Unit>,
    pub(super) look: Look,
}

impl fmt::Display for Column {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}", self.index + 1)?;
        if !self.name.is_empty() {
            write!(out, " `{}`", self.name)?;
        }
        match &self.unit {
            Some(Unit::Temperature(unit)) => write!(out, " in {unit}"),
            Some(Unit::Time(unit)) => write!(out, " in {unit}"),
            Some(Unit::Other(unit)) => write!(out, " in {unit}"),
            None => Ok(()),
        }
    }
}

/// The columns of `table`.
pub(super) fn columns(table: &Table<'_>) -> Vec<Column> {
    let cell = |row: Option<&Vec<String>>, index: usize| {
        row.and_then(|cells| cells.get(index)).cloned().unwrap_or_default()
    };
    let names = table.names.as_ref().map(|row| &row.cells);
    let units = table.units.as_ref().map(|row| &row.cells);
    let looks = table.body.looks.iter().enumerate();
    looks
        .map(|(index, look)| {
            let full_name = cell(names, index);
            let (name, named_unit) = unit::name_and_unit(&full_name);
            // The first cell of a block's row is its key, not a unit.
            let stated = match cell(units, index) {
                stated if stated.is_empty() && index > 0 => {
                    table.block_units.get(index).cloned().unwrap_or_default()
                }
                stated => stated,
            };
            let row_unit = unit::unit(&stated)
                .or_else(|| (!stated.is_empty()).then(|| Unit::Other(stated.clone())));
            Column { index, name, full_name, unit: row_unit.or(named_unit), look: *look }
        })
        .collect()
}

pub(super) fn list<'list>(columns: impl IntoIterator<Item = &'list Column>) -> ColumnList {
    ColumnList(columns.into_iter().map(Column::to_string).collect())
}

/// The column that `choice` names.
pub(super) fn chosen<'list>(
    columns: &'list [Column],
    choice: &ChannelChoice,
) -> Result<&'list Column, ImportError> {
    let absent = |asked: String| ImportError::NoSuchColumn { asked, columns: list(columns) };
    let name = match choice {
        ChannelChoice::Number(number) => {
            // A name that is a number wins only where there is no such number.
            let by_name = || columns.iter().find(|column| column.full_name == number.to_string());
            let by_number = number.checked_sub(1).and_then(|index| columns.get(index));
            return by_number.or_else(by_name).ok_or_else(|| absent(number.to_string()));
        }
        ChannelChoice::Name(name) => name,
    };
    let exact = |column: &&Column| column.full_name == *name || column.name == *name;
    let alike = |column: &&Column| {
        let lower = name.to_lowercase();
        column.full_name.to_lowercase() == lower || column.name.to_lowercase() == lower
    };
    let mut found: Vec<&Column> = columns.iter().filter(exact).collect();
    if found.is_empty() {
        found = columns.iter().filter(alike).collect();
    }
    match found.as_slice() {
        [] => Err(absent(format!("`{name}`"))),
        [only] => Ok(only),
        several => Err(ImportError::Ask(Question {
            what: format!("{} columns are named `{name}`", several.len()),
            choices: several.iter().map(|column| column.to_string()).collect(),
            option: "channel",
        })),
    }
}

/// Why a column was taken for the temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChosenBy {
    /// The user named it.
    User,
    /// It is the only one in a unit of temperature.
    Unit,
    /// It is the only one that is named like a temperature.
    Name,
    /// It is the only column beside the time.
    Alone,
}

/// The column that holds the temperature, and why it was taken.
///
/// `taken` are columns that serve the time. A column is a temperature by its unit; where no column
/// has such a unit, by its name; where no name tells, every column of numbers without a unit may
/// be one.
pub(super) fn temperature<'list>(
    columns: &'list [Column],
    taken: &[usize],
    options: &ImportOptions,
) -> Result<(&'list Column, ChosenBy), ImportError> {
    if let Some(choice) = &options.channel {
        return by_user(columns, taken, choice, options).map(|column| (column, ChosenBy::User));
    }
    let free: Vec<&Column> = columns
        .iter()
        .filter(|column| column.look == Look::Number && !taken.contains(&column.index))
        .filter(|column| !unit::is_row_number(&column.name))
        .collect();
    let with_unit: Vec<&Column> =
        free.iter().copied().filter(|it| is_temperature_unit(it, options)).collect();
    let open: Vec<&Column> = free.iter().copied().filter(|it| it.unit.is_none()).collect();
    let named: Vec<&Column> =
        open.iter().copied().filter(|column| unit::is_temperature(&column.name)).collect();
    match (with_unit.as_slice(), named.as_slice(), open.as_slice()) {
        ([only], ..) => Ok((only, ChosenBy::Unit)),
        ([], [only], _) => Ok((only, ChosenBy::Name)),
        ([], [], [only]) if free.len() == 1 => Ok((only, ChosenBy::Alone)),
        ([], [], []) => {
            let others = columns.iter().filter(|column| column.look != Look::Blank);
            Err(ImportError::NoTemperature { columns: list(others) })
        }
        ([], [], open) => Err(which(open, "may hold the temperature, none with a unit of one")),
        ([], named, open) => Err(which(named, &by_name(named.len(), open.len()))),
        (several, ..) => Err(which(several, "hold temperatures")),
    }
}

/// Volts are taken for a temperature only where the user states a thermocouple.
fn is_temperature_unit(column: &Column, options: &ImportOptions) -> bool {
    match &column.unit {
        Some(Unit::Temperature(unit)) => unit.millivolts().is_none() || options.wire.is_some(),
        _ => false,
    }
}

fn by_name(named: usize, open: usize) -> String {
    match open - named {
        0 => "are named like temperatures".to_owned(),
        rest => format!("are named like temperatures ({rest} more have no unit)"),
    }
}

fn which(candidates: &[&Column], what: &str) -> ImportError {
    ImportError::Ask(Question {
        what: format!("{} columns {what}", candidates.len()),
        choices: candidates.iter().map(|column| column.to_string()).collect(),
        option: "channel",
    })
}

fn by_user<'list>(
    columns: &'list [Column],
    taken: &[usize],
    choice: &ChannelChoice,
    options: &ImportOptions,
) -> Result<&'list Column, ImportError> {
    let column = chosen(columns, choice)?;
    let wrong = |because: &str| ImportError::WrongColumn {
        column: column.to_string(),
        wanted: "temperature",
        because: because.to_owned(),
    };
    if taken.contains(&column.index) {
        return Err(wrong("it holds the time"));
    }
    match &column.unit {
        Some(Unit::Other(_) | Unit::Time(_)) if options.unit.is_none() => {
            return Err(wrong("its unit is one of another quantity"));
        }
        _ => {}
    }
    match column.look {
        Look::Number => Ok(column),
        Look::Blank | Look::Word => Err(wrong("it is blank")),
        Look::Date | Look::Clock | Look::DateAndClock => Err(wrong("it holds dates or clocks")),
        Look::Text => Err(wrong("it holds text")),
    }
}

/// The decimal sign of `column`.
///
/// A column may have another sign than its neighbour. One without any sign takes that of the
/// file. Where a sign may just as well part thousands, the question is asked.
pub(super) fn decimal(
    table: &Table<'_>,
    column: &Column,
    options: &ImportOptions,
) -> Result<Decimal, ImportError> {
    if let Some(stated) = options.decimal {
        return Ok(stated);
    }
    let cells = |index: usize| table.body.sample.iter().map(move |row| row[index]);
    let own = Signs::of(cells(column.index));
    let mut all = Signs::default();
    for index in 0..table.body.width {
        if table.body.looks[index] == Look::Number {
            all.add(Signs::of(cells(index)));
        }
    }
    let example = |mark: u8| {
        let found = cells(column.index).find(|cell| cell.contains(&mark)).unwrap_or_default();
        String::from_utf8_lossy(found).into_owned()
    };
    let ask = |mark| Err(table::decimal_question(&example(mark), &column.to_string()));
    if own.commas > own.points {
        let too_hot = cells(column.index).any(|cell| without_mark(cell) > HOTTEST);
        let decided =
            all.commas_certain > 0 || (too_hot && column.unit.as_ref().is_none_or(is_warmth));
        return if decided { Ok(Decimal::Comma) } else { ask(b',') };
    }
    if own.points > 0 {
        let decided =
            all.points_certain > 0 || own.bare == 0 || table.body.delimiter.byte() == b',';
        return if decided { Ok(Decimal::Point) } else { ask(b'.') };
    }
    Ok(if all.commas > all.points { Decimal::Comma } else { Decimal::Point })
}

fn is_warmth(unit: &Unit) -> bool {
    matches!(unit, Unit::Temperature(_))
}

/// No thermocouple reads higher than this in any unit: common practice, with room to spare.
const HOTTEST: f64 = 6000.0;

/// The whole number that is left when commas are dropped.
fn without_mark(cell: &[u8]) -> f64 {
    let digits: Vec<u8> = cell.iter().copied().filter(|byte| *byte != b',').collect();
    number(&digits, b'.').unwrap_or(0.0)
}

/// How often each decimal sign stands in some cells, and how often it can be nothing else.
#[derive(Clone, Copy, Debug, Default)]
struct Signs {
    points: usize,
    points_certain: usize,
    commas: usize,
    commas_certain: usize,
    /// Numbers without a sign.
    bare: usize,
}

impl Signs {
    fn of<'cell>(cells: impl Iterator<Item = &'cell [u8]>) -> Self {
        let mut signs = Self::default();
        for cell in cells {
            let may_be_thousands = may_part_thousands(cell);
            if number(cell, b'.').is_some() && cell.contains(&b'.') {
                signs.points += 1;
                signs.points_certain += usize::from(!may_be_thousands);
            } else if number(cell, b',').is_some() && cell.contains(&b',') {
                signs.commas += 1;
                signs.commas_certain += usize::from(!may_be_thousands);
            } else if number(cell, b'.').is_some() {
                signs.bare += 1;
            }
        }
        signs
    }

    fn add(&mut self, other: Self) {
        self.points += other.points;
        self.points_certain += other.points_certain;
        self.commas += other.commas;
        self.commas_certain += other.commas_certain;
        self.bare += other.bare;
    }
}

/// `1,234` and `12.345` may be whole numbers; `0,123`, `1,23` and `1234,567` may not.
fn may_part_thousands(cell: &[u8]) -> bool {
    let unsigned = cell.strip_prefix(b"-").unwrap_or(cell);
    let Some(mark) = unsigned.iter().position(|byte| matches!(byte, b'.' | b',')) else {
        return false;
    };
    let (whole, fraction) = (&unsigned[..mark], &unsigned[mark + 1..]);
    (1..=3).contains(&whole.len())
        && whole[0] != b'0'
        && fraction.len() == 3
        && fraction.iter().all(u8::is_ascii_digit)
}

//! Dates and clocks as loggers write them.

use jiff::civil::Date;

use super::options::DateOrder;

/// Nanoseconds of a second, a minute, an hour, a day.
const SECOND: i64 = 1_000_000_000;
const MINUTE: i64 = 60 * SECOND;
const HOUR: i64 = 60 * MINUTE;
pub(super) const DAY: i64 = 24 * HOUR;

/// A date as it is spelt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spelt {
    /// It can only be this one.
    Known(Date),
    /// The order of day and month is open.
    Either { first: i8, second: i8, year: i16 },
}

impl Spelt {
    /// The date, if it is one in this order.
    pub(super) fn date(self, order: DateOrder) -> Option<Date> {
        match self {
            Self::Known(date) => Some(date),
            Self::Either { first, second, year } => {
                let (day, month) = match order {
                    DateOrder::DayFirst => (first, second),
                    DateOrder::MonthFirst => (second, first),
                };
                Date::new(year, month, day).ok()
            }
        }
    }
}

/// The days from 1970-01-01 to `date`.
pub(super) fn day_number(date: Date) -> i64 {
    date.duration_since(Date::constant(1970, 1, 1)).as_hours() / 24
}

/// What a cell of time holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp {
    pub(super) date: Option<Spelt>,
    /// Nanoseconds since midnight, less the offset from UTC where one is written.
    pub(super) clock: Option<i64>,
}

/// The date, the clock or both that `cell` spells.
pub(super) fn stamp(cell: &[u8]) -> Option<Stamp> {
    let text = std::str::from_utf8(cell).ok()?.trim();
    if text.len() > 48 || !text.as_bytes().iter().any(u8::is_ascii_digit) {
        return None;
    }
    if let Some(clock) = clock(text) {
        return Some(Stamp { date: None, clock: Some(clock) });
    }
    if let Some(date) = date(text) {
        return Some(Stamp { date: Some(date), clock: None });
    }
    text.match_indices([' ', 'T']).find_map(|(gap, _)| {
        let (day, time) = (date(text[..gap].trim_end())?, text[gap + 1..].trim_start());
        Some(Stamp { date: Some(day), clock: Some(clock_with_offset(time)?) })
    })
}

/// `18:00:00.5Z`, `18:00:00+01:00`, or a plain clock.
fn clock_with_offset(text: &str) -> Option<i64> {
    if let Some(utc) = text.strip_suffix('Z') {
        return clock(utc);
    }
    if let Some(sign) = text.rfind(['+', '-']) {
        let offset = &text[sign + 1..];
        let offset = match offset.len() {
            4 => clock(&format!("{}:{}", offset.get(..2)?, offset.get(2..)?))?,
            2 => clock(&format!("{offset}:00"))?,
            _ => clock(offset)?,
        };
        let local = clock(text[..sign].trim_end())?;
        return Some(if text.as_bytes()[sign] == b'+' { local - offset } else { local + offset });
    }
    clock(text)
}

/// `9:51`, `09:51:39`, `09:51:39,19`, `09:51:39:190`, `18.00.00`, `6:00:01 PM`: nanoseconds since
/// midnight.
pub(super) fn clock(text: &str) -> Option<i64> {
    let (text, noon) = match text.len().checked_sub(2).and_then(|at| text.split_at_checked(at)) {
        Some((rest, half)) if half.eq_ignore_ascii_case("pm") => (rest.trim_end(), Some(12)),
        Some((rest, half)) if half.eq_ignore_ascii_case("am") => (rest.trim_end(), Some(0)),
        _ => (text, None),
    };
    let dotted = !text.contains(':');
    let mark = if dotted { '.' } else { ':' };
    let mut parts = text.split(mark);
    let mut hour = whole(parts.next()?, 2)?;
    let minute = whole(parts.next()?, 2)?;
    let (second, fraction) = match parts.next() {
        None if dotted => return None,
        None => (0, 0),
        Some(seconds) => match seconds.split_once(['.', ',']) {
            Some((whole_part, digits)) => (whole(whole_part, 2)?, nanoseconds(digits)?),
            None => (whole(seconds, 2)?, 0),
        },
    };
    let fraction = match parts.next() {
        None => fraction,
        Some(digits) if fraction == 0 && digits.len() == 3 && !dotted => nanoseconds(digits)?,
        Some(_) => return None,
    };
    if let Some(noon) = noon {
        if !(1..=12).contains(&hour) {
            return None;
        }
        hour = hour % 12 + noon;
    }
    let fits = hour < 24 && minute < 60 && second < 60 && parts.next().is_none();
    fits.then_some(hour * HOUR + minute * MINUTE + second * SECOND + fraction)
}

/// The whole number that `text` spells in at most `most` digits.
fn whole(text: &str, most: usize) -> Option<i64> {
    let digits = !text.is_empty() && text.len() <= most;
    (digits && text.bytes().all(|byte| byte.is_ascii_digit())).then(|| text.parse().ok())?
}

/// The fraction of a second that `digits` spell, cut to nanoseconds.
fn nanoseconds(digits: &str) -> Option<i64> {
    if digits.is_empty() || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let nine: String = digits.chars().chain("000000000".chars()).take(9).collect();
    nine.parse().ok()
}

/// `2004-03-10`, `10/03/2004`, `10.03.2004`, `10-Mar-2004`, `25-Nov-26`.
fn date(text: &str) -> Option<Spelt> {
    let mark = text.chars().find(|letter| !letter.is_ascii_digit())?;
    if !matches!(mark, '-' | '/' | '.' | ' ') {
        return None;
    }
    let mut parts = text.split(mark);
    let (one, two, three) = (parts.next()?, parts.next()?, parts.next()?);
    if parts.next().is_some() {
        return None;
    }
    if one.len() == 4 {
        let year = i16::try_from(whole(one, 4)?).ok()?;
        return Date::new(year, small(two)?, small(three)?).ok().map(Spelt::Known);
    }
    let year = match three.len() {
        4 => i16::try_from(whole(three, 4)?).ok()?,
        // Two digits are of this century: these loggers are.
        2 if mark != '.' => 2000 + i16::try_from(whole(three, 2)?).ok()?,
        _ => return None,
    };
    if let Some(month) = month_by_name(two) {
        return Date::new(year, month, small(one)?).ok().map(Spelt::Known);
    }
    let (first, second) = (small(one)?, small(two)?);
    // With points the day stands first wherever such dates are written (common practice).
    let point = (mark == '.').then(|| Date::new(year, second, first).ok());
    match point {
        Some(date) => date.map(Spelt::Known),
        None => {
            let open = Spelt::Either { first, second, year };
            let one_of = open.date(DateOrder::DayFirst).or(open.date(DateOrder::MonthFirst));
            one_of.map(|_| open)
        }
    }
}

fn small(text: &str) -> Option<i8> {
    i8::try_from(whole(text, 2)?).ok()
}

fn month_by_name(text: &str) -> Option<i8> {
    const MONTHS: [&str; 12] =
        ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let index = MONTHS.iter().position(|month| text.eq_ignore_ascii_case(month))?;
    i8::try_from(index + 1).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clocks_are_read_in_every_spelling() {
        let check = |text: &str, expected: Option<i64>| assert_eq!(clock(text), expected, "{text}");
        let base = 9 * HOUR + 51 * MINUTE + 39 * SECOND;
        check("09:51:39,19", Some(base + 190_000_000));
        check("9:51:39.1970510124996275989", Some(base + 197_051_012));
        check("09:51:39:190", Some(base + 190_000_000));
        check("09:51", Some(9 * HOUR + 51 * MINUTE));
        check("18.00.00", Some(18 * HOUR));
        check("6:00:01 PM", Some(18 * HOUR + SECOND));
        check("12:00:00 am", Some(0));
        for text in
            ["24:00:00", "09:60", "18.00", "9", "", "a:b", "1:2:3:4:5", "09:51:", "13:00 PM"]
        {
            check(text, None);
        }
    }

    #[test]
    fn dates_are_known_or_left_open() {
        let tenth = Some(Spelt::Known(Date::constant(2004, 3, 10)));
        for text in ["2004-03-10", "2004/03/10", "10.03.2004", "10-Mar-2004", "10 mar 04"] {
            assert_eq!(date(text), tenth, "{text}");
        }
        let open = date("10/03/2004").unwrap();
        assert_eq!(open, Spelt::Either { first: 10, second: 3, year: 2004 });
        assert_eq!(open.date(DateOrder::MonthFirst), Some(Date::constant(2004, 10, 3)));
        for text in ["2004-13-10", "40/40/2004", "30.02.2004", "1-2", "", "1/2/3/4"] {
            assert_eq!(date(text), None, "{text}");
        }
    }

    #[test]
    fn a_stamp_holds_both() {
        let check = |text: &str| stamp(text.as_bytes()).unwrap().clock;
        assert_eq!(check("2004-03-10T18:00:00Z"), Some(18 * HOUR));
        assert_eq!(check("2004-03-10 18:00:00+01:00"), Some(17 * HOUR));
        assert_eq!(check("10 Mar 2004 6:00:00 PM"), Some(18 * HOUR));
        assert_eq!(check("10/03/2004"), None);
        assert_eq!(stamp(b"23.5"), None);
    }
}

//! Units and names of columns: what a column says of itself.

use super::options::{TemperatureUnit, TimeUnit};

/// A unit that a file states.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Unit {
    Temperature(TemperatureUnit),
    Time(TimeUnit),
    /// A unit of another quantity, as written.
    Other(String),
}

/// The unit that `text` is, if it looks like one.
pub(super) fn unit(text: &str) -> Option<Unit> {
    let inner = text.trim().trim_matches(|letter| matches!(letter, '(' | ')' | '[' | ']')).trim();
    let plain: String = inner
        .chars()
        .filter(|letter| !matches!(letter, ' ' | '.'))
        .flat_map(char::to_lowercase)
        .map(|letter| if matches!(letter, 'º' | '˚') { '°' } else { letter })
        .collect();
    let temperature = match plain.as_str() {
        "°c" | "c" | "degc" | "℃" | "celsius" | "degreesc" | "degreescelsius" => {
            Some(TemperatureUnit::Celsius)
        }
        "k" | "kelvin" | "degk" => Some(TemperatureUnit::Kelvin),
        "°f" | "f" | "degf" | "℉" | "fahrenheit" | "degreesf" => {
            Some(TemperatureUnit::Fahrenheit)
        }
        "mv" | "millivolt" | "millivolts" => Some(TemperatureUnit::Millivolts),
        "uv" | "µv" | "μv" | "microvolts" => Some(TemperatureUnit::Microvolts),
        "v" | "volt" | "volts" => Some(TemperatureUnit::Volts),
        _ => None,
    };
    if let Some(temperature) = temperature {
        return Some(Unit::Temperature(temperature));
    }
    if let Some(time) = time_unit(&plain) {
        return Some(Unit::Time(time));
    }
    other_unit(&plain).then(|| Unit::Other(inner.to_owned()))
}

fn time_unit(plain: &str) -> Option<TimeUnit> {
    Some(match plain {
        "us" | "µs" | "μs" | "usec" | "microseconds" => TimeUnit::Microseconds,
        "ms" | "msec" | "msecs" | "millisecond" | "milliseconds" => TimeUnit::Milliseconds,
        "s" | "sec" | "secs" | "second" | "seconds" | "sek" => TimeUnit::Seconds,
        "min" | "mins" | "minute" | "minutes" => TimeUnit::Minutes,
        "h" | "hr" | "hrs" | "hour" | "hours" => TimeUnit::Hours,
        "d" | "day" | "days" => TimeUnit::Days,
        _ => return None,
    })
}

/// Whether `plain` is a unit of another quantity, of those that stand in loggers' files.
fn other_unit(plain: &str) -> bool {
    const KNOWN: [&str; 33] = [
        "%", "%rh", "rh%", "a", "ma", "w", "kw", "mw", "j", "kj", "n", "kn", "newton", "newtons",
        "pa", "hpa", "kpa", "mpa", "bar", "mbar", "psi", "g", "kg", "mg", "l", "ml", "mm", "cm",
        "m", "ppm", "hz", "rpm", "ohm",
    ];
    let compound = plain.contains('/') && plain.chars().count() <= 12;
    KNOWN.contains(&plain) || compound || matches!(plain, "lx" | "lux" | "1/m" | "-")
}

/// A column's name without its unit, and the unit.
///
/// The unit stands in brackets at the end (`T1 (°C)`, `T1 [K]`), after a slash (`T1 / °C`), or as
/// a last word that can be nothing else (`T1 °C`, `Time s`, `time_ms`).
pub(super) fn name_and_unit(name: &str) -> (String, Option<Unit>) {
    let name = name.trim();
    let bracket = match name.chars().last() {
        Some(')') => name.rfind('('),
        Some(']') => name.rfind('['),
        _ => None,
    };
    let bare = |end: usize| name[..end].trim().to_owned();
    if let Some(start) = bracket {
        return unit(&name[start..]).map_or((name.to_owned(), None), |it| (bare(start), Some(it)));
    }
    if let Some(slash) = name.rfind('/')
        && let Some(it @ (Unit::Temperature(_) | Unit::Time(_))) = unit(&name[slash + 1..])
    {
        return (bare(slash), Some(it));
    }
    if let Some(gap) = name.rfind([' ', '_']) {
        let last = &name[gap + 1..];
        match unit(last) {
            Some(it @ Unit::Time(_)) if is_time(&name[..gap]) => return (bare(gap), Some(it)),
            Some(it @ Unit::Temperature(_)) if last.chars().count() > 1 => {
                return (bare(gap), Some(it));
            }
            _ => {}
        }
    }
    (name.to_owned(), None)
}

/// Whether a column of this name, without its unit, holds the time.
pub(super) fn is_time(name: &str) -> bool {
    const WORDS: [&str; 18] = [
        "time",
        "elapsed",
        "date",
        "datetime",
        "timestamp",
        "clock",
        "zeit",
        "uhrzeit",
        "datum",
        "tiempo",
        "tempo",
        "temps",
        "heure",
        "hora",
        "fecha",
        "seconds",
        "minutes",
        "hours",
    ];
    const WHOLE: [&str; 6] = ["t", "s", "sec", "ms", "min", "x_value"];
    let lower = name.trim().to_lowercase();
    (WHOLE.contains(&lower.as_str()) && name.trim() != "T")
        || words(&lower).any(|word| WORDS.contains(&word))
}

/// The unit of time that a name is, such as `seconds` or `ms`.
pub(super) fn time_unit_in_name(name: &str) -> Option<TimeUnit> {
    let lower = name.trim().to_lowercase();
    words(&lower).find_map(time_unit).filter(|unit| *unit != TimeUnit::Days)
}

/// Whether a column of this name counts the rows.
pub(super) fn is_row_number(name: &str) -> bool {
    const WORDS: [&str; 15] = [
        "no", "no.", "nr", "nr.", "number", "index", "#", "n", "row", "scan", "sample", "samples",
        "record", "reading", "count",
    ];
    let lower = name.trim().to_lowercase();
    WORDS.contains(&lower.as_str())
        || words(&lower).next().is_some_and(|first| WORDS.contains(&first))
            && words(&lower).nth(1).is_none_or(|second| matches!(second, "number" | "no" | "nr"))
}

/// Whether a column of this name holds a temperature, by what laboratories call such columns:
/// `T`, `T1`, `TC_A`, `Temp`, `Thermocouple 3`.
pub(super) fn is_temperature(name: &str) -> bool {
    let lower = name.trim().to_lowercase();
    if is_time(name) {
        return false;
    }
    words(&lower).any(|word| {
        let numbered = |rest: &str| rest.bytes().all(|byte| byte.is_ascii_digit());
        word.strip_prefix('t').is_some_and(numbered)
            || word.starts_with("tc")
            || word.starts_with("temp")
            || word.starts_with("thermo")
    })
}

/// Runs of letters and digits.
fn words(name: &str) -> impl Iterator<Item = &str> {
    name.split(|letter: char| !letter.is_alphanumeric()).filter(|word| !word.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_known_as_they_are_written() {
        let celsius = Some(Unit::Temperature(TemperatureUnit::Celsius));
        for text in ["°C", "C", "ºC", "(deg. C)", "[°C]", "Celsius"] {
            assert_eq!(unit(text), celsius, "{text}");
        }
        assert_eq!(unit("K"), Some(Unit::Temperature(TemperatureUnit::Kelvin)));
        assert_eq!(unit("min"), Some(Unit::Time(TimeUnit::Minutes)));
        assert_eq!(unit("kW/m2"), Some(Unit::Other("kW/m2".to_owned())));
        assert_eq!(unit("GT"), None);
    }

    #[test]
    fn a_unit_is_taken_off_a_name() {
        let check = |name: &str, bare: &str, expected: Option<&str>| {
            let (found, it) = name_and_unit(name);
            assert_eq!((found.as_str(), it), (bare, expected.and_then(unit)), "{name}");
        };
        check("T1 (°C)", "T1", Some("C"));
        check("Temperatura (ºC)", "Temperatura", Some("C"));
        check("T1 / K", "T1", Some("K"));
        check("time_ms", "time", Some("ms"));
        check("Block °C", "Block", Some("C"));
        check("Volume (ml)", "Volume", Some("ml"));
        check("CO(GT)", "CO(GT)", None);
        check("Cable C", "Cable C", None);
    }

    #[test]
    fn names_tell_temperatures_from_the_rest() {
        for name in ["T", "T1", "T_2", "TC_A10_1", "Temp", "TCA_1", "Thermocouple 3", "C49-TC2"] {
            assert!(is_temperature(name), "{name}");
        }
        for name in ["Time", "CO3B", "Heat1A", "temps", "Load", "Total_Pa", "t", "GASA_1"] {
            assert!(!is_temperature(name), "{name}");
        }
        assert!(is_row_number("No.") && is_row_number("Scan number") && !is_row_number("Note"));
    }
}

//! Numbers and lines as they are shown.

use metrology::Ratio;
use trial::moment::Moment;

/// A moment as it is read: day and time to the second, in UTC.
pub(crate) fn when(moment: Moment) -> String {
    when_of(&moment.to_string())
}

/// The same of a moment as it is written.
pub(crate) fn when_of(text: &str) -> String {
    let whole = text.split(['.', 'Z']).next().unwrap_or_default();
    format!("{} UTC", whole.replace('T', " "))
}

/// The width of a label, and of a whole line.
const LABEL: usize = 11;
const LINE: usize = 96;

/// Decimals that show two significant digits of `uncertainty`, in whole units at least.
pub(crate) fn decimals(uncertainty: f64) -> usize {
    let mut decimals = 0;
    let mut scaled = uncertainty.abs();
    // 9.95 would be shown as 10 with one decimal: two digits all the same.
    while scaled > 0.0 && scaled < 9.95 && decimals < 9 {
        scaled *= 10.0;
        decimals += 1;
    }
    decimals
}

/// A probability in per cent. One that rounds to 0 % or 100 % is not said to be certain.
pub(crate) fn percent(ratio: Ratio) -> String {
    let percent = ratio.percent();
    if percent > 99.95 {
        "more than 99.9 %".to_owned()
    } else if percent < 0.05 {
        "less than 0.1 %".to_owned()
    } else if percent.fract() == 0.0 {
        format!("{percent:.0} %")
    } else {
        format!("{percent:.1} %")
    }
}

/// A label and a text of any length, broken between words and hung behind the label.
pub(crate) fn labelled(label: &str, text: &str) -> String {
    let mut lines = String::new();
    let mut head = label;
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in words(paragraph) {
            let width = LABEL + line.chars().count() + 1 + word.chars().count();
            if !line.is_empty() && width > LINE {
                lines.push_str(&format!("{head:<LABEL$}{line}\n"));
                (head, line) = ("", String::new());
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(&word);
        }
        lines.push_str(&format!("{head:<LABEL$}{line}\n"));
        head = "";
    }
    lines
}

/// The words of a text; a unit stays with its number.
fn words(text: &str) -> Vec<String> {
    const UNITS: [&str; 7] = ["°C", "°F", "K", "s", "mV", "%", "h"];
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ') {
        let bare = word.trim_end_matches([',', '.', ';', ':', ')']);
        match words.last_mut() {
            Some(number) if UNITS.contains(&bare) => {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_digits_of_an_uncertainty_are_shown() {
        let check = |uncertainty: f64, expected: &str| {
            let decimals = decimals(uncertainty);
            assert_eq!(format!("{uncertainty:.decimals$}"), expected);
        };
        check(0.1234, "0.12");
        check(0.0996, "0.10");
        check(0.00996, "0.010");
        check(9.94, "9.9");
        check(9.96, "10");
        check(123.0, "123");
    }

    #[test]
    fn nothing_is_certain_by_rounding() {
        assert_eq!(percent(Ratio::from_fraction(0.99999)), "more than 99.9 %");
        assert_eq!(percent(Ratio::from_fraction(0.95)), "95 %");
        assert_eq!(percent(Ratio::from_fraction(0.1234)), "12.3 %");
    }

    #[test]
    fn a_unit_stays_with_its_number() {
        assert_eq!(words("to 400 °C, not so"), ["to", "400 °C,", "not", "so"]);
    }

    #[test]
    fn a_long_text_hangs_behind_its_label() {
        let text = "word ".repeat(30);
        let lines = labelled("taken for", text.trim());
        assert!(lines.lines().all(|line| line.chars().count() <= LINE));
        assert!(lines.starts_with("taken for  word") && lines.contains("\n           word"));
    }
}

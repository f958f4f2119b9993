//! How far clocks may be off: `standards/readings/doubtful-times.toml`, built in and read once.

use jiff::civil::Date;
use metrology::Duration;
use std::sync::LazyLock;

use crate::rules::own::number;

/// The bounds of clocks, all ours.
#[derive(Clone, Debug, PartialEq)]
pub struct Clocks {
    /// Clocks of one duration that differ by more make it doubtful.
    pub apart: Duration,
    /// A device's clock that is further off the record's is noted.
    pub noted: Duration,
    /// While two clocks are further apart no report is issued; presses placed so are doubtful.
    pub wrong: Duration,
    /// A machine whose clock shows an earlier day keeps no entry.
    pub not_before: Date,
}

/// The bounds that are built in.
#[must_use]
#[expect(clippy::expect_used, reason = "the file is part of the program, and a test reads it")]
pub fn clocks() -> &'static Clocks {
    static CLOCKS: LazyLock<Clocks> =
        LazyLock::new(|| read(FILE).expect("the rules of the clocks are sound"));
    &CLOCKS
}

const FILE: &str = include_str!("../../../standards/readings/doubtful-times.toml");

fn read(text: &str) -> Option<Clocks> {
    let file: toml::Table = text.parse().ok()?;
    let seconds = |key: &str| {
        let value = number(&file, key, "s").filter(|value| *value > 0.0);
        value.map(Duration::from_seconds)
    };
    Some(Clocks {
        apart: seconds("clocks-apart")?,
        noted: seconds("clock-noted")?,
        wrong: seconds("clock-wrong")?,
        not_before: file.get("clock-not-before")?.get("day")?.as_str()?.parse().ok()?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rules_of_the_clocks_have_their_unit() {
        assert_eq!(read(FILE).as_ref(), Some(clocks()));
        assert_eq!(read(&FILE.replace("\"s\"", "\"ms\"")), None);
        assert_eq!(read(&FILE.replace("value = 2.0", "value = 0.0")), None);
        assert!(clocks().apart < clocks().noted && clocks().noted < clocks().wrong);
    }
}

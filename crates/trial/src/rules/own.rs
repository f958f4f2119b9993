//! Rules of our own, in `standards/readings`: a table for each number, with its value and its unit.

/// The number of this key in this unit; nothing where the file has none.
#[must_use]
pub fn number(file: &toml::Table, key: &str, unit: &str) -> Option<f64> {
    let rule = file.get(key)?;
    let value = rule.get("value")?.as_float()?;
    (rule.get("unit")?.as_str()? == unit).then_some(value)
}

//! The list that is gone through before a new bench is used: kept as a record.
//!
//! It is no proof of safety. Local codes and licensed practice decide.

use crate::finding::words;
use std::sync::LazyLock;

/// What every list says of itself.
pub const DECIDES: &str = "Local codes and licensed practice decide; this list is common practice \
                           and no proof of safety.";

/// A bench that was gone through.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Commissioning {
    /// Which bench, in the laboratory's words.
    pub bench: String,
    /// What was found, point by point.
    pub points: Vec<PointFound>,
}

/// What was found at one point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PointFound {
    /// The point's key, or one of the laboratory's own.
    pub key: String,
    /// What was looked at, as the list of that day said it.
    pub says: String,
    /// What was found.
    pub found: Found,
    /// A remark, such as a value; often nothing.
    pub note: String,
}

words! {
    /// What was found at a point of the list.
    Found {
        /// As it should be.
        InOrder = "in-order",
        /// Not as it should be: the bench waits.
        NotInOrder = "not-in-order",
        /// It does not apply to this bench.
        DoesNotApply = "does-not-apply",
    }
}

impl Commissioning {
    /// Whether nothing was found out of order.
    #[must_use]
    pub fn in_order(&self) -> bool {
        self.points.iter().all(|point| point.found != Found::NotInOrder)
    }
}

/// One point of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Point {
    /// Its key.
    pub key: String,
    /// What is looked at.
    pub says: String,
    /// Where it comes from.
    pub source: String,
}

/// The list that is built in: `standards/readings/bench-commissioning.toml`.
#[must_use]
pub fn points() -> &'static [Point] {
    static POINTS: LazyLock<Vec<Point>> = LazyLock::new(|| {
        let text = include_str!("../../../standards/readings/bench-commissioning.toml");
        let file: toml::Table = text.parse().unwrap_or_default();
        let points = file.get("point").and_then(toml::Value::as_array);
        points.into_iter().flatten().filter_map(point).collect()
    });
    &POINTS
}

fn point(value: &toml::Value) -> Option<Point> {
    let text = |key: &str| value.get(key)?.as_str().map(str::to_owned);
    Some(Point { key: text("key")?, says: text("says")?, source: text("source")? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_point_of_the_file_is_read_and_no_key_comes_twice() {
        let text = include_str!("../../../standards/readings/bench-commissioning.toml");
        assert_eq!(points().len(), text.matches("[[point]]").count());
        let mut keys: Vec<&str> = points().iter().map(|point| point.key.as_str()).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), points().len());
    }

    #[test]
    fn one_point_out_of_order_is_enough() {
        let point = |found| PointFound {
            key: "draught".into(),
            says: "no draught".into(),
            found,
            note: String::new(),
        };
        let of = |points| Commissioning { bench: "1".into(), points };
        assert!(of(vec![point(Found::InOrder), point(Found::DoesNotApply)]).in_order());
        assert!(!of(vec![point(Found::InOrder), point(Found::NotInOrder)]).in_order());
    }
}

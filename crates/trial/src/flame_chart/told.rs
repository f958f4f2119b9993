//! The chart in words: what a person reads, and what stands in the picture's place.

use super::{Base, Call, FlameChart, Spot};
use crate::moment::Moment;
use metrology::control_chart::{Shape, Side};

/// A day as it is spoken: `3 November 2026`.
#[must_use]
pub fn day_in_words(at: Moment) -> String {
    at.day().strftime("%-d %B %Y").to_string()
}

impl FlameChart {
    /// How the flame stands, first what matters most.
    #[must_use]
    pub fn told(&self) -> Vec<String> {
        let mut told = vec![self.headline()];
        if let Some(call) = self.open_call() {
            told.push(self.call_told(call));
        }
        if let Some(base) = self.base {
            told.push(self.base_told(base));
            told.extend(self.beyond_told(base));
        }
        if let Some(band) = &self.band {
            let out = self.spots.iter().filter(|spot| band.limits.left_by(spot.mean).is_some());
            let (low, high) = (band.limits.low.seconds(), band.limits.high.seconds());
            told.push(format!(
                "The method's own limits are {low:.1} s to {high:.1} s ({}); {}.",
                band.source,
                counted(out.count(), "of the means", "lies outside them", "lie outside them")
            ));
        }
        told
    }

    /// How the flame stands in one sentence.
    #[must_use]
    pub fn headline(&self) -> String {
        let Some(last) = self.spots.last() else {
            return "The flame was not confirmed yet.".to_owned();
        };
        if let Some(call) = self.open_call() {
            return self.since(call);
        }
        if self.base.is_none() {
            return format!(
                "So far {} of the {} confirmations that a base line takes: nothing is called yet.",
                self.spots.len(),
                self.fewest
            );
        }
        let answered = self.calls.last().and_then(|call| call.answer.as_ref());
        match answered {
            Some(answer) => format!(
                "Nothing is called since {}, when this was done: {}.",
                day_in_words(answer.at),
                answer.done.trim_end_matches('.')
            ),
            None => format!(
                "The flame is where it was: no call in {} confirmations up to {}.",
                self.spots.len(),
                day_in_words(last.at)
            ),
        }
    }

    /// Since when the flame changes, and how.
    fn since(&self, call: &Call) -> String {
        let first = self.first_after(call);
        let since =
            first.map_or_else(String::new, |spot| format!(" since {}", day_in_words(spot.at)));
        match (call.turn.shape, call.side) {
            (Shape::Drift, Side::Above) => format!("The flame has been getting slower{since}."),
            (Shape::Drift, Side::Below) => format!("The flame has been getting faster{since}."),
            (Shape::Step, Side::Above) => format!("The flame has been slower{since}."),
            (Shape::Step, Side::Below) => format!("The flame has been faster{since}."),
        }
    }

    /// The first confirmation after the turn.
    fn first_after(&self, call: &Call) -> Option<&Spot> {
        self.spots.get(call.since)
    }

    fn call_told(&self, call: &Call) -> String {
        let sigma_s = self.base.map_or(f64::NAN, |base| base.line.sigma.seconds());
        let size_s = call.turn.size_sigma * sigma_s;
        let how = match call.turn.shape {
            Shape::Drift => format!("by about {size_s:.3} s from one confirmation to the next"),
            Shape::Step => format!("by about {size_s:.2} s at once"),
        };
        let at = self.spots.get(call.place);
        let at = at.map_or_else(String::new, |spot| format!(" at {}", spot.number));
        let good = self.last_good(call).map_or_else(
            || "No confirmation surely lies before the change.".to_owned(),
            |spot| {
                format!("The last good confirmation is {}: the change began after it.", spot.number)
            },
        );
        format!(
            "The weighted mean left its limits{at}; the rise time has most likely changed {how}. \
             {good}"
        )
    }

    fn base_told(&self, base: Base) -> String {
        let number = |place: usize| {
            self.spots.get(place).map_or_else(String::new, |spot| spot.number.to_string())
        };
        let frozen = base.frozen.map_or_else(
            || "Nobody has frozen it yet: these are the first ones there are.".to_owned(),
            |at| format!("It was frozen on {}.", day_in_words(at)),
        );
        format!(
            "The base line is {} to {}: {:.2} s, one sigma {:.3} s. {frozen}",
            number(base.first),
            number(base.last),
            base.line.centre.seconds(),
            base.line.sigma.seconds()
        )
    }

    /// Single confirmations beyond their limits; those of the base line make it doubtful.
    fn beyond_told(&self, base: Base) -> Vec<String> {
        let beyond = |spot: &&Spot| spot.charted.is_some_and(|it| it.beyond.is_some());
        let numbers: Vec<String> =
            self.spots.iter().filter(beyond).map(|spot| spot.number.to_string()).collect();
        let of_base = self.spots.get(base.first..=base.last).unwrap_or_default();
        let within = of_base.iter().filter(beyond).count();
        let mut told = Vec::new();
        if !numbers.is_empty() {
            told.push(format!("Beyond the limits of three sigma: {}.", shortened(&numbers)));
        }
        if within > 0 {
            told.push(
                "One of them is in the base line, which is not in control then. Look for its cause."
                    .to_owned(),
            );
        }
        told
    }
}

/// At most so many by name.
fn shortened(numbers: &[String]) -> String {
    const NAMED: usize = 8;
    let named = numbers.iter().rev().take(NAMED).rev().cloned().collect::<Vec<_>>().join(", ");
    match numbers.len().checked_sub(NAMED) {
        None | Some(0) => named,
        Some(more) => format!("{named}, and {more} earlier ones"),
    }
}

/// `none of the means lies outside`, `1 of the means lies outside`, `2 of the means lie outside`.
fn counted(count: usize, of: &str, one: &str, many: &str) -> String {
    match count {
        0 => format!("none {of} {one}"),
        1 => format!("1 {of} {one}"),
        _ => format!("{count} {of} {many}"),
    }
}

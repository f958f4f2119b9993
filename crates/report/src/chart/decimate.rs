//! Fewer points with the same look: the first, lowest, highest and last of each pixel column.

use super::drawing::At;

/// `places` in the order of their x, with at most four for each column of a point's width.
///
/// No reading that stands out is lost, because a column keeps its lowest and its highest.
pub(super) fn thinned(places: impl Iterator<Item = At>) -> Vec<At> {
    let mut out = Vec::new();
    let mut column: Option<Column> = None;
    for at in places {
        let number = at.0.floor();
        match &mut column {
            Some(open) if open.number.total_cmp(&number).is_eq() => open.take(at),
            _ => {
                if let Some(full) = column.replace(Column::new(number, at)) {
                    full.give(&mut out);
                }
            }
        }
    }
    if let Some(last) = column {
        last.give(&mut out);
    }
    out
}

struct Column {
    number: f64,
    first: At,
    lowest: (usize, At),
    highest: (usize, At),
    last: (usize, At),
}

impl Column {
    fn new(number: f64, at: At) -> Self {
        Self { number, first: at, lowest: (0, at), highest: (0, at), last: (0, at) }
    }

    fn take(&mut self, at: At) {
        self.last = (self.last.0 + 1, at);
        if at.1 < self.lowest.1.1 {
            self.lowest = self.last;
        }
        if at.1 > self.highest.1.1 {
            self.highest = self.last;
        }
    }

    fn give(self, out: &mut Vec<At>) {
        out.push(self.first);
        let mut rest = [self.lowest, self.highest, self.last];
        rest.sort_by_key(|(number, _)| *number);
        let mut before = 0;
        for (number, at) in rest {
            if number > before {
                out.push(at);
                before = number;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_survives_and_a_million_points_become_few() {
        let places = (0..1_000_000).map(|index| {
            let x = f64::from(index) / 2500.0;
            At(x, if index == 123_456 { 900.0 } else { 10.0 })
        });
        let thin = thinned(places);
        assert!(thin.len() <= 1600, "{}", thin.len());
        assert!(thin.iter().any(|at| at.1 > 899.0));
        assert!(thin.is_sorted_by(|before, after| before.0 <= after.0));
    }

    #[test]
    fn few_points_stay_as_they_are() {
        let places = [At(0.1, 1.0), At(0.2, 3.0), At(0.3, 2.0), At(5.0, 2.0)];
        assert_eq!(thinned(places.into_iter()), places);
    }
}

//! How long a chart runs on average until it calls: rarely where nothing is wrong, soon where
//! something is.
//!
//! The average run length of a weighted mean or of a cumulative sum solves an integral equation.
//! It is taken at the nodes of Gauss and Legendre, which turns it into linear equations: the way
//! in which the published tables were made.

use super::{CusumRule, EwmaRule};
use crate::distribution::{normal_density, normal_probability};
use crate::statistics::as_f64;

/// So many nodes; the lengths of the tables no longer change in the digits printed from half of
/// them on.
const NODES: usize = 64;

/// The average number of values until single values leave limits of `width_sigma`, the mean being
/// shifted by `shift_sigma`.
///
/// ```
/// let in_control = metrology::control_chart::individuals_run_length(3.0, 0.0);
/// assert_eq!(format!("{in_control:.1}"), "370.4");
/// ```
#[must_use]
pub fn individuals_run_length(width_sigma: f64, shift_sigma: f64) -> f64 {
    let beyond = normal_probability(-width_sigma - shift_sigma)
        + normal_probability(-width_sigma + shift_sigma);
    1.0 / beyond
}

/// The average number of values until a weighted mean leaves its settled limits.
///
/// # Source
///
/// S. V. Crowder, *Technometrics* 29 (1987) 401: the integral equation, from memory.
#[must_use]
pub fn ewma_run_length(rule: EwmaRule, shift_sigma: f64) -> f64 {
    let weight = rule.weight.fraction();
    let limit = rule.width_sigma * (weight / (2.0 - weight)).sqrt();
    let nodes = gauss_legendre(-limit, limit);
    let next = |from: f64, to: f64| {
        normal_density((to - (1.0 - weight) * from) / weight - shift_sigma) / weight
    };
    let lengths = solved(&nodes, next, |_| Vec::new());
    let from_centre: f64 = nodes
        .iter()
        .zip(&lengths)
        .map(|(node, length)| node.weight * length * next(0.0, node.at))
        .sum();
    1.0 + from_centre
}

/// The average number of values until one of two cumulative sums signals.
///
/// The two sums are taken together by the sum of their reciprocals, which is exact where both have
/// the same allowance and limit.
///
/// # Source
///
/// E. S. Page, *Biometrika* 41 (1954) 100: the integral equation, from memory.
#[must_use]
pub fn cusum_run_length(rule: CusumRule, shift_sigma: f64) -> f64 {
    1.0 / (1.0 / one_sided(rule, shift_sigma) + 1.0 / one_sided(rule, -shift_sigma))
}

/// A sum that has fallen to zero stays there until it rises: zero is a place of its own.
fn one_sided(rule: CusumRule, shift_sigma: f64) -> f64 {
    let CusumRule { allowance_sigma, decision_sigma } = rule;
    let nodes = gauss_legendre(0.0, decision_sigma);
    let next = |from: f64, to: f64| normal_density(to - from + allowance_sigma - shift_sigma);
    let to_zero = |from: f64| normal_probability(allowance_sigma - from - shift_sigma);
    // The last unknown is the length from zero.
    let lengths = solved(&nodes, next, |from| vec![to_zero(from)]);
    lengths.last().copied().unwrap_or(f64::NAN)
}

/// A node of a quadrature.
struct Node {
    at: f64,
    weight: f64,
}

/// The lengths from each node, and from zero where `to_zero` names the chance of falling there.
///
/// Length from u = 1 + ∫ length from y · `next`(u, y) dy [+ length from 0 · `to_zero`(u)].
fn solved(
    nodes: &[Node],
    next: impl Fn(f64, f64) -> f64,
    to_zero: impl Fn(f64) -> Vec<f64>,
) -> Vec<f64> {
    let extra = to_zero(0.0).len();
    let starts = nodes.iter().map(|node| node.at).chain(std::iter::repeat_n(0.0, extra));
    let equations = starts.enumerate().map(|(row, from)| {
        let mut line: Vec<f64> =
            nodes.iter().map(|node| -node.weight * next(from, node.at)).collect();
        line.extend(to_zero(from).into_iter().map(|chance| -chance));
        line[row] += 1.0;
        line.push(1.0);
        line
    });
    eliminated(equations.collect())
}

/// Solves linear equations, each a row with its right side at the end.
fn eliminated(mut rows: Vec<Vec<f64>>) -> Vec<f64> {
    let unknowns = rows.len();
    for column in 0..unknowns {
        let size = |row: &usize| rows[*row][column].abs();
        let pivot = (column..unknowns).max_by(|one, other| size(one).total_cmp(&size(other)));
        rows.swap(column, pivot.unwrap_or(column));
        let (done, below) = rows.split_at_mut(column + 1);
        let lead = &done[column];
        for row in below {
            let factor = row[column] / lead[column];
            for (value, of_lead) in row.iter_mut().zip(lead).skip(column) {
                *value -= factor * of_lead;
            }
        }
    }
    let mut solution = vec![0.0; unknowns];
    for row in (0..unknowns).rev() {
        let known: f64 = (row + 1..unknowns).map(|at| rows[row][at] * solution[at]).sum();
        solution[row] = (rows[row][unknowns] - known) / rows[row][row];
    }
    solution
}

/// The nodes from `low` to `high`: the roots of the Legendre polynomial, each found by Newton's
/// rule from a start that is good to a few digits.
fn gauss_legendre(low: f64, high: f64) -> Vec<Node> {
    let (middle, half) = (0.5 * (low + high), 0.5 * (high - low));
    let degree = as_f64(NODES);
    let node = |place: usize| {
        let mut at = libm::cos(std::f64::consts::PI * (as_f64(place) + 0.75) / (degree + 0.5));
        let mut slope = 1.0;
        for _ in 0..8 {
            let value;
            (value, slope) = legendre(at);
            at -= value / slope;
        }
        let weight = 2.0 / ((1.0 - at * at) * slope * slope);
        Node { at: middle + half * at, weight: half * weight }
    };
    (0..NODES).map(node).collect()
}

/// The Legendre polynomial of degree [`NODES`] and its slope.
fn legendre(at: f64) -> (f64, f64) {
    let (mut before, mut value) = (1.0, at);
    for degree in 2..=NODES {
        let degree = as_f64(degree);
        let next = ((2.0 * degree - 1.0) * at * value - (degree - 1.0) * before) / degree;
        (before, value) = (value, next);
    }
    let slope = as_f64(NODES) * (at * value - before) / (at * at - 1.0);
    (value, slope)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nodes_integrate_a_high_power_exactly() {
        let nodes = gauss_legendre(0.0, 2.0);
        let square: f64 = nodes.iter().map(|node| node.weight * node.at * node.at).sum();
        assert!((square - 8.0 / 3.0).abs() < 1e-13, "{square}");
        let whole: f64 = nodes.iter().map(|node| node.weight).sum();
        assert!((whole - 2.0).abs() < 1e-13, "{whole}");
    }

    #[test]
    fn equations_whose_first_coefficient_is_zero_are_solved() {
        let found = eliminated(vec![vec![0.0, 2.0, 4.0], vec![1.0, 1.0, 5.0]]);
        assert_eq!(found, [3.0, 2.0]);
    }
}

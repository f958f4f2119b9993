//! Quantiles of the normal, Student's t and beta distributions against scipy.

use metrology::distribution::{
    beta_probability, beta_quantile, normal_probability, normal_quantile, student_quantile,
};
use serde::Deserialize;

use crate::python;

#[derive(Deserialize)]
struct Line {
    kind: String,
    probability: f64,
    shapes: Vec<f64>,
    quantile: f64,
}

// scipy 1.17.1. Eleven digits; a probability of 1 - 1e-9 is itself known to seven digits of
// its distance from 1 only, hence the second tolerance.
#[test]
fn scipy_has_the_same_quantiles() {
    let printed = python::run("quantiles.py", "");
    for line in printed.lines() {
        let Line { kind, probability, shapes, quantile } = serde_json::from_str(line).unwrap();
        let (ours, back) = match (kind.as_str(), shapes.as_slice()) {
            ("normal", []) => {
                let ours = normal_quantile(probability).unwrap();
                (ours, normal_probability(ours))
            }
            ("t", [degrees]) => (student_quantile(probability, *degrees).unwrap(), probability),
            ("beta", [a, b]) => {
                let ours = beta_quantile(probability, *a, *b).unwrap();
                (ours, beta_probability(ours, *a, *b))
            }
            _ => panic!("{line}"),
        };
        let tolerance = if probability > 0.999_999 { 1e-7 } else { 1e-11 };
        let size = quantile.abs().max(1e-6);
        assert!((ours - quantile).abs() < tolerance * size, "{line}: {ours}");
        assert!((back - probability).abs() < 1e-12, "{line}: {back}");
    }
    assert_eq!(printed.lines().count(), 871);
}

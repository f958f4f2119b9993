//! Monte Carlo against the same budgets in numpy, each side with a million trials of its own.

use metrology::uncertainty::{Correlation, Input, Inputs, Shape, Trials, monte_carlo};
use metrology::{DegreesOfFreedom, Ratio};
use serde::Deserialize;

use crate::python;

#[derive(Deserialize)]
struct Theirs {
    mean: f64,
    u: f64,
    symmetric: [f64; 2],
    shortest: [f64; 2],
}

struct Budget {
    inputs: Vec<Input>,
    r: f64,
    model: &'static str,
    evaluate: fn(&[f64]) -> f64,
}

fn budgets() -> Vec<Budget> {
    let student = Input {
        degrees_of_freedom: DegreesOfFreedom::Of(9.0),
        ..Input::shaped("c", 0.3, 0.2, Shape::StudentT)
    };
    let sum: fn(&[f64]) -> f64 = |x| x.iter().sum();
    let product: fn(&[f64]) -> f64 = |x| x.iter().product();
    let square: fn(&[f64]) -> f64 = |x| x[0] * x[0] + x[1] * x[1];
    vec![
        Budget {
            inputs: vec![
                Input::shaped("a", 1.0, 0.5, Shape::Triangular),
                Input::shaped("b", 2.0, 0.4, Shape::Trapezoidal { top_to_base: 0.4 }),
                student,
            ],
            r: 0.0,
            model: "sum",
            evaluate: sum,
        },
        Budget {
            inputs: vec![
                Input::shaped("a", 10.0, 1.0, Shape::Normal),
                Input::shaped("b", 5.0, 0.8, Shape::Arcsine),
                Input::shaped("c", 2.0, 0.1, Shape::Rectangular),
            ],
            r: 0.0,
            model: "product",
            evaluate: product,
        },
        Budget {
            inputs: vec![
                Input::shaped("a", 1.0, 0.5, Shape::Normal),
                Input::shaped("b", 0.5, 0.3, Shape::Normal),
            ],
            r: -0.7,
            model: "square",
            evaluate: square,
        },
        Budget {
            inputs: vec![
                Input::shaped("a", 10.0, 1.0, Shape::Normal),
                Input::shaped("b", 5.0, 0.5, Shape::Normal),
                Input::shaped("c", 2.0, 0.1, Shape::Rectangular),
            ],
            r: 0.8,
            model: "product",
            evaluate: product,
        },
    ]
}

fn shape_and_parameter(input: &Input) -> (&'static str, f64) {
    match (input.shape, input.degrees_of_freedom) {
        (Shape::Normal, _) => ("normal", 0.0),
        (Shape::Rectangular, _) => ("rectangular", 0.0),
        (Shape::Triangular, _) => ("triangular", 0.0),
        (Shape::Trapezoidal { top_to_base }, _) => ("trapezoidal", top_to_base),
        (Shape::Arcsine, _) => ("arcsine", 0.0),
        (Shape::StudentT, DegreesOfFreedom::Of(degrees)) => ("t", degrees),
        (Shape::StudentT, DegreesOfFreedom::Infinite) => ("normal", 0.0),
    }
}

// numpy 2.4.6. Both sides scatter. In units of u, the mean by 0.001 and the ends of the
// symmetric interval by about 0.003; those of the shortest interval by about 0.01, since its
// length hardly changes where it is shifted. Five times that, on both sides together.
#[test]
fn numpy_has_the_same_means_uncertainties_and_intervals() {
    let budgets = budgets();
    let asked: Vec<String> = budgets
        .iter()
        .map(|budget| {
            let inputs: Vec<_> = budget
                .inputs
                .iter()
                .map(|input| {
                    let (shape, parameter) = shape_and_parameter(input);
                    (input.value, input.standard_uncertainty, shape, parameter)
                })
                .collect();
            serde_json::json!({"inputs": inputs, "r": budget.r, "model": budget.model}).to_string()
        })
        .collect();
    let printed = python::run("trials.py", &asked.join("\n"));
    assert_eq!(printed.lines().count(), budgets.len());
    for (budget, line) in budgets.iter().zip(printed.lines()) {
        let theirs: Theirs = serde_json::from_str(line).unwrap();
        let correlations = [Correlation::between("a", "b", budget.r)];
        let inputs = Inputs::new(budget.inputs.clone(), &correlations).unwrap();
        let trials = Trials { number: 1_000_000, seed: 7, coverage: Ratio::from_percent(95.0) };
        let ours = monte_carlo(&inputs, budget.evaluate, trials).unwrap();
        let close = |ours: f64, theirs: f64, tolerance: f64| {
            let within = (ours - theirs).abs() < tolerance;
            assert!(within, "{} {}: ours {ours}, numpy {theirs}", budget.model, budget.r);
        };
        let u = ours.standard_uncertainty;
        close(ours.mean, theirs.mean, 0.007 * u);
        close(u, theirs.u, 0.007 * u);
        close(ours.symmetric.low, theirs.symmetric[0], 0.02 * u);
        close(ours.symmetric.high, theirs.symmetric[1], 0.02 * u);
        close(ours.shortest.low, theirs.shortest[0], 0.07 * u);
        close(ours.shortest.high, theirs.shortest[1], 0.07 * u);
    }
}

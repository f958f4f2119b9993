//! The worked examples of the GUM against the package GTC.

use metrology::DegreesOfFreedom;
use metrology::fit::{LinePoint, Weighting, fit_line};
use metrology::uncertainty::{Budget, Correlation, Input, Inputs};
use serde_json::Value;

use crate::python;

fn close(ours: f64, theirs: &Value, what: &str) {
    let theirs = theirs.as_f64().unwrap();
    assert!((ours / theirs - 1.0).abs() < 1e-9, "{what}: ours {ours}, GTC {theirs}");
}

fn same(budget: &Budget, theirs: &Value) {
    let DegreesOfFreedom::Of(degrees) = budget.effective_degrees_of_freedom else {
        panic!("{theirs}")
    };
    close(budget.value, &theirs["value"], "value");
    close(budget.standard_uncertainty, &theirs["u"], "u");
    close(degrees, &theirs["dof"], "degrees of freedom");
}

// GTC 1.5.1.
#[test]
fn gtc_has_the_same_budgets_for_gum_h1_and_h2_and_the_same_line_for_h3() {
    let printed = python::run("budgets.py", "");
    let lines: Vec<Value> =
        printed.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let [gauge, resistance, reactance, impedance, between, line] = lines.as_slice() else {
        panic!("{printed}")
    };
    end_gauge(gauge);
    let inputs = Inputs::new(
        vec![
            Input::plain("voltage", 4.999, 3.2e-3, 4.0),
            Input::plain("current", 19.661e-3, 9.5e-6, 4.0),
            Input::plain("phase", 1.044_46, 7.5e-4, 4.0),
        ],
        &[
            Correlation::between("voltage", "current", -0.36),
            Correlation::between("voltage", "phase", 0.86),
            Correlation::between("current", "phase", -0.65),
        ],
    )
    .unwrap();
    let r = inputs.budget(|x| x[0] / x[1] * libm::cos(x[2])).unwrap();
    let x = inputs.budget(|x| x[0] / x[1] * libm::sin(x[2])).unwrap();
    let z = inputs.budget(|x| x[0] / x[1]).unwrap();
    same(&r, resistance);
    same(&x, reactance);
    same(&z, impedance);
    close(inputs.correlation_of(&r, &x), &between["rx"], "r of R and X");
    close(inputs.correlation_of(&r, &z), &between["rz"], "r of R and Z");
    close(inputs.correlation_of(&x, &z), &between["xz"], "r of X and Z");
    thermometer(line);
}

fn end_gauge(theirs: &Value) {
    let unlimited = f64::INFINITY;
    let inputs = vec![
        Input::plain("standard", 50_000_623.0, 25.0, 18.0),
        Input::plain("difference", 215.0, 5.8, 24.0),
        Input::plain("random", 0.0, 3.9, 5.0),
        Input::plain("systematic", 0.0, 6.7, 8.0),
        Input::plain("expansion", 11.5e-6, 2e-6 / 3_f64.sqrt(), unlimited),
        Input::plain("bed", -0.1, 0.41, unlimited),
        Input::plain("expansions", 0.0, 1e-6 / 3_f64.sqrt(), 50.0),
        Input::plain("temperatures", 0.0, 0.05 / 3_f64.sqrt(), 2.0),
    ];
    let gauge = Inputs::new(inputs, &[])
        .unwrap()
        .budget(|x| x[0] + x[1] + x[2] + x[3] - x[0] * (x[6] * x[5] + x[4] * x[7]))
        .unwrap();
    same(&gauge, theirs);
}

fn thermometer(theirs: &Value) {
    let readings =
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511];
    let corrections =
        [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160];
    let points: Vec<LinePoint> =
        readings.iter().zip(corrections).map(|(x, y)| LinePoint { x: x - 20.0, y }).collect();
    let ours = fit_line(&points, Weighting::Equal).unwrap();
    let (at_30, at_30_uncertainty) = ours.at(10.0);
    close(ours.intercept, &theirs["intercept"], "intercept");
    close(ours.intercept_uncertainty, &theirs["u_intercept"], "u of intercept");
    close(ours.slope, &theirs["slope"], "slope");
    close(ours.slope_uncertainty, &theirs["u_slope"], "u of slope");
    close(ours.correlation, &theirs["r"], "r");
    close(at_30, &theirs["at_30"], "at 30 °C");
    close(at_30_uncertainty, &theirs["u_at_30"], "u at 30 °C");
    assert_eq!(ours.degrees_of_freedom, DegreesOfFreedom::Of(9.0));
    assert_eq!(theirs["dof"].as_f64(), Some(9.0));
}

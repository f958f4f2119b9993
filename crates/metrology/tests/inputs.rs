//! Inputs and correlations that cannot be, each refused by its name.

use metrology::uncertainty::{Correlation, Input, Inputs, InputsError, Shape};

fn three() -> Vec<Input> {
    ["voltage", "current", "phase"].map(|name| Input::plain(name, 1.0, 0.1, f64::INFINITY)).to_vec()
}

fn refused(list: Vec<Input>, correlations: &[Correlation]) -> String {
    Inputs::new(list, correlations).unwrap_err().to_string()
}

fn refused_correlations(correlations: &[(&str, &str, f64)]) -> String {
    let correlations: Vec<Correlation> =
        correlations.iter().map(|&(one, other, r)| Correlation::between(one, other, r)).collect();
    refused(three(), &correlations)
}

#[test]
fn correlations_that_cannot_be_are_named() {
    for (correlations, expected) in [
        (
            &[("voltage", "current", 1.2)][..],
            "the correlation of `voltage` and `current` must be from -1 to 1, not 1.2",
        ),
        (
            &[("voltage", "current", f64::NAN)],
            "the correlation of `voltage` and `current` must be from -1 to 1, not NaN",
        ),
        (
            &[("voltage", "current", 0.3), ("current", "voltage", 0.4)],
            "the correlation of `current` and `voltage` is given twice",
        ),
        (
            &[("phase", "phase", 0.3)],
            "a correlation names `phase` twice; an input cannot be correlated with itself",
        ),
        (
            &[("phase", "power", 0.3)],
            "a correlation names `power`, which is no input of this budget",
        ),
        (
            &[("voltage", "current", 0.9), ("current", "phase", 0.9), ("voltage", "phase", -0.9)],
            "the correlations of `phase` with `voltage` and `current` cannot hold together",
        ),
        (
            &[("voltage", "current", 1.0), ("current", "phase", 0.5), ("voltage", "phase", 0.2)],
            "the correlations of `phase` with `voltage` and `current` cannot hold together",
        ),
    ] {
        assert_eq!(refused_correlations(correlations), expected);
    }
}

#[test]
fn a_contradiction_tells_the_way_out() {
    let error = InputsError::Contradiction { name: "a".to_owned(), others: "`b`".to_owned() };
    assert!(error.hint().unwrap().starts_with("Check the signs"));
}

#[test]
fn correlations_at_their_limit_are_allowed() {
    let limit = [
        Correlation::between("voltage", "current", 1.0),
        Correlation::between("current", "phase", -1.0),
        Correlation::between("voltage", "phase", -1.0),
    ];
    let inputs = Inputs::new(three(), &limit).unwrap();
    let budget = inputs.budget(|x| x[0] + x[1] + 2.0 * x[2]).unwrap();
    assert!(budget.standard_uncertainty < 1e-12);
}

#[test]
fn inputs_that_cannot_be_are_named() {
    let named = |change: fn(&mut Input)| {
        let mut list = three();
        change(&mut list[1]);
        refused(list, &[])
    };
    assert_eq!(refused(Vec::new(), &[]), "a budget needs at least one input");
    assert_eq!(named(|input| input.name = "voltage".to_owned()), "two inputs are called `voltage`");
    assert_eq!(
        named(|input| input.value = f64::INFINITY),
        "input `current` has the value inf, which is no finite number"
    );
    assert_eq!(
        named(|input| input.standard_uncertainty = -0.1),
        "input `current` needs a standard uncertainty of zero or more, not -0.1"
    );
    assert_eq!(
        named(|input| input.degrees_of_freedom = metrology::DegreesOfFreedom::Of(0.0)),
        "input `current` needs degrees of freedom above zero, not 0"
    );
    assert_eq!(
        refused(vec![Input::shaped("a", 0.0, 1.0, Shape::Trapezoidal { top_to_base: 1.5 })], &[]),
        "input `a` has a trapezoid whose top is 1.5 of its base; it must be 0 to 1"
    );
}

#[test]
fn models_that_cannot_be_followed_are_named() {
    let inputs = Inputs::new(three(), &[]).unwrap();
    let no_value = inputs.budget(|x| x[0] / (x[1] - 1.0)).unwrap_err();
    assert_eq!(
        no_value.to_string(),
        "the model gives inf at the estimates of its inputs, which is no finite number"
    );
    let no_slope = inputs.budget(|x| x[0] + (x[2] - 1.0).sqrt()).unwrap_err();
    assert_eq!(no_slope.to_string(), "the model has no finite slope along input `phase`");
    assert_eq!(
        inputs.budget_of_sensitivities(1.0, &[1.0]).unwrap_err().to_string(),
        "1 sensitivities for 3 inputs"
    );
}

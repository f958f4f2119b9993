//! The worked examples of JCGM 101: additive model (9.2), mass (9.3), comparison loss (9.4).

use super::{Group, ReferenceCase};
use crate::quantity::Ratio;
use crate::uncertainty::{
    Budget, Correlation, FractionalDegrees, Input, Inputs, Interval, MonteCarlo, Outcome, Shape,
    Trials, coverage_factor, monte_carlo, validate,
};

/// Four standard deviations of what a million trials scatter come on top of half a unit of the
/// last printed digit: each tolerance below is the sum, rounded up.
const TRIALS: Trials =
    Trials { number: 1_000_000, seed: 20_081_001, coverage: Ratio::from_percent(95.0) };

pub(super) fn cases() -> Vec<ReferenceCase> {
    let mut cases = additive();
    cases.extend(mass());
    cases.extend(comparison_loss());
    cases
}

/// A first-order result and the trials of the same inputs and model.
struct Both {
    budget: Budget,
    factor: f64,
    trials: MonteCarlo,
}

impl Both {
    fn of(
        list: Vec<Input>,
        correlations: &[Correlation],
        model: impl Fn(&[f64]) -> f64 + Sync,
    ) -> Option<Self> {
        let inputs = Inputs::new(list, correlations).ok()?;
        let budget = inputs.budget(&model).ok()?;
        let factor = coverage_factor(
            TRIALS.coverage,
            budget.effective_degrees_of_freedom,
            FractionalDegrees::Kept,
        );
        Some(Self {
            budget,
            factor: factor.ok()?,
            trials: monte_carlo(&inputs, model, TRIALS).ok()?,
        })
    }

    /// Whether the first-order result is validated to so many digits: 1 for yes, 0 for no.
    fn validated(&self, interval: Interval, digits: u8) -> f64 {
        match validate(&self.budget, self.factor, interval, digits).outcome {
            Outcome::Validated => 1.0,
            Outcome::NotValidated => 0.0,
        }
    }

    fn symmetric(&self, digits: u8) -> f64 {
        self.validated(self.trials.symmetric, digits)
    }

    fn shortest(&self, digits: u8) -> f64 {
        self.validated(self.trials.shortest, digits)
    }

    /// The upper end to first order less the value.
    fn expanded(&self) -> f64 {
        self.factor * self.budget.standard_uncertainty
    }
}

/// A row: what it is called, how it is read, the published value, the tolerance.
type Row = (&'static str, fn(&Both) -> f64, f64, f64);

fn rows(name: &str, group: &Group, both: Option<&Both>, rows: &[Row]) -> Vec<ReferenceCase> {
    rows.iter()
        .map(|(what, read, theirs, tolerance)| {
            let ours = both.map_or(f64::NAN, read);
            group.case(&format!("{name}: {what}"), ours, *theirs, *tolerance)
        })
        .collect()
}

/// Whether the first-order result may stand, as a row of its own.
fn verdict(name: &str, group: &Group, validated: Option<f64>, theirs: f64) -> ReferenceCase {
    let ours = validated.unwrap_or(f64::NAN);
    let name = format!("{name}: first order validated");
    ReferenceCase { unit: "1 = yes", ..group.case(&name, ours, theirs, 0.0) }
}

fn additive() -> Vec<ReferenceCase> {
    let sum_of = |shape: Shape, last: f64| {
        let inputs = [("a", 1.0), ("b", 1.0), ("c", 1.0), ("d", last)]
            .map(|(name, uncertainty)| Input::shaped(name, 0.0, uncertainty, shape));
        Both::of(inputs.to_vec(), &[], |x| x.iter().sum())
    };
    let normal =
        Group { source: "JCGM 101:2008 9.2.2 (from memory; arithmetic done again)", unit: "1" };
    let boxes =
        Group { source: "JCGM 101:2008 9.2.3 (from memory; arithmetic done again)", unit: "1" };
    let one_wide =
        Group { source: "JCGM 101:2008 9.2.4 (from memory; arithmetic done again)", unit: "1" };
    let u: fn(&Both) -> f64 = |both| both.trials.standard_uncertainty;
    let low: fn(&Both) -> f64 = |both| both.trials.symmetric.low;
    let high: fn(&Both) -> f64 = |both| both.trials.symmetric.high;
    let first_order: fn(&Both) -> f64 = |both| both.budget.value + both.expanded();
    let both = sum_of(Shape::Normal, 1.0);
    let mut list = rows(
        "four normal",
        &normal,
        both.as_ref(),
        &[
            ("u by trials", u, 2.00, 0.012),
            ("lower end by trials", low, -3.92, 0.03),
            ("upper end by trials", high, 3.92, 0.03),
            ("upper end to first order", first_order, 3.92, 0.005),
        ],
    );
    list.push(verdict(
        "four normal, 2 digits",
        &normal,
        both.as_ref().map(|b| b.symmetric(2)),
        1.0,
    ));
    let both = sum_of(Shape::Rectangular, 1.0);
    list.extend(rows(
        "four rectangular",
        &boxes,
        both.as_ref(),
        &[
            ("u by trials", u, 2.00, 0.012),
            ("lower end by trials", low, -3.88, 0.03),
            ("upper end by trials", high, 3.88, 0.03),
        ],
    ));
    list.push(verdict(
        "four rectangular, 3 digits",
        &boxes,
        both.as_ref().map(|b| b.symmetric(3)),
        0.0,
    ));
    let both = sum_of(Shape::Rectangular, 10.0);
    list.extend(rows(
        "one wide rectangle",
        &one_wide,
        both.as_ref(),
        &[
            ("u by trials", u, 10.1, 0.08),
            ("lower end by trials", low, -17.0, 0.09),
            ("upper end by trials", high, 17.0, 0.09),
            ("upper end to first order", first_order, 19.9, 0.05),
        ],
    ));
    list.push(verdict(
        "one wide rectangle, 2 digits",
        &one_wide,
        both.as_ref().map(|b| b.symmetric(2)),
        0.0,
    ));
    list
}

fn mass() -> Vec<ReferenceCase> {
    let between = |name, low: f64, high: f64| {
        Input::shaped(
            name,
            0.5 * (low + high),
            0.5 * (high - low) / 3_f64.sqrt(),
            Shape::Rectangular,
        )
    };
    let inputs = vec![
        Input::shaped("reference mass", 100_000.0, 0.050, Shape::Normal),
        Input::shaped("added mass", 1.234, 0.020, Shape::Normal),
        between("density of air", 1.10, 1.30),
        between("density of the weight", 7000.0, 9000.0),
        between("density of the reference", 7950.0, 8050.0),
    ];
    let both = Both::of(inputs, &[], |x| {
        (x[0] + x[1]) * (1.0 + (x[2] - 1.2) * (1.0 / x[3] - 1.0 / x[4])) - 100_000.0
    });
    let group =
        Group { source: "JCGM 101:2008 9.3 (from memory; arithmetic done again)", unit: "mg" };
    let mut list = rows(
        "mass",
        &group,
        both.as_ref(),
        &[
            ("mean by trials", |both| both.trials.mean, 1.234, 0.001),
            ("u by trials", |both| both.trials.standard_uncertainty, 0.0754, 0.0004),
            ("shortest, lower end", |both| both.trials.shortest.low, 1.0834, 0.0045),
            ("shortest, upper end", |both| both.trials.shortest.high, 1.3825, 0.0045),
            ("u to first order", |both| both.budget.standard_uncertainty, 0.0539, 0.000_05),
            ("lower end to first order", |b| b.budget.value - b.expanded(), 1.1285, 0.000_1),
            ("upper end to first order", |b| b.budget.value + b.expanded(), 1.3395, 0.000_1),
        ],
    );
    list.push(verdict("mass, 1 digit", &group, both.as_ref().map(|both| both.shortest(1)), 0.0));
    list
}

fn comparison_loss() -> Vec<ReferenceCase> {
    let loss = |value: f64, r: f64| {
        let inputs = vec![
            Input::shaped("real part", value, 0.005, Shape::Normal),
            Input::shaped("imaginary part", 0.0, 0.005, Shape::Normal),
        ];
        let correlations = [Correlation::between("real part", "imaginary part", r)];
        Both::of(inputs, &correlations, |x| x[0] * x[0] + x[1] * x[1])
    };
    let mean: fn(&Both) -> f64 = |both| 1e6 * both.trials.mean;
    let u: fn(&Both) -> f64 = |both| 1e6 * both.trials.standard_uncertainty;
    let low: fn(&Both) -> f64 = |both| 1e6 * both.trials.shortest.low;
    let high: fn(&Both) -> f64 = |both| 1e6 * both.trials.shortest.high;
    let group =
        Group { source: "JCGM 101:2008 9.4 (from memory; arithmetic done again)", unit: "1e-6" };
    let at_0 = [
        ("mean by trials", mean, 50.0, 0.7),
        ("u by trials", u, 50.0, 0.8),
        ("shortest, lower end", low, 0.0, 0.5),
        ("shortest, upper end", high, 150.0, 1.4),
    ];
    let at_10 = [
        ("mean by trials", mean, 150.0, 1.0),
        ("u by trials", u, 112.0, 1.0),
        ("shortest, lower end", low, 0.0, 0.5),
        ("shortest, upper end", high, 367.0, 2.5),
    ];
    let at_50 = [("mean by trials", mean, 2551.0, 3.0), ("u by trials", u, 502.0, 2.0)];
    let mut list = Vec::new();
    for (name, value, table) in [
        ("loss at 0", 0.0, &at_0[..]),
        ("loss at 0.010", 0.010, &at_10[..]),
        ("loss at 0.050", 0.050, &at_50[..]),
    ] {
        let both = loss(value, 0.0);
        list.extend(rows(name, &group, both.as_ref(), table));
        let name = format!("{name}, 2 digits");
        list.push(verdict(&name, &group, both.as_ref().map(|both| both.shortest(2)), 0.0));
    }
    let closed =
        Group { source: "in closed form: u² = 4σ⁴(1 + r²), σ = 0.005", unit: "1e-6" };
    list.extend(rows(
        "loss at 0, r = 0.9",
        &closed,
        loss(0.0, 0.9).as_ref(),
        &[("mean by trials", mean, 50.0, 0.3), ("u by trials", u, 67.268_120, 0.5)],
    ));
    list
}

//! The worked examples of the GUM: end gauge (H.1), and resistance and reactance (H.2).

use super::{Group, ReferenceCase};
use crate::measurement::DegreesOfFreedom;
use crate::quantity::Ratio;
use crate::uncertainty::{Budget, Correlation, FractionalDegrees, Input, Inputs, coverage_factor};

pub(super) fn cases() -> Vec<ReferenceCase> {
    let mut cases = end_gauge();
    cases.extend(reactance());
    cases
}

/// GUM H.1, in nanometres and kelvin: the gauge is the standard plus a difference, less what
/// their expansions differ in.
fn end_gauge_budget() -> Option<Budget> {
    let inputs = vec![
        Input::plain("standard", 50_000_623.0, 25.0, 18.0),
        Input::plain("difference", 215.0, 5.8, 24.0),
        Input::plain("comparator, random", 0.0, 3.9, 5.0),
        Input::plain("comparator, systematic", 0.0, 6.7, 8.0),
        Input::plain("expansion of the standard", 11.5e-6, 2e-6 / 3_f64.sqrt(), f64::INFINITY),
        Input::plain("temperature of the bed", -0.1, 0.41, f64::INFINITY),
        Input::plain("difference of expansions", 0.0, 1e-6 / 3_f64.sqrt(), 50.0),
        Input::plain("difference of temperatures", 0.0, 0.05 / 3_f64.sqrt(), 2.0),
    ];
    let model = |x: &[f64]| {
        let [standard, difference, random, systematic, expansion, bed, expansions, temperatures] =
            x
        else {
            return f64::NAN;
        };
        standard + difference + random + systematic
            - standard * (expansions * bed + expansion * temperatures)
    };
    Inputs::new(inputs, &[]).ok()?.budget(model).ok()
}

fn end_gauge() -> Vec<ReferenceCase> {
    let budget = end_gauge_budget();
    let of = |read: fn(&Budget) -> f64| budget.as_ref().map_or(f64::NAN, read);
    let line = |place: usize| {
        let line = budget.as_ref().and_then(|budget| budget.lines.get(place));
        line.map_or(f64::NAN, |line| line.contribution.abs())
    };
    let degrees =
        budget.as_ref().map_or(DegreesOfFreedom::Of(f64::NAN), |b| b.effective_degrees_of_freedom);
    let number = match degrees {
        DegreesOfFreedom::Of(number) => number,
        DegreesOfFreedom::Infinite => f64::NAN,
    };
    let factor = |fractional| {
        coverage_factor(Ratio::from_percent(99.0), degrees, fractional).unwrap_or(f64::NAN)
    };
    let truncated = factor(FractionalDegrees::Truncated);
    let nanometres = Group { source: "GUM H.1, as worked in the manual of GTC", unit: "nm" };
    let memory = Group { source: "GUM H.1 (from memory)", unit: "1" };
    let expanded = Group { source: "GUM H.1 (from memory)", unit: "nm" };
    let mut list = vec![
        nanometres.case("end gauge: length", of(|b| b.value), 50_000_838.0, 0.5),
        nanometres.case("end gauge: standard", line(0), 25.0, 1e-6),
        nanometres.case("end gauge: temperature difference", line(7), 16.599, 0.0005),
        nanometres.case("end gauge: expansion difference", line(6), 2.886_79, 0.000_05),
        nanometres.case("end gauge: u", of(|b| b.standard_uncertainty), 32.0, 0.5),
        nanometres.case("end gauge: u, more digits", of(|b| b.standard_uncertainty), 31.66, 0.005),
    ];
    let gtc = Group { source: "GTC 1.5.1, run on GUM H.1", unit: "1" };
    list.push(gtc.case("end gauge: effective degrees of freedom", number, 16.75, 0.005));
    list.push(memory.case("end gauge: degrees, truncated", number.floor(), 16.0, 0.0));
    list.push(memory.case("end gauge: k for 99 %, truncated", truncated, 2.92, 0.005));
    list.push(ReferenceCase {
        remark: Some("the GUM multiplies the rounded u of 32 nm; so does this line"),
        ..expanded.case("end gauge: U for 99 %", truncated * 32.0, 93.0, 0.5)
    });
    list.push(ReferenceCase {
        remark: Some("with the fraction of a degree kept; the GUM itself truncates"),
        ..gtc.case("end gauge: k for 99 %, kept", factor(FractionalDegrees::Kept), 2.9035, 0.0001)
    });
    list
}

/// GUM H.2 from its printed, rounded inputs.
fn reactance() -> Vec<ReferenceCase> {
    let inputs = vec![
        Input::plain("voltage", 4.999, 3.2e-3, 4.0),
        Input::plain("current", 19.661e-3, 9.5e-6, 4.0),
        Input::plain("phase", 1.044_46, 7.5e-4, 4.0),
    ];
    let correlations = [
        Correlation::between("voltage", "current", -0.36),
        Correlation::between("voltage", "phase", 0.86),
        Correlation::between("current", "phase", -0.65),
    ];
    let ohm = Group { source: "GUM H.2, as worked in the manual of GTC", unit: "Ω" };
    let pure = Group { source: "GUM H.2, as worked in the manual of GTC", unit: "1" };
    let Ok(inputs) = Inputs::new(inputs, &correlations) else {
        return vec![ohm.case("resistance", f64::NAN, 127.732, 0.0)];
    };
    let resistance = inputs.budget(|x| x[0] / x[1] * libm::cos(x[2]));
    let reactance = inputs.budget(|x| x[0] / x[1] * libm::sin(x[2]));
    let impedance = inputs.budget(|x| x[0] / x[1]);
    let (Ok(resistance), Ok(reactance), Ok(impedance)) = (resistance, reactance, impedance) else {
        return vec![ohm.case("resistance", f64::NAN, 127.732, 0.0)];
    };
    let rounded = Some(
        "from the printed, rounded inputs; the GUM's own unrounded ones give -0.588, -0.485, \
         0.993 (from memory)",
    );
    let between = |name: &str, one: &Budget, other: &Budget, theirs: f64| ReferenceCase {
        remark: rounded,
        ..pure.case(name, inputs.correlation_of(one, other), theirs, 0.005)
    };
    let degrees = match resistance.effective_degrees_of_freedom {
        DegreesOfFreedom::Of(number) => number,
        DegreesOfFreedom::Infinite => f64::INFINITY,
    };
    vec![
        ohm.case("resistance R", resistance.value, 127.732, 0.0005),
        ohm.case("resistance R: u", resistance.standard_uncertainty, 0.070, 0.0005),
        ohm.case("reactance X", reactance.value, 219.85, 0.005),
        ohm.case("reactance X: u", reactance.standard_uncertainty, 0.30, 0.005),
        ohm.case("impedance Z", impedance.value, 254.26, 0.005),
        ohm.case("impedance Z: u", impedance.standard_uncertainty, 0.24, 0.005),
        between("r of R and X", &resistance, &reactance, -0.59),
        between("r of R and Z", &resistance, &impedance, -0.49),
        between("r of X and Z", &reactance, &impedance, 0.99),
        Group { source: "GUM H.2.4: five sets observed side by side (from memory)", unit: "1" }
            .case("degrees of freedom of R", degrees, 4.0, 1e-9),
    ]
}

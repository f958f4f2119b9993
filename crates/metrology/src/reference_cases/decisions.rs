//! Decisions with uncertainty: probability of conformity (JCGM 106) and guard bands (ILAC-G8).

use super::{Group, ReferenceCase};
use crate::decision::{DecisionRule, Limit, decide};
use crate::distribution::normal_quantile;
use crate::measurement::{DegreesOfFreedom, Measurement};
use crate::quantity::Ratio;

pub(super) fn cases() -> Vec<ReferenceCase> {
    let mut cases = conformity();
    cases.extend(guard_bands());
    cases
}

fn measured(value: f64, uncertainty: f64) -> Measurement<Ratio> {
    Measurement {
        value: Ratio::from_fraction(value),
        uncertainty: Ratio::from_fraction(uncertainty),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    }
}

fn conformity() -> Vec<ReferenceCase> {
    let memory = Group { source: "JCGM 106:2012 (from memory)", unit: "1" };
    let again = Group { source: "JCGM 106:2012, arithmetic done again", unit: "1" };
    let probability = |value, uncertainty, limit| {
        let decision = decide(measured(value, uncertainty), limit, DecisionRule::SimpleAcceptance);
        decision.map_or(f64::NAN, |decision| decision.probability_of_conformity.fraction())
    };
    let zener = probability(-5.47, 0.05, Limit::AtMost(Ratio::from_fraction(-5.40)));
    let oil = probability(
        13.6,
        1.8,
        Limit::Between { low: Ratio::from_fraction(12.5), high: Ratio::from_fraction(16.3) },
    );
    // A driver is fined where the true speed exceeds 100 km/h with 99.9 %; u is 2 % of the
    // reading.
    let deviate = normal_quantile(0.999).unwrap_or(f64::NAN);
    let speed = 100.0 / (1.0 - 0.02 * deviate);
    vec![
        memory.case("breakdown voltage: conformity", zener, 0.92, 0.005),
        again.case("breakdown voltage: more digits", zener, 0.919_24, 0.000_005),
        memory.case("motor oil: conformity", oil, 0.66, 0.005),
        again.case("motor oil: more digits", oil, 0.662_63, 0.000_005),
        ReferenceCase {
            unit: "km/h",
            remark: Some("JCGM 106 rounds up to 107 km/h"),
            ..again.case("speed that exceeds 100 km/h with 99.9 %", speed, 106.588, 0.0005)
        },
    ]
}

fn guard_bands() -> Vec<ReferenceCase> {
    let exact = Group {
        source: "1 - Φ(2r), by an independent package; ILAC-G8:09/2019 prints the bounds",
        unit: "1",
    };
    [
        (0.0, 0.5, 1e-12),
        (0.83, 0.048_457, 5e-7),
        (1.0, 0.022_750, 5e-7),
        (1.5, 0.001_349_9, 5e-8),
        (3.0, 9.866e-10, 5e-14),
    ]
    .map(|(ratio, theirs, tolerance)| {
        let rule = DecisionRule::GuardBand { ratio, coverage_factor: 2.0 };
        let decision = decide(measured(0.0, 1.0), Limit::AtMost(Ratio::from_fraction(10.0)), rule);
        let risk = decision.ok().and_then(|decision| decision.worst_false_acceptance);
        let ours = risk.map_or(f64::NAN, Ratio::fraction);
        exact.case(&format!("false acceptance at most, r = {ratio}"), ours, theirs, tolerance)
    })
    .to_vec()
}

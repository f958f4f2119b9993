//! What must hold for any numbers.

use metrology::decision::{DecisionRule, Limit, Standing, decide};
use metrology::distribution::{beta_probability, beta_quantile, student_quantile};
use metrology::statistics::proportion_interval;
use metrology::uncertainty::{Correlation, Input, Inputs};
use metrology::{Count, DegreesOfFreedom, Duration, Measurement, Ratio};
use proptest::prelude::*;

/// Three inputs, with the correlations that their mixing of three independent ones gives: such
/// a matrix can always be.
fn three(
    values: [f64; 3],
    uncertainties: [f64; 3],
    mixing: [[f64; 3]; 3],
    order: [usize; 3],
) -> Option<Inputs> {
    let names = ["a", "b", "c"];
    let dot = |one: usize, other: usize| -> f64 {
        mixing[one].iter().zip(mixing[other]).map(|(x, y)| x * y).sum()
    };
    let r = |one: usize, other: usize| {
        let size = (dot(one, one) * dot(other, other)).sqrt();
        (dot(one, other) / size).clamp(-1.0, 1.0)
    };
    let correlations = [(0, 1), (0, 2), (1, 2)]
        .map(|(one, other)| Correlation::between(names[one], names[other], r(one, other)));
    let list =
        order.map(|place| Input::plain(names[place], values[place], uncertainties[place], 7.0));
    Inputs::new(list.to_vec(), &correlations).ok()
}

fn mixing() -> impl Strategy<Value = [[f64; 3]; 3]> {
    let row = prop::array::uniform3(-1.0..1.0)
        .prop_filter("no direction", |row: &[f64; 3]| row.iter().any(|part| part.abs() > 0.1));
    [row.clone(), row.clone(), row]
}

fn close(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-8 * one.abs().max(other.abs()).max(1e-6)
}

proptest! {
    #[test]
    fn a_result_scales_with_its_model(
        values in prop::array::uniform3(1.0..10.0),
        uncertainties in prop::array::uniform3(0.001..0.3),
        mixing in mixing(),
        factor in prop_oneof![-50.0_f64..-0.1, 0.1_f64..50.0],
    ) {
        let inputs = three(values, uncertainties, mixing, [0, 1, 2]).unwrap();
        let model = |x: &[f64]| x[0] * x[1] / x[2];
        let plain = inputs.budget(model).unwrap();
        let scaled = inputs.budget(|x| factor * model(x)).unwrap();
        prop_assert!(close(scaled.value, factor * plain.value));
        prop_assert!(close(scaled.standard_uncertainty, factor.abs() * plain.standard_uncertainty));
        let shares: f64 = plain.lines.iter().map(|line| line.share).sum();
        prop_assert!(close(shares, 1.0));
    }

    #[test]
    fn the_order_of_the_inputs_does_not_matter(
        values in prop::array::uniform3(1.0..10.0),
        uncertainties in prop::array::uniform3(0.001..0.3),
        mixing in mixing(),
    ) {
        let straight = three(values, uncertainties, mixing, [0, 1, 2]).unwrap();
        let turned = three(values, uncertainties, mixing, [2, 0, 1]).unwrap();
        let straight = straight.budget(|x| x[0] * x[1] - x[2]).unwrap();
        let turned = turned.budget(|x| x[1] * x[2] - x[0]).unwrap();
        prop_assert!(close(straight.standard_uncertainty, turned.standard_uncertainty));
        match (straight.effective_degrees_of_freedom, turned.effective_degrees_of_freedom) {
            (DegreesOfFreedom::Of(one), DegreesOfFreedom::Of(other)) => {
                prop_assert!((one / other - 1.0).abs() < 1e-6);
            }
            (one, other) => prop_assert_eq!(one, other),
        }
    }

    #[test]
    fn a_sum_goes_with_r_as_a_difference_goes_against_it(
        uncertainties in prop::array::uniform2(0.001..10.0),
        r in -1.0..1.0,
    ) {
        let pair = |r: f64| {
            let list = vec![Input::plain("a", 1.0, uncertainties[0], 5.0), Input::plain("b", 2.0, uncertainties[1], 5.0)];
            Inputs::new(list, &[Correlation::between("a", "b", r)]).unwrap()
        };
        let sum = pair(r).budget(|x| x[0] + x[1]).unwrap().standard_uncertainty;
        let difference = pair(-r).budget(|x| x[0] - x[1]).unwrap().standard_uncertainty;
        prop_assert!(close(sum, difference));
        let [a, b] = uncertainties;
        prop_assert!(close(sum * sum, a * a + b * b + 2.0 * r * a * b));
    }

    #[test]
    fn quantiles_lead_back_to_their_probability(
        probability in 0.0001..0.9999,
        a in 0.3..200.0,
        b in 0.3..200.0,
    ) {
        let x = beta_quantile(probability, a, b).unwrap();
        // At the upper end a double next to 1 is all that can be had.
        prop_assume!(x < 1.0 - 1e-9);
        prop_assert!((beta_probability(x, a, b) - probability).abs() < 1e-9);
    }

    #[test]
    fn student_is_symmetric_and_wider_than_with_more_degrees(
        probability in 0.501..0.9999,
        degrees in 1.0..3000.0,
    ) {
        let here = student_quantile(probability, degrees).unwrap();
        let there = student_quantile(1.0 - probability, degrees).unwrap();
        prop_assert!((here + there).abs() < 1e-9 * here.max(1.0));
        prop_assert!(student_quantile(probability, degrees * 1.5).unwrap() <= here);
    }

    #[test]
    fn a_proportion_lies_within_its_interval(trials in 1_u64..500, part in 0.0..1.0) {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss, reason = "a part of at most 500")]
        let successes = (part * trials as f64) as u64;
        let found = |number: u64| {
            proportion_interval(Count::of(number), Count::of(trials), Ratio::from_percent(95.0)).unwrap()
        };
        let (seen, mirrored) = (found(successes), found(trials - successes));
        #[expect(clippy::cast_precision_loss, reason = "at most 500")]
        let fraction = successes as f64 / trials as f64;
        prop_assert!(seen.low.fraction() <= fraction && fraction <= seen.high.fraction());
        prop_assert!((seen.low.fraction() + mirrored.high.fraction() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_wider_guard_band_never_decides_more(
        value in 20.0..27.0,
        uncertainty in 0.0..1.5,
        ratio in 0.0..2.0,
        more in 0.0..1.0,
    ) {
        let measurement = Measurement {
            value: Duration::from_seconds(value),
            uncertainty: Duration::from_seconds(uncertainty),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        };
        let limit = Limit::Between { low: Duration::from_seconds(22.5), high: Duration::from_seconds(24.5) };
        let by = |ratio| {
            decide(measurement, limit, DecisionRule::GuardBand { ratio, coverage_factor: 2.0 }).unwrap()
        };
        let (narrow, wide) = (by(ratio), by(ratio + more));
        prop_assert!(wide.standing == narrow.standing || wide.standing == Standing::Undecided);
        prop_assert!(narrow.standing != Standing::Kept || limit.is_kept_by(measurement.value));
        prop_assert!(narrow.standing != Standing::Broken || !limit.is_kept_by(measurement.value));
        prop_assert_eq!(narrow.acceptance.is_none(), narrow.no_acceptance_zone().is_some());
        let conforming = narrow.probability_of_conformity.fraction();
        prop_assert!((0.0..=1.0).contains(&conforming));
    }
}

//! How soon each chart calls, by trials with the charts themselves: no formula of a run length is
//! used here, so these hold the integral equations as well.

use metrology::control_chart::{
    BaseLine, CusumRule, EwmaRule, cusum, cusum_run_length, ewma, ewma_run_length,
    individuals_run_length,
};
use metrology::draw::normal;
use metrology::{Duration, Ratio};
use rand::SeedableRng as _;
use rand_pcg::Pcg64;

const RULE: EwmaRule = EwmaRule { weight: Ratio::from_fraction(0.2), width_sigma: 2.86 };
const SUMS: CusumRule = CusumRule { allowance_sigma: 0.5, decision_sigma: 5.0 };

fn base() -> BaseLine<Duration> {
    let (centre, sigma) = (Duration::from_seconds(23.5), Duration::from_seconds(0.2));
    BaseLine { centre, sigma }
}

/// The mean place of the first call over `trials` series of `length` values, each value moved by
/// `shift_sigma(place)`.
fn called(
    trials: u32,
    length: usize,
    shift_sigma: impl Fn(f64) -> f64,
    calls: impl Fn(&[Duration]) -> Option<usize>,
) -> f64 {
    let mut random = Pcg64::seed_from_u64(7);
    let mut sum = 0.0;
    for _ in 0..trials {
        let mut place = 0.0;
        let values: Vec<Duration> = (0..length)
            .map(|_| {
                place += 1.0;
                Duration::from_seconds(23.5 + 0.2 * (normal(&mut random) + shift_sigma(place)))
            })
            .collect();
        let first = calls(&values).expect("a series long enough to be called");
        sum += f64::from(u32::try_from(first + 1).unwrap());
    }
    sum / f64::from(trials)
}

fn by_weighted_mean(values: &[Duration]) -> Option<usize> {
    ewma(values, &base(), RULE).iter().position(|it| it.limits.left_by(it.value).is_some())
}

fn by_sums(values: &[Duration]) -> Option<usize> {
    cusum(values, &base(), SUMS).iter().position(|sums| sums.signal(SUMS).is_some())
}

fn by_three_sigma(values: &[Duration]) -> Option<usize> {
    let limits = base().limits(3.0);
    values.iter().position(|value| limits.left_by(*value).is_some())
}

/// `found` within `tolerance` of `expected`.
fn check(name: &str, found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{name}: {found}, not {expected}");
}

/// The figures by which weight 0.2 and limit 2.86 were chosen: once in about 360 confirmations
/// without a cause; one sigma found after 9 (three sigma: 44); a drift of 0.1 sigma a confirmation
/// after 13 (18), of 0.05 sigma after 20 (30). They were simulated 3 000 times.
#[test]
fn chosen_weight_and_limit_find_what_they_were_chosen_for() {
    let none = called(1500, 6000, |_| 0.0, by_weighted_mean);
    check("without a cause", none, 360.0, 20.0);
    let step = |_| 1.0;
    check("one sigma", called(3000, 400, step, by_weighted_mean), 9.0, 0.7);
    check("one sigma by three sigma", called(3000, 1500, step, by_three_sigma), 44.0, 2.0);
    let drift = |place: f64| 0.1 * place;
    check("drift 0.1", called(3000, 200, drift, by_weighted_mean), 13.0, 0.7);
    check("drift 0.1 by three sigma", called(3000, 200, drift, by_three_sigma), 18.0, 0.9);
    let slow = |place: f64| 0.05 * place;
    check("drift 0.05", called(3000, 200, slow, by_weighted_mean), 20.0, 0.9);
    check("drift 0.05 by three sigma", called(3000, 300, slow, by_three_sigma), 30.0, 1.2);
}

#[test]
fn the_lengths_of_the_equations_are_those_of_trials() {
    let sums = called(1500, 8000, |_| 0.0, by_sums);
    let expected = cusum_run_length(SUMS, 0.0);
    // Four standard deviations of the mean of 1 500 nearly geometric lengths.
    check("sums", sums, expected, 4.0 * expected / 1500_f64.sqrt());
    let shifted = called(3000, 400, |_| 1.0, by_sums);
    check("sums, one sigma", shifted, cusum_run_length(SUMS, 1.0), 0.5);
    let single = called(3000, 1500, |_| 1.0, by_three_sigma);
    let expected = individuals_run_length(3.0, 1.0);
    check("single, one sigma", single, expected, 4.0 * expected / 3000_f64.sqrt());
    // Exact limits are narrower at first than the settled ones of the equation.
    let weighted = called(3000, 400, |_| 1.0, by_weighted_mean);
    let settled = ewma_run_length(RULE, 1.0);
    assert!(weighted < settled && weighted > settled - 1.5, "{weighted}, settled {settled}");
}

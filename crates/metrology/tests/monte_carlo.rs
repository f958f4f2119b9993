//! Trials: the same answer on any number of cores, and what is refused.

use metrology::Ratio;
use metrology::uncertainty::{
    Correlation, Input, Inputs, MonteCarlo, MonteCarloError, Shape, Trials, monte_carlo,
};

const TRIALS: Trials = Trials { number: 123_457, seed: 42, coverage: Ratio::from_percent(95.0) };

fn inputs() -> Inputs {
    let list = vec![
        Input::shaped("a", 1.0, 0.1, Shape::Normal),
        Input::shaped("b", 2.0, 0.1, Shape::Rectangular),
        Input::shaped("c", 3.0, 0.1, Shape::Normal),
        Input::shaped("d", 4.0, 0.1, Shape::Triangular),
        Input::shaped("e", 5.0, 0.1, Shape::Normal),
    ];
    let correlations = [Correlation::between("a", "c", 0.5), Correlation::between("c", "e", -0.4)];
    Inputs::new(list, &correlations).unwrap()
}

fn model(x: &[f64]) -> f64 {
    x[0] * x[1] / x[2] + x[3] - x[4]
}

fn on_cores(number: usize) -> MonteCarlo {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(number).build().unwrap();
    pool.install(|| monte_carlo(&inputs(), model, TRIALS).unwrap())
}

fn bits(found: &MonteCarlo) -> [u64; 6] {
    [
        found.mean,
        found.standard_uncertainty,
        found.symmetric.low,
        found.symmetric.high,
        found.shortest.low,
        found.shortest.high,
    ]
    .map(f64::to_bits)
}

#[test]
fn the_answer_is_the_same_to_the_last_bit_on_any_number_of_cores() {
    let one = bits(&on_cores(1));
    for number in [2, 3, 5] {
        assert_eq!(bits(&on_cores(number)), one, "{number} cores");
    }
}

// No outside source: this pins what a seed means, so that a recorded result can be had again.
// The same bits are expected on every kind of machine.
#[test]
fn regress_a_seed_keeps_its_meaning() {
    let expected = [
        -0.333_409_526_349_728_87,
        0.151_006_076_710_445_5,
        -0.627_835_759_987_541_5,
        -0.038_741_389_052_527_886,
        -0.629_986_221_070_404_4,
        -0.041_315_093_054_264_73,
    ];
    assert_eq!(bits(&on_cores(2)), expected.map(f64::to_bits));
}

#[test]
fn another_seed_gives_another_answer_within_the_scatter() {
    let one = monte_carlo(&inputs(), model, TRIALS).unwrap();
    let other = monte_carlo(&inputs(), model, Trials { seed: 4_000_000, ..TRIALS }).unwrap();
    assert_ne!(bits(&one), bits(&other));
    // The means of two times 123 457 trials differ by 0.004 u as one standard deviation.
    assert!((one.mean - other.mean).abs() < 0.016 * one.standard_uncertainty);
}

#[test]
fn correlations_of_one_make_two_inputs_one() {
    let list = vec![
        Input::plain("a", 0.0, 1.0, f64::INFINITY),
        Input::plain("b", 0.0, 2.0, f64::INFINITY),
    ];
    let together = Inputs::new(list, &[Correlation::between("a", "b", 1.0)]).unwrap();
    let found = monte_carlo(&together, |x| 2.0 * x[0] - x[1], TRIALS).unwrap();
    assert!(found.standard_uncertainty < 1e-12, "{}", found.standard_uncertainty);
}

fn refused(trials: Trials) -> String {
    monte_carlo(&inputs(), model, trials).unwrap_err().to_string()
}

#[test]
fn what_cannot_be_tried_is_named() {
    assert_eq!(
        refused(Trials { number: 10, ..TRIALS }),
        "10 trials were asked for; from 1000 to 20000000 are possible"
    );
    assert_eq!(
        refused(Trials { coverage: Ratio::from_fraction(1.0), ..TRIALS }),
        "a coverage of 1 cannot be read from 123457 trials: at least 10 of them must lie outside"
    );
    assert!(matches!(
        monte_carlo(&inputs(), |x| if x[1] > 2.1 { f64::NAN } else { 0.0 }, TRIALS),
        Err(MonteCarloError::NoValue { without_value: 1.., .. })
    ));
    let boxes = vec![
        Input::shaped("a", 0.0, 1.0, Shape::Normal),
        Input::shaped("b", 0.0, 1.0, Shape::Rectangular),
    ];
    let boxes = Inputs::new(boxes, &[Correlation::between("a", "b", 0.5)]).unwrap();
    assert_eq!(
        monte_carlo(&boxes, |x| x[0] + x[1], TRIALS).unwrap_err().to_string(),
        "input `b` is correlated but not normal; such trials cannot be drawn"
    );
}

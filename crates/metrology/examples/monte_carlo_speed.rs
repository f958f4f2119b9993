//! Times a million Monte Carlo trials of a rise-time budget, for `benches/run montecarlo`.
//!
//! Prints one line of JSON. The numbers of the budget are made up; `benches/montecarlo/peer.py`
//! has the same.
#![expect(clippy::disallowed_methods, reason = "a measurement of speed reads the clock")]
#![expect(clippy::print_stdout, reason = "its output is its purpose")]

use metrology::uncertainty::{Correlation, Input, Inputs, Trials, TypeB, monte_carlo};
use metrology::{
    DegreesOfFreedom, Duration, Mass, Measurement, Ratio, TemperatureDifference, uncertainty,
};
use std::time::Instant;

/// The block's rise time: the time read, moved at each end by the thermocouple's error there
/// over the slope there, on the true clock, for a block of the nominal mass.
fn rise_time(x: &[f64]) -> f64 {
    let [read, error_low, error_high, slope_low, slope_high, clock, mass] = x else {
        return f64::NAN;
    };
    (read + error_low / slope_low - error_high / slope_high) * (1.0 + clock) * (0.58 / mass)
}

fn inputs() -> Result<Inputs, uncertainty::InputsError> {
    let normal = |name: &str, value: f64, uncertainty: f64| {
        let measured = Measurement {
            value: Duration::from_seconds(value),
            uncertainty: Duration::from_seconds(uncertainty),
            degrees_of_freedom: DegreesOfFreedom::Infinite,
        };
        Input::measured(name, measured)
    };
    let kelvin = TemperatureDifference::from_kelvin;
    let error = |name: &str, uncertainty: f64| {
        let known = TypeB::Expanded { expanded: kelvin(uncertainty), coverage_factor: 1.0 };
        Input::known(name, kelvin(0.0), known)
    };
    let list = vec![
        normal("time read", 23.5, 0.03),
        error("error at the bottom", 0.75),
        error("error at the top", 1.4),
        normal("slope at the bottom", 33.0, 0.4),
        normal("slope at the top", 19.0, 0.4),
        Input::known(
            "clock",
            Ratio::from_fraction(0.0),
            TypeB::Rectangular { half_width: Ratio::from_fraction(1e-4) },
        ),
        Input::known(
            "mass",
            Mass::from_grams(0.58),
            TypeB::Rectangular { half_width: Mass::from_grams(0.001) },
        ),
    ];
    Inputs::new(list, &[Correlation::between("error at the bottom", "error at the top", 0.9)])
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let inputs = inputs()?;
    let trials = Trials { number: 1_000_000, seed: 1, coverage: Ratio::from_percent(95.0) };
    monte_carlo(&inputs, rise_time, trials)?;
    let start = Instant::now();
    let found = monte_carlo(&inputs, rise_time, trials)?;
    let seconds = start.elapsed().as_secs_f64();
    println!(
        "{{\"seconds\": {seconds}, \"result\": {{\"mean\": {}, \"u\": {}, \"low\": {}, \"high\": {}}}}}",
        found.mean, found.standard_uncertainty, found.symmetric.low, found.symmetric.high
    );
    Ok(())
}

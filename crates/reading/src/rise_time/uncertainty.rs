//! What the uncertainty of a rise time is made of, line by line.

use metrology::uncertainty::{Correlation, Input, Inputs, InputsError, Shape, TypeB};
use metrology::{DegreesOfFreedom, Duration, Measurement, Ratio, TemperatureDifference};

use super::SensorUncertainty;
use crate::crossing::Crossing;

const SENSOR_AT_BOTTOM: &str = "sensor at the bottom";
const SENSOR_AT_TOP: &str = "sensor at the top";

/// The inputs of the rise time from `start` to `end`, in the order that [`rise_seconds`] takes.
pub(super) fn inputs(
    start: &Crossing,
    end: &Crossing,
    sensor: SensorUncertainty,
) -> Result<Inputs, InputsError> {
    let list = vec![
        read("bottom climbed through, by the readings", start),
        read("top climbed through, by the readings", end),
        within("bend left out at the bottom", start.from_bend),
        within("bend left out at the top", end.from_bend),
        within("last digit at the bottom", start.from_digits),
        within("last digit at the top", end.from_digits),
        stamp("time stamp at the bottom", sensor.time_step),
        stamp("time stamp at the top", sensor.time_step),
        normal(SENSOR_AT_BOTTOM, TemperatureDifference::ZERO, sensor.at_bottom),
        normal(SENSOR_AT_TOP, TemperatureDifference::ZERO, sensor.at_top),
        normal("rate of the clock", Ratio::from_fraction(1.0), sensor.clock_rate),
    ];
    let r = sensor.correlation.fraction();
    let correlation = Correlation::between(SENSOR_AT_BOTTOM, SENSOR_AT_TOP, r);
    Inputs::new(list, &[correlation])
}

/// The model: the rise time in seconds of inputs in the order of [`inputs`].
///
/// A sensor that shows too much is early at a limit: early at the bottom makes the time longer,
/// early at the top shorter.
pub(super) fn rise_seconds(start: &Crossing, end: &Crossing, input: &[f64]) -> f64 {
    let [bottom, top, shifts @ .., sensor_bottom, sensor_top, rate] = input else {
        return f64::NAN;
    };
    let mut seconds = top - bottom;
    for pair in shifts.chunks_exact(2) {
        seconds += pair[1] - pair[0];
    }
    seconds += sensor_bottom / start.slope_kelvin_per_second;
    seconds -= sensor_top / end.slope_kelvin_per_second;
    seconds * rate
}

/// The slopes of [`rise_seconds`] at the estimates.
pub(super) fn sensitivities(start: &Crossing, end: &Crossing) -> [f64; 11] {
    let (bottom, top) = (start.slope_kelvin_per_second, end.slope_kelvin_per_second);
    let seconds = (end.at - start.at).seconds();
    [-1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, 1.0 / bottom, -1.0 / top, seconds]
}

fn read(name: &str, crossing: &Crossing) -> Input {
    let measured = Measurement {
        value: crossing.at,
        uncertainty: crossing.from_scatter,
        degrees_of_freedom: crossing.scatter_degrees_of_freedom,
    };
    Input { shape: Shape::StudentT, ..Input::measured(name, measured) }
}

/// A time that is zero within a rectangle of this standard uncertainty.
fn within(name: &str, uncertainty: Duration) -> Input {
    let half_width = uncertainty * 3.0_f64.sqrt();
    Input::known(name, Duration::ZERO, TypeB::Rectangular { half_width })
}

fn stamp(name: &str, step: Duration) -> Input {
    Input::known(name, Duration::ZERO, TypeB::Resolution { step })
}

fn normal<D>(name: &str, value: D, uncertainty: D) -> Input
where
    D: metrology::Quantity<Difference = D>,
{
    let degrees_of_freedom = DegreesOfFreedom::Infinite;
    Input::measured(name, Measurement { value, uncertainty, degrees_of_freedom })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crossing::CrossingMethod;
    use metrology::Temperature;

    fn crossing(celsius: f64, second: f64, slope_kelvin_per_second: f64) -> Crossing {
        Crossing {
            limit: Temperature::from_celsius(celsius),
            at: Duration::from_seconds(second),
            slope_kelvin_per_second,
            method: CrossingMethod::LineThroughNear,
            readings: 10,
            scatter: TemperatureDifference::from_kelvin(0.5),
            scatter_degrees_of_freedom: DegreesOfFreedom::Of(20.0),
            resolution: TemperatureDifference::from_kelvin(0.1),
            from_scatter: Duration::from_seconds(0.01),
            from_bend: Duration::from_seconds(0.001),
            from_digits: Duration::from_seconds(0.002),
        }
    }

    #[test]
    fn the_sensitivities_are_the_slopes_of_the_model() {
        let (start, end) = (crossing(100.0, 5.0, 36.0), crossing(700.0, 28.5, 12.5));
        let sensor = SensorUncertainty {
            at_bottom: TemperatureDifference::from_kelvin(0.9),
            at_top: TemperatureDifference::from_kelvin(1.6),
            correlation: Ratio::from_fraction(0.7),
            clock_rate: Ratio::from_fraction(1e-4),
            time_step: Duration::from_seconds(0.01),
        };
        let inputs = inputs(&start, &end, sensor).unwrap();
        let model = inputs.budget(|input| rise_seconds(&start, &end, input)).unwrap();
        assert!((model.value - 23.5).abs() < 1e-12);
        for (line, ours) in model.lines.iter().zip(sensitivities(&start, &end)) {
            let found = line.sensitivity;
            assert!((found - ours).abs() < 1e-6 * ours.abs(), "{}: {found}", line.input.name);
        }
    }

    /// The sensor alone, by hand: √((1.6/12.5)² + (0.9/36)² − 2·0.7·(1.6/12.5)·(0.9/36)).
    #[test]
    fn errors_of_one_thermocouple_partly_cancel() {
        let (start, end) = (crossing(100.0, 5.0, 36.0), crossing(700.0, 28.5, 12.5));
        let check = |correlation, expected: f64| {
            let sensor = SensorUncertainty {
                at_bottom: TemperatureDifference::from_kelvin(0.9),
                at_top: TemperatureDifference::from_kelvin(1.6),
                correlation: Ratio::from_fraction(correlation),
                ..SensorUncertainty::NONE
            };
            let inputs = inputs(&start, &end, sensor).unwrap();
            let all = inputs.budget_of_sensitivities(23.5, &sensitivities(&start, &end)).unwrap();
            let inputs = super::inputs(&start, &end, SensorUncertainty::NONE).unwrap();
            let none = inputs.budget_of_sensitivities(23.5, &sensitivities(&start, &end)).unwrap();
            let (all, none) = (all.standard_uncertainty, none.standard_uncertainty);
            let found = (all * all - none * none).sqrt();
            assert!((found - expected).abs() < 1e-4, "{found}");
        };
        check(0.7, 0.1120);
        check(0.0, 0.1304);
        check(1.0, 0.1030);
    }
}

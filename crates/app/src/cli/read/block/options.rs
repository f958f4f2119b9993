//! What may be stated of the thermocouple, for the budget of a rise time.

use clap::Args;
use metrology::{Ratio, TemperatureDifference, ToleranceClass};
use reading::{SensorUncertainty, Window};

use crate::cli::read::SensorOptions;
use crate::problem::Problem;

/// What the thermocouple's certificate says.
#[derive(Args, Debug, Default)]
#[command(next_help_heading = "What the thermocouple's certificate says, for the budget")]
pub(crate) struct BudgetOptions {
    /// Its standard uncertainty by calibration, in K at the bottom and at the top of the window, in
    /// place of its class
    #[arg(long, num_args = 2, value_names = ["BOTTOM", "TOP"])]
    calibrated: Option<Vec<f64>>,
    /// How closely its errors at bottom and top go together, from -1 to 1 [default: 0]
    #[arg(long, value_name = "R", allow_negative_numbers = true)]
    correlation: Option<f64>,
    /// The standard uncertainty of the reference junction in K
    #[arg(long, value_name = "KELVIN")]
    junction_uncertainty: Option<f64>,
}

impl BudgetOptions {
    /// These, in the units of the options.
    pub(crate) fn of(
        calibrated: Option<(f64, f64)>,
        correlation: Option<f64>,
        junction_uncertainty: Option<f64>,
    ) -> Self {
        let calibrated = calibrated.map(|(bottom, top)| vec![bottom, top]);
        Self { calibrated, correlation, junction_uncertainty }
    }

    /// The sensor's uncertainty in a window, and what was taken where nothing was stated.
    pub(crate) fn sensor(
        &self,
        sensor: &SensorOptions,
        window: Window,
    ) -> Result<(SensorUncertainty, Option<String>), Problem> {
        let kelvin = TemperatureDifference::from_kelvin;
        let (stated, taken) = match (&self.calibrated, sensor.class()) {
            (Some(ends), _) => {
                let at = |place: usize| kelvin(ends.get(place).copied().unwrap_or(f64::NAN));
                let clock = sensor.clock();
                (SensorUncertainty { at_bottom: at(0), at_top: at(1), ..clock }, None)
            }
            (None, Some(class)) => (sensor.uncertainty(class, window)?, None),
            (None, None) => (
                sensor.uncertainty(ToleranceClass::One, window)?,
                Some("a thermocouple of class 1".to_owned()),
            ),
        };
        let correlation = Ratio::from_fraction(self.correlation.unwrap_or(0.0));
        Ok((SensorUncertainty { correlation, ..stated }, taken))
    }

    /// The standard uncertainty of the reference junction, where it is stated.
    pub(crate) fn junction(&self) -> Option<TemperatureDifference> {
        self.junction_uncertainty.map(TemperatureDifference::from_kelvin)
    }
}

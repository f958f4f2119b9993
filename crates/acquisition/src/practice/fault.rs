//! Faults of the made-up thermocouple. All numbers here are made up, each well beyond the rule by
//! which `reading::fault` finds the fault.

use metrology::{Duration, Temperature, TemperatureDifference};
use reading::MissingCause;

use crate::settings::Fault;
use crate::source::Value;

/// Shows what a thermocouple with a fault makes of the block's temperature.
#[derive(Debug)]
pub(super) struct Liar {
    fault: Option<Fault>,
    room: Temperature,
    held: Option<Temperature>,
    spikes: usize,
}

/// Seconds after the flame was put on, at which the wire opens.
const OPENS_AFTER: f64 = 8.0;

/// Seconds after the flame was put on, between which the reading stands still.
const STUCK: (f64, f64) = (6.0, 8.0);

/// Seconds after the flame was put on, at each of which one reading is far off.
const SPIKES: [f64; 5] = [4.0, 7.0, 10.0, 13.0, 16.0];

/// How far off, in kelvin.
const SPIKE_KELVIN: f64 = 60.0;

/// Celsius between which no reading comes.
const GAP: (f64, f64) = (660.0, 720.0);

/// How many times as much the readings scatter.
const SCATTER: f64 = 15.0;

/// What another type makes of a rise, and how far off it is at rest, in kelvin.
const OTHER_TYPE: (f64, f64) = (0.75, 9.0);

impl Liar {
    pub(super) const fn new(fault: Option<Fault>, room: Temperature) -> Self {
        Self { fault, room, held: None, spikes: 0 }
    }

    /// What is shown of `heated`, some time after the flame was put on; nothing where no reading
    /// comes.
    pub(super) fn show(
        &mut self,
        heated: Temperature,
        lit: Option<Duration>,
        noise: f64,
    ) -> Option<Value> {
        let kelvin = TemperatureDifference::from_kelvin;
        let rise = (heated - self.room).kelvin();
        let true_reading = heated + kelvin(noise);
        let lit = lit.map_or(-1.0, Duration::seconds);
        let spike = self.spikes_now(lit);
        let shown = match self.fault {
            None => true_reading,
            Some(Fault::OpenCircuit) if lit >= OPENS_AFTER => {
                return Some(Value::Missing(MissingCause::OpenCircuit));
            }
            Some(Fault::NoRise) => self.room + kelvin(noise),
            Some(Fault::Reversed) => self.room + kelvin(noise - rise),
            Some(Fault::WrongType) => {
                let (share, off) = OTHER_TYPE;
                self.room + kelvin(rise * share + off + noise)
            }
            Some(Fault::Stuck) if (STUCK.0..STUCK.1).contains(&lit) => {
                *self.held.get_or_insert(true_reading)
            }
            Some(Fault::Spikes) if spike => true_reading + kelvin(SPIKE_KELVIN),
            Some(Fault::Noise) => heated + kelvin(noise * SCATTER),
            Some(Fault::Gap) if (GAP.0..GAP.1).contains(&heated.celsius()) => return None,
            Some(Fault::OpenCircuit | Fault::Stuck | Fault::Spikes | Fault::Gap) => {
                self.held = None;
                true_reading
            }
        };
        Some(Value::Temperature(shown))
    }

    /// Whether the next spike is due. They begin again with each flame.
    fn spikes_now(&mut self, lit: f64) -> bool {
        if lit < SPIKES[0] {
            self.spikes = 0;
        }
        let due = SPIKES.get(self.spikes).is_some_and(|at| lit >= *at);
        self.spikes += usize::from(due);
        due
    }
}

//! How much gas a flame of a given height burns, and how long a cartridge lasts.

use metrology::{Duration, Length, Mass, Ratio, Temperature, VolumeFlow};

use super::{AroundError, Gas, Guide, within};

/// What a flame burns. Each figure may be off by [`FlameGas::within`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FlameGas {
    /// The flow of gas at the temperature of the room.
    pub flow: VolumeFlow,
    /// What burns in an hour.
    pub each_hour: Mass,
    /// The power of the flame by the lower heating value, in watts.
    pub power_watts: f64,
    /// How far each of them may be off, either way.
    pub within: Ratio,
}

/// What a cartridge has given and still has. Each figure is as uncertain as the flame's.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cartridge {
    /// Used so far.
    pub used: Mass,
    /// Left in it; nothing where more would be used than it held.
    pub left: Mass,
    /// How long that burns.
    pub lasts: Duration,
}

impl Guide {
    /// What a flame of this height burns, with gas and air at the temperature of the room.
    ///
    /// # Errors
    ///
    /// [`AroundError::Outside`] where the height, or the room, is none that the guide is for.
    ///
    /// # Source
    ///
    /// Roper 1977: the height of a laminar flame on a round tube goes with the flow alone.
    pub fn flame(
        &self,
        gas: Gas,
        height: Length,
        room: Temperature,
    ) -> Result<FlameGas, AroundError> {
        let limits = (self.lowest.value, self.highest.value);
        let millimetres = within(("the flame's height", "mm"), height.millimetres(), limits)?;
        let room = within(("the room's temperature", "°C"), room.celsius(), (-30.0, 60.0))?;
        let fuel = self.fuel(gas);
        // Cubic metres a second, then litres and moles an hour.
        let flow = millimetres / 1e3 * libm::log(1.0 + 1.0 / fuel.air.value) / self.roper.value;
        let litres = flow * 3.6e6;
        let moles = litres / self.litres_per_mole(Temperature::from_celsius(room).kelvin());
        let grams = moles * fuel.molar_mass.value;
        Ok(FlameGas {
            flow: VolumeFlow::from_millilitres_per_minute(litres * 1e3 / 60.0),
            each_hour: Mass::from_grams(grams),
            power_watts: grams / 3600.0 * fuel.heating_value.value * 1e3,
            within: Ratio::from_percent(self.within.value),
        })
    }
}

impl FlameGas {
    /// What is left of a cartridge that held `held` and has fed this flame for `burnt`.
    ///
    /// # Errors
    ///
    /// [`AroundError::Outside`] for a cartridge or a time below nothing.
    pub fn cartridge(&self, held: Mass, burnt: Duration) -> Result<Cartridge, AroundError> {
        let held = within(("what the cartridge held", "g"), held.grams(), (0.0, 100_000.0))?;
        let burnt = within(("the time it burnt", "s"), burnt.seconds(), (0.0, 1e9))?;
        let each_second = self.each_hour.grams() / 3600.0;
        let used = each_second * burnt;
        let left = (held - used).max(0.0);
        Ok(Cartridge {
            used: Mass::from_grams(used),
            left: Mass::from_grams(left),
            lasts: Duration::from_seconds(left / each_second),
        })
    }
}

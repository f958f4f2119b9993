//! What the practice bench is made of: `practice.toml`, built in.

use metrology::{Area, Duration, Mass, Ratio, Temperature, TemperatureDifference};
use reading::copper_block::{Copper, CopperBlock, Emissivity, Flame, Surroundings};
use serde::Deserialize;

/// The block, what heats it, and when.
#[derive(Clone, Debug)]
pub(super) struct Data {
    pub(super) block: CopperBlock,
    pub(super) flame: Flame,
    pub(super) surroundings: Surroundings,
    resolution: TemperatureDifference,
    first_flame: Duration,
    away_from: Temperature,
    again_below: Temperature,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(rename = "title")]
    _title: String,
    #[serde(rename = "standing")]
    _standing: String,
    block_mass: Number,
    block_area: Number,
    block_emissivity: Number,
    flame_gain: Number,
    flame_temperature: Number,
    room_temperature: Number,
    air_loss: Number,
    resolution: Number,
    first_flame: Number,
    flame_away_from: Number,
    flame_again_below: Number,
}

/// The unit is for whoever reads the file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Number {
    value: f64,
    #[serde(rename = "unit")]
    _unit: String,
}

impl Data {
    /// The bench that is built in.
    #[expect(clippy::expect_used, reason = "the file is part of the program, and tests read it")]
    pub(super) fn built_in() -> Self {
        let file: File =
            toml::from_str(include_str!("practice.toml")).expect("the practice bench is sound");
        let celsius = |number: &Number| Temperature::from_celsius(number.value);
        Self {
            block: CopperBlock {
                mass: Mass::from_grams(file.block_mass.value),
                area: Area::from_square_millimetres(file.block_area.value),
                emissivity: Emissivity::constant(Ratio::from_fraction(file.block_emissivity.value)),
                copper: Copper::built_in(),
            },
            flame: Flame {
                gain_watt_per_kelvin: file.flame_gain.value,
                temperature: celsius(&file.flame_temperature),
            },
            surroundings: Surroundings {
                temperature: celsius(&file.room_temperature),
                loss_watt_per_square_metre_kelvin: file.air_loss.value,
            },
            resolution: TemperatureDifference::from_kelvin(file.resolution.value),
            first_flame: Duration::from_seconds(file.first_flame.value),
            away_from: celsius(&file.flame_away_from),
            again_below: celsius(&file.flame_again_below),
        }
    }

    pub(super) const fn room(&self) -> Temperature {
        self.surroundings.temperature
    }

    /// What an instrument shows of `temperature`, never less than absolute zero.
    pub(super) fn shown(&self, temperature: Temperature) -> Temperature {
        let digits = (temperature.celsius() / self.resolution.kelvin()).round();
        // The nearest decimal number, as an instrument would send it.
        let shown = digits / (1.0 / self.resolution.kelvin()).round();
        let least = Temperature::from_kelvin(0.0);
        let shown = Temperature::from_celsius(shown);
        if shown < least { least } else { shown }
    }

    /// Whether the flame is on the block, when it comes and goes by itself.
    pub(super) fn by_itself(&self, time: Duration, block: Temperature, burning: bool) -> bool {
        if burning {
            block < self.away_from
        } else {
            time >= self.first_flame && block < self.again_below
        }
    }
}

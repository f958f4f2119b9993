//! Numbers that others have computed, beside the same numbers computed here and now.

use metrology::reference_cases::ReferenceCase;
use metrology::{Area, Mass, Ratio, Temperature};

use crate::by_hand;
use crate::copper_block::{Copper, CopperBlock, Emissivity, Flame, Heat, Surroundings};

const SOURCE: &str =
    "NIST-JANAF Cu-001, computed with scipy 1.17.1 (quadrature and solver agree to 1e-7)";

/// The cases of this room, computed now: the enthalpy of copper, five rise times of a block, and
/// loggers' files worked out by hand.
#[must_use]
pub fn reference_cases() -> Vec<ReferenceCase> {
    let copper = Copper::built_in();
    let constant = copper.clone().with_constant_heat_capacity(385.0);
    let window = (Temperature::from_celsius(100.0), Temperature::from_celsius(700.0));
    let flame = |gain_watt_per_kelvin, celsius| {
        let temperature = Temperature::from_celsius(celsius);
        Heat::Flame(Flame { gain_watt_per_kelvin, temperature })
    };
    let case = |name: &str, unit, ours, theirs, tolerance| ReferenceCase {
        name: name.to_owned(),
        source: SOURCE,
        unit,
        ours,
        theirs,
        tolerance,
        remark: None,
    };
    let rise = |name, copper: &Copper, heat, emissivity, theirs| {
        let block = CopperBlock {
            mass: Mass::from_grams(0.58),
            area: Area::from_square_millimetres(55.0),
            emissivity: Emissivity::constant(Ratio::from_fraction(emissivity)),
            copper: copper.clone(),
        };
        let surroundings = Surroundings {
            temperature: Temperature::from_celsius(23.0),
            loss_watt_per_square_metre_kelvin: 0.0,
        };
        let time = block.time_between(heat, surroundings, window);
        let ours = time.map_or(f64::NAN, |time| time.seconds());
        case(name, "s", ours, theirs, 5.5e-6)
    };
    let heat = copper.heat_joule(Mass::from_grams(1.0), window.0, window.1);
    let mut cases = vec![
        case("copper, enthalpy from 100 °C to 700 °C", "J/g", heat, 253.4306, 5e-5),
        rise("rise time, 6.25 W", &copper, Heat::Power { watt: 6.25 }, 0.0, 23.518_36),
        rise("rise time, 6.0 mW/K at 1500 °C", &copper, flame(6e-3, 1500.0), 0.0, 22.975_50),
        rise("rise time, 5.5 mW/K at 1600 °C", &copper, flame(5.5e-3, 1600.0), 0.0, 22.868_12),
        rise(
            "rise time, 8 mW/K at 1500 °C, radiating",
            &copper,
            flame(8e-3, 1500.0),
            0.8,
            19.657_03,
        ),
        rise("rise time, one heat capacity", &constant, flame(6e-3, 1500.0), 0.0, 20.827_03),
    ];
    cases.extend(by_hand::cases());
    cases.extend(by_hand::millivolts());
    cases
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_case_agrees() {
        let cases = reference_cases();
        assert_eq!(cases.len(), 23);
        for case in cases {
            assert!(case.agrees(), "{}: {}, {}", case.name, case.ours, case.theirs);
        }
    }
}

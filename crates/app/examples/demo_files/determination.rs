//! The loggers' files: the copper block heated by a flame, with noise, in two dialects.

use metrology::{Area, Duration, Mass, Ratio, Temperature};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use reading::copper_block::{
    Copper, CopperBlock, Curve, Emissivity, Flame, Heat, Surroundings, cooling, heating,
};

/// One heating of the block as the made-up bench saw it.
struct Made {
    name: &'static str,
    seed: u64,
    start_celsius: f64,
    gain_watt_per_kelvin: f64,
    wire: Wire,
    write: fn(&[Reading]) -> Vec<u8>,
}

/// A time in seconds, and what the logger showed, in °C.
type Reading = (f64, Option<f64>);

/// Whether the thermocouple's wire held.
enum Wire {
    Whole,
    OpenFromCelsius(f64),
}

/// Standard deviation of the noise of a reading, in kelvin.
const NOISE: f64 = 0.3;
/// The flame comes under the block this long after the logger was started, in seconds.
const FLAME_ON: f64 = 2.0;

/// The files by name.
pub(crate) fn all() -> Vec<(&'static str, Vec<u8>)> {
    let made = [
        Made {
            name: "determination-1.csv",
            seed: 1,
            start_celsius: 24.1,
            gain_watt_per_kelvin: 0.006_36,
            wire: Wire::OpenFromCelsius(412.0),
            write: points_and_commas,
        },
        Made {
            name: "determination-2.csv",
            seed: 2,
            start_celsius: 25.3,
            gain_watt_per_kelvin: 0.006_36,
            wire: Wire::Whole,
            write: points_and_commas,
        },
        Made {
            name: "determination-3.csv",
            seed: 3,
            start_celsius: 38.6,
            gain_watt_per_kelvin: 0.006_31,
            wire: Wire::Whole,
            write: points_and_commas,
        },
        Made {
            name: "determination-4.txt",
            seed: 4,
            start_celsius: 41.2,
            gain_watt_per_kelvin: 0.006_40,
            wire: Wire::Whole,
            write: semicolons_and_decimal_commas,
        },
    ];
    made.iter().map(|made| (made.name, (made.write)(&readings(made)))).collect()
}

/// Time and temperature, ten times a second; a reading of an open wire is nothing.
fn readings(made: &Made) -> Vec<Reading> {
    let block = CopperBlock {
        mass: Mass::from_grams(0.581),
        area: Area::from_square_millimetres(89.8),
        emissivity: Emissivity::constant(Ratio::from_fraction(0.25)),
        copper: Copper::built_in(),
    };
    let surroundings = Surroundings {
        temperature: Temperature::from_celsius(23.0),
        loss_watt_per_square_metre_kelvin: 0.0,
    };
    let flame = Flame {
        gain_watt_per_kelvin: made.gain_watt_per_kelvin,
        temperature: Temperature::from_celsius(1500.0),
    };
    let start = (Temperature::from_celsius(made.start_celsius), Duration::from_seconds(40.0));
    let rise = heating(&block, Heat::Flame(flame), surroundings, start);
    let removed = rise.reaches(Temperature::from_celsius(725.0)).map_or(40.0, Duration::seconds);
    let away = Surroundings { loss_watt_per_square_metre_kelvin: 25.0, ..surroundings };
    let hot = (Temperature::from_celsius(725.0), Duration::from_seconds(30.0));
    let fall = cooling(&block, away, hot);
    let mut noise = Pcg64::seed_from_u64(made.seed);
    let mut open = false;
    (0..450_u32)
        .map(|tick| {
            let at = f64::from(tick) / 10.0;
            let truth = if at < FLAME_ON {
                made.start_celsius
            } else if at - FLAME_ON < removed {
                celsius(&rise, at - FLAME_ON)
            } else {
                celsius(&fall, at - FLAME_ON - removed)
            };
            // Twelve uniform draws less six are close enough to normal for a demo.
            let draw: f64 = (0..12).map(|_| noise.random::<f64>()).sum::<f64>() - 6.0;
            if let Wire::OpenFromCelsius(limit) = made.wire {
                open |= truth > limit;
            }
            (at, (!open).then_some(truth + NOISE * draw))
        })
        .collect()
}

fn celsius(curve: &Curve, at: f64) -> f64 {
    curve.at(Duration::from_seconds(at)).map_or(23.0, Temperature::celsius)
}

/// One logger: UTF-8, commas, decimal points, a row of names and a row of units.
fn points_and_commas(readings: &[Reading]) -> Vec<u8> {
    let mut text = String::from(
        "MADE-UP: simulated for the demo of Cinderbook; nothing here was measured\n\
         Time,Block,Room\ns,°C,°C\n",
    );
    for (at, value) in readings {
        let value = value.map_or_else(|| "OL".to_owned(), |value| format!("{value:.1}"));
        text.push_str(&format!("{at:.1},{value},23.0\n"));
    }
    text.into_bytes()
}

/// The other logger: Latin-1, semicolons, decimal commas, the time of day, carriage returns.
fn semicolons_and_decimal_commas(readings: &[Reading]) -> Vec<u8> {
    let mut text = String::from(
        "MADE-UP: simulated for the demo of Cinderbook; nothing here was measured\r\n\
         Recorder 2;;\r\nBegun;2026-03-04;\r\n;;\r\nClock;Block [°C];Room [°C]\r\n",
    );
    for (at, value) in readings {
        let value = value.map_or_else(|| "OL".to_owned(), |value| format!("{value:.1}"));
        // The clock stands at 10:14:20 when the logger starts.
        let seconds = 20.0 + at;
        let minute = if seconds < 60.0 { 14 } else { 15 };
        let line = format!("10:{minute}:{:04.1};{value};23.1", seconds % 60.0);
        text.push_str(&line.replace('.', ","));
        text.push_str("\r\n");
    }
    text.chars().map(|letter| u8::try_from(u32::from(letter)).unwrap_or(b'?')).collect()
}

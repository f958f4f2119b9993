//! The made-up logger file of the manual: a program made it, and this is the program.
#![expect(clippy::disallowed_methods, reason = "writes the file anew when asked to")]

use std::fmt::Write as _;

use metrology::{Area, Duration, Mass, Ratio, Temperature};
use rand::{RngExt as _, SeedableRng as _};
use reading::copper_block::{Copper, CopperBlock, Emissivity, Flame, Heat, Surroundings, heating};

use crate::house::{root, text};

const FILE: &str = "docs/manual/made-up/logger.csv";

/// Ten readings a second of a block of 0.58 g: 5 s at rest, then a flame that takes it from 100 °C
/// to 700 °C in about 23.5 s; noise of 0.3 K, one decimal, written with decimal commas.
fn logger() -> String {
    let block = CopperBlock {
        mass: Mass::from_grams(0.58),
        area: Area::from_square_millimetres(55.0),
        emissivity: Emissivity::constant(Ratio::from_fraction(0.1)),
        copper: Copper::built_in(),
    };
    let heat = Heat::Flame(Flame {
        gain_watt_per_kelvin: 5.9e-3,
        temperature: Temperature::from_celsius(1500.0),
    });
    let rest = Temperature::from_celsius(23.4);
    let surroundings = Surroundings { temperature: rest, loss_watt_per_square_metre_kelvin: 0.0 };
    let curve = heating(&block, heat, surroundings, (rest, Duration::from_seconds(40.0)));
    let mut random = rand_pcg::Pcg64::seed_from_u64(11);
    let mut file = "# made-up: written by a program, measured by nobody\r\n\
                    Zeit [s];Block [°C];Raum [°C]\r\n"
        .to_owned();
    for row in 0..360 {
        let second = f64::from(row) / 10.0;
        let since = Duration::from_seconds(second - 5.0);
        let block = curve.at(since).filter(|_| second > 5.0).unwrap_or(rest);
        // Twelve uniform numbers make nearly a normal one.
        let noise: f64 = (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0;
        let line = format!("{second:.1};{:.1};23.4", block.celsius() + 0.3 * noise);
        let _ = write!(file, "{}\r\n", line.replace('.', ","));
    }
    file
}

#[test]
fn the_made_up_file_is_what_the_program_makes() {
    let file = logger();
    if std::env::var("TRANSCRIPTS").is_ok_and(|word| word == "write") {
        std::fs::create_dir_all(root().join(FILE).parent().unwrap()).unwrap();
        std::fs::write(root().join(FILE), &file).unwrap();
    }
    assert_eq!(text(FILE), file);
}

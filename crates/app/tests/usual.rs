//! A made-up bench with a frozen base line: twenty confirmations, each of three determinations that
//! were made with the block's equation, and their coolings.
#![expect(clippy::disallowed_methods, reason = "these tests run the program on folders")]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

use metrology::{Area, Duration, Mass, Ratio, Temperature};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use reading::copper_block::{
    Copper, CopperBlock, Emissivity, Flame, Heat, Surroundings, cooling, heating,
};

use crate::served::{Served, program};

/// One determination of the bench.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Made {
    pub(crate) seed: u64,
    /// How much heat the flame brings, of what it usually does.
    pub(crate) heat: f64,
    pub(crate) emissivity: f64,
    pub(crate) cooling_seconds: f64,
}

impl Default for Made {
    fn default() -> Self {
        Self { seed: 0, heat: 1.0, emissivity: 0.3, cooling_seconds: 120.0 }
    }
}

/// Confirmations of the base line, and determinations of each.
const CONFIRMATIONS: u64 = 20;
const EACH: u64 = 3;

/// The number of the determination that is brought in next.
pub(crate) const NEXT: u32 = 65;

impl Made {
    /// The logger's file: ten readings a second.
    pub(crate) fn file(&self) -> String {
        let mut random = Pcg64::seed_from_u64(self.seed);
        let mut normal = || (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0;
        let block = CopperBlock {
            mass: Mass::from_grams(0.58),
            area: Area::from_square_millimetres(90.0),
            emissivity: Emissivity::constant(Ratio::from_fraction(
                self.emissivity + 0.003 * normal(),
            )),
            copper: Copper::built_in(),
        };
        let room = Temperature::from_celsius(23.0);
        let loss_watt_per_square_metre_kelvin = 15.0 * (1.0 + 0.01 * normal());
        let air = Surroundings { temperature: room, loss_watt_per_square_metre_kelvin };
        let flame = Flame {
            gain_watt_per_kelvin: 7.1e-3 * self.heat * (1.0 + 0.004 * normal()),
            temperature: Temperature::from_celsius(1500.0 + 5.0 * normal()),
        };
        let start = Temperature::from_celsius(28.0 + normal());
        let (seconds, hot) = (Duration::from_seconds, Temperature::from_celsius(725.0));
        let rise = heating(&block, Heat::Flame(flame), air, (start, seconds(60.0)));
        let away = rise.reaches(hot).unwrap();
        let fall = cooling(&block, air, (hot, seconds(400.0)));
        let mut text = String::from("made-up: written by a program\nTime,Block\ns,°C\n");
        for tick in 0.. {
            let at = seconds(f64::from(tick) / 10.0);
            let lit = at - seconds(4.0);
            if lit - away > seconds(self.cooling_seconds) {
                break;
            }
            let block = if lit < Duration::ZERO {
                start
            } else if lit < away {
                rise.at(lit).unwrap()
            } else {
                fall.at(lit - away).unwrap()
            };
            let shown = block.celsius() + 0.4 * normal();
            writeln!(text, "{:.1},{shown:.1}", at.seconds()).unwrap();
        }
        text
    }
}

/// Runs a command on the book in `folder`.
pub(crate) fn command(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = program();
    command.args(["--as", "Odalys Fenn", "--book"]).arg(folder.join("book")).args(arguments);
    command.output().unwrap()
}

/// Brings determinations in, as the program would be told to.
pub(crate) fn brought(folder: &Path, made: &[Made]) -> Output {
    let mut arguments = vec!["confirm".to_owned(), "files".to_owned(), "1".to_owned()];
    for one in made {
        let path = folder.join(format!("made-{}.csv", one.seed));
        std::fs::write(&path, one.file()).unwrap();
        arguments.push(path.to_string_lossy().into_owned());
    }
    let stated = ["--height", "12 mm", "--", "--channel", "Block", "--class", "1"];
    arguments.extend(stated.map(str::to_owned));
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    command(folder, &arguments)
}

/// The demo's folder with twenty confirmations more and their base line, made once.
fn bench() -> &'static Path {
    static BENCH: OnceLock<PathBuf> = OnceLock::new();
    BENCH.get_or_init(|| {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("usual");
        std::fs::remove_dir_all(&folder).ok();
        let made = program().arg("--quiet").arg("demo").arg(&folder).output().unwrap();
        assert!(made.status.success(), "{made:?}");
        for confirmation in 0..CONFIRMATIONS {
            let seeds = (0..EACH).map(|n| 100 + EACH * confirmation + n);
            let made: Vec<Made> = seeds.map(|seed| Made { seed, ..Made::default() }).collect();
            let done = brought(&folder, &made);
            assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        }
        let done = command(&folder, &["confirm", "base-line", "--freeze", "--from", "2"]);
        assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
        folder
    })
}

/// A copy of the bench, after something was done in the folder that its book lies in.
pub(crate) fn bench_after(done: impl FnOnce(&Path)) -> Served {
    let folder = tempfile::tempdir().unwrap();
    let copied = Command::new("cp").arg("-a").arg(bench().join(".")).arg(folder.path()).output();
    assert!(copied.as_ref().unwrap().status.success(), "{copied:?}");
    done(folder.path());
    let mut served = Served::start(folder, &["--link", "Odalys Fenn"], "2026-03-06T09:00:00Z");
    served.come_in();
    served
}

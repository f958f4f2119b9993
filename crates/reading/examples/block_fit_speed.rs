//! Times the fit of three made-up determinations, for `benches/run block-fit`.
//!
//! Prints one line of JSON: the seconds of the three fits, and what they found. With the name of a
//! file it writes there, for `benches/block-fit/peer.py`, the readings that are fitted. With
//! `diagnosis` it times the whole reading and diagnosis of 2 000 determinations on all cores.
#![expect(
    clippy::disallowed_methods,
    reason = "a measurement of speed reads the clock, writes a file"
)]
#![expect(clippy::print_stdout, reason = "its output is its purpose")]

use std::fmt::Write as _;
use std::time::Instant;

use metrology::draw::Normal;
use metrology::{Area, Duration, Mass, Ratio, Temperature};
use rand::SeedableRng as _;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use reading::copper_block::{
    BaseLine, BlockFit, Copper, CopperBlock, Determination, Emissivity, Flame, Heat, Phases,
    Surroundings, cooling, diagnose, fit, heating,
};
use reading::{Point, Trace};

const ROOM: f64 = 23.0;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn block() -> CopperBlock {
    CopperBlock {
        mass: Mass::from_grams(0.58),
        area: Area::from_square_millimetres(90.0),
        emissivity: Emissivity::constant(Ratio::from_fraction(0.3)),
        copper: Copper::built_in(),
    }
}

/// Ten readings a second with 1 K of noise: 4 s at rest, heating to 725 °C, 120 s of cooling.
fn trace(gain_watt_per_kelvin: f64, seed: u64) -> Option<Trace> {
    let surroundings =
        Surroundings { temperature: celsius(ROOM), loss_watt_per_square_metre_kelvin: 15.0 };
    let flame = Heat::Flame(Flame { gain_watt_per_kelvin, temperature: celsius(1500.0) });
    let start = (celsius(26.0), Duration::from_seconds(60.0));
    let rise = heating(&block(), flame, surroundings, start);
    let away = rise.reaches(celsius(725.0))?.seconds();
    let fall = cooling(&block(), surroundings, (celsius(725.0), Duration::from_seconds(120.0)));
    let mut random = Pcg64::seed_from_u64(seed);
    let normal = Normal::default();
    let points = (0..2000_u32).map(|number| f64::from(number) / 10.0).map_while(|at| {
        let heated = at - 4.0;
        let seconds = Duration::from_seconds;
        let truth = match heated {
            _ if heated < 0.0 => Some(celsius(26.0)),
            _ if heated < away => rise.at(seconds(heated)),
            _ => fall.at(seconds(heated - away)),
        }?;
        let shown = truth.celsius() + normal.draw(&mut random);
        Some(Point { at: seconds(at), temperature: celsius(shown) })
    });
    Trace::new(points).ok()
}

/// What the peer reads: the block, then the readings of heating and of cooling.
fn written(trace: &Trace, fit: &BlockFit) -> String {
    let mut text = format!("0.58 90 {ROOM}\n");
    for cools in [false, true] {
        for residual in &fit.residuals.points {
            let reading = trace.points().find(|point| point.at == residual.at);
            if let Some(point) = reading.filter(|point| (point.at > fit.phases.flame_away) == cools)
            {
                let _ = write!(text, "{} {} ", point.at.seconds(), point.temperature.celsius());
            }
        }
        text.push('\n');
    }
    text
}

fn diagnosis() -> Result<(), Box<dyn std::error::Error>> {
    let traces: Vec<Trace> = (0..2000_u32)
        .filter_map(|n| trace(7.1e-3 * (1.0 + 1e-5 * f64::from(n)), n.into()))
        .collect();
    let read = |trace: &Trace| Determination::read(&block(), celsius(ROOM), trace);
    let accepted: Vec<Determination> =
        traces.iter().take(40).filter_map(|trace| read(trace).ok()).collect();
    let base = BaseLine::of(&accepted)?;
    let start = Instant::now();
    let found = traces
        .par_iter()
        .filter_map(|trace| diagnose(&base, &block(), &read(trace).ok()?, celsius(50.0)).ok())
        .count();
    println!("{found} determinations read and diagnosed in {:.3} s", start.elapsed().as_secs_f64());
    Ok(())
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    const ROUNDS: u32 = 100;
    let asked = std::env::args().nth(1);
    if asked.as_deref() == Some("diagnosis") {
        return diagnosis();
    }
    let mut traces = Vec::new();
    for (gain, seed) in [(6.6e-3, 1), (7.1e-3, 2), (7.6e-3, 3)] {
        let trace = trace(gain, seed).ok_or("the flame is too weak")?;
        let phases = Phases::find(&trace)?;
        traces.push((trace, phases));
    }
    let all = || -> Result<Vec<BlockFit>, _> {
        traces.iter().map(|(trace, phases)| fit(&block(), celsius(ROOM), trace, phases)).collect()
    };
    let found = all()?;
    if let Some(file) = asked {
        let texts = traces.iter().zip(&found).map(|((trace, _), fit)| written(trace, fit));
        std::fs::write(file, texts.collect::<String>())?;
        return Ok(());
    }
    let start = Instant::now();
    for _ in 0..ROUNDS {
        std::hint::black_box(all()?);
    }
    let seconds = start.elapsed().as_secs_f64() / f64::from(ROUNDS);
    let sum = |part: fn(&BlockFit) -> Option<f64>| found.iter().filter_map(part).sum::<f64>();
    println!(
        "{{\"seconds\": {seconds}, \"result\": {{\"gain\": {}, \"flame\": {}, \"loss\": {}, \
         \"emissivity\": {}}}}}",
        sum(|fit| Some(fit.flame?.gain.value.watt_per_kelvin())),
        sum(|fit| Some(fit.flame?.temperature.value.kelvin())),
        sum(|fit| Some(fit.loss.value.watt_per_square_metre_kelvin())),
        sum(|fit| Some(fit.emissivity.value.fraction())),
    );
    Ok(())
}

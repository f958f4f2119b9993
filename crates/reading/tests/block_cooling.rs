//! When the block will be cold: foretold from 20 s of cooling, held against what came.

use metrology::{
    Area, DegreesOfFreedom, Duration, HeatTransferCoefficient, Mass, Measurement, Ratio,
    Temperature, TemperatureDifference,
};
use rand::{RngExt as _, SeedableRng as _};
use rand_distr::{Distribution as _, StandardNormal};
use rand_pcg::Pcg64;
use reading::copper_block::{
    CoolingError, CoolingKnown, Copper, CopperBlock, Emissivity, Phases, Surroundings, cooling,
    cooling_time,
};

use reading::{Point, Trace};

use crate::determination::{Determination, runs};

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

fn room(value: Temperature, kelvin: f64) -> Measurement<Temperature> {
    Measurement {
        value,
        uncertainty: TemperatureDifference::from_kelvin(kelvin),
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    }
}

fn loss(value: f64, uncertainty: f64) -> Measurement<HeatTransferCoefficient> {
    let of = HeatTransferCoefficient::from_watt_per_square_metre_kelvin;
    let degrees_of_freedom = DegreesOfFreedom::Infinite;
    Measurement { value: of(value), uncertainty: of(uncertainty), degrees_of_freedom }
}

fn emissivity(value: f64, uncertainty: f64) -> Measurement<Ratio> {
    let of = Ratio::from_fraction;
    let degrees_of_freedom = DegreesOfFreedom::Infinite;
    Measurement { value: of(value), uncertainty: of(uncertainty), degrees_of_freedom }
}

/// What many foretold times came to.
#[derive(Debug)]
struct Tally {
    within_5_percent: f64,
    /// The share of 95 % intervals that hold the truth.
    covered: f64,
    worst: f64,
}

/// Until 50 °C, from a heating and the first 20 s of cooling; the truth from the course solved to
/// its end. `known` makes what is known beforehand from the true loss and emissivity and two
/// normal deviates.
fn tally(number: u64, known: impl Fn(&Determination, [f64; 2]) -> CoolingKnown) -> Tally {
    let mut random = Pcg64::seed_from_u64(51);
    let (mut near, mut covered, mut worst) = (0.0, 0.0, 0.0_f64);
    for seed in 0..number {
        let made = Determination {
            loss_watt_per_square_metre_kelvin: random.random_range(10.0..40.0),
            emissivity: random.random_range(0.1..0.8),
            gain_watt_per_kelvin: 11e-3,
            cooling_seconds: 20.0,
            ..Determination::default()
        };
        let trace = made.trace(seed);
        let phases = Phases::find(&trace).unwrap();
        let block = CopperBlock {
            emissivity: Emissivity::constant(Ratio::from_fraction(made.emissivity)),
            ..made.block(made.mass_grams)
        };
        let surroundings = Surroundings {
            temperature: made.room(),
            loss_watt_per_square_metre_kelvin: made.loss_watt_per_square_metre_kelvin,
        };
        let curve = cooling(&block, surroundings, (celsius(725.0), Duration::from_seconds(3000.0)));
        let truth = curve.reaches(celsius(50.0)).unwrap().seconds();
        let deviates = [0, 1].map(|_| StandardNormal.sample(&mut random));
        let known = known(&made, deviates);
        let room = room(made.room(), 0.0);
        let found = cooling_time(&block, room, (&trace, &phases), known, celsius(50.0)).unwrap();
        assert!((found.seen.seconds() - 20.0).abs() < 1.0);
        let off = found.after.value.seconds() - truth;
        near += f64::from(off.abs() <= 0.05 * truth);
        covered += f64::from(off.abs() <= 1.96 * found.after.uncertainty.seconds());
        worst = worst.max(off.abs() / truth);
    }
    let number = number as f64;
    Tally { within_5_percent: near / number, covered: covered / number, worst }
}

/// The bench's own determinations say what to expect: loss to 5 %, emissivity to 0.01.
#[test]
fn twenty_seconds_of_cooling_foretell_the_rest_on_a_bench_that_is_known() {
    let found = tally(runs(50), |made, [first, second]| {
        let true_loss = made.loss_watt_per_square_metre_kelvin;
        CoolingKnown {
            loss: loss(true_loss * (1.0 + 0.05 * first), true_loss * 0.05),
            emissivity: emissivity(made.emissivity + 0.01 * second, 0.01),
            model: Ratio::ZERO,
        }
    });
    println!("bench known: {found:?}");
    assert!(found.within_5_percent >= 0.95 && found.worst < 0.1, "{found:?}");
    assert!(found.covered >= 0.88, "{found:?}");
}

/// Of a block never seen before, with any surface in any air, 20 s tell less, and say so.
#[test]
fn twenty_seconds_of_cooling_say_how_unsure_they_are_of_a_block_not_seen_before() {
    // A made block cools as the model does.
    let any = CoolingKnown { model: Ratio::ZERO, ..CoolingKnown::any() };
    let found = tally(runs(50), |_, _| any);
    println!("nothing known: {found:?}");
    assert!(found.within_5_percent >= 0.70 && found.worst < 0.5, "{found:?}");
    assert!(found.covered >= 0.88, "{found:?}");
}

#[test]
fn a_room_as_warm_as_the_limit_and_too_short_a_cooling_are_said() {
    let made = Determination { cooling_seconds: 1.0, ..Determination::default() };
    let trace = made.trace(1);
    let phases = Phases::find(&trace).unwrap();
    let block = made.block(0.58);
    let ask = |celsius_of_room: f64| {
        let room = room(celsius(celsius_of_room), 0.5);
        cooling_time(&block, room, (&trace, &phases), CoolingKnown::any(), celsius(50.0))
            .unwrap_err()
    };
    let warm = ask(51.0).to_string();
    assert_eq!(warm, "the room is at 51.0 °C: the block will not get below 50.0 °C in it");
    assert_eq!(ask(23.0), CoolingError::TooFew { needed: 4 });
    assert_eq!(ask(23.0).hint(), "Wait some seconds.");
}

/// Seconds after `from` and degrees of the second column of a file of the open data.
fn column(text: &str, from: f64) -> Vec<Point> {
    let number = |cell: &str| cell.trim().parse::<f64>().ok();
    text.lines()
        .filter_map(|line| {
            let mut cells = line.split(',');
            Some((number(cells.next()?)?, number(cells.next()?)?))
        })
        .filter(|(at, _)| *at >= from)
        .map(|(at, shown)| Point {
            at: Duration::from_seconds(at - from),
            temperature: celsius(shown),
        })
        .collect()
}

/// What was foretold of a real cooling, and what came, in seconds.
#[derive(Debug)]
struct Real {
    foretold: f64,
    uncertainty: f64,
    came: f64,
}

/// A real cooling, foretold from its first seconds; the body stands for so much copper under its
/// surface.
fn real(points: &[Point], copper_millimetres: f64, seen: f64, below: f64) -> Option<Real> {
    let block = CopperBlock {
        mass: Mass::from_grams(100.0 * copper_millimetres * 8.96e-3),
        area: Area::from_square_millimetres(100.0),
        emissivity: Emissivity::constant(Ratio::from_fraction(0.5)),
        copper: Copper::built_in(),
    };
    let came = points.iter().find(|point| point.temperature < celsius(below)).unwrap().at.seconds();
    let so_far = points.iter().copied().filter(|point| point.at.seconds() <= seen);
    let trace = Trace::new(so_far).unwrap();
    let end = Duration::from_seconds(seen);
    let phases = Phases { rest: None, flame_on: Duration::ZERO, flame_away: Duration::ZERO, end };
    let room = room(celsius(23.9), 0.5);
    let known = CoolingKnown::any();
    let found = cooling_time(&block, room, (&trace, &phases), known, celsius(below)).ok()?;
    Some(Real {
        foretold: found.after.value.seconds(),
        uncertainty: found.after.uncertainty.seconds(),
        came,
    })
}

/// The plate that was heated by radiation and left to cool at 1305 s (the last reading of its
/// plateau, by eye); it is below 50 °C at 1910 s. Its thickness is not told: two guesses. Read every
/// five seconds it has three readings in the first twenty: too few.
///
/// From 40 s of cooling on what is foretold is off by 3 % to 8 %, and says ± 15 % to 45 % (two
/// standard uncertainties); from 25 s, four readings, by up to 20 %. A loss that goes with the
/// difference to the power 1.25 does worse: 14 % to 30 %. What is left goes with the plate's metal,
/// which is not copper. No other trace of the open data cools freely to 50 °C.
#[test]
fn a_real_plate_is_below_50_degrees_within_what_is_foretold() {
    let plate = column(include_str!("../../../open-data/traces/Plate_TC_25_exp.csv"), 1305.0);
    for copper_millimetres in [0.8, 1.2] {
        assert!(real(&plate, copper_millimetres, 20.0, 50.0).is_none());
        for seen in [25.0, 40.0, 60.0, 90.0, 120.0, 180.0] {
            let found = real(&plate, copper_millimetres, seen, 50.0).unwrap();
            println!("{copper_millimetres} mm, {seen} s seen: {found:?}");
            assert!((found.came - 605.0).abs() < 1e-9);
            let off = found.foretold - found.came;
            assert!(off.abs() < 2.0 * found.uncertainty, "{found:?}");
            let most = if seen < 40.0 { 0.20 } else { 0.08 };
            assert!(off.abs() < most * found.came, "{found:?}");
        }
    }
}

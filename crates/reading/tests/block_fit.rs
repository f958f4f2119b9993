//! The fit of made determinations: is it right, and as sure as it says?

use metrology::{DegreesOfFreedom, Temperature};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use reading::copper_block::{BlockFit, FitError, NotToldApart, Parameter, Phases, fit};
use reading::{Point, Trace};

use crate::determination::{Determination, runs};

fn fitted(made: &Determination, trace: &Trace) -> BlockFit {
    let phases = Phases::find(trace).unwrap();
    fit(&made.block(made.mass_grams), made.room(), trace, &phases)
        .unwrap_or_else(|error| panic!("{error}: {made:?}"))
}

/// Value and standard uncertainty of the four parameters.
fn found(fit: &BlockFit) -> [(f64, f64); 4] {
    let flame = fit.flame.unwrap();
    [
        (flame.gain.value.watt_per_kelvin(), flame.gain.uncertainty.watt_per_kelvin()),
        (flame.temperature.value.celsius(), flame.temperature.uncertainty.kelvin()),
        (
            fit.loss.value.watt_per_square_metre_kelvin(),
            fit.loss.uncertainty.watt_per_square_metre_kelvin(),
        ),
        (fit.emissivity.value.fraction(), fit.emissivity.uncertainty.fraction()),
    ]
}

fn truth(made: &Determination) -> [f64; 4] {
    [
        made.gain_watt_per_kelvin,
        made.flame_celsius,
        made.loss_watt_per_square_metre_kelvin,
        made.emissivity,
    ]
}

/// Any block and flame that laboratories may have, as far as the flame brings 1.5 times what the
/// hottest block loses.
fn any(random: &mut Pcg64) -> Determination {
    loop {
        let made = Determination {
            gain_watt_per_kelvin: random.random_range(6e-3..9e-3),
            flame_celsius: random.random_range(1300.0..1700.0),
            loss_watt_per_square_metre_kelvin: random.random_range(8.0..30.0),
            emissivity: random.random_range(0.05..0.8),
            room_celsius: random.random_range(15.0..30.0),
            mass_grams: random.random_range(0.57..0.59),
            ..Determination::default()
        };
        let made = Determination { start_celsius: made.room_celsius + 3.0, ..made };
        let hot = made.until_celsius - made.room_celsius;
        let lost = made.loss_watt_per_square_metre_kelvin * 90e-6 * hot
            + made.emissivity * 5.67e-8 * 90e-6 * 1e12;
        let given = made.gain_watt_per_kelvin * (made.flame_celsius - made.until_celsius);
        if given > 1.5 * lost {
            return made;
        }
    }
}

/// Heating and 120 s of cooling, ten readings a second, 1 K of noise.
#[test]
fn heating_and_cooling_together_give_flame_and_surface_as_surely_as_said() {
    let number = runs(60);
    let mut random = Pcg64::seed_from_u64(41);
    let (mut near, mut covered) = ([0.0; 2], [0.0; 4]);
    let mut worst_wander = 0.0_f64;
    for seed in 0..number {
        let made = any(&mut random);
        let fit = fitted(&made, &made.trace(seed));
        let truth = truth(&made);
        let off: Vec<f64> = found(&fit).iter().zip(truth).map(|((a, _), b)| a - b).collect();
        near[0] += f64::from(off[3].abs() <= 0.01);
        near[1] += f64::from(off[0].abs() <= 0.01 * truth[0]);
        for (covered, (off, (_, uncertainty))) in
            covered.iter_mut().zip(off.iter().zip(found(&fit)))
        {
            *covered += f64::from(off.abs() <= 1.96 * uncertainty);
        }
        worst_wander = worst_wander.max(fit.residuals.wander.fraction());
        assert!(fit.validity.holds && fit.validity.biot.fraction() < 1e-3, "{:?}", fit.validity);
        assert!(matches!(fit.loss.degrees_of_freedom, DegreesOfFreedom::Of(n) if n > 1000.0));
    }
    let share = |count: f64| count / number as f64;
    println!(
        "{number} runs: emissivity within 0.01 in {:.3}, gain within 1 % in {:.3}; 95 % intervals \
         of gain, flame, loss, emissivity hold the truth in {:?}; wander at most {worst_wander:.2}",
        share(near[0]),
        share(near[1]),
        covered.map(share)
    );
    assert!(near.iter().all(|count| share(*count) >= 0.95), "{near:?}");
    // With fewer runs chance alone has a wider reach: three standard deviations of the share.
    let chance = 3.0 * (0.95 * 0.05 / number as f64).sqrt();
    for share in covered.map(share) {
        assert!((0.95 - chance.max(0.05)..=(0.95 + chance).min(1.0)).contains(&share), "{share}");
    }
}

/// Without a cooling nothing but the bend of the heating tells loss from flame.
#[test]
fn heating_alone_says_what_it_cannot_tell_apart() {
    let made = Determination { cooling_seconds: 0.5, ..Determination::default() };
    let whole = fitted(&Determination::default(), &Determination::default().trace(3));
    let fit = fitted(&made, &made.trace(3));
    let told: Vec<String> = fit.not_told_apart.iter().map(ToString::to_string).collect();
    println!("{told:#?}");
    assert!(fit.correlation(Parameter::Gain, Parameter::Loss).fraction() < -0.9);
    let names = |fit: &BlockFit| -> Vec<Parameter> {
        fit.not_told_apart
            .iter()
            .filter_map(|what| match what {
                NotToldApart::Together { parameter, .. } => Some(*parameter),
                NotToldApart::NotSeen { .. } => None,
            })
            .collect()
    };
    assert!(names(&fit).contains(&Parameter::Gain), "{told:?}");
    assert!(fit.not_told_apart.contains(&NotToldApart::NotSeen { parameter: Parameter::Loss }));
    assert!(!names(&whole).contains(&Parameter::Emissivity), "{:?}", whole.not_told_apart);
    for ((alone, unsure_alone), (both, unsure_both)) in found(&fit).iter().zip(found(&whole)) {
        assert!(*unsure_alone > 2.0 * unsure_both, "{unsure_alone} {unsure_both}");
        assert!((alone - both).abs() < 3.0 * (unsure_alone + unsure_both), "{alone} {both}");
    }
}

#[test]
fn cooling_alone_tells_loss_and_emissivity_and_no_flame() {
    let made = Determination::default();
    let trace = made.trace(4);
    let peak = Phases::find(&trace).unwrap().flame_away;
    let after = trace.points().filter(|point| point.at > peak);
    let cooling = Trace::new(after).unwrap();
    let phases = Phases {
        rest: None,
        flame_on: peak,
        flame_away: peak,
        end: trace.points().last().unwrap().at,
    };
    let fit = fit(&made.block(0.58), made.room(), &cooling, &phases).unwrap();
    assert!(fit.flame.is_none());
    assert!(
        (fit.emissivity.value.fraction() - 0.3).abs() < 4.0 * fit.emissivity.uncertainty.fraction()
    );
    assert!(fit.not_told_apart.contains(&NotToldApart::NotSeen { parameter: Parameter::Gain }));
}

/// Spikes of any size: a few readings do not pull the fit.
#[test]
fn a_few_wild_readings_do_not_matter() {
    let made = Determination::default();
    let clean = made.trace(5);
    let plain = fitted(&made, &clean);
    let spiked = clean.points().enumerate().map(|(number, point)| {
        let wild = if number % 97 == 60 { 400.0 } else { 0.0 };
        let celsius = point.temperature.celsius() + wild;
        Point { temperature: Temperature::from_celsius(celsius), ..point }
    });
    let fit = fitted(&made, &Trace::new(spiked).unwrap());
    for ((with, _), (without, unsure)) in found(&fit).into_iter().zip(found(&plain)) {
        assert!((with - without).abs() < unsure, "{with} {without} {unsure}");
    }
    assert!(fit.residuals.wild.number() >= 10);
}

/// A steady draught is a greater loss; gusts make the residuals wander, and the fit less sure.
#[test]
fn gusts_make_the_residuals_wander() {
    let made = Determination { gusts: 0.4, ..Determination::default() };
    let fit = fitted(&made, &made.trace(6));
    assert!(fit.residuals.wander.fraction() > 3.0, "{:?}", fit.residuals.wander);
    let calm = fitted(&Determination::default(), &Determination::default().trace(6));
    assert!(fit.loss.uncertainty > calm.loss.uncertainty * 2.0);
}

#[test]
fn slow_loggers_and_whole_degrees_are_fitted_too() {
    let slow =
        Determination { readings_per_second: 1.0, noise_kelvin: 0.3, ..Determination::default() };
    let rounded = slow
        .trace(7)
        .points()
        .map(|point| Point {
            temperature: Temperature::from_celsius(point.temperature.celsius().round()),
            ..point
        })
        .collect::<Vec<_>>();
    let fit = fitted(&slow, &Trace::new(rounded).unwrap());
    for ((value, unsure), truth) in found(&fit).into_iter().zip(truth(&slow)) {
        assert!((value - truth).abs() < 4.0 * unsure, "{value} {unsure} {truth}");
    }
}

#[test]
fn what_cannot_be_fitted_is_said_with_a_way_out() {
    let made = Determination::default();
    let trace = made.trace(8);
    let phases = Phases::find(&trace).unwrap();
    let nothing = fit(&made.block(0.0), made.room(), &trace, &phases).unwrap_err();
    assert_eq!(
        nothing.to_string(),
        "a block of 0 g and 90 mm² cannot be; both must be more than 0"
    );
    let short = Phases { flame_on: phases.flame_away, end: phases.flame_away, ..phases };
    let few = fit(&made.block(0.58), made.room(), &trace, &short).unwrap_err();
    assert_eq!(few, FitError::TooFew { found: 0, needed: 8 });
    assert!(few.hint().starts_with("Record"));
    let rest = Trace::new(trace.points().take(20)).unwrap();
    let still = Phases::find(&rest).unwrap_err();
    assert!(still.to_string().starts_with("the trace climbs by "), "{still}");
}

/// The moments of the flame, found from the trace alone.
#[test]
fn the_moments_of_the_flame_are_found() {
    let made = Determination::default();
    for seed in 0..20 {
        let phases = Phases::find(&made.trace(seed)).unwrap();
        assert!((phases.flame_on.seconds() - made.rest_seconds).abs() < 0.15, "{phases:?}");
        let rest = phases.rest.unwrap().temperature.celsius();
        assert!((rest - made.start_celsius).abs() < 1.5, "{phases:?}");
        assert!(phases.end - phases.flame_away > metrology::Duration::from_seconds(115.0));
    }
}

//! The copper block's equation and its fit against scipy, run here and now.

use metrology::{Area, Duration, Mass, Ratio, Temperature};
use reading::copper_block::{
    Copper, CopperBlock, Emissivity, Flame, Heat, Parameter, Phases, Surroundings, fit, heating,
};

use crate::determination::Determination;
use crate::python;

/// Grams, mm², emissivity at 500 °C, its relative change with each kelvin, gain W/K, flame °C, room
/// °C, loss W/(m² K), start °C: every pair of these, heated and cooling.
fn grid() -> Vec<[f64; 9]> {
    let mut grid = Vec::new();
    for (grams, area) in [(0.57, 89.8), (1.76, 160.0)] {
        for (emissivity, change) in [(0.0, 0.0), (0.8, 0.0), (0.3, 5e-4)] {
            for loss in [0.0, 20.0] {
                let gain = grams * 13.5e-3;
                grid.push([grams, area, emissivity, change, gain, 1450.0, 18.0, loss, 18.0]);
                if loss > 0.0 {
                    grid.push([grams, area, emissivity, change, 0.0, 0.0, 27.0, loss, 725.0]);
                }
            }
        }
    }
    grid
}

fn line(numbers: &[f64]) -> String {
    numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

fn numbers(line: &str) -> Vec<f64> {
    line.split(' ').map(|number| number.parse().unwrap()).collect()
}

#[test]
fn scipy_solves_the_copper_block_alike() {
    let grid = grid();
    let times = |gain: f64| -> Vec<f64> {
        let step = if gain > 0.0 { 0.5 } else { 7.0 };
        (1..=100).map(|number| f64::from(number) * step).collect()
    };
    let asked: Vec<String> =
        grid.iter().map(|block| line(&[&block[..], &times(block[4])].concat())).collect();
    let answer = python::run("copper_block.py", &asked.join("\n"));
    let answers: Vec<Vec<f64>> = answer.lines().map(numbers).collect();
    assert_eq!(answers.len(), grid.len());
    let (mut worst_time, mut worst_kelvin) = (0.0_f64, 0.0_f64);
    for (values, theirs) in grid.into_iter().zip(&answers) {
        let [grams, area, emissivity, change, gain, flame, room, loss, start] = values;
        let block = CopperBlock {
            mass: Mass::from_grams(grams),
            area: Area::from_square_millimetres(area),
            emissivity: Emissivity {
                value: Ratio::from_fraction(emissivity),
                at: Temperature::from_celsius(500.0),
                relative_change_per_kelvin: change,
            },
            copper: Copper::built_in(),
        };
        let temperature = Temperature::from_celsius(flame);
        let flame = Heat::Flame(Flame { gain_watt_per_kelvin: gain, temperature });
        let heat = if gain > 0.0 { flame } else { Heat::None };
        let surroundings = Surroundings {
            temperature: Temperature::from_celsius(room),
            loss_watt_per_square_metre_kelvin: loss,
        };
        let ends = [100.0, 700.0].map(Temperature::from_celsius);
        let window = if gain > 0.0 { (ends[0], ends[1]) } else { (ends[1], ends[0]) };
        let time = block.time_between(heat, surroundings, window).unwrap().seconds();
        let lasting = Duration::from_seconds(701.0);
        let curve =
            heating(&block, heat, surroundings, (Temperature::from_celsius(start), lasting));
        let [low, high] = ends.map(|end| curve.reaches(end).unwrap().seconds());
        for found in [time - theirs[0], time - theirs[1], (high - low).abs() - theirs[0]] {
            worst_time = worst_time.max(found.abs());
        }
        assert_eq!(theirs.len(), 102);
        for (time, celsius) in times(gain).into_iter().zip(&theirs[2..]) {
            // Our course ends where copper's table does; theirs goes on.
            let Some(ours) = curve.at(Duration::from_seconds(time)) else { continue };
            worst_kelvin = worst_kelvin.max((ours.celsius() - celsius).abs());
        }
    }
    println!("worst {worst_time:.1e} s, {worst_kelvin:.1e} K");
    assert!(worst_time < 1e-6, "{worst_time}");
    assert!(worst_kelvin < 1e-5, "{worst_kelvin}");
}

/// The same readings, model and loss function: the same answer, and the same covariance.
#[test]
fn scipy_least_squares_finds_the_same_flame_and_surface() {
    let made = Determination { readings_per_second: 4.0, ..Determination::default() };
    let trace = made.trace(21);
    let phases = Phases::find(&trace).unwrap();
    let ours = fit(&made.block(made.mass_grams), made.room(), &trace, &phases).unwrap();
    let celsius =
        |at: Duration| trace.points().find(|point| point.at == at).unwrap().temperature.celsius();
    let part = |cooling: bool| -> Vec<f64> {
        let points = ours.residuals.points.iter();
        points
            .filter(|point| (point.at > phases.flame_away) == cooling)
            .flat_map(|point| [point.at.seconds(), celsius(point.at)])
            .collect()
    };
    let known = [made.mass_grams, made.area_square_millimetres, made.room_celsius];
    let asked = [line(&known), line(&part(false)), line(&part(true))].join("\n");
    let answer = python::run("block_fit.py", &asked);
    let answers: Vec<Vec<f64>> = answer.lines().map(numbers).collect();
    let flame = ours.flame.unwrap();
    let values = [
        flame.gain.value.watt_per_kelvin(),
        flame.temperature.value.kelvin(),
        ours.loss.value.watt_per_square_metre_kelvin(),
        ours.emissivity.value.fraction(),
    ];
    for (n, parameter) in Parameter::ALL.into_iter().enumerate() {
        let unsure = ours.covariance(parameter, parameter).sqrt();
        println!("{parameter:?}: {} {} ± {unsure}", values[n], answers[0][n]);
        // Their derivatives are differences: a twentieth of what noise does is alike enough.
        assert!((values[n] - answers[0][n]).abs() < 0.05 * unsure, "{parameter:?}");
        assert!((unsure / answers[1][n] - 1.0).abs() < 0.06, "{parameter:?}: {unsure}");
    }
}

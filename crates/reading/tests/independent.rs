//! The copper block's equation against scipy's solver and its quadrature, run here and now.

use metrology::{Duration, Mass, Ratio, Temperature};
use reading::copper_block::{Copper, CopperBlock, Flame, Heat, Surroundings, heating};

use crate::python;

/// Grams, mm², emissivity, gain W/K, flame °C, room °C, loss W/(m² K).
const BLOCKS: [[f64; 7]; 5] = [
    [0.58, 55.0, 0.0, 6e-3, 1500.0, 23.0, 0.0],
    [0.58, 55.0, 0.0, 5.5e-3, 1600.0, 23.0, 0.0],
    [0.58, 55.0, 0.8, 8e-3, 1500.0, 23.0, 0.0],
    [0.57, 89.8, 0.3, 7.2e-3, 1450.0, 18.0, 12.0],
    [1.76, 160.0, 0.15, 13e-3, 1350.0, 27.0, 20.0],
];

#[test]
fn scipy_solves_the_copper_block_alike() {
    let times: Vec<f64> = (1..=120).map(|number| f64::from(number) * 0.5).collect();
    let line =
        |numbers: &[f64]| numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
    let asked: Vec<String> =
        BLOCKS.iter().map(|block| line(&[&block[..], &times[..]].concat())).collect();
    let answer = python::run("copper_block.py", &asked.join("\n"));
    let answers: Vec<Vec<f64>> = answer
        .lines()
        .map(|line| line.split(' ').map(|number| number.parse().unwrap()).collect())
        .collect();
    assert_eq!(answers.len(), BLOCKS.len());
    let (mut worst_time, mut worst_kelvin) = (0.0_f64, 0.0_f64);
    for ([grams, area, emissivity, gain, flame, room, loss], theirs) in
        BLOCKS.into_iter().zip(&answers)
    {
        let block = CopperBlock {
            mass: Mass::from_grams(grams),
            area_square_millimetres: area,
            emissivity: Ratio::from_fraction(emissivity),
            copper: Copper::built_in(),
        };
        let temperature = Temperature::from_celsius(flame);
        let heat = Heat::Flame(Flame { gain_watt_per_kelvin: gain, temperature });
        let room = Temperature::from_celsius(room);
        let surroundings =
            Surroundings { temperature: room, loss_watt_per_square_metre_kelvin: loss };
        let window = (Temperature::from_celsius(100.0), Temperature::from_celsius(700.0));
        let rise = block.time_between(heat, surroundings, window).unwrap().seconds();
        let curve = heating(&block, heat, surroundings, (room, Duration::from_seconds(61.0)));
        let in_time =
            (curve.reaches(window.1).unwrap() - curve.reaches(window.0).unwrap()).seconds();
        for found in [rise - theirs[0], rise - theirs[1], in_time - theirs[0]] {
            worst_time = worst_time.max(found.abs());
        }
        assert_eq!(theirs.len(), times.len() + 2);
        for (time, celsius) in times.iter().zip(&theirs[2..]) {
            // Our course ends where copper's table does; theirs goes on.
            let Some(ours) = curve.at(Duration::from_seconds(*time)) else { continue };
            worst_kelvin = worst_kelvin.max((ours.celsius() - celsius).abs());
        }
    }
    println!("worst {worst_time:.1e} s, {worst_kelvin:.1e} K");
    assert!(worst_time < 1e-6, "{worst_time}");
    assert!(worst_kelvin < 1e-5, "{worst_kelvin}");
}

//! The block's equation against numbers of other programs and of other methods.

use metrology::{Area, Duration, Mass, Temperature};
use reading::copper_block::{Copper, Flame, Heat, cooling};

use crate::made::settings;

fn celsius(value: f64) -> Temperature {
    Temperature::from_celsius(value)
}

/// Computed with scipy 1.17.1 by cubic Hermite interpolation of NIST-JANAF Cu-001: 253.4306 J/g.
#[test]
fn scipy_enthalpy_of_copper_from_100_to_700_degrees() {
    let found =
        Copper::built_in().heat_joule(Mass::from_grams(1.0), celsius(100.0), celsius(700.0));
    assert!((found - 253.4306).abs() < 5e-5, "{found}");
}

/// NIST-JANAF Cu-001, heat capacities at the rows of the table, in J/(mol K); 63.546 g/mol.
#[test]
fn janaf_cu_001_heat_capacity_at_the_rows() {
    let copper = Copper::built_in();
    for (kelvin, molar) in [(298.15, 24.442), (400.0, 25.318), (700.0, 26.996), (1000.0, 28.662)] {
        let found = copper
            .heat_capacity_joule_per_kilogram_kelvin(Temperature::from_kelvin(kelvin))
            * 63.546e-3;
        assert!((found - molar).abs() < 1e-9, "{kelvin} K: {found}");
    }
}

/// The table in the rules is the one of the NIST file kept beside the repository's open data.
#[test]
fn janaf_cu_001_is_copied_without_a_slip() {
    let copper = Copper::built_in();
    let table = include_str!("../../../open-data/tables/JANAF_Cu-001.txt");
    let mut seen = 0;
    for line in table.lines() {
        let cells: Vec<f64> = line.split('\t').filter_map(|cell| cell.parse().ok()).collect();
        let [kelvin, molar, _, _, enthalpy, ..] = cells[..] else { continue };
        if !(200.0..1358.0).contains(&kelvin) {
            continue;
        }
        seen += 1;
        let at = Temperature::from_kelvin(kelvin);
        let from = Temperature::from_kelvin(298.15);
        let found = copper.heat_capacity_joule_per_kilogram_kelvin(at) * 63.546e-3;
        assert!((found - molar).abs() < 1e-9, "{kelvin} K: {found}, {molar}");
        let found = copper.heat_joule(Mass::from_grams(63.546), from, at) / 1000.0;
        assert!((found - enthalpy).abs() < 1e-9, "{kelvin} K: {found}, {enthalpy}");
    }
    assert_eq!(seen, 13);
}

/// Five rise times computed with scipy 1.17.1, printed with five decimals; both of our ways, the
/// quadrature over temperature and the solution in time, meet them and each other.
#[test]
fn scipy_five_rise_times() {
    for setting in settings() {
        let window = (celsius(100.0), celsius(700.0));
        let by_quadrature = setting
            .block
            .time_between(setting.heat, setting.surroundings, window)
            .unwrap()
            .seconds();
        let in_time = setting.rise_seconds(&setting.curve());
        println!("{}: {by_quadrature:.7} s, {in_time:.7} s", setting.name);
        assert!((by_quadrature - setting.rise_seconds).abs() < 6e-6, "{}", setting.name);
        assert!((by_quadrature - in_time).abs() < 1e-7, "{}: {in_time}", setting.name);
    }
}

/// With one heat capacity and no radiation the rise is a logarithm:
/// m·cp/gain times the logarithm of (1500 − 100)/(1500 − 700).
#[test]
fn analytic_rise_time_with_one_heat_capacity() {
    let setting = settings().pop().unwrap();
    let exact = 0.58e-3 * 385.0 / 6e-3 * libm::log(1400.0 / 800.0);
    let found = setting.rise_seconds(&setting.curve());
    assert!((found - exact).abs() < 1e-7, "{found}, {exact}");
}

#[test]
fn a_flame_too_cold_never_gets_the_block_there() {
    let setting = settings().swap_remove(1);
    let cold = Heat::Flame(Flame { gain_watt_per_kelvin: 6e-3, temperature: celsius(650.0) });
    let window = (celsius(100.0), celsius(700.0));
    assert!(setting.block.time_between(cold, setting.surroundings, window).is_none());
    assert!(setting.block.time_between(Heat::None, setting.surroundings, window).is_none());
}

/// Estimated elsewhere: natural cooling from 700 °C to 50 °C takes about 160 s to 430 s with 15 to
/// 40 W/(m² K) and emissivities of 0.3 to 0.8. A block 4 mm across and 5.15 mm long, with 89.8 mm² of
/// outer face, is meant there.
#[test]
fn cooling_takes_as_long_as_estimated() {
    let mut setting = settings().swap_remove(3);
    setting.block.area = Area::from_square_millimetres(89.8);
    setting.surroundings.loss_watt_per_square_metre_kelvin = 25.0;
    let lasting = Duration::from_seconds(600.0);
    let curve = cooling(&setting.block, setting.surroundings, (celsius(700.0), lasting));
    let found = curve.reaches(celsius(50.0)).unwrap();
    let ends = (celsius(700.0), celsius(50.0));
    let by_quadrature = setting.block.time_between(Heat::None, setting.surroundings, ends).unwrap();
    assert!((found - by_quadrature).abs() < Duration::from_seconds(1e-6));
    assert!((160.0..430.0).contains(&found.seconds()), "{found}");
}

#[test]
fn a_course_ends_where_the_table_of_copper_does() {
    let setting = settings().swap_remove(0);
    let lasting = Duration::from_seconds(1000.0);
    let start = (celsius(23.0), lasting);
    let curve =
        reading::copper_block::heating(&setting.block, setting.heat, setting.surroundings, start);
    assert!(curve.lasts() < Duration::from_seconds(60.0));
    assert!(curve.at(curve.lasts()).unwrap() < celsius(1085.0));
    assert!(curve.at(Duration::from_seconds(-1e-3)).is_none());
    assert!(curve.at(lasting).is_none());
    assert!(curve.reaches(celsius(1100.0)).is_none());
}

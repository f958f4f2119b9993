//! Around the flame: against the figures that were derived apart, and against a printed table.

use metrology::{Duration, Length, Mass, Ratio, Temperature};
use trial::around::{Chamber, Gas, Guide, GuideError, Smoke};

fn guide() -> &'static Guide {
    Guide::built_in().unwrap()
}

const ROOM: Temperature = Temperature::from_celsius(25.0);

/// Flow, power and mass for 11, 12 and 13 mm, derived apart from Roper's working form (rounded as
/// they were noted down; the inputs from memory).
#[test]
fn roper_flow_power_and_mass_of_a_needle_flame() {
    let cases = [
        (Gas::Propane, [20.4, 22.3, 24.1], [28.0, 31.0, 34.0], 2.4),
        (Gas::Butane, [15.8, 17.2, 18.7], [29.0, 31.0, 34.0], 2.5),
    ];
    for (gas, flows, powers, grams) in cases {
        for ((height, flow), power) in [11.0, 12.0, 13.0].into_iter().zip(flows).zip(powers) {
            let flame = guide().flame(gas, Length::from_millimetres(height), ROOM).unwrap();
            let found = flame.flow.millilitres_per_minute();
            assert!((found - flow).abs() <= 0.06, "{gas} at {height} mm: {found} ml/min");
            assert!((flame.power_watts - power).abs() <= 0.6, "{gas} at {height} mm: {flame:?}");
            assert!((flame.within.percent() - 10.0).abs() < 1e-12);
        }
        let flame = guide().flame(gas, Length::from_millimetres(12.0), ROOM).unwrap();
        assert!((flame.each_hour.grams() - grams).abs() <= 0.05, "{gas}: {flame:?}");
    }
}

/// A maritime test code: 45 ml/min of butane at 25 °C for 35 mm. The form is off by about a tenth,
/// as it is said to be.
#[test]
fn a_stated_flame_of_butane_lies_about_a_tenth_off() {
    let flame = guide().flame(Gas::Butane, Length::from_millimetres(35.0), ROOM).unwrap();
    let off = flame.flow.millilitres_per_minute() / 45.0 - 1.0;
    assert!((0.08..=0.13).contains(&off), "{off}");
}

/// CDC-MMWR-1994, table S3-1 (seen): minutes to remove 90 %, 99 % and 99.9 % at so many air changes
/// an hour, with perfect mixing.
#[test]
fn cdc_mmwr_1994_table_s3_1_times_of_purging() {
    let table = [
        (1.0, [138.0, 276.0, 414.0]),
        (2.0, [69.0, 138.0, 207.0]),
        (4.0, [35.0, 69.0, 104.0]),
        (6.0, [23.0, 46.0, 69.0]),
        (8.0, [17.0, 35.0, 52.0]),
        (10.0, [14.0, 28.0, 41.0]),
        (12.0, [12.0, 23.0, 35.0]),
        (15.0, [9.0, 18.0, 28.0]),
        (20.0, [7.0, 14.0, 21.0]),
        (50.0, [3.0, 6.0, 8.0]),
    ];
    for (changes, minutes) in table {
        let chamber = Chamber { cubic_metres: 1.0, cubic_metres_each_hour: changes, mixing: 1.0 };
        for (left, printed) in [10.0, 1.0, 0.1].into_iter().zip(minutes) {
            let time = guide().purge(chamber, Ratio::from_percent(left)).unwrap();
            let found = time.seconds() / 60.0;
            assert!((found - printed).abs() <= 0.51, "{changes} changes, {left} %: {found} min");
        }
    }
}

/// Derived apart: 0.5 m³ at 100 m³/h loses 99 % in 83 s, with a mixing factor of 3 in 249 s.
#[test]
fn a_chamber_is_purged_longer_where_its_air_mixes_badly() {
    let purge = |mixing| {
        let chamber = Chamber { cubic_metres: 0.5, cubic_metres_each_hour: 100.0, mixing };
        guide().purge(chamber, Ratio::from_percent(1.0)).map(|time| format!("{time:.0}"))
    };
    assert_eq!(purge(1.0).unwrap(), "83 s");
    assert_eq!(purge(3.0).unwrap(), "249 s");
    let refused = purge(0.5).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "the allowance for mixing is 0.5 times; the guide holds from 1 times to 10 times"
    );
}

/// Derived apart: one gram in a closed 0.5 m³ gives at most about 27 ppm of hydrogen
/// cyanide, 780 ppm of hydrogen chloride and 175 ppm of carbon monoxide.
#[test]
fn one_gram_in_a_closed_chamber_gives_so_much() {
    let smoke = |material| {
        let burnt = Mass::from_grams(1.0);
        let smoke = Smoke { material, burnt, cubic_metres: 0.5 };
        let gases = guide().smoke(smoke).unwrap().into_iter();
        gases.map(|it| format!("{} {:.0}", it.gas, it.most_ppm)).collect::<Vec<_>>().join(", ")
    };
    assert_eq!(smoke("plasticised PVC"), "carbon monoxide 175, hydrogen chloride 782");
    assert_eq!(smoke("terminal block, PA66-GF30"), "carbon monoxide 175, hydrogen cyanide 27");
    let worst = "carbon monoxide 175, hydrogen chloride 782, hydrogen cyanide 27";
    assert_eq!(smoke("blue stuff"), worst, "what is not known is expected to give the worst");
    assert!(!guide().knows("absent-minded purchase of paper"), "words, not parts of words");
    assert!(guide().knows("ABS, black") && guide().knows("PUR foam"));
}

#[test]
fn a_cartridge_is_counted_down() {
    let flame = guide().flame(Gas::Butane, Length::from_millimetres(12.0), ROOM).unwrap();
    let hour = Duration::from_seconds(3600.0);
    let cartridge = flame.cartridge(Mass::from_grams(100.0), hour * 10.0).unwrap();
    assert!((cartridge.used.grams() - 10.0 * flame.each_hour.grams()).abs() < 1e-9);
    assert!((cartridge.left.grams() + cartridge.used.grams() - 100.0).abs() < 1e-9);
    assert!((cartridge.lasts.seconds() / 3600.0 - 30.7).abs() < 0.3, "{cartridge:?}");
    let empty = flame.cartridge(Mass::from_grams(1.0), hour * 10.0).unwrap();
    assert_eq!((empty.left.grams(), empty.lasts.seconds()), (0.0, 0.0));
    assert!(flame.cartridge(Mass::from_grams(-1.0), hour).is_err());
}

#[test]
fn a_height_or_a_guide_that_is_none_is_refused() {
    let refused = guide().flame(Gas::Butane, Length::from_millimetres(200.0), ROOM).unwrap_err();
    assert_eq!(
        refused.to_string(),
        "the flame's height is 200 mm; the guide holds from 5 mm to 60 mm"
    );
    assert!(guide().flame(Gas::Butane, Length::from_millimetres(f64::NAN), ROOM).is_err());
    let text = include_str!("../../../standards/guides/around-the-flame.toml");
    let unit = Guide::from_toml(&text.replace("\"s/m²\"", "\"s/cm²\"")).unwrap_err();
    assert!(matches!(unit, GuideError::Unit { name: "roper", .. }), "{unit}");
    let size = Guide::from_toml(&text.replace("value = 30.9", "value = 0")).unwrap_err();
    assert_eq!(size.to_string(), "`air` of the guide is 0; it must be more than 0");
    assert!(matches!(Guide::from_toml("title = 1"), Err(GuideError::Form(_))));
}

//! Straight lines: the calibration of a thermometer (GUM H.3), and NIST's certified fit.

use super::{Group, ReferenceCase};
use crate::fit::{LinePoint, Weighting, fit_line};

pub(super) fn cases() -> Vec<ReferenceCase> {
    let mut cases = thermometer();
    cases.extend(ozone_monitors());
    cases
}

/// Correction against reading less 20 °C.
const THERMOMETER: [(f64, f64); 11] = [
    (21.521, -0.171),
    (22.012, -0.169),
    (22.512, -0.166),
    (23.003, -0.159),
    (23.507, -0.164),
    (23.999, -0.165),
    (24.513, -0.156),
    (25.002, -0.157),
    (25.503, -0.159),
    (26.010, -0.161),
    (26.511, -0.160),
];

fn thermometer() -> Vec<ReferenceCase> {
    let celsius = Group { source: "GUM H.3, as worked in the manual of GTC", unit: "°C" };
    let pure = Group { unit: "1", ..celsius };
    let points = THERMOMETER.map(|(reading, y)| LinePoint { x: reading - 20.0, y });
    let Ok(line) = fit_line(&points, Weighting::Equal) else {
        return vec![celsius.case("thermometer: correction at 20 °C", f64::NAN, -0.1712, 0.0)];
    };
    let (at_30, at_30_uncertainty) = line.at(10.0);
    vec![
        celsius.case("thermometer: correction at 20 °C", line.intercept, -0.1712, 0.000_05),
        celsius.case("thermometer: u at 20 °C", line.intercept_uncertainty, 0.0029, 0.000_05),
        pure.case("thermometer: slope", line.slope, 0.002_18, 0.000_005),
        pure.case("thermometer: u of slope", line.slope_uncertainty, 0.000_67, 0.000_005),
        pure.case("thermometer: r of the two", line.correlation, -0.930, 0.0005),
        celsius.case("thermometer: correction at 30 °C", at_30, -0.1494, 0.000_05),
        celsius.case("thermometer: u at 30 °C", at_30_uncertainty, 0.0041, 0.000_05),
    ]
}

/// Customer's reading against NIST's, of ozone monitors: (y, x) of the data set "Norris".
const OZONE_MONITORS: [(f64, f64); 36] = [
    (0.1, 0.2),
    (338.8, 337.4),
    (118.1, 118.2),
    (888.0, 884.6),
    (9.2, 10.1),
    (228.1, 226.5),
    (668.5, 666.3),
    (998.5, 996.3),
    (449.1, 448.6),
    (778.9, 777.0),
    (559.2, 558.2),
    (0.3, 0.4),
    (0.1, 0.6),
    (778.1, 775.5),
    (668.8, 666.9),
    (339.3, 338.0),
    (448.9, 447.5),
    (10.8, 11.6),
    (557.7, 556.0),
    (228.3, 228.1),
    (998.0, 995.8),
    (888.8, 887.6),
    (119.6, 120.2),
    (0.3, 0.3),
    (0.6, 0.3),
    (557.6, 556.8),
    (339.3, 339.1),
    (888.0, 887.2),
    (998.5, 999.0),
    (778.9, 779.0),
    (10.2, 11.1),
    (117.6, 118.3),
    (228.9, 229.2),
    (668.4, 669.1),
    (449.2, 448.9),
    (0.2, 0.5),
];

fn ozone_monitors() -> Vec<ReferenceCase> {
    let certified = Group { source: "NIST StRD, linear regression, data set Norris", unit: "1" };
    let points = OZONE_MONITORS.map(|(y, x)| LinePoint { x, y });
    let Ok(line) = fit_line(&points, Weighting::Equal) else {
        return vec![certified.case("Norris: intercept", f64::NAN, -0.262_323_073_774_029, 0.0)];
    };
    // Twelve digits of the fifteen certified.
    let close = |name: &str, ours: f64, theirs: f64| {
        certified.case(name, ours, theirs, 1e-12 * theirs.abs())
    };
    vec![
        close("Norris: intercept", line.intercept, -0.262_323_073_774_029),
        close("Norris: slope", line.slope, 1.002_116_818_020_45),
        close("Norris: u of intercept", line.intercept_uncertainty, 0.232_818_234_301_152),
        close("Norris: u of slope", line.slope_uncertainty, 0.429_796_848_199_937e-3),
        close("Norris: residual deviation", line.residual_deviation, 0.884_796_396_144_373),
    ]
}

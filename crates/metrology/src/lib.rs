//! Numbers that carry their meaning: quantities, measured values, decisions.
//!
//! This room is pure: values in, values out. It reads no clock and no file, and every function
//! gives the same bits on every machine (transcendental functions come from `libm`).

pub mod quantity;
pub mod measurement;
pub mod thermocouple;
pub mod distribution;
pub mod statistics;
pub mod draw;
pub mod uncertainty;
pub mod decision;
pub mod control_chart;
pub mod fit;
pub mod reference_cases;

pub use measurement::{DegreesOfFreedom, Measurement};
pub use quantity::{
    Area, Count, Duration, HeatTransferCoefficient, Length, Mass, Quantity, Ratio, Temperature,
    TemperatureDifference, ThermalConductance, Voltage, VolumeFlow,
};
pub use thermocouple::{ThermocoupleError, ThermocoupleType, ToleranceClass};

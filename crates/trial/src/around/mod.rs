//! Around the flame: how much gas burns, how long a chamber is purged, what smoke may hold.
//!
//! A guide. None of it judges a test, and local rules decide; every number stands in
//! `standards/guides/around-the-flame.toml` with its source.

mod data;
mod gas;
mod purge;
mod smoke;

pub use data::{Guide, GuideError, Sourced};
pub use gas::{Cartridge, FlameGas};
pub use purge::Chamber;
pub use smoke::{Smoke, SmokeGas};

use crate::finding::words;
use thiserror::Error;

words! {
    /// The gas that burns.
    Gas {
        /// Butane.
        Butane = "butane",
        /// Propane.
        Propane = "propane",
    }
}

/// Why something around the flame is not worked out.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum AroundError {
    /// A number is outside of where the guide holds.
    #[error("{what} is {found} {unit}; the guide holds from {least} {unit} to {most} {unit}")]
    Outside {
        /// Which.
        what: &'static str,
        /// As it was given.
        found: f64,
        /// The least.
        least: f64,
        /// The most.
        most: f64,
        /// The unit of all three.
        unit: &'static str,
    },
}

impl AroundError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Outside { .. } => "Check the number and its unit.",
        }
    }
}

/// A number that lies within its limits.
fn within(
    (what, unit): (&'static str, &'static str),
    found: f64,
    (least, most): (f64, f64),
) -> Result<f64, AroundError> {
    if (least..=most).contains(&found) {
        Ok(found)
    } else {
        Err(AroundError::Outside { what, found, least, most, unit })
    }
}

//! Our numbers against numbers that others have printed; each test is named after its source.

mod published;
mod thermocouples;

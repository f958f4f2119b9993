//! Numbers and names that are no quantities, each a type of its own.

use std::fmt;

macro_rules! numbered {
    ($($(#[$doc:meta])* $name:ident $letter:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(pub u32);

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(out, concat!($letter, "{}"), self.0)
            }
        }
    )*};
}

macro_rules! named {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(pub String);

        impl From<&str> for $name {
            fn from(text: &str) -> Self {
                Self(text.to_owned())
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(out)
            }
        }
    )*};
}

numbered! {
    /// A plan of a test, in the order of drawing up; shown as `P-1`.
    PlanNumber "P-";
    /// A specimen within its plan, from 1 on; shown as `1`.
    SpecimenNumber "";
    /// One heating of the copper block; shown as `D-1`.
    DeterminationNumber "D-";
    /// One confirmation of the flame; shown as `C-1`.
    ConfirmationNumber "C-";
    /// A frozen base line of the flame; shown as `B-1`.
    BaseLineNumber "B-";
    /// One issue of a report; shown as `R-1`.
    ReportNumber "R-";
}

named! {
    /// A person of the laboratory, by the name the record knows.
    PersonName;
    /// A piece of equipment by the laboratory's own mark, such as `TC-07`.
    EquipmentNumber;
    /// A lot of gas, tissue or board by the laboratory's own mark.
    LotNumber;
}

/// An entry of the record, from 1 on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct EntryNumber(pub u64);

impl fmt::Display for EntryNumber {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(out)
    }
}

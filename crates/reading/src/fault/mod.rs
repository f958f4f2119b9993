//! What a sensor does when it lies: faults found in a trace, named, and what they do to it.
//!
//! Raw readings are always kept. A fault says of a reading that it is not used, or of a trace
//! that nothing can be read from it.

use metrology::{Duration, Temperature};

use crate::rules::Rules;
use crate::trace::{Missing, MissingCause, Point};

mod spike;
mod watch;

pub(crate) use spike::SpikeWatch;
pub(crate) use watch::{FaultWatch, of_spikes};

/// A fault of the sensor found in a trace.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Which fault.
    pub kind: FaultKind,
    /// When it was first seen.
    pub at: Duration,
    /// What was seen, as a sentence with its numbers.
    pub text: String,
    /// What it does to the trace.
    pub effect: Effect,
}

/// What a fault does to a trace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Effect {
    /// Nothing can be read from it.
    Void,
    /// It is worth knowing.
    Note,
    /// These readings, counted from 0, are kept and not used.
    PointsNotUsed(Vec<usize>),
}

/// The faults that are known.
///
/// Each rule is written for the trace of a small block in a flame, read several times a second.
/// Where a slow logger or a slow plate cannot show the fault, the rule does not apply, and says
/// so here: a rule that does not apply finds nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FaultKind {
    /// The wire is open: the logger says so, or the reading jumps as no block does. The jump
    /// applies between readings at most a second apart.
    OpenCircuit,
    /// The reading stays where it was: shorted near the instrument, or no flame on the block.
    NoRise,
    /// The reading falls instead of rising: plus and minus are swapped. Without the moment of
    /// the flame it applies to a trace that never rises, read at least once in three seconds.
    Reversed,
    /// A block at rest reads otherwise than the terminals: another type is set or wired. Applies
    /// when the terminals' temperature is given.
    WrongType,
    /// The reading stands still to the last digit while those before and after it climb fast.
    /// Applies to three equal readings or more.
    Stuck,
    /// A reading far off the straight line of those before it, and soon back on it. Applies where
    /// six readings or more lie within the second and a half before.
    Spike,
    /// The readings scatter much about a smooth curve. Applies where three readings or more lie
    /// within half a second of a crossing.
    Noise,
    /// No reading near a limit for long, measured against the logger's usual step.
    Gap,
    /// The reading falls far inside the window.
    NotMonotonic,
    /// The block was warm at the start. Applies when a limit is given.
    StartedWarm,
}

impl FaultKind {
    /// Its stable name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::OpenCircuit => "open-circuit",
            Self::NoRise => "no-rise",
            Self::Reversed => "reversed",
            Self::WrongType => "wrong-type",
            Self::Stuck => "stuck",
            Self::Spike => "spikes",
            Self::Noise => "noisy",
            Self::Gap => "gap-at-crossing",
            Self::NotMonotonic => "not-monotonic",
            Self::StartedWarm => "started-warm",
        }
    }

    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(self) -> &'static str {
        match self {
            Self::OpenCircuit => "Check the thermocouple's wire and its connector.",
            Self::NoRise => "See whether the flame is on the block, and the wires do not touch.",
            Self::Reversed => "Swap plus and minus at the connector.",
            Self::WrongType => "Check the thermocouple type set, and the extension wire.",
            Self::Stuck => "Check the logger and its connection, and record again.",
            Self::Spike => "Keep the igniter and other sources of interference away.",
            Self::Noise => "Check the earthing and the thermocouple's seat in the block.",
            Self::Gap => "Record again with nothing else loading the logger.",
            Self::NotMonotonic => "See that flame and block stand still and out of draughts.",
            Self::StartedWarm => "Let the block cool before the next determination.",
        }
    }
}

/// What is known beside the trace itself. Nothing of it is needed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Circumstances {
    /// When the flame was put to the block.
    pub flame_on: Option<Duration>,
    /// The temperature of the instrument's terminals, when the block rested at it at the start.
    pub resting_at: Option<Temperature>,
    /// The warmest that the block may be at the start.
    pub start_limit: Option<Temperature>,
    /// The part of the trace to read, from and to; all of it when not given.
    pub part: Option<(Duration, Duration)>,
}

/// A fault that voids, `text` being a whole sentence.
fn void(kind: FaultKind, at: Duration, text: String) -> Fault {
    Fault { kind, at, text, effect: Effect::Void }
}

/// The place where the logger itself says that the wire is open.
pub(crate) fn said_open(missing: &[Missing], from: Duration, until: Duration) -> Option<Fault> {
    let mut open = missing.iter().filter(|missing| {
        missing.cause == MissingCause::OpenCircuit && missing.at >= from && missing.at <= until
    });
    let first = open.next()?;
    let more = open.count();
    let more = if more > 0 { format!(", and {more} times more") } else { String::new() };
    let text =
        format!("The thermocouple wire is open: the logger says so at {:.2}{more}.", first.at);
    Some(void(FaultKind::OpenCircuit, first.at, text))
}

/// The point of a fault that depends on one pair of neighbours.
fn jump(before: Point, now: Point, rules: &Rules) -> Option<Fault> {
    let step = now.at - before.at;
    let change = now.temperature - before.temperature;
    (change.abs() > rules.open_circuit_jump && step <= rules.open_circuit_longest_step).then(|| {
        let text = format!(
            "The thermocouple wire is open: the reading jumps by {:.0} within {:.2} at {:.2}.",
            change, step, now.at
        );
        void(FaultKind::OpenCircuit, now.at, text)
    })
}

//! What can be wrong with a source, in words.

use metrology::Duration;
use reading::FaultKind;
use thiserror::Error;

/// What is wrong with a source.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Trouble {
    /// Nothing that can be read has come for long.
    #[error("No reading has come for {lasting:.1}.")]
    Silence {
        /// How long.
        lasting: Duration,
    },
    /// The port is gone, or the connection was cut.
    #[error("{port} is gone: {cause}.")]
    Unplugged {
        /// Which port or address.
        port: String,
        /// What the system says.
        cause: String,
    },
    /// A line that the settings do not describe.
    #[error("A line cannot be read, because {reason}: `{line}`.")]
    GarbageLine {
        /// The line, what is no text in it written `\x1F`.
        line: String,
        /// What does not fit.
        reason: String,
    },
    /// Several lines in a row were no text.
    #[error("What comes is no text{}.", suspected(*.baud))]
    NotText {
        /// The baud rate set, where there is one.
        baud: Option<u32>,
    },
    /// A reading came later than the interval lets expect; its time is the less certain.
    #[error("A reading came {by:.2} late.")]
    Late {
        /// How much too late.
        by: Duration,
    },
    /// A line was sent twice; it is kept twice and counts once.
    #[error("A line came twice and counts once: `{line}`.")]
    Doubled {
        /// The line.
        line: String,
    },
    /// The instrument says that a wire is open.
    #[error("The thermocouple wire of {channel} is open: the instrument says so.")]
    OpenCircuit {
        /// The channel's name.
        channel: String,
    },
    /// A question of Modbus has no answer that can be used. Told once, until it has one.
    #[error("There is no value of {what}: {why}.")]
    NoValue {
        /// What was asked for.
        what: String,
        /// Why not.
        why: String,
    },
    /// Whoever watches took too long.
    #[error("{readings} readings were not shown in time; the recording has them.")]
    NotShown {
        /// How many.
        readings: u64,
    },
    /// The recording could not be written.
    #[error("The recording cannot be written: {cause}.")]
    NotKept {
        /// What the system says.
        cause: String,
    },
}

fn suspected(baud: Option<u32>) -> String {
    baud.map_or_else(String::new, |baud| format!("; {baud} may be the wrong baud rate"))
}

impl Trouble {
    /// Its stable name.
    #[must_use]
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Silence { .. } => "silence",
            Self::Unplugged { .. } => "unplugged",
            Self::GarbageLine { .. } => "garbage-line",
            Self::NotText { .. } => "not-text",
            Self::Late { .. } => "late",
            Self::Doubled { .. } => "doubled",
            Self::OpenCircuit { .. } => "open-circuit",
            Self::NoValue { .. } => "no-value",
            Self::NotShown { .. } => "not-shown",
            Self::NotKept { .. } => "not-kept",
        }
    }

    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Silence { .. } => {
                "See whether the instrument is on and sends, and whether it is set as the \
                 settings say."
            }
            Self::Unplugged { .. } => {
                "Put the plug back; reading goes on by itself when the instrument is there again."
            }
            Self::GarbageLine { .. } => {
                "Compare the line with the settings: delimiter, column, decimal sign, unit."
            }
            Self::NotText { baud: Some(_) } => {
                "Set the baud rate, parity and bits that the instrument is set to."
            }
            Self::NotText { baud: None } => "See whether another instrument is at this address.",
            Self::Late { .. } => {
                "Close what else uses the line or this computer, or set the interval to the \
                 instrument's own."
            }
            Self::Doubled { .. } => "See whether two programs ask the instrument at once.",
            Self::OpenCircuit { .. } => FaultKind::OpenCircuit.hint(),
            Self::NoValue { .. } => {
                "Compare the unit number, the registers and their table with the instrument's \
                 manual."
            }
            Self::NotShown { .. } => "Close what else this computer is doing.",
            Self::NotKept { .. } => "Make room on the disk, and record again.",
        }
    }
}

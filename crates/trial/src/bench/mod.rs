//! At the bench: presses, the log that keeps them, and the state that they come to.

use crate::finding::words;
use crate::moment::{Elapsed, Moment};
use std::fmt;

mod log;
mod stand;

pub use log::{PressLog, PressLogError};
pub use stand::{Begun, Doubt, Seen, Standing, Timing, stand};

/// One press, as the device kept it before it showed anything.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Press {
    /// Its place in the sitting, from 1 on, without gaps.
    pub sequence: u32,
    /// When, on the device's own clock since the sitting began: the stamp of the event itself.
    pub at: Elapsed,
    /// What the device's calendar said.
    pub wall: Moment,
    /// What was pressed.
    pub act: Act,
    /// With what.
    pub input: Input,
    /// In words, where there is something to say.
    pub note: Option<String>,
}

words! {
    /// What a press says. In the dark only what is seen is said; its meaning comes from the state.
    Act {
        /// Flame on specimen.
        FlameOn = "flame-on",
        /// Flame removed.
        FlameRemoved = "flame-removed",
        /// The specimen's flames are out.
        FlamesOut = "flames-out",
        /// There was no flame after removal.
        NoFlame = "no-flame",
        /// The glow is out.
        GlowOut = "glow-out",
        /// There was no glow.
        NoGlow = "no-glow",
        /// Flames again, out of the glow.
        BurningAgain = "burning-again",
        /// The layer below is out.
        LayerOut = "layer-out",
        /// Something fell or caught; what it was is said later, in the light.
        Mark = "mark",
        /// A drop fell.
        Drop = "drop",
        /// A burning drop fell.
        BurningDrop = "burning-drop",
        /// The layer below caught fire.
        LayerCaught = "layer-caught",
        /// What burns was put out by hand.
        PutOutByHand = "put-out-by-hand",
        /// The last press was wrong: it is withdrawn and stays in the log.
        LastPressWrong = "last-press-wrong",
        /// The specimen is spoilt.
        SpecimenSpoilt = "specimen-spoilt",
        /// It was not spoilt.
        NotSpoilt = "not-spoilt",
        /// A press too soon after another, or a key that does nothing here.
        Ignored = "ignored",
        /// The device found that its time may be wrong: it slept, or its clock stepped.
        TimeDoubtful = "time-doubtful",
        /// A doubt was acknowledged, or the question about flame and glow was answered with yes.
        Acknowledged = "acknowledged",
    }
}

words! {
    /// With what a press was made.
    Input {
        /// A foot switch, a presenter, a taught key.
        Switch = "switch",
        /// A key.
        Key = "key",
        /// A finger.
        Touch = "touch",
        /// A mouse.
        Mouse = "mouse",
    }
}

words! {
    /// Where a specimen stands at the bench.
    State {
        /// The flame may be brought.
        Ready = "ready",
        /// The flame is on the specimen.
        OnSpecimen = "on-specimen",
        /// Between two of several applications.
        Between = "between",
        /// Burning after removal.
        Burning = "burning",
        /// Glow after the flames.
        Glow = "glow",
        /// The layer below is still burning.
        Layer = "layer",
        /// Finished: to be described in the light.
        Finished = "finished",
        /// Spoilt.
        Spoilt = "spoilt",
    }
}

macro_rules! random_ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(pub [u8; 16]);

        impl $name {
            /// Reads 32 hexadecimal digits in lower case.
            #[must_use]
            pub fn parse(text: &str) -> Option<Self> {
                read_hex(text).map(Self)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.iter().try_for_each(|byte| write!(out, "{byte:02x}"))
            }
        }
    )*};
}

random_ids! {
    /// One specimen opened on one device by one person: 16 random bytes.
    SittingId;
    /// A device: 16 random bytes that it chose when it was set up.
    DeviceId;
}

fn read_hex(text: &str) -> Option<[u8; 16]> {
    let digit = |digit: u8| match digit {
        b'0'..=b'9' => Some(digit - b'0'),
        b'a'..=b'f' => Some(digit - b'a' + 10),
        _ => None,
    };
    let digits: &[u8; 32] = text.as_bytes().try_into().ok()?;
    let mut bytes = [0; 16];
    for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
        let &[high, low] = pair else { return None };
        *byte = digit(high)? << 4 | digit(low)?;
    }
    Some(bytes)
}

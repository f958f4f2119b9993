//! A film of a specimen, and where it lies on the scale of its presses.
//!
//! A film is evidence, not the clock: what was pressed stays as it is, and a film is laid beside it.

use crate::bench::{DeviceId, SittingId};
use crate::fact::Evidence;
use crate::moment::{Elapsed, Moment};
use crate::number::{EntryNumber, PersonName};
use metrology::Duration;

/// How a film was recorded at the bench, by the device that kept the time.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmRecorded {
    /// On which device.
    pub device: DeviceId,
    /// In which sitting.
    pub sitting: SittingId,
    /// When the film begins, on the clock of the sitting.
    pub began: Elapsed,
    /// How far off that may be, either way.
    pub within: Duration,
}

/// A film of a specimen, as the history knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct Film {
    /// Which entry kept it.
    pub entry: EntryNumber,
    /// When.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// The file.
    pub film: Evidence,
    /// How it was recorded at the bench; none for a film that was added afterwards.
    pub recorded: Option<FilmRecorded>,
    /// What was said last of its place.
    pub placed: Option<FilmPlace>,
}

/// What somebody saw in a film.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FilmPlace {
    /// Which entry says so.
    pub entry: EntryNumber,
    /// When it was said.
    pub at: Moment,
    /// By whom.
    pub who: PersonName,
    /// The time of the film at which the flame is removed, the last time.
    pub removed: Elapsed,
}

impl FilmPlace {
    /// When the film begins, where the flame was removed at `removed`, on the scale of `removed`.
    #[must_use]
    pub const fn begins(&self, removed: Elapsed) -> Elapsed {
        let at = removed.microseconds().saturating_sub(self.removed.microseconds());
        Elapsed::from_microseconds(at)
    }
}

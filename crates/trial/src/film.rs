//! A film of a specimen, and where it lies on the scale of its presses.
//!
//! A film is evidence, not the clock: what was pressed stays as it is, and a film is laid beside it.

use crate::bench::{DeviceId, SittingId};
use crate::fact::Evidence;
use crate::moment::{Elapsed, Moment};
use crate::number::{EntryNumber, PersonName};
use metrology::{Duration, Ratio};

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
    /// What was heard in it last.
    pub heard: Option<FilmHeard>,
    /// What was said last of its place.
    pub placed: Option<FilmPlace>,
}

/// How surely the bench's tones were heard in a film.
#[derive(Clone, Debug, PartialEq)]
pub struct TonesHeard {
    /// So many were heard where they are expected.
    pub tones: u32,
    /// So many the bench gave.
    pub of: u32,
    /// How alike those are to what the bench gives, on average: from 0 to 1.
    pub likeness: Ratio,
    /// How much speaks for this place: the likeness of all tones, 0 for one that is not heard.
    pub best: Ratio,
    /// How much speaks for the next best place.
    pub second: Ratio,
    /// By how much the distances of the tones differ from those of the presses; none where one
    /// tone alone was heard.
    pub apart: Option<Duration>,
}

/// Where a film would lie by the bench's tones in its sound: a proposal.
#[derive(Clone, Debug, PartialEq)]
pub struct FilmHeard {
    /// Which entry says so.
    pub entry: EntryNumber,
    /// When it was said.
    pub at: Moment,
    /// Who had it listened to.
    pub who: PersonName,
    /// The time of the film at which the flame would be removed, the last time.
    pub removed: Elapsed,
    /// How surely.
    pub tones: TonesHeard,
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
        begins(removed, self.removed)
    }
}

impl FilmHeard {
    /// When the film would begin, where the flame was removed at `removed`, on the scale of
    /// `removed`.
    #[must_use]
    pub const fn begins(&self, removed: Elapsed) -> Elapsed {
        begins(removed, self.removed)
    }
}

const fn begins(removed: Elapsed, in_film: Elapsed) -> Elapsed {
    Elapsed::from_microseconds(removed.microseconds().saturating_sub(in_film.microseconds()))
}

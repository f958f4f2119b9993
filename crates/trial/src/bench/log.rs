//! The log of one sitting: whatever is sent again, cut or out of order, each press is kept once.

use super::Press;
use crate::moment::Elapsed;
use thiserror::Error;

/// The presses of one sitting, from the first on without a gap.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PressLog {
    presses: Vec<Press>,
}

/// Why presses cannot be kept.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PressLogError {
    /// A press with this number is kept already, or came twice, and says something else.
    #[error("press {sequence} is there already and says something else")]
    Differs {
        /// Its number.
        sequence: u32,
    },
    /// Presses are numbered from 1 on.
    #[error("a press is numbered 0; the first of a sitting is numbered 1")]
    Zero,
    /// A press from before the sitting.
    #[error("press {sequence} is of {at}, before the sitting began")]
    BeforeSitting {
        /// Its number.
        sequence: u32,
        /// Its time.
        at: Elapsed,
    },
    /// A sitting with more presses than any specimen takes.
    #[error("press {sequence} is one too many; a sitting has {most} at most")]
    TooMany {
        /// Its number.
        sequence: u32,
        /// The limit.
        most: u32,
    },
    /// Words longer than the record takes.
    #[error("the note of press {sequence} is {found} bytes long; a note has {most} at most")]
    LongNote {
        /// Its number.
        sequence: u32,
        /// Its length.
        found: usize,
        /// The limit.
        most: usize,
    },
}

impl PressLogError {
    /// The way out.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Differs { .. } => "Nothing of the batch was kept; begin a new sitting.",
            Self::Zero | Self::BeforeSitting { .. } => "Number and time presses from the sitting.",
            Self::TooMany { .. } => "Begin a new sitting, and take over the specimen with it.",
            Self::LongNote { .. } => "Say it in fewer words.",
        }
    }
}

impl PressLog {
    /// The most presses of one sitting; a run takes some ten.
    pub const MOST: u32 = 10_000;

    /// The longest note, in bytes.
    pub const LONGEST_NOTE: usize = 2_000;

    /// What a batch brings that is not kept yet: the presses that follow the last one kept without
    /// a gap, in order. Presses that are there alike are passed over.
    ///
    /// # Errors
    ///
    /// [`PressLogError`]; then nothing of the batch may be kept.
    pub fn fresh(&self, batch: &[Press]) -> Result<Vec<Press>, PressLogError> {
        let mut batch: Vec<&Press> = batch.iter().collect();
        batch.sort_by_key(|press| press.sequence);
        let mut fresh: Vec<Press> = Vec::new();
        let mut before: Option<&Press> = None;
        let mut next = self.kept_to().saturating_add(1);
        for press in batch {
            sound(press)?;
            let place = usize::try_from(press.sequence - 1).unwrap_or(usize::MAX);
            let there = before.filter(|before| before.sequence == press.sequence);
            match there.or(self.presses.get(place)) {
                Some(there) if there != press => {
                    return Err(PressLogError::Differs { sequence: press.sequence });
                }
                Some(_) => {}
                None if press.sequence == next => {
                    fresh.push(press.clone());
                    next = next.saturating_add(1);
                }
                None => {}
            }
            before = Some(press);
        }
        Ok(fresh)
    }

    /// Takes a batch up.
    ///
    /// # Errors
    ///
    /// [`PressLogError`]; then nothing has changed.
    pub fn take(&mut self, batch: &[Press]) -> Result<(), PressLogError> {
        let fresh = self.fresh(batch)?;
        self.presses.extend(fresh);
        Ok(())
    }

    /// The number of the last press kept; 0 before the first. The device sends from the next on.
    #[must_use]
    pub fn kept_to(&self) -> u32 {
        self.presses.last().map_or(0, |last| last.sequence)
    }

    /// The presses in order.
    #[must_use]
    pub fn presses(&self) -> &[Press] {
        &self.presses
    }
}

/// What a press must be in itself.
fn sound(press: &Press) -> Result<(), PressLogError> {
    let Press { sequence, at, .. } = *press;
    if sequence == 0 {
        return Err(PressLogError::Zero);
    }
    if sequence > PressLog::MOST {
        return Err(PressLogError::TooMany { sequence, most: PressLog::MOST });
    }
    if at < Elapsed::ZERO {
        return Err(PressLogError::BeforeSitting { sequence, at });
    }
    let found = press.note.as_ref().map_or(0, String::len);
    if found > PressLog::LONGEST_NOTE {
        return Err(PressLogError::LongNote { sequence, found, most: PressLog::LONGEST_NOTE });
    }
    Ok(())
}

//! A word that nobody can guess. It is given out once; only its hash is kept.

use sha2::{Digest as _, Sha256};

use crate::problem::Problem;

/// 256 random bits as hexadecimal digits.
pub(in crate::web) struct Secret(String);

impl Secret {
    /// A new one.
    ///
    /// # Errors
    ///
    /// [`Problem`] where this machine gives no random numbers.
    pub(in crate::web) fn new() -> Result<Self, Problem> {
        let mut bytes = [0; 32];
        getrandom::fill(&mut bytes).map_err(|error| {
            Problem::surroundings("this machine gives no random numbers").because(&error)
        })?;
        Ok(Self(hex::encode(bytes)))
    }

    /// The word itself.
    pub(in crate::web) fn word(&self) -> &str {
        &self.0
    }

    /// What is kept of it.
    pub(super) fn hash(&self) -> String {
        hash(&self.0)
    }
}

/// What is kept of a word that someone shows.
pub(in crate::web) fn hash(word: &str) -> String {
    hex::encode(Sha256::digest(word.as_bytes()))
}

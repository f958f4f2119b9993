//! The rules at hand: those built in, and those that older plans used.

use super::{Rules, RulesError, RulesId};
use std::collections::BTreeMap;

/// The hash of a rules file's bytes, as the record's own hash function gives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RulesHash(pub [u8; 32]);

/// Which file of rules a plan used, so that the rules of that day can be read for ever.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct RulesUsed {
    /// The file.
    pub id: RulesId,
    /// Its bytes.
    pub hash: RulesHash,
}

/// The rules at hand, by file and hash.
#[derive(Clone, Debug, Default)]
pub struct Library {
    shelf: BTreeMap<RulesUsed, Shelved>,
    built_in: Vec<RulesUsed>,
}

#[derive(Clone, Debug)]
struct Shelved {
    rules: Rules,
    text: String,
}

macro_rules! built_in {
    ($($path:literal),* $(,)?) => {
        /// Each built-in file: its path under `standards/` and its text.
        pub(super) const BUILT_IN: &[(&str, &str)] = &[
            $(($path, include_str!(concat!("../../../../standards/", $path)))),*
        ];
    };
}
built_in!(
    "methods/needle-flame/2004.toml",
    "methods/needle-flame/2016.toml",
    "profiles/iacs-e10/10.toml",
    "profiles/iec-60335-1/5.toml",
    "profiles/iec-60598-1/2020.toml",
);

impl Library {
    /// The built-in files, under the hashes that `hash` gives their bytes.
    ///
    /// # Errors
    ///
    /// [`RulesError`] if a built-in file is unsound, which its own test rules out.
    ///
    /// ```
    /// let library = trial::rules::Library::built_in(|bytes| [bytes.len() as u8; 32])?;
    /// assert!(library.current(&"iec-60695-11-5/2016".into()).is_some());
    /// # Ok::<(), trial::rules::RulesError>(())
    /// ```
    pub fn built_in(hash: impl Fn(&[u8]) -> [u8; 32]) -> Result<Self, RulesError> {
        let mut library = Self::default();
        for (path, text) in BUILT_IN {
            let used = library.add(path, text, RulesHash(hash(text.as_bytes())))?;
            library.built_in.push(used);
        }
        Ok(library)
    }

    /// Adds a file, such as one that an older plan used and that was filed as evidence then.
    ///
    /// # Errors
    ///
    /// [`RulesError`] if the file is unsound.
    pub fn add(
        &mut self,
        name: &str,
        text: &str,
        hash: RulesHash,
    ) -> Result<RulesUsed, RulesError> {
        let rules = Rules::read(name, text)?;
        let used = RulesUsed { id: rules.head.id.clone(), hash };
        self.shelf.insert(used.clone(), Shelved { rules, text: text.to_owned() });
        Ok(used)
    }

    /// The built-in files, in the order of their paths.
    #[must_use]
    pub fn all(&self) -> Vec<&Rules> {
        self.built_in.iter().filter_map(|used| self.rules(used)).collect()
    }

    /// The built-in file with this id.
    #[must_use]
    pub fn current(&self, id: &RulesId) -> Option<(&Rules, &RulesUsed)> {
        let used = self.built_in.iter().find(|used| used.id == *id)?;
        Some((self.rules(used)?, used))
    }

    /// The file with this id and hash.
    #[must_use]
    pub fn rules(&self, used: &RulesUsed) -> Option<&Rules> {
        self.shelf.get(used).map(|shelved| &shelved.rules)
    }

    /// The text of a file, to be filed beside the plan that used it.
    #[must_use]
    pub fn text(&self, used: &RulesUsed) -> Option<&str> {
        self.shelf.get(used).map(|shelved| shelved.text.as_str())
    }
}

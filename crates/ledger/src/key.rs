//! The keys that a record tells of: which one followed which, and whose signed heads to believe.
//!
//! A key begins by an entry that it has signed itself. One that takes the place of another says
//! why, and is signed by both; where the earlier key was lost, by the new one alone, for everyone
//! to see. No data hang on a key: one that is lost is replaced.

use trial::fact::{BookKey, KeyBytes, SignatureBytes};

use crate::note::{Note, NoteError, PublicKey, SecretKey};

/// The entry that says that `key` begins, as the first one or in place of another.
#[must_use]
pub fn begun(key: &SecretKey, earlier: Option<Earlier<'_>>, reason: &str) -> BookKey {
    let in_place_of = earlier.map(|earlier| KeyBytes(earlier.public().bytes()));
    let public = KeyBytes(key.public().bytes());
    let text = statement(key.public().name(), public, in_place_of, reason);
    let by_old = match earlier {
        Some(Earlier::AtHand(earlier)) => Some(SignatureBytes(earlier.sign(text.as_bytes()))),
        Some(Earlier::Lost(_)) | None => None,
    };
    let by_new = SignatureBytes(key.sign(text.as_bytes()));
    BookKey { key: public, in_place_of, reason: reason.to_owned(), by_new, by_old }
}

/// The key whose place another takes.
#[derive(Clone, Copy)]
pub enum Earlier<'a> {
    /// It is there, and signs.
    AtHand(&'a SecretKey),
    /// It is lost: its public half stands in the record.
    Lost(&'a PublicKey),
}

impl Earlier<'_> {
    fn public(&self) -> &PublicKey {
        match self {
            Earlier::AtHand(key) => key.public(),
            Earlier::Lost(key) => key,
        }
    }
}

/// What is signed when a key begins.
fn statement(name: &str, key: KeyBytes, in_place_of: Option<KeyBytes>, reason: &str) -> String {
    let earlier = in_place_of.map_or("none".to_owned(), |key| hex::encode(key.0));
    let key = hex::encode(key.0);
    format!(
        "cinderbook key 1\nbook {name}\nkey {key}\nin place of {earlier}\nreason {} {reason}\n",
        reason.len()
    )
}

/// The keys of a book in the order in which they began.
#[derive(Clone, Debug, Default)]
pub struct BookKeys {
    name: String,
    keys: Vec<Began>,
}

/// A key that began.
#[derive(Clone, Debug)]
struct Began {
    entry: u64,
    key: PublicKey,
    /// Whether the key before it has signed that it takes its place.
    handed_over: bool,
}

impl BookKeys {
    /// The keys of the book of this name ([`crate::note::origin`]); none yet.
    #[must_use]
    pub fn of(name: String) -> Self {
        Self { name, keys: Vec::new() }
    }

    /// The name of the book.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The key that signs now.
    #[must_use]
    pub fn current(&self) -> Option<&PublicKey> {
        self.keys.last().map(|began| &began.key)
    }

    /// The entries by which a key began without the signature of the one before it.
    pub fn lost(&self) -> impl Iterator<Item = u64> {
        self.keys.iter().skip(1).filter(|began| !began.handed_over).map(|began| began.entry)
    }

    /// Takes up one more.
    ///
    /// # Errors
    ///
    /// What is wrong with it, in words.
    pub fn follow(&mut self, entry: u64, begun: &BookKey) -> Result<(), String> {
        let BookKey { key: bytes, in_place_of, reason, by_new, by_old } = begun;
        let key = PublicKey::of(&self.name, &bytes.0).ok_or("its key is none")?;
        if in_place_of.map(|earlier| earlier.0) != self.current().map(PublicKey::bytes) {
            return Err("its key takes the place of another than the last one".to_owned());
        }
        let text = statement(&self.name, *bytes, *in_place_of, reason);
        if !key.signed(text.as_bytes(), &by_new.0) {
            return Err("its key has not signed it".to_owned());
        }
        let by_earlier = self.current().zip(by_old.as_ref());
        if !by_earlier.is_none_or(|(earlier, by)| earlier.signed(text.as_bytes(), &by.0)) {
            return Err("the earlier key has not signed it".to_owned());
        }
        self.keys.push(Began { entry, key, handed_over: by_old.is_some() });
        Ok(())
    }

    /// Holds a signed head against the keys, and against one key that is believed for other
    /// reasons: those that it handed over to, and those whose place it or they took, count as it
    /// does. Gives the key that signed.
    ///
    /// # Errors
    ///
    /// What is wrong, in words.
    pub fn signer(&self, note: &Note, believed: Option<&PublicKey>) -> Result<&PublicKey, String> {
        let mut forged = None;
        for (place, began) in self.keys.iter().enumerate() {
            match note.check(&began.key) {
                Ok(()) => return self.believe(place, believed),
                Err(why @ NoteError::Signature) => forged = Some(why),
                Err(NoteError::Unsigned | NoteError::Form(_)) => {}
            }
        }
        let unsigned = || "it bears no signature of a key of the book".to_owned();
        Err(forged.map_or_else(unsigned, |why| why.to_string()))
    }

    fn believe(&self, place: usize, believed: Option<&PublicKey>) -> Result<&PublicKey, String> {
        let Some(signer) = self.keys.get(place).map(|began| &began.key) else {
            return Err("it bears no signature of a key of the book".to_owned());
        };
        let Some(believed) = believed else { return Ok(signer) };
        let Some(from) = self.keys.iter().position(|began| began.key == *believed) else {
            return Err(format!("the key {believed} is none of the book's"));
        };
        let between = self.keys.get(from + 1..=place).unwrap_or_default();
        match between.iter().find(|began| !began.handed_over) {
            None => Ok(signer),
            Some(began) => Err(format!(
                "it is signed by a key that began with entry {} without the signature of the key \
                 before it",
                began.entry
            )),
        }
    }
}

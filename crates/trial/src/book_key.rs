//! The book's own key, as the record tells of it. It belongs to no person: a person signs by an act,
//! the book signs its heads. This room checks no signature; the ledger does.

/// The public half of a key.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeyBytes(pub [u8; 32]);

/// A signature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SignatureBytes(pub [u8; 64]);

/// A key that signs the heads of the book from here on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BookKey {
    /// Its public half.
    pub key: KeyBytes,
    /// The key it takes the place of; none for the first.
    pub in_place_of: Option<KeyBytes>,
    /// Why; empty for the first.
    pub reason: String,
    /// The new key's signature under this act.
    pub by_new: SignatureBytes,
    /// The earlier key's signature under the same; none where that key was lost.
    pub by_old: Option<SignatureBytes>,
}

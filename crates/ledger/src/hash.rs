//! SHA-256 hashes, each kind a type of its own.

use sha2::{Digest, Sha256};

macro_rules! sha256 {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(pub [u8; 32]);

        impl $name {
            /// The hash of `bytes`.
            #[must_use]
            pub fn of(bytes: &[u8]) -> Self {
                Self($crate::hash::sha256(bytes))
            }

            /// Reads 64 lower-case hexadecimal digits; anything else is `None`.
            #[must_use]
            pub fn from_hex(text: &str) -> Option<Self> {
                $crate::hash::from_hex(text).map(Self)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                out.write_str(&hex::encode(self.0))
            }
        }

        impl std::fmt::Debug for $name {
            fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(out, "{}({self})", stringify!($name))
            }
        }
    };
}

sha256!(
    /// The hash of one entry's header, and so of all entries before it.
    EntryHash
);
sha256!(
    /// The hash of the bytes of one blob: an entry's body, or an evidence file.
    BlobHash
);
sha256!(
    /// The hash of a leaf of the tree over the entries, of a node of it, or of a whole tree.
    TreeHash
);

/// The beginning of a hash, long enough to find it by eye.
///
/// ```
/// assert_eq!(ledger::hash::short(&"0123456789abcdef"), "0123456789ab…");
/// ```
#[must_use]
pub fn short(hash: &impl std::fmt::Display) -> String {
    hash.to_string().chars().take(12).chain(['…']).collect()
}

/// The SHA-256 of `bytes`.
#[must_use]
pub fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

pub(crate) fn from_hex<const N: usize>(text: &str) -> Option<[u8; N]> {
    let is_lower = |digit: u8| digit.is_ascii_digit() || (b'a'..=b'f').contains(&digit);
    if !text.bytes().all(is_lower) {
        return None;
    }
    let mut bytes = [0; N];
    hex::decode_to_slice(text, &mut bytes).ok()?;
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: FIPS 180-4 examples (NIST, "SHA256.pdf", one-block message): the hash of `abc`.
    #[test]
    fn fips_180_4_one_block_message() {
        let printed = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(BlobHash::of(b"abc").to_string(), printed);
        assert_eq!(BlobHash::from_hex(printed), Some(BlobHash::of(b"abc")));
    }

    #[test]
    fn only_the_form_we_write_is_read() {
        let upper = BlobHash::of(b"abc").to_string().to_uppercase();
        assert_eq!(BlobHash::from_hex(&upper), None);
        assert_eq!(BlobHash::from_hex("ba78"), None);
        assert_eq!(BlobHash::from_hex(&"é".repeat(32)), None);
    }
}

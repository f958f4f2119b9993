//! Signed heads: the size and the hash of the tree over the entries, in an open text form.
//!
//! This file knows bytes, hashes and keys only.
//!
//! ```text
//! cinderbook/8a716ec1b04febdc                      the book
//! 18350                                            so many entries
//! CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=     the hash of the tree over them
//!
//! — cinderbook/8a716ec1b04febdc Az3grlgtzPIC…      by whom, and the signature
//! ```
//!
//! # Source
//!
//! C2SP `tlog-checkpoint` and `signed-note` (signatures of type 1, Ed25519, RFC 8032). Other
//! programs that read these forms read our heads and keys.

use std::fmt;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};
use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::chain::decimal;
use crate::hash::{EntryHash, TreeHash};

/// The type of signature that is made and read here: Ed25519.
const ED25519: u8 = 1;

/// The longest signed head that is read, in bytes: far more than witnesses would ever add.
const NOTE_BYTES_MAX: usize = 64 << 10;

/// The name of a book in its signed heads, by the hash of its first entry. It is no address.
#[must_use]
pub fn origin(first: &EntryHash) -> String {
    format!("cinderbook/{}", first.to_string().get(..16).unwrap_or_default())
}

/// How many entries a record has, and the hash of the tree over them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TreeHead {
    /// How many entries.
    pub size: u64,
    /// The hash of the tree.
    pub root: TreeHash,
}

impl fmt::Display for TreeHead {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{} {}", self.size, self.root)
    }
}

/// The public half of a book's key: signed heads are checked with it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PublicKey {
    name: String,
    key: VerifyingKey,
}

impl PublicKey {
    /// The key of a book; `None` if the 32 bytes are no key.
    #[must_use]
    pub fn of(name: &str, bytes: &[u8; 32]) -> Option<Self> {
        let named = !name.is_empty() && !name.contains(|it: char| it.is_whitespace() || it == '+');
        let key = VerifyingKey::from_bytes(bytes).ok().filter(|key| named && !key.is_weak())?;
        Some(Self { name: name.to_owned(), key })
    }

    /// Reads the form that `Display` writes: name, `+`, number, `+`, key.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let mut parts = text.trim().splitn(3, '+');
        let (name, id, key) = (parts.next()?, parts.next()?, STANDARD.decode(parts.next()?).ok()?);
        let key = Self::of(name, key.strip_prefix(&[ED25519])?.try_into().ok()?)?;
        (hex::encode(key.id()) == id).then_some(key)
    }

    /// The book it belongs to.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its 32 bytes.
    #[must_use]
    pub fn bytes(&self) -> [u8; 32] {
        self.key.to_bytes()
    }

    /// Whether a signature of this key stands under `text`.
    #[must_use]
    pub fn signed(&self, text: &[u8], signature: &[u8; 64]) -> bool {
        self.key.verify_strict(text, &Signature::from_bytes(signature)).is_ok()
    }

    /// The number that tells which of several keys of one name signed.
    fn id(&self) -> [u8; 4] {
        let hasher = Sha256::new_with_prefix(&self.name).chain_update(*b"\n");
        let hash = hasher.chain_update([ED25519]).chain_update(self.bytes()).finalize();
        [hash[0], hash[1], hash[2], hash[3]]
    }
}

impl fmt::Display for PublicKey {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}+{}+{}", self.name, hex::encode(self.id()), typed(&self.bytes()))
    }
}

/// A book's key: whoever has it can sign heads.
#[derive(Clone)]
pub struct SecretKey {
    key: SigningKey,
    public: PublicKey,
}

impl SecretKey {
    /// The key that these 32 secret bytes make; `None` if no key can have this name.
    #[must_use]
    pub fn of(name: &str, seed: &[u8; 32]) -> Option<Self> {
        let key = SigningKey::from_bytes(seed);
        let public = PublicKey::of(name, &key.verifying_key().to_bytes())?;
        Some(Self { key, public })
    }

    /// Reads the form that [`SecretKey::to_text`] writes.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let mut parts = text.trim().strip_prefix(SECRET)?.splitn(3, '+');
        let (name, id, seed) = (parts.next()?, parts.next()?, STANDARD.decode(parts.next()?).ok()?);
        let key = Self::of(name, seed.strip_prefix(&[ED25519])?.try_into().ok()?)?;
        (hex::encode(key.public.id()) == id).then_some(key)
    }

    /// The text of a key file. It is a secret.
    #[must_use]
    pub fn to_text(&self) -> String {
        let id = hex::encode(self.public.id());
        format!("{SECRET}{}+{id}+{}", self.public.name, typed(&self.key.to_bytes()))
    }

    /// Its public half.
    #[must_use]
    pub const fn public(&self) -> &PublicKey {
        &self.public
    }

    /// Its signature under `text`: the same for the same text, always.
    #[must_use]
    pub fn sign(&self, text: &[u8]) -> [u8; 64] {
        self.key.sign(text).to_bytes()
    }

    /// A signed head.
    #[must_use]
    pub fn sign_head(&self, head: TreeHead) -> String {
        let name = &self.public.name;
        let text = format!("{name}\n{}\n{}\n", head.size, STANDARD.encode(head.root.0));
        let signature = [self.public.id().as_slice(), &self.sign(text.as_bytes())].concat();
        format!("{text}\n— {name} {}\n", STANDARD.encode(signature))
    }
}

/// How the text of a secret key begins.
const SECRET: &str = "PRIVATE+KEY+";

fn typed(bytes: &[u8; 32]) -> String {
    STANDARD.encode([[ED25519].as_slice(), bytes].concat())
}

/// A text with signatures under it: read, and not believed yet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    text: String,
    /// Name, number of the key, signature.
    signatures: Vec<(String, [u8; 4], Vec<u8>)>,
}

/// Why a text is no signed head, or not one to believe.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum NoteError {
    /// It is not in the form.
    #[error("it is not in the form of a signed head: it goes wrong at its {0}")]
    Form(&'static str),
    /// A signature of the key does not fit the text.
    #[error("the signature does not fit what it stands under")]
    Signature,
    /// No signature of the key is there.
    #[error("it bears no signature of the key")]
    Unsigned,
}

impl Note {
    /// Reads a signed text.
    ///
    /// # Errors
    ///
    /// [`NoteError::Form`].
    pub fn read(note: &str) -> Result<Self, NoteError> {
        if note.len() > NOTE_BYTES_MAX || note.contains(|it: char| it < ' ' && it != '\n') {
            return Err(NoteError::Form("length or characters"));
        }
        let (text, below) = note.rsplit_once("\n\n").ok_or(NoteError::Form("empty line"))?;
        let below = below.strip_suffix('\n').ok_or(NoteError::Form("end"))?;
        let signatures = below.split('\n').map(Self::signature).collect::<Option<Vec<_>>>();
        let signatures = signatures.ok_or(NoteError::Form("signature"))?;
        Ok(Self { text: format!("{text}\n"), signatures })
    }

    fn signature(line: &str) -> Option<(String, [u8; 4], Vec<u8>)> {
        let (name, signature) = line.strip_prefix("— ")?.split_once(' ')?;
        let bytes = STANDARD.decode(signature).ok()?;
        let (id, signature) = bytes.split_first_chunk()?;
        (!name.is_empty()).then(|| (name.to_owned(), *id, signature.to_vec()))
    }

    /// What was signed.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Holds the note against a key.
    ///
    /// # Errors
    ///
    /// [`NoteError::Unsigned`], [`NoteError::Signature`].
    pub fn check(&self, key: &PublicKey) -> Result<(), NoteError> {
        let by = |(name, id, _): &&(String, _, _)| *name == key.name && *id == key.id();
        let mut ours = self.signatures.iter().filter(by).peekable();
        if ours.peek().is_none() {
            return Err(NoteError::Unsigned);
        }
        let fits = |(.., signature): &(_, _, Vec<u8>)| {
            let signature = signature.as_slice().try_into();
            signature.is_ok_and(|signature| key.signed(self.text.as_bytes(), signature))
        };
        if ours.all(fits) { Ok(()) } else { Err(NoteError::Signature) }
    }

    /// The head that the text names, and the book that it is of.
    ///
    /// # Errors
    ///
    /// [`NoteError::Form`] if the text is not exactly a head.
    pub fn head(&self) -> Result<(&str, TreeHead), NoteError> {
        let mut lines = self.text.strip_suffix('\n').unwrap_or_default().split('\n');
        let origin = lines.next().filter(|name| !name.is_empty()).ok_or(NoteError::Form("name"))?;
        let size = lines.next().ok_or(NoteError::Form("size"))?;
        let plain = size == "0" || !size.starts_with('0');
        let size = decimal(size).filter(|_| plain).ok_or(NoteError::Form("size"))?;
        let root = lines.next().and_then(|root| STANDARD.decode(root).ok()?.try_into().ok());
        let root = root.map(TreeHash).ok_or(NoteError::Form("hash"))?;
        match lines.next() {
            None => Ok((origin, TreeHead { size, root })),
            Some(_) => Err(NoteError::Form("fourth line")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: `golang.org/x/mod`, `sumdb/note`, the example of its package documentation: a key,
    /// a text, and the note that they make.
    const SIGNER: &str =
        "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz";
    const VERIFIER: &str = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW";
    const TEXT: &str = "If you think cryptography is the answer to your problem,\n\
        then you don't know what your problem is.\n";
    const SIGNATURE: &str = "x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfq\
        dngotpRZb6KE6RyyBwJnAM=";

    #[test]
    fn sumdb_note_example_key_signs_as_published() {
        let secret = SecretKey::read(SIGNER).unwrap();
        assert_eq!(secret.to_text(), SIGNER);
        assert_eq!(secret.public().to_string(), VERIFIER);
        let signature = [secret.public().id().as_slice(), &secret.sign(TEXT.as_bytes())].concat();
        assert_eq!(STANDARD.encode(signature), SIGNATURE);
    }

    #[test]
    fn sumdb_note_example_is_read_and_believed() {
        let note = Note::read(&format!("{TEXT}\n— PeterNeumann {SIGNATURE}\n")).unwrap();
        let key = PublicKey::read(VERIFIER).unwrap();
        assert_eq!((note.text(), note.check(&key)), (TEXT, Ok(())));
    }

    /// Source: the example of C2SP `signed-note`, revision d4c16da.
    #[test]
    fn c2sp_signed_note_example_is_believed() {
        let key = "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k";
        let note = "This is an example message.\n\n— example.com/foo Uw2QOkn8srV1yJGh2VYRlL1Tnagv\
            1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM=\n";
        let note = Note::read(note).unwrap();
        assert_eq!(note.check(&PublicKey::read(key).unwrap()), Ok(()));
    }

    #[test]
    fn a_head_comes_back_and_no_changed_byte_is_believed() {
        let secret = SecretKey::of("cinderbook/8a716ec1b04febdc", &[7; 32]).unwrap();
        let head = TreeHead { size: 18_350, root: TreeHash::of(b"any") };
        let signed = secret.sign_head(head);
        let note = Note::read(&signed).unwrap();
        assert_eq!(note.check(secret.public()), Ok(()));
        assert_eq!(note.head(), Ok(("cinderbook/8a716ec1b04febdc", head)));
        for place in 0..signed.len() {
            let mut bytes = signed.clone().into_bytes();
            bytes[place] ^= 1 << (place % 7);
            let believed = String::from_utf8(bytes).is_ok_and(|text| {
                Note::read(&text).is_ok_and(|it| it.check(secret.public()).is_ok())
            });
            assert!(!believed, "byte {place}");
        }
    }

    #[test]
    fn every_shortened_or_changed_key_is_refused() {
        for from in 0..VERIFIER.len() {
            for to in from + 1..=VERIFIER.len() {
                let whole = (from, to) == (0, VERIFIER.len());
                assert_eq!(PublicKey::read(&VERIFIER[from..to]).is_some(), whole, "{from}..{to}");
            }
        }
        for place in 0..VERIFIER.len() {
            let mut bytes = VERIFIER.as_bytes().to_vec();
            bytes[place] += 1;
            assert!(String::from_utf8(bytes).map_or(true, |it| PublicKey::read(&it).is_none()));
        }
    }

    #[test]
    fn a_head_is_spelt_in_one_way() {
        let secret = SecretKey::of("cinderbook/made-up", &[7; 32]).unwrap();
        let hash = STANDARD.encode(TreeHash::of(b"any").0);
        let head = |text: &str| {
            let (id, signature) = (secret.public().id(), secret.sign(text.as_bytes()));
            let signature = STANDARD.encode([id.as_slice(), &signature].concat());
            let note = Note::read(&format!("{text}\n— cinderbook/made-up {signature}\n")).unwrap();
            assert_eq!(note.check(secret.public()), Ok(()), "signed, and yet no head");
            note.head().map(|(_, head)| head.size)
        };
        assert_eq!(head(&format!("a book\n41\n{hash}\n")), Ok(41));
        assert_eq!(head(&format!("a book\n0\n{hash}\n")), Ok(0));
        for (text, place) in [
            (format!("\n41\n{hash}\n"), "name"),
            ("a book\n".to_owned(), "size"),
            (format!("a book\n041\n{hash}\n"), "size"),
            (format!("a book\n+41\n{hash}\n"), "size"),
            ("a book\n41\n".to_owned(), "hash"),
            ("a book\n41\nbm9uZQ==\n".to_owned(), "hash"),
            (format!("a book\n41\n{hash}\nmore\n"), "fourth line"),
        ] {
            assert_eq!(head(&text), Err(NoteError::Form(place)), "{text:?}");
        }
    }

    #[test]
    fn what_is_in_no_form_of_a_note_is_refused() {
        let whole = format!("{TEXT}\n— PeterNeumann {SIGNATURE}\n");
        let read = |note: &str| Note::read(note).map(|_| ());
        assert_eq!(read(&whole), Ok(()));
        let filled = format!("{}{whole}", "x".repeat(NOTE_BYTES_MAX - whole.len()));
        assert_eq!(read(&filled), Ok(()));
        let long = NoteError::Form("length or characters");
        assert_eq!(read(&format!("x{filled}")), Err(long));
        assert_eq!(read(&whole.replace("If", "If\t")), Err(long));
        assert_eq!(read(&whole.replace("\n\n", "\n")), Err(NoteError::Form("empty line")));
        assert_eq!(read(whole.trim_end()), Err(NoteError::Form("end")));
        for signature in ["- PeterNeumann", "—PeterNeumann", "—  "] {
            let note = whole.replace("— PeterNeumann", signature);
            assert_eq!(read(&note), Err(NoteError::Form("signature")), "{signature}");
        }
        let unsigned = Note::read(&whole.replace("— Peter", "— Paul")).unwrap();
        assert_eq!(unsigned.check(&PublicKey::read(VERIFIER).unwrap()), Err(NoteError::Unsigned));
        let changed = Note::read(&whole.replace("If", "Of")).unwrap();
        assert_eq!(changed.check(&PublicKey::read(VERIFIER).unwrap()), Err(NoteError::Signature));
    }

    #[test]
    fn a_key_has_a_name_without_blanks_and_signs() {
        for name in ["", "a b", "a+b", "a\n"] {
            assert!(SecretKey::of(name, &[7; 32]).is_none(), "{name:?}");
        }
        // The neutral element of the curve: every signature would fit somewhere.
        let weak = std::array::from_fn(|place| u8::from(place == 0));
        assert_eq!(PublicKey::of("a", &weak), None);
    }
}

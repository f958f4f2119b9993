//! A record's file damaged at random: named or harmless, never a panic, never a silent wrong value.

use std::fs;
use std::path::Path;

use ledger::chain::Stored;
use ledger::{Book, LedgerError, verify};

use crate::story::{admitted, minute, opened};

/// Numbers that look random and are the same in each run (xorshift64*, Vigna 2016).
pub(crate) struct Shuffled(pub(crate) u64);

impl Shuffled {
    /// The next number below `below`.
    pub(crate) fn below(&mut self, below: usize) -> usize {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let high = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 33;
        usize::try_from(high).unwrap() % below
    }
}

/// A closed book of sixty entries on several pages of the file.
fn sound(folder: &Path) -> Vec<Stored> {
    let mut book = Book::create(folder).unwrap();
    book.append(minute(1), &"Ana Ruiz".into(), &opened()).unwrap();
    for n in 2..=60 {
        book.append(minute(n), &"Ana Ruiz".into(), &admitted(n)).unwrap();
    }
    book.chain().map(Result::unwrap).collect()
}

fn read(folder: &Path) -> Result<Vec<Stored>, LedgerError> {
    Book::open_read_only(folder)?.chain().collect()
}

/// Damages the file many times; gives how often that was noticed.
fn noticed(times: usize, damage: impl Fn(&mut Shuffled, &mut Vec<u8>)) -> usize {
    let folder = tempfile::tempdir().unwrap();
    let entries = sound(folder.path());
    let path = folder.path().join("record.sqlite");
    let bytes = fs::read(&path).unwrap();
    assert!(bytes.len() >= 5 * 4096, "{}", bytes.len());
    let mut shuffled = Shuffled(7);
    let mut noticed = 0;
    for time in 0..times {
        let mut damaged = bytes.clone();
        damage(&mut shuffled, &mut damaged);
        fs::write(&path, damaged).unwrap();
        for beside in ["record.sqlite-wal", "record.sqlite-shm"] {
            fs::remove_file(folder.path().join(beside)).ok();
        }
        let verified = verify(folder.path(), None);
        let whole = verified.as_ref().is_ok_and(|verification| verification.is_sound());
        match read(folder.path()) {
            Ok(read) => {
                // A cut tail is told by the head that was noted when the book was closed.
                let same = read == entries;
                assert!(same || !whole, "time {time}: other entries, and nobody noticed");
                assert!(entries.starts_with(&read), "time {time}: a wrong value");
            }
            Err(refused) => assert!(!refused.to_string().is_empty()),
        }
        noticed += usize::from(!whole);
    }
    noticed
}

#[test]
fn a_flipped_bit_anywhere_is_named_or_harmless() {
    let noticed = noticed(400, |shuffled, bytes| {
        let place = shuffled.below(bytes.len());
        bytes[place] ^= 1 << shuffled.below(8);
    });
    assert!(noticed > 200, "{noticed} of 400 hit something that matters");
}

#[test]
fn a_changed_byte_among_the_tables_is_named_or_harmless() {
    let noticed = noticed(300, |shuffled, bytes| {
        let (page, place) = (shuffled.below(bytes.len() / 4096), shuffled.below(160));
        bytes[page * 4096 + place] = u8::try_from(shuffled.below(256)).unwrap();
    });
    assert!(noticed > 100, "{noticed} of 300 hit something that matters");
}

#[test]
fn a_cut_off_or_overwritten_file_is_named() {
    let cut = noticed(60, |shuffled, bytes| {
        let length = shuffled.below(bytes.len());
        bytes.truncate(length);
    });
    assert_eq!(cut, 60);
    let overwritten = noticed(60, |shuffled, bytes| {
        let page = shuffled.below(bytes.len() / 4096) * 4096;
        let filling = u8::try_from(shuffled.below(256)).unwrap();
        bytes[page..page + 4096].fill(filling);
    });
    assert!(overwritten > 50, "{overwritten}");
}

//! A record's file damaged at random: named or harmless, never a panic, never a silent wrong value.

use std::fs;
use std::path::Path;

use ledger::chain::Stored;
use ledger::{Book, Head, LedgerError, verify};

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

/// How often the file is damaged in a test run; `CINDERBOOK_FLIPS` asks for another number, such as
/// 10000.
fn flips() -> usize {
    std::env::var("CINDERBOOK_FLIPS").map_or(400, |text| text.parse().unwrap())
}

/// A book of sixty entries on several pages of the file, written in by `n` from its beginning on.
fn told(folder: &Path) -> Book {
    let mut book = Book::create(folder).unwrap();
    book.append(minute(1), &"Ana Ruiz".into(), &opened()).unwrap();
    for n in 2..=60 {
        book.append(minute(n), &"Ana Ruiz".into(), &admitted(n)).unwrap();
    }
    book
}

fn read(folder: &Path) -> Result<Vec<Stored>, LedgerError> {
    Book::open_read_only(folder)?.chain().collect()
}

/// A book that can be put back as it was.
struct Kept {
    folder: tempfile::TempDir,
    entries: Vec<Stored>,
    record: Vec<u8>,
    /// What waits in the file beside the record, where the book was never closed.
    waiting: Option<Vec<u8>>,
}

const WAITING: &str = "record.sqlite-wal";

impl Kept {
    /// A book that was closed in order: its head is noted.
    fn closed() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let book = told(folder.path());
        let entries = book.chain().map(Result::unwrap).collect();
        drop(book);
        let record = fs::read(folder.path().join("record.sqlite")).unwrap();
        Self { folder, entries, record, waiting: None }
    }

    /// A book as a program leaves it that is killed: its last entries wait beside the record.
    fn left_open() -> Self {
        let (other, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let book = told(other.path());
        let entries = book.chain().map(Result::unwrap).collect();
        let read = |name| fs::read(other.path().join(name)).unwrap();
        let (record, waiting) = (read("record.sqlite"), Some(read(WAITING)));
        fs::create_dir(folder.path().join("evidence")).unwrap();
        Self { folder, entries, record, waiting }
    }

    fn head(&self) -> Option<Head> {
        self.entries.last().map(|last| Head { number: last.entry.number, hash: last.hash })
    }

    fn lay_out(&self, record: &[u8], waiting: Option<&[u8]>) {
        let folder = self.folder.path();
        fs::write(folder.join("record.sqlite"), record).unwrap();
        for beside in [WAITING, "record.sqlite-shm"] {
            fs::remove_file(folder.join(beside)).ok();
        }
        if let Some(waiting) = waiting {
            fs::write(folder.join(WAITING), waiting).unwrap();
        }
    }

    /// Whether `verify` notices what was done: with the head that was seen last, every entry that
    /// is read is the one that was written, and none is gone unnoticed.
    fn noticed(&self, time: usize) -> bool {
        let folder = self.folder.path();
        let verified = verify(folder, self.head());
        let whole = verified.as_ref().is_ok_and(|verification| verification.is_sound());
        match read(folder) {
            Ok(read) => {
                let same = read == self.entries;
                assert!(same || !whole, "time {time}: other entries, and nobody noticed");
                assert!(self.entries.starts_with(&read), "time {time}: a wrong value");
            }
            Err(refused) => assert!(!refused.to_string().is_empty()),
        }
        // Opened to write in, it is refused by name or is as it was, up to some entry.
        match Book::open(folder) {
            Ok(book) => {
                let read: Vec<Stored> = book.chain().map_while(Result::ok).collect();
                assert!(self.entries.starts_with(&read), "time {time}: a wrong value");
            }
            Err(refused) => assert!(refused.hint().is_some(), "time {time}: {refused}"),
        }
        fs::remove_file(folder.join("head")).ok();
        !whole
    }
}

/// Damages the record's file many times; gives how often that was noticed.
fn noticed(times: usize, damage: impl Fn(&mut Shuffled, &mut Vec<u8>)) -> usize {
    let kept = Kept::closed();
    assert!(kept.record.len() >= 5 * 4096, "{}", kept.record.len());
    let mut shuffled = Shuffled(7);
    let once = |time| {
        let mut damaged = kept.record.clone();
        damage(&mut shuffled, &mut damaged);
        kept.lay_out(&damaged, None);
        kept.noticed(time)
    };
    (0..times).map(once).filter(|noticed| *noticed).count()
}

#[test]
fn a_flipped_bit_anywhere_is_named_or_harmless() {
    let flips = flips();
    let noticed = noticed(flips, |shuffled, bytes| {
        let place = shuffled.below(bytes.len());
        bytes[place] ^= 1 << shuffled.below(8);
    });
    assert!(noticed > flips / 2, "{noticed} of {flips} hit something that matters");
}

/// What waits beside the record has sums of its own: what is damaged there, and all after it, counts
/// as never written. The chain alone cannot tell that; a head that was seen elsewhere does.
#[test]
fn a_flipped_bit_in_what_waits_beside_the_record_is_named_or_harmless() {
    let kept = Kept::left_open();
    let waiting = kept.waiting.clone().unwrap();
    assert!(waiting.len() > 60 * 4096, "{}", waiting.len());
    kept.lay_out(&kept.record, Some(&waiting));
    assert!(!kept.noticed(0), "nothing is damaged yet");
    let (flips, mut shuffled, mut noticed) = (flips(), Shuffled(17), 0);
    for time in 1..=flips {
        let mut damaged = waiting.clone();
        let place = shuffled.below(damaged.len());
        damaged[place] ^= 1 << shuffled.below(8);
        kept.lay_out(&kept.record, Some(&damaged));
        noticed += usize::from(kept.noticed(time));
    }
    assert!(noticed > flips / 2, "{noticed} of {flips} hit something that matters");
}

/// A damaged file is refused to be written in, with two ways out; it can be read up to the damage,
/// and `verify` says up to where.
#[test]
fn a_damaged_file_can_still_be_read_and_says_how_to_go_on() {
    let kept = Kept::closed();
    let folder = kept.folder.path();
    let mut damaged = kept.record.clone();
    let last = kept.entries[39].hash.0;
    let place = damaged.windows(32).rposition(|window| window == last).unwrap();
    damaged[place] ^= 1;
    kept.lay_out(&damaged, None);
    let read: Vec<_> =
        Book::open_read_only(folder).unwrap().chain().map_while(Result::ok).collect();
    assert_eq!(read.len(), 39);
    assert!(kept.entries.starts_with(&read));
    let verified = verify(folder, None).unwrap();
    assert_eq!(verified.sound_up_to(), 39, "{:?}", verified.faults);
    // Within a page's own tables the file itself is damaged.
    let mut damaged = kept.record.clone();
    damaged[4096..4120].fill(0xff);
    kept.lay_out(&damaged, None);
    let refused = Book::open(folder).err().unwrap();
    assert!(refused.to_string().starts_with("the record's file is damaged"), "{refused}");
    let hint = refused.hint().unwrap();
    assert!(hint.contains("`restore`") && hint.contains("read only"), "{hint}");
}

/// A row of the file that calls itself an earlier one: whoever asks for what follows it is led in a
/// circle.
#[test]
fn a_number_that_does_not_rise_ends_the_walk() {
    let kept = Kept::closed();
    let mut damaged = kept.record.clone();
    let leaf = damaged.len() - 4096;
    // A leaf's rows: how many, where each begins; its length in two bytes, then its number.
    let word = |at: usize| usize::from(u16::from_be_bytes([damaged[at], damaged[at + 1]]));
    assert_eq!(damaged[leaf], 13, "the last page holds rows");
    let last = leaf + word(leaf + 8 + 2 * (word(leaf + 3) - 1)) + 2;
    assert_eq!(damaged[last], 60);
    damaged[last] = 3;
    kept.lay_out(&damaged, None);
    let verified = verify(kept.folder.path(), None).unwrap();
    assert_eq!(verified.sound_up_to(), 59, "{:?}", verified.faults);
    assert!(!verified.is_sound());
    assert!(Book::open(kept.folder.path()).is_err());
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

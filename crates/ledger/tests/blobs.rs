//! Evidence files: filed once, found again, never half there.

use std::fs;
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use ledger::blob::{BlobError, Blobs};
use ledger::files::Disk;
use ledger::hash::BlobHash;

use crate::failing::{Failing, FailingFiles};

fn blobs(folder: &Path) -> Blobs {
    Blobs::new(folder.to_owned(), Arc::new(Disk))
}

#[test]
fn a_blob_lies_under_its_own_hash() {
    let folder = tempfile::tempdir().unwrap();
    let blobs = blobs(folder.path());
    let filed = blobs.file(&mut &b"abc"[..]).unwrap();
    assert_eq!((filed.hash, filed.bytes), (BlobHash::of(b"abc"), 3));
    let name = "ba/ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(fs::read(folder.path().join(name)).unwrap(), b"abc");
    assert_eq!(blobs.read(filed.hash).unwrap(), b"abc");
    assert_eq!(blobs.list().unwrap(), [filed.hash]);
}

#[test]
fn the_same_bytes_are_filed_once() {
    let folder = tempfile::tempdir().unwrap();
    let blobs = blobs(folder.path());
    let large = vec![7; 200_000];
    let first = blobs.file(&mut large.as_slice()).unwrap();
    assert_eq!(blobs.file(&mut large.as_slice()).unwrap(), first);
    assert_eq!(blobs.list().unwrap().len(), 1);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left over");
}

#[test]
fn a_changed_file_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let blobs = blobs(folder.path());
    let hash = blobs.file(&mut &b"abc"[..]).unwrap().hash;
    fs::write(blobs.path(hash), b"abd").unwrap();
    let damaged = blobs.read(hash).unwrap_err().to_string();
    assert_eq!(damaged, "evidence ba7816bf8f01… is damaged: its contents hash to a52d159f262b…");
    assert!(matches!(blobs.check(hash), Err(BlobError::Damaged { .. })));
    assert!(matches!(blobs.file(&mut &b"abc"[..]), Err(BlobError::Damaged { .. })));
    fs::remove_file(blobs.path(hash)).unwrap();
    assert!(matches!(blobs.read(hash), Err(BlobError::Missing { .. })));
}

#[test]
fn a_source_that_breaks_off_leaves_nothing() {
    struct BreaksOff(u32);
    impl Read for BreaksOff {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            self.0 += 1;
            if self.0 > 3 { Err(io::Error::other("pulled out")) } else { Ok(buffer.len()) }
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let refused = blobs(folder.path()).file(&mut BreaksOff(0)).unwrap_err();
    assert_eq!(refused.to_string(), "cannot read what is to be filed as evidence");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

/// Fails at the first deed, then at the second, and so on until nothing fails.
#[test]
fn whichever_deed_fails_nothing_is_half_there() {
    let contents: [&[u8]; 3] = [b"first", &[1; 150_000], b"first"];
    for n in 1.. {
        let folder = tempfile::tempdir().unwrap();
        let failing = Failing::at(n);
        let broken = Blobs::new(folder.path().to_owned(), Arc::new(FailingFiles(failing.clone())));
        let mut kept = Vec::new();
        for mut content in contents {
            match broken.file(&mut content) {
                Ok(filed) => kept.push(filed.hash),
                Err(refused) => {
                    assert!(failing.reached(), "deed {n}: {refused}");
                    break;
                }
            }
        }
        // Opened anew on a sound disk: all that was acknowledged is there, and all that is there
        // is whole, also what was not acknowledged.
        let sound = blobs(folder.path());
        for hash in kept {
            sound.check(hash).unwrap();
        }
        for hash in sound.list().unwrap() {
            sound.check(hash).unwrap();
        }
        for mut content in contents {
            sound.file(&mut content).unwrap();
        }
        assert_eq!(sound.list().unwrap().len(), 2);
        if !failing.reached() {
            assert!(n > 15, "only {n} deeds were seen");
            return;
        }
    }
}

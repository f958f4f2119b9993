//! The folder of a book: who may write in it, and whether it is fit to be written in.

#![expect(clippy::disallowed_methods, reason = "the ledger keeps files")]

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Write};
use std::path::Path;

/// The name of the record's file in a book.
pub(crate) const RECORD: &str = "record.sqlite";

/// The name of the folder of evidence files in a book.
pub(crate) const EVIDENCE: &str = "evidence";

/// The name of the file that keeps the head as it was when the book was last closed. It finds
/// out entries that were cut off at the end, which the chain itself cannot.
pub(crate) const HEAD: &str = "head";

/// The name of the file that the writing program holds.
const LOCK: &str = "lock";

/// The right to write in a book, held until it is dropped.
///
/// The system takes it back when the program ends, in whatever way.
pub(crate) struct Lock(#[expect(dead_code, reason = "held, not used")] File);

/// Why the right to write cannot be had.
pub(crate) enum LockError {
    /// Another program has it; its process number where it can be told.
    Held(Option<u32>),
    /// The file system refuses.
    Refused(io::Error),
}

impl Lock {
    /// Takes the right to write in this folder.
    pub(crate) fn take(folder: &Path) -> Result<Self, LockError> {
        let path = folder.join(LOCK);
        let mut options = OpenOptions::new();
        options.read(true).write(true).create(true).truncate(false);
        let mut file = options.open(&path).map_err(LockError::Refused)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut text = String::new();
                let holder = file.read_to_string(&mut text).ok();
                return Err(LockError::Held(holder.and_then(|_| text.trim().parse().ok())));
            }
            Err(TryLockError::Error(cause)) => return Err(LockError::Refused(cause)),
        }
        let write = file.set_len(0).and_then(|()| writeln!(file, "{}", std::process::id()));
        write.map_err(LockError::Refused)?;
        Ok(Self(file))
    }
}

/// Whether a folder is fit for a new book: nothing in it, or the beginnings of one.
pub(crate) fn is_free(folder: &Path) -> io::Result<bool> {
    let ours = |name: &str| {
        [EVIDENCE, LOCK, crate::room::RESERVE].contains(&name) || name.starts_with(RECORD)
    };
    for entry in fs::read_dir(folder)? {
        if !entry?.file_name().to_str().is_some_and(ours) {
            return Ok(false);
        }
    }
    Ok(true)
}

/// Kinds of file system that lie on another machine. Their locks and syncs cannot be relied on.
const NETWORK: [&str; 22] = [
    "9p",
    "afs",
    "beegfs",
    "ceph",
    "cifs",
    "coda",
    "davfs",
    "fuse.ceph",
    "fuse.cephfs",
    "fuse.davfs2",
    "fuse.gcsfuse",
    "fuse.glusterfs",
    "fuse.rclone",
    "fuse.s3fs",
    "fuse.sshfs",
    "glusterfs",
    "lustre",
    "ncpfs",
    "nfs",
    "nfs4",
    "smb3",
    "smbfs",
];

/// The kind of network file system this folder lies on; `None` if it lies on a local one, or if
/// this system does not say (it is asked on Linux only).
pub(crate) fn network_drive(folder: &Path) -> Option<String> {
    let mounts = fs::read_to_string("/proc/self/mountinfo").ok()?;
    let kind = file_system(&mounts, &folder.canonicalize().ok()?)?;
    NETWORK.contains(&kind.as_str()).then_some(kind)
}

/// The kind of file system that `path` lies on, by the kernel's list of mounts (proc(5)): the
/// fifth field is the place, and the first after ` - ` is the kind. The deepest place wins, and
/// of two at one place the later.
fn file_system(mounts: &str, path: &Path) -> Option<String> {
    let parsed = mounts.lines().filter_map(|line| {
        let (front, back) = line.split_once(" - ")?;
        let place = unescaped(front.split(' ').nth(4)?);
        Some((place, back.split(' ').next()?))
    });
    let above = parsed.filter(|(place, _)| path.starts_with(place));
    let deepest = above.max_by_key(|(place, _)| place.len())?;
    Some(deepest.1.to_owned())
}

/// Undoes the kernel's `\040` for a space and its like.
fn unescaped(place: &str) -> String {
    [("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")]
        .iter()
        .fold(place.to_owned(), |text, (code, character)| text.replace(code, character))
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOUNTS: &str = "\
22 27 0:21 / /proc rw,relatime - proc proc rw
27 1 254:0 / / rw,relatime - ext4 /dev/vda rw
40 27 0:50 / /mnt/lab rw,relatime shared:7 - cifs //server/lab rw,vers=3.1.1
41 40 8:1 / /mnt/lab/stick rw - vfat /dev/sda1 rw
42 27 0:51 / /mnt/two\\040words rw - nfs4 server:/export rw
43 27 0:52 / /mnt/twice rw - ext4 /dev/sdb1 rw
44 27 0:53 / /mnt/twice rw - fuse.sshfs lab@server:/ rw
";

    #[test]
    fn the_deepest_mount_says_where_a_folder_lies() {
        let check = |path: &str, kind: &str| {
            assert_eq!(file_system(MOUNTS, Path::new(path)).as_deref(), Some(kind), "{path}");
        };
        check("/home/ana/book", "ext4");
        check("/mnt/laboratory", "ext4");
        check("/mnt/lab/book", "cifs");
        check("/mnt/lab/stick/book", "vfat");
        check("/mnt/two words/book", "nfs4");
        check("/mnt/twice/book", "fuse.sshfs");
    }

    #[test]
    fn only_other_machines_are_network_drives() {
        for kind in ["cifs", "nfs4", "fuse.sshfs"] {
            assert!(NETWORK.contains(&kind));
        }
        for kind in ["ext4", "vfat", "tmpfs", "fuseblk", "overlay"] {
            assert!(!NETWORK.contains(&kind));
        }
    }

    #[test]
    fn a_second_taker_is_told_who_holds_the_book() {
        let folder = tempfile::tempdir().unwrap();
        let first = Lock::take(folder.path()).ok().unwrap();
        let Err(LockError::Held(holder)) = Lock::take(folder.path()) else { panic!("taken twice") };
        assert_eq!(holder, Some(std::process::id()));
        drop(first);
        assert!(Lock::take(folder.path()).is_ok());
    }
}

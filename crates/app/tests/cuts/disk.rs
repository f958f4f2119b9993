//! A disk that is rebuilt from the layer's log as it may be after the power was cut. What was synced
//! is there. Of what was not, any part may be: sectors, lengths and names.

#![expect(clippy::disallowed_methods, reason = "this test reads and writes folders")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::os::unix::fs::MetadataExt as _;
use std::path::Path;

use rand::{Rng, RngExt as _};

/// The least that a disk writes at once: a longer write may be torn between two of these.
const SECTOR: usize = 512;

/// One change that the layer logged.
#[derive(Debug)]
pub(super) enum Step<'a> {
    Write { file: u64, at: usize, bytes: &'a [u8] },
    Length { file: u64, length: usize },
    Sync { file: u64 },
    Create { file: u64, path: &'a str },
    MakeFolder { path: &'a str },
    Rename { from: &'a str, to: &'a str },
    Remove { path: &'a str },
    SyncFolder { path: &'a str },
}

/// The steps of a log, each with the place in the log at which it ends.
pub(super) fn steps(log: &[u8]) -> Vec<(usize, Step<'_>)> {
    let (mut all, mut at) = (Vec::new(), 0);
    let whole = |from: usize, bytes: usize| {
        let digits = log[from..from + bytes].iter().rev();
        digits.fold(0_u64, |number, byte| number << 8 | u64::from(*byte))
    };
    let size = |number: u64| usize::try_from(number).unwrap();
    while at < log.len() {
        let (length, file, place) = (size(whole(at + 4, 4)), whole(at + 8, 8), whole(at + 16, 8));
        let bytes = &log[at + 24..at + 24 + length];
        let path = || std::str::from_utf8(bytes).unwrap();
        let step = match log[at] {
            b'w' => Step::Write { file, at: size(place), bytes },
            b't' => Step::Length { file, length: size(place) },
            b's' => Step::Sync { file },
            b'c' => Step::Create { file, path: path() },
            b'm' => Step::MakeFolder { path: path() },
            b'u' => Step::Remove { path: path() },
            b'd' => Step::SyncFolder { path: path() },
            b'n' => {
                let (from, to) = path().split_once('\n').unwrap();
                Step::Rename { from, to }
            }
            other => panic!("the layer logs no {other}"),
        };
        at += 24 + length;
        all.push((at, step));
    }
    all
}

/// Whether a disk keeps what it was told to sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Trust {
    Keeps,
    /// It says so and forgets: no program can stand on it.
    Forgets,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Node {
    File(usize),
    Folder(usize),
}

/// A name in a folder.
type Name = (usize, String);

/// Changes of names that a disk makes all or none.
type Group = Vec<(Name, Option<Node>)>;

#[derive(Clone, Debug)]
enum Change<'a> {
    Write(usize, &'a [u8]),
    Length(usize),
}

/// What a file holds.
#[derive(Clone, Debug, Default)]
struct Contents<'a> {
    synced: Vec<u8>,
    since: Vec<Change<'a>>,
}

/// The files below one folder, as the program sees them and as they are on the disk for certain.
#[derive(Clone, Debug)]
pub(super) struct Disk<'a> {
    trust: Trust,
    files: Vec<Contents<'a>>,
    inodes: BTreeMap<u64, usize>,
    folders: usize,
    seen: BTreeMap<Name, Node>,
    synced: BTreeMap<Name, Node>,
    /// Changes of names that no sync has covered yet, in their order.
    since: Vec<Group>,
}

impl<'a> Disk<'a> {
    /// The disk with what is below a folder now, all of it synced.
    pub(super) fn of(folder: &Path) -> Self {
        let mut disk = Self {
            trust: Trust::Keeps,
            files: Vec::new(),
            inodes: BTreeMap::new(),
            folders: 1,
            seen: BTreeMap::new(),
            synced: BTreeMap::new(),
            since: Vec::new(),
        };
        disk.read(folder, 0);
        disk.synced = disk.seen.clone();
        disk
    }

    /// The same on a disk that is to be trusted so far.
    pub(super) fn trusted(&self, trust: Trust) -> Self {
        Self { trust, ..self.clone() }
    }

    fn read(&mut self, folder: &Path, number: usize) {
        for entry in fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = (number, entry.file_name().into_string().unwrap());
            if entry.path().is_dir() {
                self.folders += 1;
                let inner = self.folders - 1;
                self.seen.insert(name, Node::Folder(inner));
                self.read(&entry.path(), inner);
            } else {
                let synced = fs::read(entry.path()).unwrap();
                self.inodes.insert(entry.metadata().unwrap().ino(), self.files.len());
                self.seen.insert(name, Node::File(self.files.len()));
                self.files.push(Contents { synced, since: Vec::new() });
            }
        }
    }

    /// Takes a step of the log up.
    pub(super) fn take(&mut self, step: &Step<'a>) {
        match *step {
            Step::Write { file, at, bytes } => self.file(file).since.push(Change::Write(at, bytes)),
            Step::Length { file, length } => self.file(file).since.push(Change::Length(length)),
            Step::Sync { file } => {
                if self.trust == Trust::Keeps {
                    self.file(file).sync();
                }
            }
            Step::Create { file, path } => {
                self.inodes.insert(file, self.files.len());
                self.files.push(Contents::default());
                self.name(vec![(self.place(path), Some(Node::File(self.files.len() - 1)))]);
            }
            Step::MakeFolder { path } => {
                self.folders += 1;
                self.name(vec![(self.place(path), Some(Node::Folder(self.folders - 1)))]);
            }
            Step::Rename { from, to } => {
                let (from, to) = (self.place(from), self.place(to));
                let node = self.seen[&from];
                self.name(vec![(from, None), (to, Some(node))]);
            }
            Step::Remove { path } => self.name(vec![(self.place(path), None)]),
            Step::SyncFolder { path } => {
                if self.trust == Trust::Keeps {
                    self.sync_folder(self.folder(path));
                }
            }
        }
    }

    fn file(&mut self, inode: u64) -> &mut Contents<'a> {
        &mut self.files[self.inodes[&inode]]
    }

    fn folder(&self, path: &str) -> usize {
        let parts = path.split('/').filter(|part| !part.is_empty());
        parts.fold(0, |folder, part| match self.seen[&(folder, part.to_owned())] {
            Node::Folder(inner) => inner,
            Node::File(_) => panic!("{path} is said to be a folder"),
        })
    }

    fn place(&self, path: &str) -> Name {
        let (above, name) = path.rsplit_once('/').unwrap_or(("", path));
        (self.folder(above), name.to_owned())
    }

    fn name(&mut self, group: Group) {
        apply(&mut self.seen, &group);
        self.since.push(group);
    }

    /// What was done to the names in a folder is on the disk, with what these names had been through
    /// elsewhere.
    fn sync_folder(&mut self, folder: usize) {
        let mut names = BTreeSet::new();
        let (mut waiting, mut synced) = (Vec::new(), Vec::new());
        for group in std::mem::take(&mut self.since).into_iter().rev() {
            let covered = |(name, _): &(Name, _)| name.0 == folder || names.contains(name);
            if group.iter().any(covered) {
                names.extend(group.iter().map(|(name, _)| name.clone()));
                synced.push(group);
            } else {
                waiting.push(group);
            }
        }
        waiting.reverse();
        self.since = waiting;
        synced.iter().rev().for_each(|group| apply(&mut self.synced, group));
    }

    /// The files as the program sees them: by name, with `None` for a folder.
    pub(super) fn as_seen(&self) -> BTreeMap<String, Option<Vec<u8>>> {
        let seen = |file: &Contents<'_>| {
            let mut file = file.clone();
            file.sync();
            file.synced
        };
        self.tree(&self.seen, &mut { seen })
    }

    /// The files as they may be after the power was cut.
    pub(super) fn after_a_cut(&self, random: &mut impl Rng) -> BTreeMap<String, Option<Vec<u8>>> {
        let mut names = self.synced.clone();
        // A journal keeps what was done to names up to some point; a disk without one anything.
        let journal = random.random_bool(0.5);
        let up_to = random.random_range(0..=self.since.len());
        for (nth, group) in self.since.iter().enumerate() {
            let kept = if journal { nth < up_to } else { random.random_bool(0.5) };
            if kept {
                apply(&mut names, group);
            }
        }
        let mut files = self.tree(&names, &mut |file: &Contents<'_>| file.after_a_cut(random));
        // Memory that is shared is on no disk in any order.
        for (_, bytes) in files.iter_mut().filter(|(name, _)| name.ends_with("-shm")) {
            random.fill(bytes.as_mut().unwrap().as_mut_slice());
        }
        files
    }

    fn tree(
        &self,
        names: &BTreeMap<Name, Node>,
        contents: &mut impl FnMut(&Contents<'a>) -> Vec<u8>,
    ) -> BTreeMap<String, Option<Vec<u8>>> {
        let mut tree = BTreeMap::new();
        let mut folders = vec![(0, String::new())];
        while let Some((folder, path)) = folders.pop() {
            for ((_, name), node) in
                names.range((folder, String::new())..(folder + 1, String::new()))
            {
                let path = format!("{path}{name}");
                match node {
                    Node::File(file) => tree.insert(path, Some(contents(&self.files[*file]))),
                    Node::Folder(inner) => {
                        folders.push((*inner, format!("{path}/")));
                        tree.insert(path, None)
                    }
                };
            }
        }
        tree
    }
}

fn apply(names: &mut BTreeMap<Name, Node>, group: &Group) {
    for (name, node) in group {
        match node {
            Some(node) => names.insert(name.clone(), *node),
            None => names.remove(name),
        };
    }
}

impl Contents<'_> {
    fn sync(&mut self) {
        for change in std::mem::take(&mut self.since) {
            let length = change.length(self.synced.len());
            self.synced.resize(length, 0);
            change.apply(&mut self.synced, 0);
        }
    }

    /// What the file may hold: of each sector what was synced, or what it held after any of the
    /// changes since; of the lengths any.
    fn after_a_cut(&self, random: &mut impl Rng) -> Vec<u8> {
        let mut lengths = vec![self.synced.len()];
        for change in &self.since {
            lengths.push(change.length(lengths[lengths.len() - 1]));
        }
        let none_all_any = random.random_range(0..3);
        let mut upto = |most: usize| match none_all_any {
            0 => 0,
            1 => most,
            _ => random.random_range(0..=most),
        };
        let length = lengths[upto(lengths.len() - 1)];
        let mut bytes = self.synced.clone();
        bytes.resize(length, 0);
        for (nth, sector) in bytes.chunks_mut(SECTOR).enumerate() {
            let from = nth * SECTOR;
            let touches = |change: &&Change<'_>| change.touches(from);
            let touching: Vec<_> = self.since.iter().filter(touches).collect();
            for change in &touching[..upto(touching.len())] {
                change.apply(sector, from);
            }
        }
        // Where nothing of ours was written yet, what lay there before may show.
        if random.random_bool(0.25) && length > self.synced.len() {
            for sector in bytes[self.synced.len()..].chunks_mut(SECTOR) {
                if sector.iter().all(|byte| *byte == 0) {
                    random.fill(sector);
                }
            }
        }
        bytes
    }
}

impl Change<'_> {
    fn length(&self, before: usize) -> usize {
        match self {
            Self::Write(at, bytes) => before.max(at + bytes.len()),
            Self::Length(length) => *length,
        }
    }

    /// Whether it says anything of the sector that begins here.
    fn touches(&self, sector: usize) -> bool {
        match self {
            Self::Write(at, bytes) => *at < sector + SECTOR && sector < at + bytes.len(),
            Self::Length(length) => *length < sector + SECTOR,
        }
    }

    /// Does it to the part of a file that begins at `from`.
    fn apply(&self, part: &mut [u8], from: usize) {
        let end = from + part.len();
        match self {
            Self::Write(at, bytes) => {
                let (first, last) = ((*at).max(from), (at + bytes.len()).min(end));
                if first < last {
                    part[first - from..last - from].copy_from_slice(&bytes[first - at..last - at]);
                }
            }
            Self::Length(length) if *length < end => part[length.max(&from) - from..].fill(0),
            Self::Length(_) => {}
        }
    }
}

/// Writes files into a folder.
pub(super) fn lay_out(files: &BTreeMap<String, Option<Vec<u8>>>, folder: &Path) {
    for (name, bytes) in files {
        match bytes {
            None => fs::create_dir(folder.join(name)).unwrap(),
            Some(bytes) => fs::write(folder.join(name), bytes).unwrap(),
        }
    }
}

/// What is in a folder, as [`Disk::as_seen`] tells it.
pub(super) fn there(folder: &Path) -> BTreeMap<String, Option<Vec<u8>>> {
    Disk::of(folder).as_seen()
}

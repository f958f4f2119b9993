//! The tree over the entries: one short hash for all of them, and short proofs of what it holds.
//!
//! This file knows bytes and hashes only.
//!
//! # Source
//!
//! RFC 6962, 2.1 (the same tree in RFC 9162, 2.1), with SHA-256. A leaf is `H(0x00 ‖ d)`, where `d`
//! is the header of an entry ([`crate::chain`]); a node is `H(0x01 ‖ left ‖ right)`. Of `n` leaves
//! the left side takes the greatest power of two below `n`. Leaves are counted from 0 there, and
//! entries from 1: entry 12 is leaf 11.
//!
//! A proof is a list of at most as many hashes as `n` has binary digits, twice that for the
//! consistency of two sizes: 20 for the inclusion of one entry among a million.

use sha2::{Digest, Sha256};

use crate::hash::TreeHash;

/// The hash of a leaf that holds `bytes`.
#[must_use]
pub fn leaf(bytes: &[u8]) -> TreeHash {
    TreeHash(Sha256::new_with_prefix([0]).chain_update(bytes).finalize().into())
}

/// The hash of the node above two others.
#[must_use]
pub fn node(left: TreeHash, right: TreeHash) -> TreeHash {
    let hasher = Sha256::new_with_prefix([1]).chain_update(left.0).chain_update(right.0);
    TreeHash(hasher.finalize().into())
}

/// The hash of whole subtrees side by side, the greater ones first.
fn joined(whole: impl DoubleEndedIterator<Item = TreeHash>) -> TreeHash {
    whole.rev().reduce(|right, left| node(left, right)).unwrap_or(TreeHash::of(b""))
}

/// The right edge of a tree that grows: enough to tell its hash at any time, in the room of a few
/// hashes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Frontier {
    size: u64,
    /// The hashes of its whole subtrees, the greatest first: one for each binary digit 1 of `size`.
    whole: Vec<TreeHash>,
}

impl Frontier {
    /// Adds a leaf on the right.
    pub fn push(&mut self, leaf: TreeHash) {
        let mut last = leaf;
        for _ in 0..self.size.trailing_ones() {
            if let Some(left) = self.whole.pop() {
                last = node(left, last);
            }
        }
        self.whole.push(last);
        self.size += 1;
    }

    /// How many leaves it has.
    #[must_use]
    pub const fn size(&self) -> u64 {
        self.size
    }

    /// Its hash.
    #[must_use]
    pub fn root(&self) -> TreeHash {
        joined(self.whole.iter().copied())
    }
}

/// A whole tree, to make proofs from: some 64 bytes for each leaf.
#[derive(Clone, Debug, Default)]
pub struct Tree {
    /// By level, from the leaves up: the hashes of all whole subtrees of that height.
    levels: Vec<Vec<TreeHash>>,
}

impl Tree {
    /// Adds a leaf on the right.
    pub fn push(&mut self, leaf: TreeHash) {
        let mut next = Some(leaf);
        for level in 0.. {
            let Some(hash) = next else { break };
            if level == self.levels.len() {
                self.levels.push(Vec::new());
            }
            let Some(row) = self.levels.get_mut(level) else { break };
            row.push(hash);
            next = match row.as_slice() {
                [.., left, right] if row.len() % 2 == 0 => Some(node(*left, *right)),
                _ => None,
            };
        }
    }

    /// How many leaves it has.
    #[must_use]
    pub fn size(&self) -> u64 {
        self.levels.first().map_or(0, |leaves| leaves.len() as u64)
    }

    /// Its hash when it had `size` leaves; `None` if it never had so many.
    #[must_use]
    pub fn root(&self, size: u64) -> Option<TreeHash> {
        self.range(0, size)
    }

    /// The hash of the leaves from `from` up to `to`. `from` is a multiple of the greatest power of
    /// two within the range, as in every range of this tree.
    fn range(&self, from: u64, to: u64) -> Option<TreeHash> {
        let (mut at, mut parts) = (from, Vec::new());
        while at < to {
            let level = (to - at).ilog2();
            let row = self.levels.get(usize::try_from(level).ok()?)?;
            parts.push(*row.get(usize::try_from(at >> level).ok()?)?);
            at += 1 << level;
        }
        Some(joined(parts.into_iter()))
    }

    /// The proof that leaf `index` is in the tree of `size` leaves; `None` if it is not.
    #[must_use]
    pub fn inclusion(&self, index: u64, size: u64) -> Option<Vec<TreeHash>> {
        if index >= size || size > self.size() {
            return None;
        }
        let (mut from, mut to, mut proof) = (0, size, Vec::new());
        while to - from > 1 {
            let middle = from + split(to - from);
            if index < middle {
                proof.push(self.range(middle, to)?);
                to = middle;
            } else {
                proof.push(self.range(from, middle)?);
                from = middle;
            }
        }
        proof.reverse();
        Some(proof)
    }

    /// The proof that the tree of `size` leaves begins with the tree of `earlier` leaves; `None`
    /// if it does not, or if `earlier` is 0, of which there is nothing to prove.
    #[must_use]
    pub fn consistency(&self, earlier: u64, size: u64) -> Option<Vec<TreeHash>> {
        if earlier == 0 || earlier > size || size > self.size() {
            return None;
        }
        let (mut from, mut to, mut proof) = (0, size, Vec::new());
        while to != earlier {
            let middle = from + split(to - from);
            if earlier <= middle {
                proof.push(self.range(middle, to)?);
                to = middle;
            } else {
                proof.push(self.range(from, middle)?);
                from = middle;
            }
        }
        // The last subtree of the earlier tree; if it is the whole of it, its hash is known.
        if from > 0 {
            proof.push(self.range(from, to)?);
        }
        proof.reverse();
        Some(proof)
    }
}

/// How many of `leaves` (two at least) the left side takes.
fn split(leaves: u64) -> u64 {
    1 << (leaves - 1).ilog2()
}

/// Whether `proof` shows that `leaf` is leaf `index` of the tree of `size` leaves with this hash.
///
/// # Source
///
/// RFC 9162, 2.1.3.2.
#[must_use]
pub fn includes(
    (leaf, index): (TreeHash, u64),
    proof: &[TreeHash],
    (size, root): (u64, TreeHash),
) -> bool {
    if index >= size {
        return false;
    }
    let mut walk = Walk { at: index, last: size - 1 };
    let mut hash = leaf;
    for beside in proof {
        match walk.up() {
            None => return false,
            Some(Side::Left) => hash = node(*beside, hash),
            Some(Side::Right) => hash = node(hash, *beside),
        }
    }
    walk.last == 0 && hash == root
}

/// Whether `proof` shows that the tree of `size` leaves with hash `root` begins with the tree of
/// the earlier size and hash. A tree without leaves begins every tree, and needs no proof.
///
/// # Source
///
/// RFC 9162, 2.1.4.2.
#[must_use]
pub fn continues(
    (earlier, earlier_root): (u64, TreeHash),
    proof: &[TreeHash],
    (size, root): (u64, TreeHash),
) -> bool {
    if earlier == size {
        return proof.is_empty() && earlier_root == root;
    }
    if earlier == 0 || earlier > size {
        return earlier == 0 && proof.is_empty() && earlier_root == TreeHash::of(b"");
    }
    let whole = earlier.is_power_of_two().then_some(earlier_root);
    let mut path = whole.into_iter().chain(proof.iter().copied());
    let Some(first) = path.next() else { return false };
    let low = (earlier - 1).trailing_ones();
    let mut walk = Walk { at: (earlier - 1) >> low, last: (size - 1) >> low };
    let (mut before, mut after) = (first, first);
    for beside in path {
        match walk.up() {
            None => return false,
            Some(Side::Left) => {
                before = node(beside, before);
                after = node(beside, after);
            }
            Some(Side::Right) => after = node(after, beside),
        }
    }
    walk.last == 0 && before == earlier_root && after == root
}

/// On which side of a node the next hash of a proof stands.
enum Side {
    Left,
    Right,
}

/// The way up from a node, and from the last one of its level.
struct Walk {
    at: u64,
    last: u64,
}

impl Walk {
    /// One node up; `None` at the top.
    fn up(&mut self) -> Option<Side> {
        if self.last == 0 {
            return None;
        }
        let left = self.at % 2 == 1 || self.at == self.last;
        // A last node without a neighbour stands in for those above it, up to one that has.
        while left && self.at.is_multiple_of(2) && self.at != 0 {
            self.at >>= 1;
            self.last >>= 1;
        }
        self.at >>= 1;
        self.last >>= 1;
        Some(if left { Side::Left } else { Side::Right })
    }
}

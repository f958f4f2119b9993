//! The tree over the entries, against the published vectors of Certificate Transparency and
//! against the definition, written out.

use ledger::hash::TreeHash;
use ledger::tree::{Frontier, Tree, continues, includes, leaf, node};
use proptest::prelude::*;

/// Source: Certificate Transparency's own program (`certificate-transparency`,
/// `cpp/merkletree/merkle_tree_test.cc`; the same in Trillian and in `transparency-dev/merkle`):
/// eight leaves, in hexadecimal.
const LEAVES: [&str; 8] = [
    "",
    "00",
    "10",
    "2021",
    "3031",
    "40414243",
    "5051525354555657",
    "606162636465666768696a6b6c6d6e6f",
];

/// Same source: the hash of the tree of no leaf, and of the first 1 to 8 leaves.
const ROOTS: [&str; 9] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
];

/// Same source: leaf (counted from 0), size, proof of inclusion.
const INCLUSIONS: [(u64, u64, &[&str]); 5] = [
    (0, 1, &[]),
    (
        0,
        8,
        &[
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        5,
        8,
        &[
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (2, 3, &["fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"]),
    (
        1,
        5,
        &[
            "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
];

/// Same source: earlier size, size, proof of consistency.
const CONSISTENCIES: [(u64, u64, &[&str]); 4] = [
    (1, 1, &[]),
    (
        1,
        8,
        &[
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        6,
        8,
        &[
            "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (
        2,
        5,
        &[
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        ],
    ),
];

fn hash(text: &str) -> TreeHash {
    TreeHash::from_hex(text).unwrap()
}

fn hashes(texts: &[&str]) -> Vec<TreeHash> {
    texts.iter().map(|text| hash(text)).collect()
}

fn of(leaves: impl IntoIterator<Item = TreeHash>) -> (Tree, Frontier) {
    let (mut tree, mut frontier) = (Tree::default(), Frontier::default());
    for leaf in leaves {
        tree.push(leaf);
        frontier.push(leaf);
    }
    (tree, frontier)
}

fn published() -> Vec<TreeHash> {
    LEAVES.iter().map(|bytes| leaf(&hex::decode(bytes).unwrap())).collect()
}

fn numbered(count: u64) -> Vec<TreeHash> {
    (0..count).map(|number| leaf(&number.to_be_bytes())).collect()
}

#[test]
fn rfc6962_ct_roots_of_the_published_leaves() {
    for (size, root) in ROOTS.iter().enumerate() {
        let (tree, frontier) = of(published().into_iter().take(size));
        assert_eq!(frontier.root(), hash(root), "{size}");
        assert_eq!(tree.root(size as u64), Some(hash(root)), "{size}");
        assert_eq!((frontier.size(), tree.size()), (size as u64, size as u64));
    }
}

#[test]
fn rfc6962_ct_inclusion_proofs_are_made_and_hold() {
    let (tree, _) = of(published());
    for (index, size, proof) in INCLUSIONS {
        assert_eq!(tree.inclusion(index, size), Some(hashes(proof)), "{index} of {size}");
        let leaf = published()[usize::try_from(index).unwrap()];
        let root = hash(ROOTS[usize::try_from(size).unwrap()]);
        assert!(includes((leaf, index), &hashes(proof), (size, root)), "{index} of {size}");
    }
}

#[test]
fn rfc6962_ct_consistency_proofs_are_made_and_hold() {
    let (tree, _) = of(published());
    let root = |size: u64| hash(ROOTS[usize::try_from(size).unwrap()]);
    for (earlier, size, proof) in CONSISTENCIES {
        assert_eq!(tree.consistency(earlier, size), Some(hashes(proof)), "{earlier} to {size}");
        let (before, after) = ((earlier, root(earlier)), (size, root(size)));
        assert!(continues(before, &hashes(proof), after), "{earlier} to {size}");
    }
}

/// RFC 6962, 2.1, word for word: the slow way.
fn defined(leaves: &[TreeHash]) -> TreeHash {
    match leaves {
        [] => TreeHash::of(b""),
        [only] => *only,
        _ => {
            let middle = leaves.len().next_power_of_two() / 2;
            node(defined(&leaves[..middle]), defined(&leaves[middle..]))
        }
    }
}

#[test]
fn every_proof_of_every_small_tree_holds_and_no_other() {
    let leaves = numbered(40);
    let (tree, _) = of(leaves.iter().copied());
    let roots: Vec<_> = (0..=40).map(|size| defined(&leaves[..size])).collect();
    for size in 1..=40_u64 {
        let root = (size, roots[usize::try_from(size).unwrap()]);
        assert_eq!(tree.root(size), Some(root.1));
        for (index, leaf) in (0..size).zip(&leaves) {
            let proof = tree.inclusion(index, size).unwrap();
            assert!(includes((*leaf, index), &proof, root));
            assert!(!includes((*leaf, index + 1), &proof, root), "{index} as the next of {size}");
            assert!(!includes((*leaf, index), &[proof.as_slice(), &[*leaf]].concat(), root));
            if !proof.is_empty() {
                assert!(!includes((*leaf, index), &proof[1..], root));
            }
        }
        for earlier in 1..=size {
            let proof = tree.consistency(earlier, size).unwrap();
            let before = (earlier, roots[usize::try_from(earlier).unwrap()]);
            assert!(continues(before, &proof, root), "{earlier} to {size}");
            let other = (earlier, roots[usize::try_from(earlier - 1).unwrap()]);
            assert!(!continues(other, &proof, root), "{earlier} to {size}");
            let longer = [proof.as_slice(), &[before.1]].concat();
            assert!(!continues(before, &longer, root), "{earlier} to {size}");
        }
        assert_eq!(tree.inclusion(size, size), None);
    }
    assert_eq!((tree.inclusion(0, 41), tree.consistency(3, 41), tree.root(41)), (None, None, None));
    // Of nothing there is nothing to prove, and what is greater is not the beginning of what is less.
    assert_eq!((tree.consistency(0, 8), tree.consistency(8, 7)), (None, None));
}

#[test]
fn a_tree_without_leaves_begins_every_tree_and_a_greater_one_begins_none() {
    let (tree, _) = of(numbered(8));
    let root = |size| (size, tree.root(size).unwrap());
    let nothing = TreeHash::of(b"");
    assert!(continues((0, nothing), &[], root(8)));
    assert!(!continues((0, nothing), &[nothing], root(8)));
    assert!(!continues((0, root(1).1), &[], root(8)));
    for proof in [vec![], tree.consistency(5, 8).unwrap()] {
        assert!(!continues(root(8), &proof, root(5)));
    }
    assert!(!continues((8, nothing), &[], (5, nothing)), "not with the same hash either");
    assert!(!continues(root(5), &[], root(8)), "not without its proof");
    let mut proof = tree.consistency(4, 7).unwrap();
    assert!(!continues((4, nothing), &proof, root(7)) && continues(root(4), &proof, root(7)));
    proof.push(nothing);
    assert!(!continues(root(4), &proof, root(7)), "not with more than its proof");
    let proof = tree.consistency(5, 8).unwrap();
    for shorter in 0..proof.len() {
        assert!(!continues(root(5), &proof[..shorter], root(8)), "not with less than its proof");
    }
}

/// Twenty hashes prove any one of a million entries.
#[test]
fn a_proof_for_a_million_entries_takes_twenty_hashes() {
    let count = 1_000_000;
    let (tree, frontier) = of(numbered(count));
    let root = frontier.root();
    assert_eq!(tree.root(count), Some(root));
    for index in [0, 1, 18_341, 524_287, 524_288, 999_998, 999_999] {
        let proof = tree.inclusion(index, count).unwrap();
        assert!(proof.len() <= 20, "{} hashes", proof.len());
        assert!(includes((leaf(&index.to_be_bytes()), index), &proof, (count, root)));
    }
    for earlier in [1, 18_350, 524_288, 999_999] {
        let proof = tree.consistency(earlier, count).unwrap();
        assert!(proof.len() <= 21, "{} hashes", proof.len());
        let before = (earlier, tree.root(earlier).unwrap());
        assert!(continues(before, &proof, (count, root)));
    }
}

proptest! {
    #[test]
    fn one_changed_bit_of_a_proof_breaks_it(
        size in 2..3000_u64, index in 0..3000_u64, place in 0..32_usize, bit in 0..8_u32,
        which in 0..12_usize,
    ) {
        let index = index % size;
        let (tree, frontier) = of(numbered(size));
        let mut proof = tree.inclusion(index, size).unwrap();
        let leaf = leaf(&index.to_be_bytes());
        prop_assert!(includes((leaf, index), &proof, (size, frontier.root())));
        let which = which % proof.len();
        proof[which].0[place] ^= 1 << bit;
        prop_assert!(!includes((leaf, index), &proof, (size, frontier.root())));
    }
}

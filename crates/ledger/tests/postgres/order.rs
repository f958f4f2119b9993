//! Whether what several programs did and saw can have come one after another: a graph of what must
//! have come before what, in which no way leads back to where it began.
//!
//! One operation comes before another if it had ended before that one began; if it wrote the version
//! before that one's; if it wrote what that one read; or if it read what that one wrote over.

use std::collections::{BTreeMap, VecDeque};
use std::fmt;

/// Something that is written and read: the book as a whole, or one thing in it.
pub(crate) type Item = usize;

/// A version of an item; no two are alike, whatever they are of.
pub(crate) type Version = u64;

/// What one program did at a time.
#[derive(Clone, Debug)]
pub(crate) struct Operation {
    pub(crate) program: usize,
    /// When it was begun.
    pub(crate) begin: u64,
    /// When its answer was there; `None` if that was lost.
    pub(crate) end: Option<u64>,
    /// The last version that it saw of each item; `None` where it saw none.
    pub(crate) read: Vec<(Item, Option<Version>)>,
    /// The version that it wrote.
    pub(crate) wrote: Vec<(Item, Version)>,
}

impl fmt::Display for Operation {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { program, begin, end, read, wrote } = self;
        write!(out, "program {program} from {begin} to {end:?}: read {read:?}, wrote {wrote:?}")
    }
}

/// The order in which the versions of each item stand in the end.
pub(crate) type Standing = BTreeMap<Item, Vec<Version>>;

/// Operations that must each have come before the next, and the last before the first; or one that
/// saw what never stood. `None` if all can have come one after another.
pub(crate) fn anomaly(done: &[Operation], standing: &Standing) -> Option<Vec<String>> {
    let stands = |item: Item, version: Version| {
        standing.get(&item).and_then(|order| order.iter().position(|it| *it == version))
    };
    let saw_nothing = |(item, version): &(Item, Option<Version>)| {
        version.is_some_and(|version| stands(*item, version).is_none())
    };
    if let Some(dreamt) = done.iter().find(|it| it.read.iter().any(saw_nothing)) {
        return Some(vec![dreamt.to_string()]);
    }
    Graph::of(done, standing).cycle(done)
}

/// Which operations come directly after which. Behind those that were done stand marks of time, one
/// for each that ended, in the order of their ends.
struct Graph {
    after: Vec<Vec<usize>>,
}

impl Graph {
    fn of(done: &[Operation], standing: &Standing) -> Self {
        let mut ended: Vec<(u64, usize)> =
            done.iter().enumerate().filter_map(|(nth, it)| Some((it.end?, nth))).collect();
        ended.sort_unstable();
        let mut graph = Self { after: vec![Vec::new(); done.len() + ended.len()] };
        for (mark, (_, nth)) in ended.iter().enumerate() {
            graph.add(*nth, done.len() + mark);
            if mark > 0 {
                graph.add(done.len() + mark - 1, done.len() + mark);
            }
        }
        let wrote = |(nth, it): (usize, &Operation)| {
            it.wrote.iter().map(|(_, version)| (*version, nth)).collect::<Vec<_>>()
        };
        let by: BTreeMap<Version, usize> = done.iter().enumerate().flat_map(wrote).collect();
        let mut places: BTreeMap<(Item, Version), usize> = BTreeMap::new();
        for (item, order) in standing {
            places.extend(order.iter().enumerate().map(|(nth, it)| ((*item, *it), nth)));
            for pair in order.windows(2) {
                if let (Some(one), Some(next)) = (by.get(&pair[0]), by.get(&pair[1])) {
                    graph.add(*one, *next);
                }
            }
        }
        for (nth, operation) in done.iter().enumerate() {
            let past = ended.partition_point(|(end, _)| *end < operation.begin);
            if past > 0 {
                graph.add(done.len() + past - 1, nth);
            }
            for (item, read) in &operation.read {
                if let Some(writer) = read.and_then(|read| by.get(&read)) {
                    graph.add(*writer, nth);
                }
                let over = read.map_or(0, |read| places[&(*item, read)] + 1);
                let over = standing.get(item).and_then(|order| order.get(over));
                if let Some(writer) = over.and_then(|version| by.get(version)) {
                    graph.add(nth, *writer);
                }
            }
        }
        graph
    }

    fn add(&mut self, before: usize, after: usize) {
        // What an operation wrote over what it has read itself is no way to another.
        if before != after {
            self.after[before].push(after);
        }
    }

    /// Takes away, again and again, what nothing is before; in what is left each has one before it,
    /// so whoever goes back from one to the one before comes round.
    fn cycle(&self, done: &[Operation]) -> Option<Vec<String>> {
        let mut before = vec![0_usize; self.after.len()];
        self.after.iter().flatten().for_each(|it| before[*it] += 1);
        let mut free: VecDeque<usize> = (0..before.len()).filter(|it| before[*it] == 0).collect();
        while let Some(one) = free.pop_front() {
            for next in &self.after[one] {
                before[*next] -= 1;
                if before[*next] == 0 {
                    free.push_back(*next);
                }
            }
        }
        let mut one_before: BTreeMap<usize, usize> = BTreeMap::new();
        for (one, after) in self.after.iter().enumerate().filter(|(one, _)| before[*one] > 0) {
            one_before.extend(after.iter().map(|next| (*next, one)));
        }
        let mut way = vec![(0..before.len()).find(|it| before[*it] > 0)?];
        loop {
            let back = one_before[way.last()?];
            if let Some(met) = way.iter().position(|it| *it == back) {
                let round = way[met..].iter().rev().filter_map(|it| done.get(*it));
                return Some(round.map(ToString::to_string).collect());
            }
            way.push(back);
        }
    }
}

/// An operation of a made history.
fn did(
    program: usize,
    (begin, end): (u64, u64),
    read: &[(Item, Option<Version>)],
    wrote: &[(Item, Version)],
) -> Operation {
    Operation { program, begin, end: Some(end), read: read.to_vec(), wrote: wrote.to_vec() }
}

fn found(done: &[Operation], standing: &[(Item, &[Version])]) -> Vec<usize> {
    let standing = standing.iter().map(|(item, order)| (*item, order.to_vec())).collect();
    let told = anomaly(done, &standing).unwrap_or_default();
    let of = |nth: &usize| told.contains(&done[*nth].to_string());
    (0..done.len()).filter(of).collect()
}

#[test]
fn what_can_have_come_one_after_another_is_no_anomaly() {
    let mut done = [
        did(0, (1, 2), &[], &[(1, 10)]),
        // Both at once: the second saw what the first wrote.
        did(1, (3, 9), &[(1, Some(10))], &[(1, 11)]),
        did(2, (4, 8), &[(1, Some(11)), (2, None)], &[]),
        did(0, (3, 9), &[(2, None)], &[(2, 12)]),
        did(2, (10, 11), &[(1, Some(11)), (2, Some(12))], &[]),
    ];
    assert_eq!(found(&done, &[(1, &[10, 11]), (2, &[12])]), [0_usize; 0]);
    // An answer that was lost is of something that came at any later time, or never.
    done[3].end = None;
    done[4].read[1].1 = None;
    assert_eq!(found(&done, &[(1, &[10, 11]), (2, &[12])]), [0_usize; 0]);
    assert_eq!(found(&done, &[(1, &[10, 11])]), [0_usize; 0]);
}

#[test]
fn two_that_changed_what_both_had_read_are_found() {
    let done = [
        did(0, (1, 2), &[], &[(1, 10)]),
        did(1, (3, 9), &[(1, Some(10))], &[(1, 11)]),
        did(2, (4, 8), &[(1, Some(10))], &[(1, 12)]),
    ];
    assert_eq!(found(&done, &[(1, &[10, 11, 12])]), [1, 2]);
}

#[test]
fn what_was_read_too_late_or_came_before_what_had_ended_is_found() {
    let written = [did(0, (1, 2), &[], &[(1, 10)]), did(0, (3, 4), &[], &[(1, 11)])];
    let stale = did(1, (5, 6), &[(1, Some(10))], &[]);
    let done = [written.to_vec(), vec![stale]].concat();
    assert_eq!(found(&done, &[(1, &[10, 11])]), [1, 2]);
    let nothing = did(1, (3, 6), &[(1, None)], &[]);
    let done = [written.to_vec(), vec![nothing]].concat();
    assert_eq!(found(&done, &[(1, &[10, 11])]), [0, 2]);
    // The second stands before the first.
    assert_eq!(found(&written, &[(1, &[11, 10])]), [0, 1]);
}

#[test]
fn two_that_saw_two_changes_in_either_order_are_found() {
    let done = [
        did(0, (1, 9), &[], &[(1, 10)]),
        did(1, (1, 9), &[], &[(2, 20)]),
        did(2, (1, 9), &[(1, Some(10)), (2, None)], &[]),
        did(3, (1, 9), &[(1, None), (2, Some(20))], &[]),
    ];
    assert_eq!(found(&done, &[(1, &[10]), (2, &[20])]), [0, 1, 2, 3]);
}

#[test]
fn what_was_read_and_never_stood_is_found() {
    let done = [did(0, (1, 2), &[], &[(1, 10)]), did(1, (3, 4), &[(1, Some(11))], &[])];
    assert_eq!(found(&done, &[(1, &[10])]), [1]);
}

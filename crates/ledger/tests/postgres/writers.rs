//! R15: twenty programs add, read, and change what they have read, while lines are cut, the database's
//! processes are ended and the whole database is killed. Nothing acknowledged is lost, nothing stands
//! twice, no number is missing, nothing was read that the chain does not hold in the end, and all of it
//! can have come one after another (`order`).
//!
//! A few seconds in a test run: `CINDERBOOK_WRITERS_SECONDS` asks for more.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use ledger::store::StoreError;
use ledger::{Book, Head, LedgerError, verify};
use trial::fact::{Authorisation, Fact, Recorded};
use trial::number::PersonName;

use super::Made;
use super::order::{Item, Operation, Standing, Version, anomaly};
use super::proxy::Proxy;
use super::server::{BENCH, Server};
use crate::damage::Shuffled;
use crate::story::{minute, opened};

const WRITERS: usize = 20;

/// So many things are changed again and again. Item 0 is the book as a whole.
const THINGS: usize = 5;

/// What one program has done and seen.
#[derive(Default)]
struct Lived {
    acknowledged: Vec<String>,
    /// It was not told whether these were kept.
    unsure: Vec<String>,
    /// It was told that these were not kept.
    refused: Vec<String>,
    seen: Vec<Head>,
    overtaken: u64,
    done: Vec<Operation>,
}

/// A fact that no other is: a version, of which thing, in place of which. Those of no thing are of
/// the book alone.
fn fact(name: &str) -> Fact {
    let person = PersonName(name.to_owned());
    Fact::PersonAdmitted { person, authorisations: vec![Authorisation::Test] }
}

/// The items that an entry is a new version of.
fn versions(fact: &Fact) -> Vec<(Item, Version)> {
    let Fact::PersonAdmitted { person, .. } = fact else { return Vec::new() };
    let mut parts = person.0.split(' ');
    let version: Version = parts.next().unwrap().parse().unwrap();
    let thing: Item = parts.next().unwrap().parse().unwrap();
    let items = if thing == 0 { vec![0] } else { vec![0, thing] };
    items.into_iter().map(|item| (item, version)).collect()
}

/// One program, and what it knows of the book.
struct Program<'a> {
    at: &'a Path,
    nth: usize,
    begun: Instant,
    stop: &'a AtomicBool,
    book: Book,
    /// Up to which entry it has read, and the last version of each item there.
    reached: u64,
    last: [Option<Version>; THINGS + 1],
    lived: Lived,
}

impl Program<'_> {
    /// Adds, changes and reads in turn until it is told to stop.
    fn live(mut self) -> Lived {
        let mut turn = 0;
        while !self.stop.load(Ordering::SeqCst) {
            turn += 1;
            let thing = usize::try_from(turn).unwrap() % THINGS + 1;
            match turn % 3 {
                0 => self.read(),
                1 => self.write(turn, 0),
                _ => self.write(turn, thing),
            }
            self.lived.seen.extend(self.book.head());
            if turn.is_multiple_of(50) {
                // Started again, as after a kill.
                let Some(again) = open(self.at, self.stop) else { break };
                self.book = again;
            }
        }
        self.lived
    }

    /// Microseconds since all began.
    fn now(&self) -> u64 {
        u64::try_from(self.begun.elapsed().as_micros()).unwrap()
    }

    fn done(
        &mut self,
        (begin, end): (u64, Option<u64>),
        read: Vec<(Item, Option<Version>)>,
        wrote: Vec<(Item, Version)>,
    ) {
        self.lived.done.push(Operation { program: self.nth, begin, end, read, wrote });
    }

    /// Takes up what others wrote, from where it had read to.
    fn catch_up(&mut self) -> Result<(), LedgerError> {
        let added = self.book.catch_up()?;
        let end = self.book.head().map_or(0, |head| head.number);
        let first = added.first().map_or(end + 1, |first| first.entry.0);
        // What was read by a line that then broke, or before it was started again.
        for number in self.reached + 1..first {
            let there = self.book.stored(number)?.unwrap().entry;
            let fact = ledger::entry::read(&there.kind, there.form, &there.body).unwrap();
            self.take(number, &fact);
        }
        added.iter().for_each(|added| self.take(added.entry.0, &added.fact));
        Ok(())
    }

    fn take(&mut self, number: u64, fact: &Fact) {
        for (item, version) in versions(fact) {
            self.last[item] = Some(version);
        }
        self.reached = number;
    }

    fn read(&mut self) {
        let begin = self.now();
        if let Err(refused) = self.catch_up() {
            assert!(is_away(&refused), "{refused}");
            return;
        }
        let (end, read) = (self.now(), self.last.into_iter().enumerate().collect());
        self.done((begin, Some(end)), read, Vec::new());
    }

    /// Offers a new version until it is known what became of it, or cannot be known; each time in
    /// place of the one that stands there then.
    fn write(&mut self, turn: u64, thing: Item) {
        let (begin, who) = (self.now(), PersonName(format!("writer {}", self.nth)));
        let version = u64::try_from(self.nth).unwrap() * 1_000_000 + turn;
        loop {
            let caught_up = self.catch_up();
            let before = self.last[thing];
            let name = format!("{version} {thing} {}", before.unwrap_or_default());
            if let Err(refused) = caught_up {
                assert!(is_away(&refused), "{refused}");
                return self.lived.refused.push(name);
            }
            // The time stands in the numbers, so that any order is one.
            let at = minute(self.book.head().map_or(1, |head| head.number + 1));
            let fact = fact(&name);
            let end = match self.book.append(at, &who, &fact) {
                Ok(kept) => {
                    self.take(kept.entry.0, &fact);
                    self.lived.acknowledged.push(name);
                    Some(self.now())
                }
                Err(LedgerError::Store(StoreError::Overtaken)) => {
                    self.lived.overtaken += 1;
                    continue;
                }
                Err(LedgerError::Store(StoreError::Unsure { .. })) => {
                    self.lived.unsure.push(name);
                    None
                }
                Err(LedgerError::Store(StoreError::Away { .. })) => {
                    return self.lived.refused.push(name);
                }
                Err(other) => panic!("{other}"),
            };
            let read = if thing == 0 { Vec::new() } else { vec![(thing, before)] };
            return self.done((begin, end), read, versions(&fact));
        }
    }
}

fn open(at: &Path, stop: &AtomicBool) -> Option<Book> {
    loop {
        match Book::open(at) {
            Ok(book) => return Some(book),
            Err(_) if stop.load(Ordering::SeqCst) => return None,
            Err(refused) => assert!(is_away(&refused), "{refused}"),
        }
    }
}

fn is_away(refused: &LedgerError) -> bool {
    matches!(refused, LedgerError::Store(StoreError::Away { .. } | StoreError::Unsure { .. }))
}

/// What went wrong, and how often.
#[derive(Default, Debug)]
struct Harm {
    cuts: AtomicU64,
    ended: AtomicU64,
    killed: AtomicU64,
}

/// Does harm until it is told to stop.
fn harm(server: &Server, proxy: &Proxy, kill_every: Duration, stop: &AtomicBool) -> Harm {
    let (harm, mut shuffled, mut killed) = (Harm::default(), Shuffled(29), Instant::now());
    while !stop.load(Ordering::SeqCst) {
        thread::sleep(Duration::from_millis(50 + u64::try_from(shuffled.below(250)).unwrap()));
        if killed.elapsed() > kill_every {
            server.kill_and_start();
            harm.killed.fetch_add(1, Ordering::SeqCst);
            killed = Instant::now();
            continue;
        }
        match shuffled.below(3) {
            0 => {
                proxy.cut();
                harm.cuts.fetch_add(1, Ordering::SeqCst);
            }
            1 => {
                proxy.lose_answers(true);
                thread::sleep(Duration::from_millis(30));
                proxy.lose_answers(false);
            }
            _ => {
                let end = format!(
                    "SELECT count(pg_terminate_backend(pid)) FROM (SELECT pid FROM pg_stat_activity
                        WHERE usename = '{BENCH}' ORDER BY random() LIMIT 5) AS few"
                );
                if let Ok(count) = server.try_say("postgres", &end) {
                    harm.ended.fetch_add(count.parse().unwrap(), Ordering::SeqCst);
                }
            }
        }
    }
    harm
}

#[test]
fn twenty_writers_lose_nothing_and_double_nothing_whatever_breaks() {
    let asked = std::env::var("CINDERBOOK_WRITERS_SECONDS");
    let seconds: u64 = asked.map_or(4, |text| text.parse().unwrap());
    // Its own: it is killed.
    let server = Arc::new(Server::start(&[]));
    let made = Made::on(Arc::clone(&server));
    made.book().append(minute(1), &"Ana Ruiz".into(), &opened()).unwrap();
    let proxy = Proxy::to(server.port);
    let at = proxy.address(BENCH, &made.database);
    let stop = AtomicBool::new(false);
    let kill_every = Duration::from_secs(if seconds > 20 { 15 } else { 2 });
    let begun = Instant::now();
    let (lived, harm) = thread::scope(|scope| {
        let (at, stop) = (&at, &stop);
        let live = move |nth: usize| {
            let Some(book) = open(at, stop) else { return Lived::default() };
            let (lived, last) = (Lived::default(), [None; THINGS + 1]);
            Program { at, nth, begun, stop, book, reached: 0, last, lived }.live()
        };
        let writers: Vec<_> =
            (0..WRITERS).map(|writer| scope.spawn(move || live(writer))).collect();
        let harming = scope.spawn(|| harm(&server, &proxy, kill_every, stop));
        thread::sleep(Duration::from_secs(seconds));
        stop.store(true, Ordering::SeqCst);
        let harm = harming.join().unwrap();
        (writers.into_iter().map(|it| it.join().unwrap()).collect::<Vec<_>>(), harm)
    });
    let ended = begun.elapsed().as_secs_f64();
    let count = |of: fn(&Lived) -> usize| lived.iter().map(of).sum::<usize>();
    eprintln!(
        "{seconds} s ({ended:.1} to the last answer), {WRITERS} writers: {} entries acknowledged, {} not known, {} refused, {} heads \
         seen, {} times overtaken; {harm:?}, {} answers lost",
        count(|it| it.acknowledged.len()),
        count(|it| it.unsure.len()),
        count(|it| it.refused.len()),
        count(|it| it.seen.len()),
        count(|it| usize::try_from(it.overtaken).unwrap()),
        proxy.lost(),
    );
    assert!(count(|it| it.acknowledged.len()) > WRITERS, "they wrote");
    assert!(harm.killed.load(Ordering::SeqCst) > 0, "the database was killed");
    let book = Book::open(&made.bench()).unwrap();
    holds(&book, &lived);
    in_order(&book, lived);
    let verified = verify(&made.bench(), None).unwrap();
    assert!(verified.is_sound(), "{:?}", verified.faults);
}

/// What there is in the end against what each was told and has seen.
fn holds(book: &Book, lived: &[Lived]) {
    let entries: Vec<Recorded> = book.entries().map(Result::unwrap).collect();
    let mut times: BTreeMap<&str, u64> = BTreeMap::new();
    for recorded in &entries {
        if let Fact::PersonAdmitted { person, .. } = &recorded.fact {
            *times.entry(&person.0).or_default() += 1;
        }
    }
    let numbers: Vec<u64> = entries.iter().map(|it| it.entry.0).collect();
    assert_eq!(numbers, (1..=book.head().unwrap().number).collect::<Vec<_>>());
    let heads: BTreeMap<u64, _> =
        book.chain().map(Result::unwrap).map(|it| (it.entry.number, it.hash)).collect();
    for lived in lived {
        for name in &lived.acknowledged {
            assert_eq!(times.remove(name.as_str()), Some(1), "`{name}` was acknowledged");
        }
        for name in &lived.refused {
            assert_eq!(times.remove(name.as_str()), None, "`{name}` was refused");
        }
        for name in &lived.unsure {
            assert!(matches!(times.remove(name.as_str()), None | Some(1)), "`{name}`");
        }
        for seen in &lived.seen {
            assert_eq!(heads.get(&seen.number), Some(&seen.hash), "entry {} was seen", seen.number);
        }
    }
    assert!(times.is_empty(), "nobody offered {times:?}");
}

/// All that was done, by all of them, can have come one after another.
fn in_order(book: &Book, lived: Vec<Lived>) {
    let mut standing = Standing::new();
    for recorded in book.entries().map(Result::unwrap) {
        for (item, version) in versions(&recorded.fact) {
            standing.entry(item).or_default().push(version);
        }
    }
    let mut done: Vec<Operation> = lived.into_iter().flat_map(|lived| lived.done).collect();
    let amended = done.iter().filter(|it| !it.wrote.is_empty() && !it.read.is_empty()).count();
    let read = done.iter().filter(|it| it.wrote.is_empty()).count();
    eprintln!("{} operations in order: {amended} changes, {read} reads", done.len());
    assert!(amended > WRITERS && read > WRITERS, "they changed and read");
    assert_eq!(anomaly(&done, &standing), None);
    // The same with one acknowledged change that had read another version: it is found.
    let changed =
        |it: &&mut Operation| it.end.is_some() && it.wrote.len() == 2 && it.read[0].1.is_some();
    done.iter_mut().rev().find(changed).unwrap().read[0].1 = None;
    assert!(anomaly(&done, &standing).is_some());
}

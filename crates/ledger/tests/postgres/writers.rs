//! R15: twenty programs write, read and file while lines are cut, the database's processes are ended
//! and the whole database is killed. Nothing acknowledged is lost, nothing stands twice, no number is
//! missing, and nothing was read that the chain does not hold in the end.
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
use super::proxy::Proxy;
use super::server::{BENCH, Server};
use crate::damage::Shuffled;
use crate::story::{minute, opened};

const WRITERS: usize = 20;

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
}

/// A fact that no other is.
fn fact(name: &str) -> Fact {
    let person = PersonName(name.to_owned());
    Fact::PersonAdmitted { person, authorisations: vec![Authorisation::Test] }
}

/// Writes until it is told to stop.
fn write(at: &Path, writer: usize, stop: &AtomicBool) -> Lived {
    let mut lived = Lived::default();
    let Some(mut book) = open(at, stop) else { return lived };
    let who = PersonName(format!("writer {writer}"));
    let mut nth = 0_u64;
    while !stop.load(Ordering::SeqCst) {
        nth += 1;
        let name = format!("{writer}-{nth}");
        keep(&mut book, &who, name, &mut lived);
        lived.seen.extend(book.head());
        if nth.is_multiple_of(50) {
            // Started again, as after a kill.
            drop(book);
            let Some(again) = open(at, stop) else { return lived };
            book = again;
        }
    }
    lived
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

/// Offers a fact until it is known what became of it, or cannot be known.
fn keep(book: &mut Book, who: &PersonName, name: String, lived: &mut Lived) {
    loop {
        if let Err(refused) = book.catch_up() {
            assert!(is_away(&refused), "{refused}");
            lived.refused.push(name);
            return;
        }
        // The time stands in the numbers, so that any order is one.
        let at = minute(book.head().map_or(1, |head| head.number + 1));
        match book.append(at, who, &fact(&name)) {
            Ok(_) => return lived.acknowledged.push(name),
            Err(LedgerError::Store(StoreError::Overtaken)) => lived.overtaken += 1,
            Err(LedgerError::Store(StoreError::Unsure { .. })) => return lived.unsure.push(name),
            Err(LedgerError::Store(StoreError::Away { .. })) => return lived.refused.push(name),
            Err(other) => panic!("{other}"),
        }
    }
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
        let writers: Vec<_> =
            (0..WRITERS).map(|writer| scope.spawn(move || write(at, writer, stop))).collect();
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
    holds(&Book::open(&made.bench()).unwrap(), &lived);
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

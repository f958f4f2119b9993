//! Durable appends per second: a book's, and those of a bare SQLite loop with the same settings
//! and rows of the same size, in turn on the same disk.
//!
//! `append_speed book|bare` measures one side and prints `{"seconds":…,"result":{"entries":…}}`
//! for a fixed number of appends; without a word it measures both in alternating rounds.

#![expect(clippy::disallowed_methods, reason = "a benchmark reads the clock")]
#![expect(clippy::print_stdout, reason = "a benchmark prints its figures")]

use std::error::Error;
use std::path::Path;
use std::time::Instant;

use ledger::Book;
use rusqlite::{Connection, TransactionBehavior, params};
use trial::fact::Fact;
use trial::moment::Moment;

/// Appends in one measurement.
const APPENDS: u32 = 2000;

/// Rounds when both sides are measured.
const ROUNDS: usize = 7;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = tempfile::tempdir_in("target")?;
    let side = std::env::args().nth(1);
    if let Some(side) = side {
        let place = folder.path().join("one");
        let seconds = if side == "book" { book(&place)? } else { bare(&place)? };
        println!("{{\"seconds\":{seconds},\"result\":{{\"entries\":{APPENDS}}}}}");
        return Ok(());
    }
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    for round in 0..ROUNDS {
        ours.push(book(&folder.path().join(format!("book-{round}")))?);
        theirs.push(bare(&folder.path().join(format!("bare-{round}")))?);
    }
    let (ours, theirs) = (rate(ours), rate(theirs));
    println!("book {ours:.0}/s, bare SQLite loop {theirs:.0}/s, ratio {:.2}", ours / theirs);
    Ok(())
}

/// Appends per second in the median round.
fn rate(mut seconds: Vec<f64>) -> f64 {
    seconds.sort_by(f64::total_cmp);
    f64::from(APPENDS) / seconds.get(seconds.len() / 2).copied().unwrap_or(f64::NAN)
}

fn fact(number: u32) -> Fact {
    let reason =
        format!("{number:06} the tube was bent when it fell from the bench; {}", "x".repeat(400));
    Fact::EquipmentWithdrawn { equipment: "B-1".into(), reason }
}

/// Through the book: written form, hashes, links, the row read back.
fn book(place: &Path) -> Result<f64, Box<dyn Error>> {
    let mut book = Book::create(place)?;
    let began = Instant::now();
    for number in 1..=APPENDS {
        let at = Moment::from_unix_microseconds(1_772_438_400_000_000 + i64::from(number))?;
        book.append(at, &"Ana Ruiz".into(), &fact(number))?;
    }
    Ok(began.elapsed().as_secs_f64())
}

/// The same bytes in the same columns, with the same settings, and nothing else.
fn bare(place: &Path) -> Result<f64, Box<dyn Error>> {
    std::fs::create_dir(place)?;
    let mut connection = Connection::open(place.join("bare.sqlite"))?;
    connection.execute_batch(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON;
         CREATE TABLE entry (number INTEGER PRIMARY KEY, previous BLOB, at INTEGER NOT NULL,
            who TEXT NOT NULL, kind TEXT NOT NULL, form INTEGER NOT NULL, body BLOB NOT NULL,
            evidence BLOB NOT NULL, hash BLOB NOT NULL) STRICT",
    )?;
    let bodies: Vec<_> = (1..=APPENDS).map(|number| ledger::entry::write(&fact(number))).collect();
    let began = Instant::now();
    for (number, form) in (1..=APPENDS).zip(&bodies) {
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        transaction
            .prepare_cached("INSERT INTO entry VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?
            .execute(params![
                number,
                [7_u8; 32],
                1_772_438_400_000_000_i64,
                "Ana Ruiz",
                form.kind,
                form.form,
                form.body,
                [0_u8; 0],
                [9_u8; 32],
            ])?;
        transaction.commit()?;
    }
    Ok(began.elapsed().as_secs_f64())
}

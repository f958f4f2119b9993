//! What a served book does by itself: it signs its head once a day, and reads all its evidence
//! again once a month, slowly, beside the work.

use std::thread;
use std::time::Duration;

use super::site::Site;
use crate::checked::LastScrub;
use crate::problem::Problem;
use crate::step::{proof, rests, scrub};

/// The first look, once the first pages were answered.
const FIRST: Duration = Duration::from_secs(60);

/// So long after a look comes the next.
const EVERY: Duration = Duration::from_secs(3600);

/// Evidence is read at this rate, which leaves the disk to the work: a terabyte in half a day.
const BYTES_PER_SECOND: f64 = 20e6;

/// Who reads, in the notes.
const WHO: &str = "the program by itself";

/// Watches until the program ends. A thread of its own: nothing waits for it, not even the end.
pub(super) fn begin(site: Site) {
    thread::spawn(move || {
        thread::sleep(FIRST);
        loop {
            if let Err(problem) = look(&site) {
                site.say(&format!("What the book does by itself was not done: {}.", problem.text));
            }
            thread::sleep(EVERY);
        }
    });
}

fn look(site: &Site) -> Result<(), Problem> {
    site.with_book(proof::sign_daily)?;
    let folder = site.folder().to_owned();
    let (now, named) = site.with_book(|book, _| {
        let now = book.now()?;
        let due = scrub::is_due(&folder, now);
        Ok((now, due.then(|| rests::evidence(book))))
    })?;
    let Some(named) = named else { return Ok(()) };
    let mut slowly = |bytes: usize| {
        let bytes = u32::try_from(bytes).unwrap_or(u32::MAX);
        thread::sleep(Duration::from_secs_f64(f64::from(bytes) / BYTES_PER_SECOND));
        true
    };
    let found = scrub::scrub(&folder, &named, WHO, &mut slowly)?;
    if let Some(LastScrub { files, faults, .. }) = found {
        site.say(&format!("All evidence was read again, as of {now}: {files} files."));
        for fault in faults {
            site.say(&format!("▲ {fault}"));
        }
    }
    Ok(())
}

//! The security log: who came in, who was refused, what was done about people. One line each, apart
//! from the record; a file a month, readable by its owner alone.
#![expect(clippy::disallowed_methods, reason = "keeps a file beside the record")]

use std::collections::VecDeque;
use std::fs::{self, File, OpenOptions};
use std::io::{self, BufRead as _, BufReader, ErrorKind, Write as _};
use std::net::IpAddr;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use ledger::files::{Disk, create_folders};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::kept::FOLDER;
use crate::problem::Problem;

/// R59: so many months are kept.
const MONTHS: i32 = 12;

/// What strangers can cause is written as long as the month's file is smaller.
const STRANGERS_BYTES: u64 = 16 << 20;

/// A name that someone typed is kept as far as this.
const CHARACTERS_AT_MOST: usize = 200;

/// The log of one book.
#[derive(Debug)]
pub(in crate::web) struct Log {
    folder: PathBuf,
    /// One line at a time.
    turn: Mutex<()>,
}

/// Who did something, and from which address.
#[derive(Clone, Copy, Debug)]
pub(in crate::web) struct Who<'a> {
    /// The name, as the record knows it or as it was typed; empty where none was given.
    pub(in crate::web) name: &'a str,
    /// From where.
    pub(in crate::web) from: IpAddr,
}

/// One line. As JSON: a newline in a name is escaped, and no line can be made to look like two.
#[derive(Serialize)]
struct Line<'a> {
    when: String,
    #[serde(rename = "where")]
    from: IpAddr,
    who: String,
    what: &'a str,
}

/// A line as it was written.
#[derive(Clone, Debug, Deserialize, Serialize, ToSchema)]
pub(in crate::web) struct Written {
    /// When, in UTC.
    pub(in crate::web) when: String,
    /// From which address.
    #[serde(rename = "where")]
    pub(in crate::web) from: String,
    /// The name, as the record knows it or as it was typed.
    pub(in crate::web) who: String,
    /// What.
    pub(in crate::web) what: String,
}

impl Log {
    /// The log of the book in `folder`.
    pub(super) fn of(folder: &Path) -> Self {
        Self { folder: folder.join(FOLDER), turn: Mutex::new(()) }
    }

    /// Where it is kept.
    pub(in crate::web) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Writes what a person of the book did.
    ///
    /// # Errors
    ///
    /// [`Problem`] where it cannot be written.
    pub(in crate::web) fn note(
        &self,
        who: Who<'_>,
        what: &str,
        now: Timestamp,
    ) -> Result<(), Problem> {
        let folder = self.folder.display();
        self.write(who, what, (now, u64::MAX)).map_err(|error| {
            Problem::surroundings(format!("cannot write the security log in `{folder}`"))
                .because(&error)
                .hint("Check that the book's folder may be written to and has room.")
        })
    }

    /// Writes what a stranger was refused. There is an end to what strangers can write; who is
    /// refused is refused also where it cannot be written.
    pub(in crate::web) fn refusal(&self, who: Who<'_>, what: &str, now: Timestamp) {
        drop(self.write(who, what, (now, STRANGERS_BYTES)));
    }

    /// The months that are kept, such as `2026-11`, the newest first.
    ///
    /// # Errors
    ///
    /// [`Problem`] where the folder cannot be read.
    pub(in crate::web) fn months(&self) -> Result<Vec<String>, Problem> {
        let names = match fs::read_dir(&self.folder) {
            Ok(entries) => entries
                .map(|entry| entry.map(|it| it.file_name().to_string_lossy().into_owned()))
                .collect::<Result<Vec<_>, _>>()
                .map_err(|error| self.unreadable(&error))?,
            Err(error) if error.kind() == ErrorKind::NotFound => Vec::new(),
            Err(error) => return Err(self.unreadable(&error)),
        };
        let month =
            |name: &String| Some(name.strip_prefix("log-")?.strip_suffix(".jsonl")?.to_owned());
        let mut months: Vec<String> = names.iter().filter_map(month).collect();
        months.sort_unstable_by(|one, other| other.cmp(one));
        Ok(months)
    }

    /// The last lines of a month that is kept, the newest first.
    ///
    /// # Errors
    ///
    /// [`Problem`] where its file cannot be read.
    pub(in crate::web) fn lines(&self, month: &str, most: usize) -> Result<Vec<Written>, Problem> {
        let file = File::open(self.folder.join(format!("log-{month}.jsonl")));
        let file = file.map_err(|error| self.unreadable(&error))?;
        let mut last = VecDeque::new();
        for line in BufReader::new(file).lines() {
            let line = line.map_err(|error| self.unreadable(&error))?;
            // A line that a cut of the power left unfinished is none.
            let Ok(written) = serde_json::from_str(&line) else { continue };
            if last.len() == most {
                last.pop_back();
            }
            last.push_front(written);
        }
        Ok(last.into())
    }

    fn unreadable(&self, error: &io::Error) -> Problem {
        Problem::surroundings(format!(
            "cannot read the security log in `{}`",
            self.folder.display()
        ))
        .because(error)
        .hint("Check that the book's folder may be read.")
    }

    fn write(
        &self,
        who: Who<'_>,
        what: &str,
        (now, most): (Timestamp, u64),
    ) -> Result<(), io::Error> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        let file = self.month(now)?;
        if file.metadata()?.len() >= most {
            return Ok(());
        }
        let who_typed = who.name.chars().take(CHARACTERS_AT_MOST).collect();
        // Of the clock whole seconds are enough; the lines stand in their order.
        let when = now.strftime("%Y-%m-%dT%H:%M:%SZ").to_string();
        let line = Line { when, from: who.from, who: who_typed, what };
        let mut bytes = serde_json::to_vec(&line)?;
        bytes.push(b'\n');
        (&file).write_all(&bytes)
    }

    /// The file of this month. With a new one the oldest goes.
    fn month(&self, now: Timestamp) -> Result<File, io::Error> {
        let day = TimeZone::UTC.to_datetime(now).date();
        let path = |day: jiff::civil::Date| {
            self.folder.join(format!("log-{}.jsonl", day.strftime("%Y-%m")))
        };
        let this_month = path(day);
        if !this_month.exists() {
            create_folders(&Disk, &self.folder)?;
            let oldest = path(day.first_of_month().saturating_sub(MONTHS.months()));
            for kept in fs::read_dir(&self.folder)? {
                let kept = kept?.path();
                let is_log = kept.extension().is_some_and(|it| it == "jsonl");
                // The names stand in the order of the months.
                if is_log && kept < oldest {
                    fs::remove_file(kept)?;
                }
            }
        }
        let mut options = OpenOptions::new();
        options.append(true).create(true);
        #[cfg(unix)]
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
        options.open(this_month)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(folder: &Path) -> Vec<(String, String)> {
        let mut files: Vec<_> =
            fs::read_dir(folder.join(FOLDER)).unwrap().map(|it| it.unwrap().path()).collect();
        files.sort();
        let text = |path: &PathBuf| fs::read_to_string(path).unwrap();
        files
            .iter()
            .map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), text(path)))
            .collect()
    }

    #[test]
    fn a_name_with_a_newline_makes_no_second_line_and_a_year_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let log = Log::of(folder.path());
        let who = Who { name: "Ana\nRuiz", from: "10.0.0.7".parse().unwrap() };
        for month in ["2025-10", "2025-11", "2026-10", "2026-11"] {
            let now = format!("{month}-25T12:00:00.123456789Z").parse().unwrap();
            log.note(who, "signed in", now).unwrap();
        }
        let found = written(folder.path());
        let names: Vec<&str> = found.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names, ["log-2025-11.jsonl", "log-2026-10.jsonl", "log-2026-11.jsonl"]);
        assert_eq!(
            found[2].1,
            "{\"when\":\"2026-11-25T12:00:00Z\",\"where\":\"10.0.0.7\",\"who\":\"Ana\\nRuiz\",\
             \"what\":\"signed in\"}\n"
        );
    }

    #[test]
    fn strangers_cannot_fill_the_disk() {
        let folder = tempfile::tempdir().unwrap();
        let log = Log::of(folder.path());
        let now = "2026-11-25T12:00:00Z".parse().unwrap();
        fs::create_dir_all(log.folder()).unwrap();
        let file = File::create(log.folder().join("log-2026-11.jsonl")).unwrap();
        file.set_len(STRANGERS_BYTES).unwrap();
        let who = Who { name: "", from: "10.0.0.7".parse().unwrap() };
        log.refusal(who, "refused", now);
        assert_eq!(file.metadata().unwrap().len(), STRANGERS_BYTES);
        log.note(who, "signed in", now).unwrap();
        assert!(file.metadata().unwrap().len() > STRANGERS_BYTES);
    }
}

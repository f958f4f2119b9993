//! The one door to standard output and standard error.
//!
//! Values go to standard output, words to standard error. A reader that closes its end early
//! (`cinderbook … | head -1`) is no fault: what is left is not written, and the command goes on
//! to its end.
#![expect(clippy::disallowed_methods, reason = "reads NO_COLOR, writes files that are asked for")]

use std::fs;
use std::io::{self, ErrorKind, IsTerminal as _, Write};
use std::panic::PanicHookInfo;
use std::path::Path;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::thread;
use std::time::Duration;

use ledger::files::{Disk, put};

use crate::problem::{Exit, Problem};

/// Something is said to be going on after this long, and again each time it has passed.
const PATIENCE: Duration = Duration::from_secs(1);

/// Whether words that are not asked for may be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Chatter {
    /// Notes, progress, and the next sensible command.
    Full,
    /// Errors only.
    ErrorsOnly,
}

/// Whether values are for people or for programs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Form {
    /// Lines to read.
    Text,
    /// One JSON object.
    Json,
}

/// Whether words may be coloured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Colour {
    /// When standard error is a terminal and `NO_COLOR` is not set.
    WhereSeen,
    /// Never.
    Never,
}

/// The door.
#[derive(Debug)]
pub(crate) struct Output {
    chatter: Chatter,
    form: Form,
    coloured: bool,
    fault: Option<io::Error>,
}

impl Output {
    /// A door that speaks as told.
    pub(crate) fn new(chatter: Chatter, form: Form, colour: Colour) -> Self {
        let unwanted = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let coloured = colour == Colour::WhereSeen && !unwanted && io::stderr().is_terminal();
        Self { chatter, form, coloured, fault: None }
    }

    /// Whether values are for people or for programs.
    pub(crate) const fn form(&self) -> Form {
        self.form
    }

    /// Writes a value, whole lines of it, to standard output.
    pub(crate) fn value(&mut self, lines: &str) {
        if self.fault.is_some() {
            return;
        }
        let mut out = io::stdout().lock();
        let written = out.write_all(lines.as_bytes()).and_then(|()| {
            if lines.ends_with('\n') {
                out.flush()
            } else {
                out.write_all(b"\n").and_then(|()| out.flush())
            }
        });
        self.fault = written.err();
    }

    /// Writes a JSON value to standard output.
    pub(crate) fn json(&mut self, value: &impl serde::Serialize) {
        // Our values have text keys only, so this cannot go wrong.
        self.value(&serde_json::to_string_pretty(value).unwrap_or_default());
    }

    /// Writes a file that was asked for, whole or not at all: when this returns it is on the disk.
    ///
    /// # Errors
    ///
    /// As the disk says; then what stood there before still stands.
    pub(crate) fn file(&self, path: &Path, bytes: &[u8]) -> Result<(), Problem> {
        put(&Disk, path, bytes).map_err(|error| {
            Problem::surroundings(format!("cannot write `{}`", path.display()))
                .because(&error)
                .hint("Check that the folder is there, may be written to, and has room.")
        })
    }

    /// Begins a file that is written as things come; nothing that is there is written over.
    ///
    /// # Errors
    ///
    /// When it is there already, and as the disk says.
    pub(crate) fn new_file(&self, path: &Path) -> Result<fs::File, Problem> {
        fs::File::create_new(path).map_err(|error| {
            let problem = Problem::surroundings(format!("cannot write `{}`", path.display()));
            problem
                .because(&error)
                .hint("Name a file that is not there yet, in a folder that may be written to.")
        })
    }

    /// Says something on standard error that is not asked for: a note, the next command.
    pub(crate) fn word(&self, line: &str) {
        if self.chatter == Chatter::Full {
            say(&format!("{line}\n"));
        }
    }

    /// Says what went wrong, and gives the exit code.
    pub(crate) fn problem(&self, problem: &Problem) -> Exit {
        say(&problem.lines(|word| self.mark(word)));
        problem.exit
    }

    /// Does `work`, and says `doing` on the terminal when it takes longer than a second; a file or a
    /// pipe that standard error leads to holds no progress.
    pub(crate) fn during<T>(&self, doing: &str, work: impl FnOnce() -> T) -> T {
        if self.chatter == Chatter::ErrorsOnly || !io::stderr().is_terminal() {
            return work();
        }
        let (done, waiting) = mpsc::channel::<()>();
        thread::scope(|scope| {
            scope.spawn(move || {
                let mut seconds = 0;
                while waiting.recv_timeout(PATIENCE) == Err(RecvTimeoutError::Timeout) {
                    seconds += PATIENCE.as_secs();
                    if seconds.is_power_of_two() {
                        say(&format!("{doing} … {seconds} s\n"));
                    }
                }
            });
            let result = work();
            drop(done);
            result
        })
    }

    /// How a command ends that would end with `exit`, after all that it wrote.
    pub(crate) fn end(self, exit: Exit) -> Exit {
        match self.fault {
            Some(ref fault) if fault.kind() != ErrorKind::BrokenPipe => {
                let problem = Problem::surroundings("cannot write to standard output")
                    .because(fault)
                    .hint("Check that the disk it goes to has room and may be written to.");
                self.problem(&problem)
            }
            Some(_) | None => exit,
        }
    }

    fn mark(&self, word: &str) -> String {
        if !self.coloured {
            return word.to_owned();
        }
        let colour = if word.starts_with("error") { 31 } else { 36 };
        format!("\u{1b}[1;{colour}m{word}\u{1b}[0m")
    }
}

/// Writes to standard error. Nobody is left to be told when that cannot be done.
fn say(lines: &str) {
    drop(io::stderr().lock().write_all(lines.as_bytes()));
}

/// What a panic says: that it is ours, and what to do.
pub(crate) fn own_a_bug(panic: &PanicHookInfo<'_>) {
    let place = panic.location().map_or_else(String::new, |at| format!(" ({at})"));
    let what = panic.payload_as_str().unwrap_or("no reason given");
    say(&format!(
        "error: this is a bug of ours, not a fault of your input: {what}{place}\n\
         hint: Keep the file and the command as they are, and report both with this line.\n"
    ));
    if std::env::var_os("RUST_BACKTRACE").is_some_and(|value| value != "0") {
        say(&format!("{}\n", std::backtrace::Backtrace::force_capture()));
    }
}

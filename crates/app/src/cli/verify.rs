//! `verify`: does a book or a bundle check?

use std::path::PathBuf;

use clap::Args;
use ledger::{Head, verify, verify_bundle};
use serde::Serialize;

use crate::book::from_ledger;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};

/// Checks a book or an exported bundle: every entry, every file, every verdict
///
/// Examples:
///   cinderbook verify my-book
///   cinderbook verify bundle --head "42 9f2c…"     must pass through the head printed on a report
///
/// Needs no network and changes nothing. Exit code 1: something does not check.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Verify {
    /// The folder of a book or of a bundle
    folder: PathBuf,
    /// A head seen elsewhere: the entry's number and its hash
    #[arg(long, value_name = "NUMBER HASH")]
    head: Option<String>,
}

#[derive(Serialize)]
struct Sheet {
    sound: bool,
    entries: u64,
    evidence: usize,
    verdicts_reached_again: usize,
    head: Option<String>,
    faults: Vec<String>,
}

impl Verify {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let seen = match &self.head {
            Some(text) => Some(Head::read(text).ok_or_else(|| {
                Problem::used_wrongly(format!("`{text}` is not a head")).hint(
                    "Write the entry's number, a blank, and its hash, as a report prints them.",
                )
            })?),
            None => None,
        };
        let is_bundle = self.folder.join("entries.jsonl").is_file();
        let folder = self.folder.as_path();
        let checked = output.during("checking", || {
            if is_bundle { verify_bundle(folder, seen) } else { verify(folder, seen) }
        });
        let checked = checked.map_err(|error| from_ledger(&error))?;
        let faults: Vec<String> = checked.faults.iter().map(ToString::to_string).collect();
        let sound = checked.is_sound();
        match output.form() {
            Form::Json => output.json(&Sheet {
                sound,
                entries: checked.entries,
                evidence: checked.evidence,
                verdicts_reached_again: checked.verdicts,
                head: checked.head.map(|head| head.to_string()),
                faults,
            }),
            Form::Text => {
                for fault in &faults {
                    output.value(&format!("does not check: {fault}"));
                }
                if sound {
                    let head =
                        checked.head.map_or_else(String::new, |head| format!("; head {head}"));
                    output.value(&format!(
                        "checks: {} entries, {} evidence files, {} verdicts reached again{head}",
                        checked.entries, checked.evidence, checked.verdicts
                    ));
                }
            }
        }
        if let Some(hint) = checked.hint() {
            output.word(&format!("hint: {hint}"));
        }
        Ok(if sound { Exit::Good } else { Exit::Finding })
    }
}

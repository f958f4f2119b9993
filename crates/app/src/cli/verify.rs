//! `verify`: does a book or a bundle check?

use std::path::PathBuf;

use clap::Args;
use ledger::{verify, verify_bundle};

use crate::book::from_ledger;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step;
use crate::step::verify::Checked;

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
    /// The folder of a book or of a bundle, or the database of a book
    folder: PathBuf,
    /// A head seen elsewhere: the entry's number and its hash
    #[arg(long, value_name = "NUMBER HASH")]
    head: Option<String>,
}

impl Verify {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let seen = self.head.as_deref().map(step::verify::head).transpose()?;
        let is_bundle = self.folder.join("entries.jsonl").is_file();
        let folder = self.folder.as_path();
        let found = output.during("checking", || {
            if is_bundle { verify_bundle(folder, seen) } else { verify(folder, seen) }
        });
        let found = found.map_err(|error| from_ledger(&error))?;
        let checked = Checked::of(&found);
        match output.form() {
            Form::Json => output.json(&checked),
            Form::Text => {
                for fault in &checked.faults {
                    output.value(&format!("does not check: {fault}"));
                }
                if checked.sound {
                    let head = checked.head.as_ref();
                    let head = head.map_or_else(String::new, |head| format!("; head {head}"));
                    output.value(&format!(
                        "checks: {} entries, {} evidence files, {} verdicts reached again{head}",
                        checked.entries, checked.evidence, checked.verdicts_reached_again
                    ));
                }
            }
        }
        if let Some(hint) = found.hint() {
            output.word(&format!("hint: {hint}"));
        }
        Ok(if checked.sound { Exit::Good } else { Exit::Finding })
    }
}

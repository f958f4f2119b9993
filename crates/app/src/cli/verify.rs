//! `verify`: does a book or a bundle check?

use std::path::PathBuf;

use clap::Args;
use ledger::proof::{Proven, is_proof, verify_proof};
use ledger::{Seen, verify_bundle_by, verify_by};
use serde::Serialize;

use super::record::Line;
use crate::book::{from_ledger, moment_now};
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step;
use crate::step::verify::Checked;

/// Checks a book, an exported bundle, or the bundle of a report: every entry, every file
///
/// Examples:
///   cinderbook verify my-book
///   cinderbook verify bundle --head "42 9f2c…"     must continue the head printed on a report
///   cinderbook verify bundle --key lab.key         must be signed by this key
///
/// Needs no network and changes nothing. Exit code 1: something does not check.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Verify {
    /// The folder of a book or of a bundle, or the database of a book
    folder: PathBuf,
    /// A head seen elsewhere: the number of entries and the hash
    #[arg(long, value_name = "NUMBER HASH")]
    head: Option<String>,
    /// The laboratory's public key, or a file that holds it
    #[arg(long, value_name = "KEY")]
    key: Option<String>,
}

impl Verify {
    /// Runs the command.
    pub(crate) fn run(&self, output: &mut Output) -> Result<Exit, Problem> {
        let head = self.head.as_deref().map(step::verify::head).transpose()?;
        let key = self.key.as_deref().map(step::verify::key).transpose()?;
        let seen = Seen { heads: head.into_iter().collect(), key };
        let folder = self.folder.as_path();
        if is_proof(folder) {
            let found = output.during("checking", || verify_proof(folder, &seen));
            let found = found.map_err(|error| from_ledger(&error))?;
            return Ok(proven(&found, self.key.is_some(), output));
        }
        let is_bundle = folder.join("entries.jsonl").is_file();
        let found = output.during("checking", || {
            if is_bundle { verify_bundle_by(folder, &seen) } else { verify_by(folder, &seen) }
        });
        let found = found.map_err(|error| from_ledger(&error))?;
        let checked = Checked::of(&found, moment_now()?);
        whole(&checked, output);
        if let Some(hint) = found.hint() {
            output.word(&format!("hint: {hint}"));
        }
        Ok(if checked.sound { Exit::Good } else { Exit::Finding })
    }
}

/// Tells what came of the check of a whole record.
pub(super) fn whole(checked: &Checked, output: &mut Output) {
    match output.form() {
        Form::Json => output.json(checked),
        Form::Text => {
            faulty(&checked.faults, output);
            if checked.sound {
                let head = checked.head.as_ref();
                let head = head.map_or_else(String::new, |head| format!("; last entry {head}"));
                output.value(&format!(
                    "checks: {} entries, {} evidence files, {} verdicts reached again{head}",
                    checked.entries, checked.evidence, checked.verdicts_reached_again
                ));
            }
        }
    }
    output.word(&format!(
        "The head that a report prints now is {}; {} signed heads were held against the entries. \
         Last head seen outside: {}.",
        checked.tree, checked.signed_heads, checked.last_head_outside
    ));
    keys_lost(&checked.keys_lost, output);
}

fn faulty(faults: &[String], output: &mut Output) {
    for fault in faults {
        output.value(&format!("does not check: {fault}"));
    }
}

fn keys_lost(entries: &[u64], output: &Output) {
    for entry in entries {
        output.word(&format!("Entry {entry} began a key without the signature of the one before."));
    }
}

/// What came of the check of a report's bundle.
#[derive(Serialize)]
struct Told {
    sound: bool,
    /// The report.
    report: Option<String>,
    /// When it was issued, in UTC.
    issued: Option<String>,
    /// By whom.
    by: Option<String>,
    /// The number of the entry that issued it.
    entry: Option<u64>,
    /// The signed head: size and hash.
    head: Option<String>,
    /// The head that the report prints.
    printed: Option<String>,
    /// The key that has signed the head.
    key: Option<String>,
    /// The entries by which a key began without the signature of the one before it.
    keys_lost: Vec<u64>,
    /// How many evidence files were held against their hashes.
    evidence: usize,
    /// The entries: number, time, who, kind.
    entries: Vec<Line>,
    /// What is wrong.
    faults: Vec<String>,
}

impl Told {
    fn of(found: &Proven) -> Self {
        let issue = found.report.as_ref();
        Self {
            sound: found.faults.is_empty(),
            report: issue.map(|(_, issued)| issued.number.to_string()),
            issued: issue.map(|(recorded, _)| recorded.at.to_string()),
            by: issue.map(|(recorded, _)| recorded.who.to_string()),
            entry: issue.map(|(recorded, _)| recorded.entry.0),
            head: found.head.map(|head| head.to_string()),
            printed: found.printed.map(|head| head.to_string()),
            key: found.key.as_ref().map(ToString::to_string),
            keys_lost: found.keys_lost.clone(),
            evidence: found.evidence,
            entries: found.entries.iter().map(Line::of).collect(),
            faults: found.faults.iter().map(ToString::to_string).collect(),
        }
    }
}

/// Tells what came of the check of a report's bundle.
fn proven(found: &Proven, key_given: bool, output: &mut Output) -> Exit {
    let told = Told::of(found);
    match output.form() {
        Form::Json => output.json(&told),
        Form::Text if told.sound => lines(found, &told, output),
        Form::Text => faulty(&told.faults, output),
    }
    if !told.sound {
        output.word("hint: Ask the laboratory for this bundle again, in another way.");
        return Exit::Finding;
    }
    keys_lost(&told.keys_lost, output);
    output.word(
        "It shows that these entries stand in the record unchanged, not that it says nothing else.",
    );
    if !key_given && let Some(key) = &told.key {
        output.word(&format!(
            "The key came with the bundle: {key}. Hold it against the laboratory's own with `--key`."
        ));
    }
    Exit::Good
}

fn lines(found: &Proven, told: &Told, output: &mut Output) {
    let size = found.head.map_or(0, |head| head.size);
    if let Some((recorded, issued)) = &found.report {
        output.value(&format!(
            "checks: report {} on plan {}, issued at {} by {}",
            issued.number, issued.plan, recorded.at, recorded.who
        ));
        output.value(&format!("it is entry {} of {size}", recorded.entry));
    }
    for (what, head) in [("signed head", &told.head), ("head on the report", &told.printed)] {
        output.value(&format!("{what}: {}", head.as_deref().unwrap_or_default()));
    }
    for line in &told.entries {
        output.value(&format!("entry {} of {size}\t{}", line.entry, line.rest()));
    }
    output.value(&format!("{} evidence files fit their hashes", told.evidence));
}

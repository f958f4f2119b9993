//! `standards`: the rules that are built in, number by number, and how each stands.

use clap::{Args, Subcommand};
use serde::Serialize;
use trial::fact::Fact;
use trial::rules::{Entry, Rules};

use super::Global;
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::rules::{find, library, numbers};

/// Lists the rules that are known, and every number in them
///
/// Examples:
///   cinderbook standards                            which rules there are
///   cinderbook standards show iec-60695-11-5/2016   every number, with clause and standing
///   cinderbook standards verify iec-60695-11-5/2016 flame.height --copy "controlled copy 3"
///
/// A number stands as `seen` (in the edition or its national adoption), from `memory`, or as
/// `ours`. Hold those from memory against your own copy before you rely on them.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Standards {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Subcommand, Debug)]
enum What {
    Show(Show),
    Verify(Verify),
}

/// Records that a number was held against the laboratory's own copy, and is right
///
/// Example:
///   cinderbook standards verify iec-60695-11-5/2016 flame.height --copy "controlled copy 3"
///
/// From then on the number stands as verified, by whom and when, on every report of this book.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Verify {
    /// The rules, as `standards` lists them
    #[arg(value_name = "ID")]
    id: String,
    /// The number's key, as `standards show` lists it
    key: String,
    /// Which copy it was held against
    #[arg(long)]
    copy: String,
}

/// Shows every number of one set of rules
///
/// Examples:
///   cinderbook standards show iec-60695-11-5/2016
///   cinderbook standards show iec-60335-1/5 --json
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Show {
    /// The rules, as `standards` lists them
    #[arg(value_name = "ID")]
    id: String,
}

/// One set of rules in the list.
#[derive(Serialize)]
struct Listed<'a> {
    id: &'a str,
    standard: &'a str,
    edition: &'a str,
    title: &'a str,
    numbers: usize,
    from_memory: usize,
}

/// One set of rules, whole.
#[derive(Serialize)]
struct Whole<'a> {
    id: &'a str,
    standard: &'a str,
    edition: &'a str,
    edition_standing: String,
    title: &'a str,
    read_through: &'a str,
    numbers: Vec<Number<'a>>,
}

/// One number.
#[derive(Serialize)]
struct Number<'a> {
    key: &'a str,
    variant: Option<&'a str>,
    value: String,
    clause: &'a str,
    standing: String,
    note: Option<&'a str>,
}

impl Standards {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let library = library()?;
        match &self.what {
            None => list(&library.all(), output),
            Some(What::Show(Show { id })) => show(find(&library, id)?, output),
            Some(What::Verify(verify)) => {
                verify.run(find(&library, &verify.id)?, global, output)?;
            }
        }
        Ok(Exit::Good)
    }
}

impl Verify {
    fn run(&self, rules: &Rules, global: &Global, output: &mut Output) -> Result<(), Problem> {
        let found = numbers(rules).find(|(_, entry)| entry.key.0 == self.key);
        let Some((_, entry)) = found else {
            return Err(Problem::used_wrongly(format!("{} has no number `{}`", self.id, self.key))
                .hint(format!("`standards show {}` lists its keys.", self.id)));
        };
        let fact = Fact::NumberVerified {
            rules: rules.head.id.clone(),
            key: entry.key.clone(),
            text: entry.text(),
            copy: self.copy.clone(),
        };
        OpenBook::open(global)?.keep(&fact, output)?;
        output.value(&format!("{} {} is verified: {}", self.id, self.key, entry.text()));
        output.word("Next: the next number; `standards show` lists those from memory.");
        Ok(())
    }
}

fn list(all: &[&Rules], output: &mut Output) {
    let listed: Vec<Listed<'_>> = all.iter().map(|rules| Listed::of(rules)).collect();
    if output.form() == Form::Json {
        output.json(&listed);
        return;
    }
    let mut lines = String::new();
    for one in &listed {
        lines.push_str(&format!(
            "{:<22}{:<18}{:<22}{} numbers, {} from memory\n",
            one.id,
            one.standard,
            format!("edition {}", one.edition),
            one.numbers,
            one.from_memory
        ));
    }
    output.value(&lines);
    output.word("Next: `cinderbook standards show ID` shows every number of one of them.");
}

fn show(rules: &Rules, output: &mut Output) {
    if output.form() == Form::Json {
        output.json(&Whole::of(rules));
    } else {
        output.value(&trial::rules::limits_table(rules));
    }
    output.word("Hold what stands as `memory` against your own copy before you rely on it.");
}

impl<'a> Listed<'a> {
    fn of(rules: &'a Rules) -> Self {
        let from_memory =
            numbers(rules).filter(|(_, entry)| entry.standing == trial::rules::Standing::Memory);
        Self {
            id: &rules.head.id.0,
            standard: &rules.head.standard,
            edition: &rules.head.edition,
            title: &rules.head.title,
            numbers: numbers(rules).count(),
            from_memory: from_memory.count(),
        }
    }
}

impl<'a> Whole<'a> {
    fn of(rules: &'a Rules) -> Self {
        let head = &rules.head;
        let number = |(variant, entry): (Option<&'a str>, &'a Entry)| Number {
            key: &entry.key.0,
            variant,
            value: entry.text(),
            clause: &entry.clause.0,
            standing: entry.standing.to_string(),
            note: entry.note.as_deref(),
        };
        Self {
            id: &head.id.0,
            standard: &head.standard,
            edition: &head.edition,
            edition_standing: head.edition_standing.to_string(),
            title: &head.title,
            read_through: &head.read_through,
            numbers: numbers(rules).map(number).collect(),
        }
    }
}

//! `sign`: signs a result, a plan, a report and what else is signed; says which signatures are
//! asked for.

use std::collections::BTreeMap;

use clap::{Args, Subcommand};
use serde::Serialize;
use trial::number::{PlanNumber, SpecimenNumber};
use trial::signature::{Identified, Meaning, SamePerson, Signed, SigningRule};

use super::Global;
use crate::book::OpenBook;
use crate::form::run::word;
use crate::output::{Form, Output};
use crate::password;
use crate::problem::{Exit, Problem};
use crate::step::review::{all_opened, upto};
use crate::step::sign::{self, SignatureShown};
use crate::words::labelled;

/// Signs for the person named by `--as`: tested, reviewed or approved
///
/// Examples:
///   cinderbook sign specimen-1-2 --as "…"             tested by
///   cinderbook sign plan-1 --meaning approved --seen 1,3 --as "…"
///   cinderbook sign base-line-1                       flame-call-12, commissioning-46, report-1
///   cinderbook sign trail                             the trail since its last review
///   cinderbook sign list 1                            the signatures on plan 1
///   cinderbook sign rules --ask tested,approved --reason "…"
///
/// A person who has a password in this book is asked for it: typed unseen, or the first line of
/// standard input. A signature is bound to the hash of what it covers; once that changes, it is
/// shown as no longer covering it.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment, args_conflicts_with_subcommands = true)]
pub(crate) struct Sign {
    #[command(subcommand)]
    other: Option<Other>,
    /// What: specimen-PLAN-NUMBER, plan-, report-, base-line-, flame-call-, commissioning-NUMBER, or trail
    what: Option<String>,
    /// tested, reviewed or approved; the usual one if it is not said
    #[arg(long, default_value = "", hide_default_value = true)]
    meaning: String,
    /// Specimens whose odd things were looked at, as `review` lists them
    #[arg(long, value_delimiter = ',', value_name = "NUMBER")]
    seen: Vec<u32>,
}

#[derive(Subcommand, Debug)]
enum Other {
    /// Lists the signatures on a plan, and those that its report still needs
    List {
        /// The plan
        plan: u32,
    },
    /// Says which signatures a report needs, or sets it in writing
    Rules {
        /// tested, reviewed, approved, or none
        #[arg(long, value_delimiter = ',', value_name = "MEANING", requires = "reason")]
        ask: Option<Vec<String>>,
        /// Let one person test and approve
        #[arg(long, requires = "reason")]
        same_person: bool,
        /// The laboratory's reason: it prints on reports that make use of it
        #[arg(long)]
        reason: Option<String>,
    },
}

#[derive(Serialize)]
struct Listed {
    signatures: Vec<SignatureShown>,
    wanted: Vec<String>,
}

#[derive(Serialize)]
struct Rules {
    asked: Vec<&'static str>,
    same_person: &'static str,
    reason: Option<String>,
}

impl Sign {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        match &self.other {
            Some(Other::List { plan }) => list(global, PlanNumber(*plan), output),
            Some(Other::Rules { ask, same_person, reason }) => {
                let rule =
                    reason.as_deref().map(|reason| rule(ask.as_deref(), *same_person, reason));
                rules(global, rule.transpose()?, output)
            }
            None => self.sign(global, output),
        }
    }

    fn sign(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        let word = self.what.as_deref().unwrap_or_default();
        let what = if word == "trail" { trail(&book)? } else { sign::what(word)? };
        let meaning = sign::meaning(what, &self.meaning)?;
        let who = book.who()?;
        book.history().may_sign(&who, what, meaning).map_err(|why| sign::refused(&why))?;
        if let Signed::Plan(plan) = what {
            all_opened(&book, plan, &self.seen(&book, plan))?;
        }
        let agrees = crate::web::agrees(book.book(), &who, || password::ask(&who.0, output))?;
        let identified = match agrees {
            None => Identified::Name,
            Some(true) => Identified::Password,
            Some(false) => {
                return Err(Problem::used_wrongly(format!("this is not the password of {who}"))
                    .hint("Nothing was signed. Type the one that the pages are opened with."));
            }
        };
        let signed = sign::sign(&mut book, (what, meaning), identified, output)?;
        match output.form() {
            Form::Json => output.json(&signed),
            Form::Text => output.value(&line(&signed)),
        }
        if let Some(plan) = what.plan() {
            output.word(&format!("Next: `sign list {0}`, then `report {0}`.", plan.0));
        }
        Ok(Exit::Good)
    }

    /// The specimens that were looked at, as they stand now.
    fn seen(
        &self,
        book: &OpenBook,
        plan: PlanNumber,
    ) -> BTreeMap<SpecimenNumber, trial::number::EntryNumber> {
        let seen = self.seen.iter().map(|number| SpecimenNumber(*number));
        seen.filter_map(|it| Some((it, upto(book.history(), plan, it)?))).collect()
    }
}

/// The trail since its last review.
fn trail(book: &OpenBook) -> Result<Signed, Problem> {
    let (from, last) = (book.history().trail_to_review(), book.history().entries().last());
    let until = last.map(|it| it.entry).filter(|until| *until >= from);
    let until = until.ok_or_else(|| {
        Problem::conflict("nothing came since the last review of the trail")
            .hint("There is nothing to sign yet.")
    })?;
    Ok(Signed::Trail { from, until })
}

fn line(it: &SignatureShown) -> String {
    format!(
        "{} {}, {}: {} {}\n{}",
        it.meaning_told, it.name, it.shown_at, it.what_told, it.told, it.content_sha256
    )
}

fn list(global: &Global, plan: PlanNumber, output: &mut Output) -> Result<Exit, Problem> {
    let book = OpenBook::open(global)?;
    book.plan(plan)?;
    let history = book.history();
    let signatures = history.signatures_of(plan).into_iter();
    let signatures: Vec<_> = signatures.map(|it| sign::shown(history, it)).collect();
    let wanted = history.signatures_wanted(plan).into_iter();
    let wanted: Vec<_> = wanted.map(|it| format!("{} as {}", it.what, it.meaning)).collect();
    let open = !wanted.is_empty();
    match output.form() {
        Form::Json => output.json(&Listed { signatures, wanted }),
        Form::Text => {
            for it in &signatures {
                output.value(&line(it));
            }
            for wanted in &wanted {
                output.value(&format!("not signed yet: {wanted}"));
            }
            if signatures.is_empty() && wanted.is_empty() {
                output.value("no signature is asked for, and none was given");
            }
        }
    }
    if open {
        output.word("Next: `sign WHAT --meaning … --as NAME`.");
    }
    Ok(Exit::Good)
}

fn rule(ask: Option<&[String]>, same: bool, reason: &str) -> Result<SigningRule, Problem> {
    let words = ask.unwrap_or_default().iter().filter(|word| word.as_str() != "none");
    let asked = words
        .map(|it| word("meaning of a signature", it, Meaning::of_word, Meaning::ALL))
        .collect::<Result<Vec<_>, _>>()?;
    let usual = vec![Meaning::Tested, Meaning::Approved];
    Ok(SigningRule {
        asked: if ask.is_none() { usual } else { asked },
        same_person: if same { SamePerson::Allowed } else { SamePerson::Refused },
        reason: reason.to_owned(),
    })
}

fn rules(global: &Global, rule: Option<SigningRule>, output: &mut Output) -> Result<Exit, Problem> {
    let mut book = OpenBook::open(global)?;
    if let Some(rule) = rule {
        sign::rule(&mut book, rule, output)?;
    }
    let history = book.history();
    let asked = history.signatures_asked().into_iter().map(Meaning::word).collect::<Vec<_>>();
    let same = history.same_person_allowed().map_or(SamePerson::Refused, |_| SamePerson::Allowed);
    let reason = history
        .signing_rule()
        .map(|set| format!("{} ({}, entry {})", set.rule.reason, set.who, set.entry));
    match output.form() {
        Form::Json => output.json(&Rules { asked, same_person: same.word(), reason }),
        Form::Text => {
            let told = if asked.is_empty() { "none".to_owned() } else { asked.join(", ") };
            let mut lines = labelled("asked for", &told);
            lines.push_str(&labelled("one person", &format!("who tests and approves: {same}")));
            let usual = "nothing was set in writing: they follow from who may test and who may \
                         review or issue";
            lines.push_str(&labelled("reason", reason.as_deref().unwrap_or(usual)));
            output.value(&lines);
        }
    }
    Ok(Exit::Good)
}

//! `care`: what is done again and again so that the flame stays right, and the list of a new bench.

use clap::{Args, Subcommand};
use trial::care::{CareInterval, CareNeed};
use trial::commissioning::{DECIDES, Found, points};
use trial::number::PlanNumber;

use super::Global;
use crate::book::OpenBook;
use crate::form::run::word;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::care::{commissioned, done, every, item, let_through, list, task};

/// Records the care of the bench, and shows what falls due
///
/// Examples:
///   cinderbook care                                        what falls due, and when
///   cinderbook care done burner-cleaned --piece NB-1
///   cinderbook care every burner-cleaned --days 14 --specimens 30 --for-ready
///   cinderbook care let 7 TC-4 --reason "the certificate is on its way; checked at 100 °C"
///   cinderbook care points                                 the list of a new bench
///   cinderbook care commission "NB-1 in CH-1" extraction=in-order "draught=in-order: 0.05 m/s" …
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct Care {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Records that an act was done now
    Done {
        /// The act, such as burner-cleaned
        task: String,
        /// To which piece
        #[arg(long, default_value = "")]
        piece: String,
        /// What was found
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Sets how often the laboratory wants an act done
    Every {
        /// The act, such as burner-cleaned
        task: String,
        /// After so many days
        #[arg(long)]
        days: Option<u32>,
        /// After so many specimens
        #[arg(long)]
        specimens: Option<u32>,
        /// While it is due no plan is ready
        #[arg(long)]
        for_ready: bool,
    },
    /// Lets one plan be tested although something is due; the reason prints on its report
    Let {
        /// The plan
        plan: u32,
        /// The act of care, or the mark of the piece that is not in calibration
        item: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Shows the points that are gone through at a new bench
    Points,
    /// Records what was found at a new bench, point by point
    Commission {
        /// The bench
        bench: String,
        /// Each point as KEY=FOUND or "KEY=FOUND: remark"; FOUND is in-order, not-in-order or
        /// does-not-apply
        #[arg(required = true)]
        found: Vec<String>,
    },
}

impl Care {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        if let Some(What::Points) = &self.what {
            for point in points() {
                output.value(&format!("{}\t{} ({})", point.key, point.says, point.source));
            }
            output.word(DECIDES);
            return Ok(Exit::Good);
        }
        let mut book = OpenBook::open(global)?;
        self.act(&mut book, output)?;
        Ok(Exit::Good)
    }

    fn act(&self, book: &mut OpenBook, output: &mut Output) -> Result<(), Problem> {
        match &self.what {
            None | Some(What::Points) => return shown(book, output),
            Some(What::Done { task: word, piece, note }) => {
                done(book, task(word)?, (piece, note), output)?;
            }
            Some(What::Every { task: word, days, specimens, for_ready }) => {
                let need = if *for_ready { CareNeed::ForReady } else { CareNeed::Reminded };
                let (days, specimens) = (*days, *specimens);
                every(book, CareInterval { task: task(word)?, days, specimens, need }, output)?;
            }
            Some(What::Let { plan, item: word, reason }) => {
                let_through(book, (PlanNumber(*plan), item(word)), reason, output)?;
                output.value(&format!("plan P-{plan} is let through; the report says why"));
                return Ok(());
            }
            Some(What::Commission { bench, found }) => {
                let found: Result<Vec<_>, Problem> = found.iter().map(|it| point(it)).collect();
                commissioned(book, bench, found?, output)?;
                output.value("the list is kept; its signature follows on paper");
                output.word(DECIDES);
                return Ok(());
            }
        }
        shown(book, output)
    }
}

/// `draught=in-order: 0.05 m/s`.
fn point(text: &str) -> Result<(String, Found, String), Problem> {
    let Some((key, rest)) = text.split_once('=') else {
        return Err(Problem::used_wrongly(format!("`{text}` says nothing of its point"))
            .hint("Write KEY=FOUND, such as draught=in-order."));
    };
    let (found, note) = rest.split_once(':').unwrap_or((rest, ""));
    let found = word("finding", found.trim(), Found::of_word, Found::ALL)?;
    Ok((key.trim().to_owned(), found, note.trim().to_owned()))
}

fn shown(book: &OpenBook, output: &mut Output) -> Result<(), Problem> {
    let all = list(book)?;
    if output.form() == Form::Json {
        output.json(&all);
        return Ok(());
    }
    for it in all {
        let due = if it.due { "DUE" } else { "" };
        let need = if it.for_ready { ", needed for ready" } else { "" };
        output.value(&format!("{}\t{due}\t{}{need}", it.task, it.told));
    }
    output.word("Next: `cinderbook care done TASK` records an act.");
    Ok(())
}

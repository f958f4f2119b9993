//! `confirm base-line`: what is usual on the bench, shown or frozen.

use clap::Args;
use trial::base_line::{Restart, RestartCause};
use trial::number::ConfirmationNumber;

use super::Global;
use crate::book::OpenBook;
use crate::form::run::word;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::base_line::{BaseLineSheet, FrozenBaseLine, Wanted, freeze, look, refused};
use crate::words::labelled;

/// Shows the base line that later flames are held against, or freezes it
///
/// Examples:
///   cinderbook confirm base-line
///   cinderbook confirm base-line --freeze
///   cinderbook confirm base-line --freeze --from 31 --cause new-block --reason "block CB-3"
///
/// It rests on the confirmations that were made in a row with one burner, block and thermocouple,
/// all in control. Another one takes its place for a reason only; the earlier ones stay in the
/// record.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(super) struct ShowBaseLine {
    /// Freeze it now
    #[arg(long)]
    freeze: bool,
    /// The first confirmation it rests on
    #[arg(long, value_name = "NUMBER")]
    from: Option<u32>,
    /// The last one
    #[arg(long, value_name = "NUMBER")]
    to: Option<u32>,
    /// A confirmation to leave out, given once or more
    #[arg(long, value_name = "NUMBER")]
    without: Vec<u32>,
    /// What was changed since the one before: new-burner, new-block, new-thermocouple or other
    #[arg(long, requires = "reason")]
    cause: Option<String>,
    /// Why another one is frozen
    #[arg(long)]
    reason: Option<String>,
}

impl ShowBaseLine {
    /// Runs the command.
    pub(super) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        let mut book = OpenBook::open(global)?;
        if self.freeze {
            freeze(&mut book, &self.wanted()?, output)?.map_err(|found| refused(&found))?;
        }
        let sheet = look(&book);
        match output.form() {
            Form::Json => output.json(&sheet),
            Form::Text => output.value(&lines(&sheet)),
        }
        if self.freeze {
            let number = sheet.holds.as_ref().map_or(1, |it| it.base_line);
            output.word(&format!("Next: `sign base-line-{number}` signs it."));
        } else if sheet.against.is_empty() {
            output.word("Next: `confirm base-line --freeze` freezes it.");
        }
        Ok(Exit::Good)
    }

    fn wanted(&self) -> Result<Wanted, Problem> {
        let cause = match &self.cause {
            Some(cause) => word("cause", cause, RestartCause::of_word, RestartCause::ALL)?,
            None => RestartCause::Other,
        };
        let restart = self.reason.clone().map(|reason| Restart { cause, reason });
        Ok(Wanted {
            from: self.from.map(ConfirmationNumber),
            to: self.to.map(ConfirmationNumber),
            without: self.without.iter().map(|number| ConfirmationNumber(*number)).collect(),
            restart,
        })
    }
}

fn lines(sheet: &BaseLineSheet) -> String {
    let mut lines = labelled("base line", &sheet.sentence);
    if let Some(holds) = &sheet.holds {
        lines.push_str(&of_one(holds));
    }
    for earlier in &sheet.earlier {
        let told = format!("B-{}, frozen at {} by {}", earlier.base_line, earlier.at, earlier.by);
        lines.push_str(&labelled("before", &told));
    }
    if sheet.holds.is_none() {
        lines.push_str(&labelled("proposed", &listed("C-", &sheet.proposed)));
        for against in &sheet.against {
            lines.push_str(&labelled("finding", &format!("{}: {}", against.kind, against.text)));
            lines.push_str(&labelled("", &format!("hint: {}", against.hint)));
        }
    }
    lines
}

fn of_one(it: &FrozenBaseLine) -> String {
    let signed = it.signature.as_deref().unwrap_or("nobody signed it yet");
    let mut lines = labelled("signature", signed);
    lines.push_str(&labelled("rests on", &listed("C-", &it.confirmations)));
    lines.push_str(&labelled("", &listed("D-", &it.determinations)));
    if let Some(limits) = it.limits {
        let told = format!(
            "mean rise times of {:.2} s, in control from {:.2} s to {:.2} s",
            limits.middle_s, limits.low_s, limits.high_s
        );
        lines.push_str(&labelled("limits", &told));
    }
    if let (Some(cause), Some(reason)) = (&it.cause, &it.reason) {
        lines.push_str(&labelled("reason", &format!("{cause}: {reason}")));
    }
    if !it.void_since.is_empty() {
        let told = format!("found void since: {}", listed("D-", &it.void_since));
        lines.push_str(&labelled("note", &told));
    }
    lines
}

fn listed(letter: &str, numbers: &[u32]) -> String {
    if numbers.is_empty() {
        return "none".to_owned();
    }
    let all: Vec<String> = numbers.iter().map(|number| format!("{letter}{number}")).collect();
    all.join(", ")
}

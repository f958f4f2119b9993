//! How an error is shown: what is wrong, its causes, the way out, and the exit code.

use std::error::Error;
use std::fmt::Write as _;
use std::process::ExitCode;

use serde::{Serialize, Serializer};
use trial::finding::{Finding, Stage};
use trial::number::PlanNumber;
use trial::person::MayNot;

/// How a command ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Exit {
    /// Done, and nothing speaks against it.
    Good,
    /// Done, and there is a finding: something does not check, or does not meet.
    Finding,
    /// The command, or what it was handed, cannot be used so.
    UsedWrongly,
    /// A fault of the surroundings: disk, rights, a second program; or a bug of ours.
    Surroundings,
}

impl Exit {
    /// The number the shell sees.
    pub(crate) const fn code(self) -> u8 {
        match self {
            Self::Good => 0,
            Self::Finding => 1,
            Self::UsedWrongly => 2,
            Self::Surroundings => 3,
        }
    }
}

impl Serialize for Exit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u8(self.code())
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}

/// Why a command cannot do its job.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Problem {
    /// What is wrong: the value found, the limit, and which one.
    pub(crate) text: String,
    /// What lies below it, outermost first.
    pub(crate) causes: Vec<String>,
    /// Why a stage says no, all at once.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub(crate) findings: Vec<Found>,
    /// The way out, a full sentence in the imperative.
    pub(crate) hint: Option<String>,
    /// How the command ends.
    #[serde(rename = "exit_code")]
    pub(crate) exit: Exit,
    /// Whether who asks may not, and another may.
    #[serde(skip)]
    pub(crate) may_not: bool,
}

/// One reason why a stage says no.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Found {
    /// Its stable name.
    pub(crate) kind: String,
    /// The facts.
    pub(crate) text: String,
    /// The way out.
    pub(crate) hint: String,
}

impl Problem {
    /// A stage that says no to a plan, with all its findings.
    pub(crate) fn refusal(stage: Stage, plan: PlanNumber, findings: &[Finding]) -> Self {
        let said = match stage {
            Stage::Plan => "cannot be drawn up",
            Stage::Readiness => "is not ready",
            Stage::Confirmation => "has no confirmed flame",
            Stage::Run => "takes no such run",
            Stage::Verdict => "cannot be judged",
            Stage::Review => "cannot be reviewed",
            Stage::Report => "cannot be reported",
        };
        let found = |finding: &Finding| Found {
            kind: finding.kind.to_string(),
            text: finding.text.clone(),
            hint: finding.hint.clone(),
        };
        let count = findings.len();
        let plural = if count == 1 { "finding" } else { "findings" };
        Self {
            findings: findings.iter().map(found).collect(),
            exit: Exit::Finding,
            ..Self::used_wrongly(format!("plan {plan} {said}: {count} {plural}"))
        }
    }

    /// The command, or what it was handed, cannot be used so.
    pub(crate) fn used_wrongly(text: impl Into<String>) -> Self {
        Self {
            text: text.into(),
            causes: Vec::new(),
            findings: Vec::new(),
            hint: None,
            exit: Exit::UsedWrongly,
            may_not: false,
        }
    }

    /// It cannot be done as the record stands.
    pub(crate) fn conflict(text: impl Into<String>) -> Self {
        Self { exit: Exit::Finding, ..Self::used_wrongly(text) }
    }

    /// Who asks may not, and another may.
    pub(crate) fn may_not(refused: &MayNot) -> Self {
        let problem = Self { may_not: true, ..Self::conflict(refused.to_string()) };
        problem.hint(refused.hint())
    }

    /// A fault of the surroundings.
    pub(crate) fn surroundings(text: impl Into<String>) -> Self {
        Self { exit: Exit::Surroundings, ..Self::used_wrongly(text) }
    }

    /// The same with a way out.
    #[must_use]
    pub(crate) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The same with `error` and all that lies below it as causes.
    #[must_use]
    pub(crate) fn because(mut self, error: &dyn Error) -> Self {
        let mut cause = Some(error);
        while let Some(error) = cause {
            let text = error.to_string();
            if self.causes.last() != Some(&text) {
                self.causes.push(text);
            }
            cause = error.source();
        }
        self
    }

    /// The lines for standard error. `mark` dresses the word at the head of a line.
    pub(crate) fn lines(&self, mark: impl Fn(&str) -> String) -> String {
        let mut lines = format!("{} {}\n", mark("error:"), self.text);
        for cause in &self.causes {
            let _ = writeln!(lines, "  cause: {cause}");
        }
        for found in &self.findings {
            let _ = writeln!(lines, "  {}: {}", found.kind, found.text);
            let _ = writeln!(lines, "    {} {}", mark("hint:"), found.hint);
        }
        if let Some(hint) = &self.hint {
            let _ = writeln!(lines, "{} {hint}", mark("hint:"));
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_is_said_with_its_causes_and_the_way_out() {
        let below = std::io::Error::other("the disk is full");
        let problem = Problem::surroundings("cannot keep run 7").because(&below).hint("Make room.");
        assert_eq!(
            problem.lines(str::to_owned),
            "error: cannot keep run 7\n  cause: the disk is full\nhint: Make room.\n"
        );
        assert_eq!(problem.exit.code(), 3);
    }
}

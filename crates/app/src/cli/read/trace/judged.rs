//! A rise time held against the band of the method.

use std::fmt;

use metrology::Duration;
use metrology::decision::{Decision, DecisionRule, Limit, Standing as Kept, decide};
use reading::Window;
use serde::Serialize;
use trial::method::ConfirmationAsked;
use trial::rules::Head;

use super::measured::Value;
use super::options::WindowOptions;
use crate::problem::Problem;
use crate::rules;

/// What the method asks.
pub(super) struct Asked {
    pub(super) method: Head,
    pub(super) confirmation: ConfirmationAsked,
    pub(super) window: Window,
}

/// The words for how a value stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Verdict {
    Meets,
    DoesNotMeet,
    Undecided,
    NotJudged,
}

/// A verdict, and what it rests on.
pub(super) struct Judged {
    pub(super) asked: Asked,
    pub(super) verdict: Verdict,
    /// The decision, where one was taken.
    pub(super) decision: Option<Decision<Duration>>,
    /// Why nothing was judged.
    pub(super) why_not: Option<String>,
}

/// What the method that is named asks.
pub(super) fn asked(options: &WindowOptions) -> Result<Asked, Problem> {
    let (method, asked) = rules::method(&options.method)?;
    let confirmation = asked.confirmation;
    let (bottom, top) = (confirmation.bottom.value.target, confirmation.top.value.target);
    let window = Window::new(bottom, top).map_err(|error| {
        Problem::surroundings(format!("the rules of `{}` are unsound", options.method))
            .because(&error)
    })?;
    Ok(Asked { method, confirmation, window })
}

/// Holds `value`, timed through `window`, against the band.
pub(super) fn judge(
    value: Option<&Value>,
    window: Window,
    asked: Asked,
    guard_band: Option<f64>,
) -> Result<Judged, Problem> {
    let not_judged = |asked, why: String| {
        Ok(Judged { asked, verdict: Verdict::NotJudged, decision: None, why_not: Some(why) })
    };
    if window != asked.window {
        let why = format!(
            "{} is timed from {} to {}, not from {} to {}",
            cited(&asked.method),
            asked.window.bottom(),
            asked.window.top(),
            window.bottom(),
            window.top()
        );
        return not_judged(asked, why);
    }
    let Some(value) = value else {
        return not_judged(asked, "there is no rise time to judge".to_owned());
    };
    let rule = match guard_band {
        None => DecisionRule::SimpleAcceptance,
        Some(ratio) => {
            DecisionRule::GuardBand { ratio, coverage_factor: value.expanded.coverage_factor }
        }
    };
    let band = asked.confirmation.rise_time.value;
    let limit = Limit::Between { low: band.low, high: band.high };
    let decision = decide(value.rise.value, limit, rule).map_err(|error| {
        Problem::used_wrongly(error.to_string()).hint("Give `--guard-band` a ratio of 0 or more.")
    })?;
    let verdict = match decision.standing {
        Kept::Kept => Verdict::Meets,
        Kept::Broken => Verdict::DoesNotMeet,
        Kept::Undecided => Verdict::Undecided,
    };
    Ok(Judged { asked, verdict, decision: Some(decision), why_not: None })
}

/// Standard and edition, as cited.
pub(super) fn cited(method: &Head) -> String {
    format!("{}:{}", method.standard, method.edition)
}

impl Judged {
    /// Whether the band is missed, by the rule.
    pub(super) fn does_not_meet(&self) -> bool {
        self.verdict == Verdict::DoesNotMeet
    }

    /// What the verdict was taken by, in words.
    pub(super) fn rule(&self) -> String {
        match self.decision.map(|decision| decision.rule) {
            None => String::new(),
            Some(DecisionRule::SimpleAcceptance) => "simple acceptance".to_owned(),
            Some(DecisionRule::GuardBand { ratio, .. }) => {
                format!("guard band of {ratio} × U on both sides")
            }
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::Meets => "meets",
            Self::DoesNotMeet => "does not meet",
            Self::Undecided => "undecided",
            Self::NotJudged => "not judged",
        })
    }
}

//! What will be tested: the first stage. A plan never changes; a change is a new plan that names
//! its parent.

use crate::finding::{Finding, FindingKind, Stage};
use crate::number::{EquipmentNumber, PlanNumber, SpecimenNumber};
use crate::requirement::{Ordered, Requirement, resolve};
use crate::rules::{Library, RulesUsed};
use jiff::civil::Date;
use metrology::decision::{DecisionRule, Limit, decide};
use metrology::{DegreesOfFreedom, Duration, Measurement};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Draws up a plan from a draft and the built-in rules.
///
/// # Errors
///
/// All findings: what is not said, what the rules do not leave open, too few specimens.
pub fn draw_up(draft: Draft, library: &Library) -> Result<Plan, Vec<Finding>> {
    let mut findings = gaps(&draft);
    match resolve(&draft.ordered, library) {
        Ok(requirement) => {
            findings.extend(too_few(&draft, &requirement));
            if findings.is_empty() {
                return Ok(Plan { draft, requirement: Arc::new(requirement) });
            }
        }
        Err(more) => findings.extend(more),
    }
    Err(findings)
}

/// A drawn-up plan. Only [`draw_up`] and the replay of the record make one.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    draft: Draft,
    /// Plans that order the same share it.
    requirement: Arc<Requirement>,
}

impl Plan {
    /// What was drafted.
    #[must_use]
    pub const fn draft(&self) -> &Draft {
        &self.draft
    }

    /// What the plan must keep.
    #[must_use]
    pub fn requirement(&self) -> &Requirement {
        &self.requirement
    }

    /// Its number.
    #[must_use]
    pub const fn number(&self) -> PlanNumber {
        self.draft.number
    }

    /// A plan that the record holds.
    pub(crate) const fn restored(draft: Draft, requirement: Arc<Requirement>) -> Self {
        Self { draft, requirement }
    }

    /// What a plan must keep that orders this by these rules, if it is the same as here.
    pub(crate) fn same(&self, ordered: &Ordered, rules: &[RulesUsed]) -> Option<Arc<Requirement>> {
        let same = self.draft.ordered == *ordered && self.requirement.rules == rules;
        same.then(|| Arc::clone(&self.requirement))
    }
}

/// Everything that a person decides before a test.
#[derive(Clone, Debug, PartialEq)]
pub struct Draft {
    /// Its number.
    pub number: PlanNumber,
    /// The plan it takes the place of.
    pub parent: Option<PlanNumber>,
    /// The laboratory's name of the job.
    pub job: String,
    /// Who ordered the test.
    pub customer: Customer,
    /// What is tested.
    pub part: Part,
    /// By which rules.
    pub ordered: Ordered,
    /// The specimens at hand; more than are asked for are a reserve.
    pub specimens: Vec<SpecimenNumber>,
    /// Where the flame touches, in words.
    pub points: Vec<String>,
    /// The position of the specimen, in words.
    pub position: String,
    /// What lies below.
    pub layer: LayerChosen,
    /// What is used.
    pub equipment: Vec<EquipmentNumber>,
    /// How uncertainty enters the verdict.
    pub decision_rule: DecisionRule,
    /// How uncertainty enters the confirmation; simple acceptance is inherent in the method.
    pub confirmation_rule: DecisionRule,
    /// The laboratory's own longest age of a confirmation.
    pub confirmation_age_max: Option<Duration>,
    /// How the specimens were taken, as far as known.
    pub sampling: String,
    /// Additions to, deviations and exclusions from the method.
    pub deviations: Vec<String>,
}

/// Who ordered the test.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Customer {
    /// Name.
    pub name: String,
    /// Address.
    pub address: String,
}

/// What is tested.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// What it is, with material and thickness.
    pub description: String,
    /// The customer's mark on it.
    pub identification: String,
    /// When it came.
    pub received: Option<Date>,
    /// In what condition it came.
    pub condition: String,
}

/// What lies below the specimen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LayerChosen {
    /// The layer that the rules specify.
    Specified,
    /// Another, in words.
    Other(String),
    /// None, and why.
    NotUsed(String),
}

fn finding(kind: FindingKind, text: String, hint: &str) -> Finding {
    Finding::new(Stage::Plan, kind, text, hint)
}

/// What a plan must say and this draft does not.
fn gaps(draft: &Draft) -> Vec<Finding> {
    let mut findings = Vec::new();
    let said: [(&str, &str, &str); 6] = [
        ("job", &draft.job, "Name the job."),
        ("customer's name", &draft.customer.name, "Name the customer."),
        ("customer's address", &draft.customer.address, "Give the customer's address."),
        ("description of the part", &draft.part.description, "Describe the part."),
        ("identification of the part", &draft.part.identification, "Give the part's own mark."),
        ("position of the specimen", &draft.position, "Say how the specimen is held."),
    ];
    for (what, text, hint) in said {
        if text.trim().is_empty() {
            let text = format!("plan {} has no {what}", draft.number);
            findings.push(finding(FindingKind::Missing, text, hint));
        }
    }
    if draft.points.iter().all(|point| point.trim().is_empty()) {
        let text = format!("plan {} has no point of application", draft.number);
        findings.push(finding(FindingKind::Missing, text, "Say where the flame touches."));
    }
    if draft.equipment.is_empty() {
        let text = format!("plan {} names no equipment", draft.number);
        findings.push(finding(
            FindingKind::Missing,
            text,
            "Name burner, block, thermocouple, timer.",
        ));
    }
    if let LayerChosen::Other(why) | LayerChosen::NotUsed(why) = &draft.layer
        && why.trim().is_empty()
    {
        let text = format!("plan {} departs from the specified layer without a word", draft.number);
        findings.push(finding(FindingKind::Missing, text, "Say what lies below, or why nothing."));
    }
    if draft.parent == Some(draft.number) {
        let text = format!("plan {} names itself as its parent", draft.number);
        findings.push(finding(FindingKind::Choice, text, "Name the plan it takes the place of."));
    }
    if let Some(age) = draft.confirmation_age_max
        && age <= Duration::ZERO
    {
        let text = format!("the longest age of a confirmation is {age}; it must be above 0 s");
        findings.push(finding(FindingKind::Choice, text, "Give a longest age, or none."));
    }
    for (what, rule) in
        [("verdict", draft.decision_rule), ("confirmation", draft.confirmation_rule)]
    {
        if let Some(why) = unusable(rule) {
            let text = format!("the decision rule of the {what} cannot be used: {why}");
            findings.push(finding(
                FindingKind::Choice,
                text,
                "Give a ratio of at least 0 and k above 0.",
            ));
        }
    }
    findings
}

/// Why a decision rule cannot be used, if so: it is tried on a value.
fn unusable(rule: DecisionRule) -> Option<String> {
    let tried = Measurement {
        value: Duration::ZERO,
        uncertainty: Duration::ZERO,
        degrees_of_freedom: DegreesOfFreedom::Infinite,
    };
    decide(tried, Limit::AtMost(Duration::ZERO), rule).err().map(|error| error.to_string())
}

fn too_few(draft: &Draft, requirement: &Requirement) -> Vec<Finding> {
    let mut findings = Vec::new();
    let asked = &requirement.asked.specimens.number;
    let distinct: BTreeSet<SpecimenNumber> = draft.specimens.iter().copied().collect();
    if distinct.len() < draft.specimens.len() {
        let text = "a specimen is listed twice".to_owned();
        findings.push(finding(FindingKind::Specimen, text, "List each specimen once."));
    }
    let listed = u64::try_from(distinct.len()).unwrap_or(u64::MAX);
    if listed < asked.value.number() {
        let text = format!(
            "{listed} specimens are listed; {} {} asks for {}",
            asked.source, asked.clause, asked.text
        );
        findings.push(finding(FindingKind::Specimen, text, "List the missing specimens."));
    }
    findings
}

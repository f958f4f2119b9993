//! The form of a plan.

use jiff::civil::Date;
use metrology::Duration;
use metrology::decision::DecisionRule;
use serde::Deserialize;
use trial::number::{EquipmentNumber, PlanNumber, SpecimenNumber};
use trial::plan::{Customer, Draft, LayerChosen, Part};
use trial::requirement::{Choice, Ordered};
use trial::rules::{Key, RulesId, VariantName};

use super::written::Written;

/// A form to fill in, every line explained.
pub(crate) const TEMPLATE: &str = include_str!("plan.toml");

/// The form, filled in.
#[derive(Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct PlanForm {
    method: String,
    profile: Option<String>,
    variant: Option<String>,
    parent: Option<u32>,
    job: String,
    customer: CustomerForm,
    part: PartForm,
    specimens: Vec<u32>,
    points: Vec<String>,
    position: String,
    layer: LayerForm,
    equipment: Vec<String>,
    #[serde(default)]
    decision: DecisionForm,
    confirmation_holds: Option<Written<Duration>>,
    #[serde(default)]
    sampling: String,
    #[serde(default)]
    deviations: Vec<String>,
    #[serde(default, rename = "choice")]
    choices: Vec<ChoiceForm>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CustomerForm {
    name: String,
    address: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PartForm {
    description: String,
    identification: String,
    received: Option<DateForm>,
    condition: String,
}

/// A date, written as TOML's own or as text.
#[derive(Deserialize)]
#[serde(untagged, expecting = "write a date such as 2026-11-02")]
enum DateForm {
    Toml(toml::value::Datetime),
    Text(Date),
}

#[derive(Deserialize)]
#[serde(
    rename_all = "kebab-case",
    untagged,
    expecting = "write layer = \"specified\", { other = \"what lies below\" } or { not-used = \"why\" }"
)]
enum LayerForm {
    Word(SpecifiedWord),
    Other {
        other: String,
    },
    #[serde(rename_all = "kebab-case")]
    NotUsed {
        not_used: String,
    },
}

#[derive(Deserialize)]
#[serde(rename_all = "kebab-case")]
enum SpecifiedWord {
    Specified,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
struct DecisionForm {
    #[serde(default)]
    verdict: RuleForm,
    #[serde(default)]
    confirmation: RuleForm,
}

#[derive(Deserialize, Default, Clone, Copy)]
#[serde(
    untagged,
    expecting = "write \"simple-acceptance\" or { guard-band = 1.0, coverage-factor = 2.0 }"
)]
enum RuleForm {
    #[default]
    #[serde(skip)]
    Unsaid,
    Word(SimpleWord),
    #[serde(rename_all = "kebab-case")]
    GuardBand {
        guard_band: f64,
        coverage_factor: f64,
    },
}

#[derive(Deserialize, Clone, Copy)]
#[serde(rename_all = "kebab-case")]
enum SimpleWord {
    SimpleAcceptance,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ChoiceForm {
    key: String,
    value: String,
    #[serde(default)]
    reason: String,
}

impl PlanForm {
    /// The draft that the form asks for, under `number`.
    pub(crate) fn draft(self, number: PlanNumber) -> Draft {
        Draft {
            number,
            parent: self.parent.map(PlanNumber),
            job: self.job,
            customer: Customer { name: self.customer.name, address: self.customer.address },
            part: Part {
                description: self.part.description,
                identification: self.part.identification,
                received: self.part.received.and_then(DateForm::date),
                condition: self.part.condition,
            },
            ordered: Ordered {
                method: RulesId(self.method),
                profile: self.profile.map(RulesId),
                variant: self.variant.map(VariantName),
                choices: self.choices.into_iter().map(ChoiceForm::choice).collect(),
            },
            specimens: self.specimens.into_iter().map(SpecimenNumber).collect(),
            points: self.points,
            position: self.position,
            layer: self.layer.chosen(),
            equipment: self.equipment.into_iter().map(EquipmentNumber).collect(),
            decision_rule: self.decision.verdict.rule(),
            confirmation_rule: self.decision.confirmation.rule(),
            confirmation_age_max: self.confirmation_holds.map(|Written(age)| age),
            sampling: self.sampling,
            deviations: self.deviations,
        }
    }
}

impl DateForm {
    fn date(self) -> Option<Date> {
        match self {
            Self::Text(date) => Some(date),
            Self::Toml(written) => written.date.and_then(|date| {
                let year = i16::try_from(date.year).ok()?;
                Date::new(year, i8::try_from(date.month).ok()?, i8::try_from(date.day).ok()?).ok()
            }),
        }
    }
}

impl LayerForm {
    fn chosen(self) -> LayerChosen {
        match self {
            Self::Word(SpecifiedWord::Specified) => LayerChosen::Specified,
            Self::Other { other } => LayerChosen::Other(other),
            Self::NotUsed { not_used } => LayerChosen::NotUsed(not_used),
        }
    }
}

impl RuleForm {
    const fn rule(self) -> DecisionRule {
        match self {
            Self::Unsaid | Self::Word(SimpleWord::SimpleAcceptance) => {
                DecisionRule::SimpleAcceptance
            }
            Self::GuardBand { guard_band, coverage_factor } => {
                DecisionRule::GuardBand { ratio: guard_band, coverage_factor }
            }
        }
    }
}

impl ChoiceForm {
    fn choice(self) -> Choice {
        Choice { key: Key(self.key), value: self.value, reason: self.reason }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::form::of_text;

    #[test]
    fn the_template_is_a_plan_that_can_be_read() {
        let form: PlanForm = of_text(TEMPLATE, "plan.toml", "plan template").unwrap();
        let draft = form.draft(PlanNumber(1));
        assert_eq!(draft.specimens, [SpecimenNumber(1), SpecimenNumber(2), SpecimenNumber(3)]);
        assert_eq!(draft.part.received, Some(jiff::civil::date(2026, 11, 2)));
        assert_eq!(draft.layer, LayerChosen::Specified);
        assert_eq!(draft.decision_rule, DecisionRule::SimpleAcceptance);
    }

    #[test]
    fn a_wrong_line_is_named_with_its_place() {
        let text = TEMPLATE.replace("specimens = [1, 2, 3]", "specimens = \"three\"");
        let problem = of_text::<PlanForm>(&text, "plan.toml", "plan template").err().unwrap();
        let line = text.lines().position(|line| line.starts_with("specimens")).unwrap() + 1;
        assert!(problem.text.starts_with(&format!("plan.toml:{line}:")), "{}", problem.text);
    }
}

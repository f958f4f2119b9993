//! The form of a plan.

use jiff::civil::Date;
use metrology::Duration;
use metrology::decision::DecisionRule;
use serde::Deserialize;
use trial::number::{EquipmentNumber, PlanNumber, SpecimenNumber};
use trial::plan::{Customer, Draft, LayerChosen, Part};
use trial::requirement::{Choice, Ordered};
use trial::rules::{Key, RulesId, VariantName};
use utoipa::ToSchema;

use super::written::Written;

/// A form to fill in, every line explained.
pub(crate) const TEMPLATE: &str = include_str!("plan.toml");

/// The form, filled in.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct PlanForm {
    pub(super) method: String,
    pub(super) profile: Option<String>,
    pub(super) variant: Option<String>,
    pub(super) parent: Option<u32>,
    pub(super) job: String,
    pub(super) customer: CustomerForm,
    pub(super) part: PartForm,
    pub(super) specimens: Vec<u32>,
    pub(super) points: Vec<String>,
    pub(super) position: String,
    #[schema(value_type = Object)]
    pub(super) layer: LayerForm,
    pub(super) equipment: Vec<String>,
    #[serde(default)]
    #[schema(value_type = Object)]
    pub(super) decision: DecisionForm,
    #[schema(value_type = Option<String>)]
    pub(super) confirmation_holds: Option<Written<Duration>>,
    #[serde(default)]
    pub(super) sampling: String,
    #[serde(default)]
    pub(super) deviations: Vec<String>,
    #[serde(default, rename = "choice")]
    pub(super) choices: Vec<ChoiceForm>,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CustomerForm {
    pub(super) name: String,
    pub(super) address: String,
}

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PartForm {
    pub(super) description: String,
    pub(super) identification: String,
    #[schema(value_type = Option<String>)]
    pub(super) received: Option<DateForm>,
    pub(super) condition: String,
}

/// A date, written as TOML's own or as text.
#[derive(Deserialize)]
#[serde(untagged, expecting = "write a date such as 2026-11-02")]
pub(super) enum DateForm {
    Toml(toml::value::Datetime),
    Text(Date),
}

#[derive(Deserialize)]
#[serde(
    rename_all = "kebab-case",
    untagged,
    expecting = "write layer = \"specified\", { other = \"what lies below\" } or { not-used = \"why\" }"
)]
pub(super) enum LayerForm {
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
pub(super) enum SpecifiedWord {
    Specified,
}

#[derive(Deserialize, Default)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(super) struct DecisionForm {
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

#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChoiceForm {
    pub(super) key: String,
    pub(super) value: String,
    #[serde(default)]
    pub(super) reason: String,
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
    pub(super) fn choice(self) -> Choice {
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

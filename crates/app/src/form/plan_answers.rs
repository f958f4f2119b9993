//! The answers to a plan's questions, to the form of a plan and back.

use jiff::civil::Date;
use metrology::Duration;
use trial::plan::{Draft, LayerChosen};
use trial::requirement::Ordered;
use trial::rules::{RulesId, VariantName};

use super::fields::{Typed, Wrong};
use super::number::{self, Kind, SECONDS};
use super::plan::{
    ChoiceForm, CustomerForm, DateForm, DecisionForm, LayerForm, PartForm, PlanForm, SpecifiedWord,
};
use super::written::Written;

/// How many specimens are at hand.
const SPECIMENS: Kind = Kind { unit: "specimens", also: &[("specimen", 1)], least: 1, most: 1000 };
/// How long a confirmation holds.
const HOURS: Kind = Kind { unit: "h", also: &[], least: 0, most: 10_000 };

/// What must be answered: the field, and the sentence that asks for it.
const NEEDED: [(&str, &str); 10] = [
    ("job", "Name the job."),
    ("part", "Describe the part."),
    ("mark", "Give the part's own mark."),
    ("customer", "Name the customer."),
    ("address", "Give the customer's address."),
    ("method", "Choose an edition of the method."),
    ("profile", "Choose a product standard, or none."),
    ("points", "Say where the flame touches."),
    ("position", "Say how the specimen is held."),
    ("layer", "Choose what lies below."),
];

/// The answers that stand before anything is asked.
pub(crate) fn blank() -> Typed {
    let mut typed = Typed::default();
    typed.put("layer", "specified");
    typed.put("profile", "none");
    typed
}

/// The answers that an earlier plan was drawn up with.
pub(crate) fn of_draft(draft: &Draft) -> Typed {
    let mut typed = Typed::default();
    typed.put("job", &draft.job);
    typed.put("part", &draft.part.description);
    typed.put("mark", &draft.part.identification);
    typed.put("received", draft.part.received.map(|day| day.to_string()).unwrap_or_default());
    typed.put("condition", &draft.part.condition);
    typed.put("customer", &draft.customer.name);
    typed.put("address", &draft.customer.address);
    let ordered = &draft.ordered;
    typed.put("method", &ordered.method.0);
    let profile = ordered.profile.as_ref().map_or("none", |profile| &profile.0);
    let variant = ordered.variant.as_ref().map(|variant| format!(" {variant}"));
    typed.put("profile", format!("{profile}{}", variant.unwrap_or_default()));
    let chosen = ordered.choices.iter().find(|it| it.key.0 == "application.duration");
    if let Some(chosen) = chosen {
        typed.put("duration", &chosen.value);
        typed.put("duration-reason", &chosen.reason);
    }
    typed.put("points", draft.points.join("\n"));
    typed.put("position", &draft.position);
    let (layer, words) = match &draft.layer {
        LayerChosen::Specified => ("specified", ""),
        LayerChosen::Other(words) => ("other", words.as_str()),
        LayerChosen::NotUsed(words) => ("not-used", words.as_str()),
    };
    typed.put("layer", layer);
    typed.put("layer-words", words);
    typed.put("deviations", draft.deviations.join("\n"));
    typed.put("specimens", draft.specimens.len().to_string());
    typed.put("sampling", &draft.sampling);
    for piece in &draft.equipment {
        typed.add("equipment", &piece.0);
    }
    if let Some(age) = draft.confirmation_age_max {
        typed.put("confirmation-holds", format!("{}", age.seconds() / 3600.0));
    }
    typed
}

/// What is wrong with the answers to the fields that `asked` names.
pub(crate) fn wrong(typed: &Typed, asked: impl Fn(&str) -> bool) -> Vec<Wrong> {
    let mut wrong: Vec<Wrong> =
        NEEDED.iter().filter_map(|(field, ask)| typed.needed(field, ask).err()).collect();
    if !typed.text("received").is_empty() && typed.text("received").parse::<Date>().is_err() {
        let words = format!(
            "`{}` is no date. Type one such as 2026-11-02, or nothing.",
            typed.text("received")
        );
        wrong.push(Wrong::new("received", words));
    }
    if typed.text("layer") != "specified" && typed.text("layer-words").is_empty() {
        wrong.push(Wrong::new("layer-words", "Say what lies below, or why nothing does."));
    }
    // A product standard may say the duration; the method by itself does not.
    let alone = if typed.text("profile") == "none" { Needs::Must } else { Needs::May };
    let numbers = [
        ("duration", "Duration of application", &SECONDS, alone),
        ("specimens", "Specimens at hand", &SPECIMENS, Needs::Must),
        ("confirmation-holds", "How long a confirmation holds", &HOURS, Needs::May),
    ];
    for (field, what, kind, needs) in numbers {
        let text = typed.text(field);
        if text.is_empty() && needs == Needs::May {
            continue;
        }
        match number::read(text, kind) {
            Ok(found) if field == "specimens" && found.millionths % 1_000_000 != 0 => {
                wrong.push(Wrong::new(field, format!("{what}: {found} is no whole number.")));
            }
            Ok(_) => {}
            Err(fault) => wrong.push(Wrong::new(field, fault.words(what, text, kind))),
        }
    }
    if typed.all("equipment").next().is_none() {
        let words = "Choose the burner, the copper block, the thermocouple and the timer.";
        wrong.push(Wrong::new("equipment", words));
    }
    wrong.retain(|wrong| asked(&wrong.field));
    wrong
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Needs {
    Must,
    May,
}

/// The rules that were chosen, with the duration chosen so far; none before a method is.
pub(crate) fn ordered(typed: &Typed) -> Option<Ordered> {
    let method = typed.text("method");
    let (profile, variant) = rules(typed);
    // A duration is put in so that the rest can be looked up before it was asked.
    let choices = match choice(typed) {
        Some(choice) => vec![choice.choice()],
        None if profile.is_none() => return None,
        None => Vec::new(),
    };
    (!method.is_empty()).then(|| Ordered {
        method: RulesId(method.to_owned()),
        profile: profile.map(RulesId),
        variant: variant.map(VariantName),
        choices,
    })
}

fn rules(typed: &Typed) -> (Option<String>, Option<String>) {
    let text = typed.text("profile");
    let (profile, variant) = match text.split_once(' ') {
        Some((profile, variant)) => (profile, Some(variant.to_owned())),
        None => (text, None),
    };
    let profile = (!matches!(profile, "" | "none")).then(|| profile.to_owned());
    (profile, variant)
}

fn choice(typed: &Typed) -> Option<ChoiceForm> {
    let duration = number::read(typed.text("duration"), &SECONDS).ok()?;
    Some(ChoiceForm {
        key: "application.duration".to_owned(),
        value: format!("{duration} s"),
        reason: typed.text("duration-reason").to_owned(),
    })
}

/// The form that these answers fill in; none as long as something is wrong with them.
pub(crate) fn form(typed: &Typed) -> Option<PlanForm> {
    let text = |field: &str| typed.text(field).to_owned();
    let (profile, variant) = rules(typed);
    let count = number::read(typed.text("specimens"), &SPECIMENS).ok()?;
    let count = u32::try_from(count.millionths / 1_000_000).ok()?;
    let words = text("layer-words");
    let lines = |field: &str| -> Vec<String> {
        let lines = typed.text(field).lines().map(str::trim);
        lines.filter(|line| !line.is_empty()).map(str::to_owned).collect()
    };
    let holds = number::read(typed.text("confirmation-holds"), &HOURS).ok();
    Some(PlanForm {
        method: text("method"),
        profile,
        variant,
        parent: None,
        job: text("job"),
        customer: CustomerForm { name: text("customer"), address: text("address") },
        part: PartForm {
            description: text("part"),
            identification: text("mark"),
            received: typed.text("received").parse().ok().map(DateForm::Text),
            condition: text("condition"),
        },
        specimens: (1..=count).collect(),
        points: lines("points"),
        position: text("position"),
        layer: match typed.text("layer") {
            "other" => LayerForm::Other { other: words },
            "not-used" => LayerForm::NotUsed { not_used: words },
            _ => LayerForm::Word(SpecifiedWord::Specified),
        },
        equipment: typed.all("equipment").map(str::to_owned).collect(),
        decision: DecisionForm::default(),
        confirmation_holds: holds
            .map(|hours| Written(Duration::from_seconds(hours.value() * 3600.0))),
        sampling: text("sampling"),
        deviations: lines("deviations"),
        choices: choice(typed).into_iter().collect(),
    })
}

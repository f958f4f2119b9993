//! What a plan must keep: a method, what a product standard asks of it, and the plan's choices,
//! laid over each other by topic.

use crate::finding::{Finding, FindingKind, Stage};
use crate::method::{Asked, ask};
use crate::profile;
use crate::rules::{
    Clause, Entry, Head, Key, Library, Place, Replaced, Rules, RulesError, RulesId, RulesProblem,
    RulesUsed, Standing, VariantName,
};
use metrology::Duration;
use std::collections::BTreeMap;

/// What a plan asks for.
#[derive(Clone, Debug, PartialEq)]
pub struct Ordered {
    /// The edition of the method.
    pub method: RulesId,
    /// The product standard; none for the method's own requirement.
    pub profile: Option<RulesId>,
    /// The variant, where the profile has some.
    pub variant: Option<VariantName>,
    /// What the plan chooses.
    pub choices: Vec<Choice>,
}

/// One number that the plan chooses.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Choice {
    /// Which number.
    pub key: Key,
    /// The value as a rules file would write it, such as `30 s` or `< 30 s`.
    pub value: String,
    /// Why. It may be empty only for a duration of application that the method prefers.
    pub reason: String,
}

/// The id under which a plan's own choices stand.
pub const CHOSEN: &str = "the plan";

/// All that a plan must keep, resolved.
#[derive(Clone, Debug, PartialEq)]
pub struct Requirement {
    /// The method's head.
    pub method: Head,
    /// The profile's head.
    pub profile: Option<Head>,
    /// The variant and its title.
    pub variant: Option<(VariantName, String)>,
    /// The files, so that the rules of that day can be read for ever.
    pub rules: Vec<RulesUsed>,
    /// ta.
    pub duration_of_application: crate::rules::Provision<Duration>,
    /// Every number, with its place.
    pub asked: Asked,
    /// Every number as a row: the same as `asked`, for tables.
    pub entries: BTreeMap<Key, Entry>,
}

impl Requirement {
    /// The head of the rules that a number comes from, where it is one of these.
    #[must_use]
    pub fn head(&self, source: &RulesId) -> Option<&Head> {
        std::iter::once(&self.method).chain(&self.profile).find(|head| head.id == *source)
    }
}

/// Resolves what is ordered from the built-in rules.
///
/// # Errors
///
/// All findings: unknown rules, a method the profile does not know, no or an unknown variant, a
/// choice that is unknown or not of its kind, no duration of application, no reason.
///
/// ```
/// use trial::requirement::{Ordered, resolve};
/// let library = trial::rules::Library::built_in(|_| [0; 32]).unwrap();
/// let requirement = resolve(
///     &Ordered {
///         method: "iec-60695-11-5/2016".into(),
///         profile: Some("iec-60335-1/5".into()),
///         variant: Some("part".into()),
///         choices: vec![],
///     },
///     &library,
/// ).unwrap();
/// assert_eq!(requirement.duration_of_application.text, "30 s");
/// ```
pub fn resolve(ordered: &Ordered, library: &Library) -> Result<Requirement, Vec<Finding>> {
    let mut used = Vec::new();
    let mut unknown = Vec::new();
    for id in std::iter::once(&ordered.method).chain(&ordered.profile) {
        match library.current(id) {
            Some((_, current)) => used.push(current.clone()),
            None => unknown.push(missing(id)),
        }
    }
    if unknown.is_empty() { resolve_from(ordered, &used, library) } else { Err(unknown) }
}

/// Resolves what was ordered from the files used that day.
///
/// # Errors
///
/// As [`resolve`], and if one of the files is not at hand.
pub fn resolve_from(
    ordered: &Ordered,
    used: &[RulesUsed],
    library: &Library,
) -> Result<Requirement, Vec<Finding>> {
    let file = |id: &RulesId| {
        let used = used.iter().find(|used| used.id == *id);
        used.and_then(|used| library.rules(used)).ok_or_else(|| vec![missing(id)])
    };
    let method = file(&ordered.method)?;
    let profile = ordered.profile.as_ref().map(file).transpose()?;
    let mut findings = combination(ordered, method, profile);
    let mut entries = method.entries.clone();
    let mut variant = None;
    if let Some(profile) = profile {
        lay_over(&mut entries, &profile.entries);
        let named = ordered.variant.as_ref().and_then(|name| profile.variants.get_key_value(name));
        if let Some((name, chosen)) = named {
            lay_over(&mut entries, &chosen.entries);
            variant = Some((name.clone(), chosen.title.clone()));
        }
    }
    let preferred = entries.get(&Key("application.preferred".into())).cloned();
    let fixed = entries.contains_key(&Key("application.duration".into()));
    for choice in &ordered.choices {
        let free = !fixed && preferred.as_ref().is_some_and(|entry| is_preferred(choice, entry));
        if choice.reason.trim().is_empty() && !free {
            let text = format!("the choice `{} = {}` has no reason", choice.key, choice.value);
            findings.push(finding(text, "Say why the plan departs from the rules."));
        }
    }
    lay_over(&mut entries, &chosen(&ordered.choices));
    let (asked, refused) = ask(CHOSEN, entries.clone());
    findings.extend(refused.iter().map(refusal));
    let (Some(asked), true) = (asked, findings.is_empty()) else { return Err(findings) };
    let Some(duration_of_application) = asked.application.duration.clone() else {
        return Err(vec![finding(
            format!(
                "no duration of application; preferred are {}",
                asked.application.preferred.text
            ),
            "Choose `application.duration`.",
        )]);
    };
    Ok(Requirement {
        method: method.head.clone(),
        profile: profile.map(|profile| profile.head.clone()),
        variant,
        rules: used.to_vec(),
        duration_of_application,
        asked,
        entries,
    })
}

/// What is wrong with the combination of method, profile and variant.
fn combination(ordered: &Ordered, method: &Rules, profile: Option<&Rules>) -> Vec<Finding> {
    let mut findings = Vec::new();
    if profile::is_profile(method) {
        let text = format!("{} is a profile, not a method", ordered.method);
        findings.push(finding(text, "Name an edition of the method."));
    }
    let Some(profile) = profile else {
        if let Some(variant) = &ordered.variant {
            let text = format!("the variant {variant} belongs to no profile");
            findings.push(finding(text, "Name the product standard, or no variant."));
        }
        return findings;
    };
    if !profile::allows(profile, &ordered.method) {
        let allowed: Vec<&str> = profile.head.methods.iter().map(|id| id.0.as_str()).collect();
        let allowed = allowed.join(" or ");
        let text = format!("{} goes with {allowed}, not with {}", profile.head.id, ordered.method);
        findings.push(finding(text, "Name an edition of the method that the profile knows."));
    }
    let names: Vec<&str> = profile.variants.keys().map(|name| name.0.as_str()).collect();
    let known = ordered.variant.as_ref().is_some_and(|name| profile.variants.contains_key(name));
    if !known && (ordered.variant.is_some() || !names.is_empty()) {
        let said = ordered.variant.as_ref().map_or("none", |name| name.0.as_str());
        let among = if names.is_empty() { "no variants".to_owned() } else { names.join(", ") };
        let text = format!("{} has {among}; the plan names {said}", profile.head.id);
        findings.push(finding(text, "Name one of the profile's variants."));
    }
    findings
}

fn is_preferred(choice: &Choice, preferred: &Entry) -> bool {
    choice.key.0 == "application.duration"
        && preferred.value.split(',').any(|text| text.trim() == choice.value.trim())
}

fn chosen(choices: &[Choice]) -> BTreeMap<Key, Entry> {
    let entry = |choice: &Choice| Entry {
        key: choice.key.clone(),
        value: choice.value.trim().to_owned(),
        tolerance: None,
        clause: Clause("(choice)".to_owned()),
        standing: Standing::Ours,
        note: Some(choice.reason.clone()),
        source: RulesId(CHOSEN.to_owned()),
        replaces: None,
        place: Place::default(),
    };
    choices.iter().map(|choice| (choice.key.clone(), entry(choice))).collect()
}

fn lay_over(entries: &mut BTreeMap<Key, Entry>, over: &BTreeMap<Key, Entry>) {
    for (key, entry) in over {
        let replaces = entries.get(key).map(|below| Replaced {
            source: below.source.clone(),
            clause: below.clause.clone(),
            text: below.text(),
        });
        entries.insert(key.clone(), Entry { replaces, ..entry.clone() });
    }
}

fn missing(id: &RulesId) -> Finding {
    let text = format!("the rules {id} are not at hand");
    finding(text, "Name one of the known rules.")
}

fn refusal(error: &RulesError) -> Finding {
    let unknown = matches!(error.problem, RulesProblem::Unknown { .. });
    let hint = if unknown { "Name a number that the rules know." } else { error.hint() };
    finding(error.problem.to_string(), hint)
}

fn finding(text: String, hint: &str) -> Finding {
    Finding::new(Stage::Plan, FindingKind::Choice, text, hint)
}

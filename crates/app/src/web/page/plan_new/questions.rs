//! The questions of a plan, and what is known that helps to answer them.

use maud::{Markup, html};
use trial::profile;
use trial::requirement::{Requirement, resolve};

use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled, Typed};
use crate::form::plan_answers;

/// One page of questions.
pub(super) struct Question {
    /// Its name in the address.
    pub(super) name: &'static str,
    /// What it asks.
    pub(super) heading: &'static str,
    /// Its fields.
    pub(super) fields: &'static [&'static str],
    /// How it is asked.
    pub(super) show: fn(Filled<'_>, &Known) -> Markup,
    /// What was answered, line by line.
    pub(super) said: fn(&Typed, &Known) -> Vec<(&'static str, String)>,
}

/// What the book and its rules know.
pub(super) struct Known {
    /// The editions of the method: id and title.
    methods: Vec<(String, String)>,
    /// Product standards with their variants: answer and title.
    profiles: Vec<(String, String)>,
    /// The equipment in service: mark and description.
    equipment: Vec<(String, String)>,
    /// What the rules chosen so far ask, once they can be resolved.
    asked: Option<Requirement>,
}

/// What is known for these answers.
pub(super) fn known(book: &OpenBook, typed: &Typed) -> Known {
    let mut known =
        Known { methods: Vec::new(), profiles: Vec::new(), equipment: Vec::new(), asked: None };
    for rules in book.library().all() {
        let (id, head) = (rules.head.id.to_string(), &rules.head);
        let title = format!("{} edition {}: {}", head.standard, head.edition, head.title);
        if !profile::is_profile(rules) {
            known.methods.push((id, title));
            continue;
        }
        let before = known.profiles.len();
        for (name, variant) in profile::variants(rules) {
            known.profiles.push((format!("{id} {name}"), format!("{title}, {variant}")));
        }
        if known.profiles.len() == before {
            known.profiles.push((id, title));
        }
    }
    let history = book.history();
    let in_service =
        history.all_equipment().values().filter(|it| history.withdrawn(&it.number).is_none());
    known.equipment = in_service
        .map(|it| (it.number.to_string(), format!("{}: {}", it.number, it.description)))
        .collect();
    known.asked =
        plan_answers::ordered(typed).and_then(|ordered| resolve(&ordered, book.library()).ok());
    known
}

/// All questions, in their order.
pub(super) const PAGES: &[Question] = &[
    Question {
        name: "part",
        heading: "What is tested, and for whom?",
        fields: &["job", "part", "mark", "received", "condition", "customer", "address"],
        show: part,
        said: |typed, _| {
            lines(
                typed,
                &[
                    ("Job", "job"),
                    ("Part", "part"),
                    ("Its mark", "mark"),
                    ("Received", "received"),
                    ("Condition", "condition"),
                    ("Customer", "customer"),
                    ("Address", "address"),
                ],
            )
        },
    },
    Question {
        name: "rules",
        heading: "By which rules?",
        fields: &["method", "profile"],
        show: rules,
        said: |typed, known| {
            vec![
                ("Method", titled(&known.methods, typed.text("method"))),
                ("Product standard", titled(&known.profiles, typed.text("profile"))),
            ]
        },
    },
    Question {
        name: "duration",
        heading: "How long is the flame applied?",
        fields: &["duration", "duration-reason"],
        show: duration,
        said: |typed, _| {
            lines(typed, &[("Duration of application", "duration"), ("Why", "duration-reason")])
        },
    },
    Question {
        name: "point",
        heading: "Where does the flame touch?",
        fields: &["points"],
        show: |filled, _| {
            filled.words(Field {
            name: "points", label: "The point of application, in words",
            hint: "One line for each point, such as: lower edge of the terminal wall, middle of its length.",
        })
        },
        said: |typed, _| lines(typed, &[("Point of application", "points")]),
    },
    Question {
        name: "position",
        heading: "How is the specimen held?",
        fields: &["position"],
        show: |filled, _| {
            filled.words(Field {
                name: "position",
                label: "Position of the specimen, in words",
                hint: "As in use, unless the product standard says another.",
            })
        },
        said: |typed, _| lines(typed, &[("Position", "position")]),
    },
    Question {
        name: "layer",
        heading: "What lies below?",
        fields: &["layer", "layer-words"],
        show: layer,
        said: |typed, _| lines(typed, &[("Layer below", "layer"), ("In words", "layer-words")]),
    },
    Question {
        name: "conditioning",
        heading: "How are the specimens conditioned?",
        fields: &["deviations"],
        show: conditioning,
        said: |typed, known| {
            let mut said = vec![("Conditioning asked for", stored(known))];
            said.extend(lines(typed, &[("Deviations", "deviations")]));
            said
        },
    },
    Question {
        name: "specimens",
        heading: "How many specimens, and with what equipment?",
        fields: &["specimens", "sampling", "equipment"],
        show: specimens,
        said: |typed, _| {
            let mut said = lines(typed, &[("Specimens", "specimens"), ("Sampling", "sampling")]);
            let equipment: Vec<&str> = typed.all("equipment").collect();
            said.push(("Equipment", equipment.join(", ")));
            said
        },
    },
    Question {
        name: "requirement",
        heading: "What counts as meeting the requirement?",
        fields: &["confirmation-holds"],
        show: requirement,
        said: |typed, known| {
            let mut said: Vec<_> =
                criteria(known).into_iter().map(|text| ("It asks", text)).collect();
            said.push(("Decision rule", "simple acceptance".to_owned()));
            said.extend(lines(typed, &[("A confirmation holds", "confirmation-holds")]));
            said
        },
    },
];

fn lines(typed: &Typed, what: &[(&'static str, &str)]) -> Vec<(&'static str, String)> {
    what.iter().map(|(label, field)| (*label, typed.text(field).to_owned())).collect()
}

fn titled(options: &[(String, String)], chosen: &str) -> String {
    let found = options.iter().find(|(value, _)| value == chosen);
    found.map_or_else(|| chosen.to_owned(), |(_, title)| title.clone())
}

fn answers(options: &[(String, String)]) -> Vec<Answer<'_>> {
    options.iter().map(|(value, title)| Answer { value, label: title.clone() }).collect()
}

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

fn part(filled: Filled<'_>, _: &Known) -> Markup {
    html! {
        (filled.line(field("job", "The laboratory's job", "Its number or name; it stands on the report.")))
        (filled.line(field("part", "What is the part?", "What it is, its material, its thickness.")))
        (filled.line(field("mark", "What mark does it bear?", "")))
        (filled.line(field("received", "When did it come? (optional)", "A date such as 2026-11-02.")))
        (filled.line(field("condition", "In what condition did it come?", "")))
        (filled.line(field("customer", "Who ordered the test?", "")))
        (filled.line(field("address", "The customer's address", "")))
    }
}

fn rules(filled: Filled<'_>, known: &Known) -> Markup {
    let mut profiles = answers(&known.profiles);
    profiles.insert(0, Answer { value: "none", label: "None: the method by itself".to_owned() });
    html! {
        (filled.one_of(field("method", "Which edition of the method?", ""), &answers(&known.methods)))
        (filled.one_of(field("profile", "Which product standard calls for the test?", ""), &profiles))
    }
}

fn duration(filled: Filled<'_>, known: &Known) -> Markup {
    let asked = known.asked.as_ref().map(|it| &it.asked.application);
    html! {
        @if let Some(asked) = asked {
            @match &asked.duration {
                Some(fixed) => p { "Asked for: " (fixed.text) " (" (fixed.source) " " (fixed.clause) "). Leave the field empty to keep it." },
                None => p { "The method prefers " (asked.preferred.text) "; another needs a reason." },
            }
        }
        (filled.number(field("duration", "Duration of application, in seconds", "Such as 30 or 30 s.")))
        (filled.line(field("duration-reason", "Why, if it departs from the rules (optional)", "")))
    }
}

fn layer(filled: Filled<'_>, known: &Known) -> Markup {
    let options = [
        Answer { value: "specified", label: "The layer that the rules specify".to_owned() },
        Answer { value: "other", label: "Another layer".to_owned() },
        Answer { value: "not-used", label: "No layer".to_owned() },
    ];
    html! {
        @if let Some(known) = &known.asked {
            @let asked = &known.asked.layer;
            p { "Asked for: " (asked.kind.text) ", " (asked.distance.text) " below (" (asked.kind.source) " " (asked.kind.clause) ")." }
        }
        (filled.one_of(field("layer", "What lies below the specimen?", ""), &options))
        (filled.line(field("layer-words", "If not the specified one: what, or why none (optional)", "")))
    }
}

fn stored(known: &Known) -> String {
    known.asked.as_ref().map_or_else(String::new, |it| {
        let asked = &it.asked.conditioning;
        format!(
            "{} at {} and {} ({} {})",
            asked.duration.text,
            asked.temperature.text,
            asked.humidity.text,
            asked.duration.source,
            asked.duration.clause
        )
    })
}

fn conditioning(filled: Filled<'_>, known: &Known) -> Markup {
    html! {
        @if known.asked.is_some() { p { "Asked for: " (stored(known)) "." } }
        p { "What was done is recorded on the plan's page before the flame." }
        (filled.words(field("deviations", "Deviations from the method (optional)", "One a line; they stand on the report.")))
    }
}

fn specimens(filled: Filled<'_>, known: &Known) -> Markup {
    html! {
        @if let Some(known) = &known.asked {
            @let asked = &known.asked.specimens;
            p { "Asked for: " (asked.number.text) " (" (asked.number.source) " " (asked.number.clause) ")"
                @if let Some(further) = &asked.further { ", and " (further.text) " more if the first does not meet" }
                "." }
        }
        (filled.number(field("specimens", "How many specimens are at hand?", "More than asked for are a reserve.")))
        (filled.line(field("sampling", "How were they taken? (optional)", "")))
        @if known.equipment.is_empty() {
            p { "No equipment is registered: " a href="/equipment" { "Equipment" } "." }
        } @else {
            (filled.any_of(field("equipment", "What is used?", "Burner, copper block, thermocouple and timer at least."), &answers(&known.equipment)))
        }
    }
}

/// What is asked of each specimen, each with its place.
fn criteria(known: &Known) -> Vec<String> {
    let Some(asked) = &known.asked else { return Vec::new() };
    let criteria = asked.entries.values().filter(|it| it.key.0.starts_with("criteria."));
    criteria
        .map(|entry| {
            let what = entry.key.0.trim_start_matches("criteria.").replace('-', " ");
            format!(
                "{what}: {} ({} {}, {})",
                entry.text(),
                entry.source,
                entry.clause,
                entry.standing
            )
        })
        .collect()
}

fn requirement(filled: Filled<'_>, known: &Known) -> Markup {
    html! {
        @if known.asked.is_some() {
            ul { @for line in criteria(known) { li { (line) } } }
        } @else {
            p { "The rules are not chosen yet." }
        }
        p { "A value near its limit is decided by simple acceptance; another decision rule is planned with the form of the command line." }
        (filled.number(field("confirmation-holds", "How long does a confirmation hold in this laboratory? (optional)", "In hours, such as 4; it also lapses at each change of gas.")))
    }
}

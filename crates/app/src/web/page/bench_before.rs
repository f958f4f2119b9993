//! Before the flame: what the record can tell of a specimen's turn, and what only eyes can.

use maud::{Markup, html};
use serde::Serialize;
use trial::care::in_the_way;
use trial::confirmation::still_holds;
use trial::fact::{Authorisation, LotKind};
use trial::finding::Finding;
use trial::number::{PersonName, SpecimenNumber};
use trial::person::MayNot;
use trial::plan::{LayerChosen, Plan};
use utoipa::ToSchema;

use super::flame;
use crate::book::OpenBook;
use crate::problem::Problem;
use crate::room;
use crate::web::answer::sentence;

/// The name of the line about a photograph, by which the page's script finds it.
const PHOTO: &str = "Photo before the flame";

/// One line before the flame.
#[derive(Serialize, ToSchema)]
#[schema(as = BenchCheck)]
pub(super) struct Check {
    /// What it is about.
    name: &'static str,
    /// `done`, `open` or `missing`; what is open only eyes can tell.
    stands: &'static str,
    /// How it stands, or what is to be seen.
    words: String,
    /// What can be done about it: words and address.
    #[serde(skip)]
    way_out: Option<(&'static str, String)>,
}

impl Check {
    const fn new(name: &'static str, stands: &'static str, words: String) -> Self {
        Self { name, stands, words, way_out: None }
    }

    /// Something in the way, with the way out.
    pub(super) const fn missing(
        name: &'static str,
        words: String,
        way_out: (&'static str, String),
    ) -> Self {
        Self { name, stands: "missing", words, way_out: Some(way_out) }
    }
}

/// Why the flame may not be brought to the specimen, in words.
pub(super) fn not_ready(
    book: &OpenBook,
    (plan, specimen): (&Plan, SpecimenNumber),
    who: &PersonName,
) -> Result<Option<String>, Problem> {
    let history = book.history();
    if history.used_specimens(plan.number()).contains(&specimen) {
        return Ok(Some("This specimen was tested already.".to_owned()));
    }
    let Some(ready) = history.ready(plan.number()) else {
        return Ok(Some(format!("Plan {} was not found ready yet.", plan.number())));
    };
    let said = |finding: &Finding| format!("{}. {}", finding.text, finding.hint);
    let due = in_the_way(plan, history, book.now()?);
    if !due.is_empty() {
        return Ok(Some(due.iter().map(|(_, it)| said(it)).collect::<Vec<_>>().join(" ")));
    }
    if let Some(refused) = not_allowed(book, (plan, specimen), who)? {
        return Ok(Some(format!("{refused}. {}", refused.hint())));
    }
    match still_holds(&ready, history, book.now()?) {
        Ok(_) => Ok(no_room(book, plan, specimen)),
        Err(findings) => Ok(Some(findings.iter().map(said).collect::<Vec<_>>().join(" "))),
    }
}

/// Why the disk takes no further specimen, in words; one that is open goes on to its end.
fn no_room(book: &OpenBook, plan: &Plan, specimen: SpecimenNumber) -> Option<String> {
    if book.history().sitting(plan.number(), specimen).is_some() {
        return None;
    }
    let problem = room::enough(book.book().folder(), "a specimen").err()?;
    Some([sentence(&problem.text), problem.hint.unwrap_or_default()].join(" "))
}

/// Why a person may not begin a specimen, if so; who began one goes on.
fn not_allowed(
    book: &OpenBook,
    (plan, specimen): (&Plan, SpecimenNumber),
    who: &PersonName,
) -> Result<Option<MayNot>, Problem> {
    if book.history().sitting(plan.number(), specimen).is_some() {
        return Ok(None);
    }
    let by = (&plan.draft().ordered.method, book.now()?.day());
    Ok(book.history().may(who, Authorisation::Test, by).err())
}

/// The lines before the flame, besides those of the device.
pub(super) fn checks(
    book: &OpenBook,
    (plan, specimen): (&Plan, SpecimenNumber),
    (not_ready, who): (Option<&str>, &PersonName),
) -> Result<Vec<Check>, Problem> {
    let (draft, asked) = (plan.draft(), &plan.requirement().asked);
    let what = format!(
        "{specimen} of {}: {}, {}",
        plan.number(),
        draft.part.description,
        draft.part.identification
    );
    let height = format!("{}, seen against the gauge", asked.flame_height.text);
    Ok(vec![
        confirmed(book, (plan, specimen), (not_ready, who))?,
        Check::new("Flame height", "open", height),
        Check {
            way_out: Some(("Another specimen", "/bench".to_owned())),
            ..Check::new("Specimen", "done", what)
        },
        photo(book, (plan, specimen)),
        layer(book, plan),
        Check::new("Dark room", "open", "no light but the flame, no draught".to_owned()),
    ])
}

fn confirmed(
    book: &OpenBook,
    (plan, specimen): (&Plan, SpecimenNumber),
    (not_ready, who): (Option<&str>, &PersonName),
) -> Result<Check, Problem> {
    let Some(why) = not_ready else {
        return Ok(Check::new("Flame", "done", flame::stands(book)?.1));
    };
    let history = book.history();
    let (name, way_out) = if history.used_specimens(plan.number()).contains(&specimen) {
        ("Specimen", ("Choose another", "/bench".to_owned()))
    } else if history.is_ready(plan.number()) && !in_the_way(plan, history, book.now()?).is_empty()
    {
        ("Care", ("See what is due", "/care".to_owned()))
    } else if no_room(book, plan, specimen).as_deref() == Some(why) {
        ("Disk", ("See where the book lies", "/setup".to_owned()))
    } else if not_allowed(book, (plan, specimen), who)?.is_some() {
        ("Person", ("See who may", "/setup".to_owned()))
    } else if history.is_ready(plan.number()) {
        ("Flame", ("Confirm the flame", "/flame/run".to_owned()))
    } else {
        ("Plan", ("See what is missing", format!("/plans/{}", plan.number().0)))
    };
    Ok(Check { way_out: Some(way_out), ..Check::new(name, "missing", why.to_owned()) })
}

/// Whether the specimen was photographed. Its line has a camera, not a button *Seen*.
fn photo(book: &OpenBook, (plan, specimen): (&Plan, SpecimenNumber)) -> Check {
    match book.history().photos_before(plan.number(), specimen).len() {
        0 => Check::new(PHOTO, "open", "none yet".to_owned()),
        photos => Check::new(PHOTO, "done", format!("{photos} kept")),
    }
}

/// What lies below, with the lots in use.
fn layer(book: &OpenBook, plan: &Plan) -> Check {
    let asked = &plan.requirement().asked.layer;
    let below = match &plan.draft().layer {
        LayerChosen::NotUsed(why) => {
            return Check::new("Layer below", "done", format!("not used: {why}"));
        }
        LayerChosen::Other(words) => words.clone(),
        LayerChosen::Specified => {
            let lots = [LotKind::Tissue, LotKind::Board].into_iter();
            let lots: Vec<String> = lots
                .filter_map(|kind| book.history().lot(kind))
                .map(|(_, lot)| lot.number.to_string())
                .collect();
            format!("{} ({})", asked.kind.text, lots.join(", "))
        }
    };
    Check::new("Layer below", "open", format!("{below}, {} below", asked.distance.text))
}

/// The lines as the dark page takes them up; its script wires the buttons.
pub(super) fn list(checks: &[Check]) -> Markup {
    html! {
        ul.checks { @for Check { name, stands, words, way_out } in checks {
            li class=(stands) data-name=(name) data-words=(words) {
                span.sign aria-hidden="true" {
                    @match *stands { "done" => "✓", "missing" => "◆", _ => "○" }
                }
                span { (name) ": " (words) @if *stands == "open" { " (to do)" } }
                @if *stands == "open" && *name != PHOTO {
                    span.choices {
                        button type="button" data-seen="yes" aria-label={ "Seen: " (name) } { "Seen" }
                    }
                }
                @if let Some((words, address)) = way_out {
                    span.choices { a href=(address) { (words) } }
                }
            }
        } }
    }
}

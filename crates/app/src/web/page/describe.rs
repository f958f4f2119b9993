//! Describe what you saw: short pages of questions in the light, then a page to check the answers.

use axum::Extension;
use axum::extract::{DefaultBodyLimit, Multipart, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use trial::fact::{Evidence, EvidenceHash, EvidenceKind};
use trial::number::{PlanNumber, SpecimenNumber};
use trial::run::{Burnt, LayerOutcome, MarkKind};
use utoipa_axum::router::OpenApiRouter;

use super::drafts::Drafts;
use super::shown;
use crate::book::OpenBook;
use crate::form::fields::{Answer, Field, Filled, Typed, Wrong};
use crate::form::run_answers::{Known, MARKS, observed};
use crate::problem::{Exit, Problem};
use crate::step;
use crate::web::answer::{Refused, sentence};
use crate::web::site::{Person, Shown, Site};

/// The most bytes of one photograph, and of all of one page.
const PHOTO_BYTES: usize = 30 << 20;
const PAGE_BYTES: usize = 64 << 20;

/// The pages, in their order.
const PAGES: [(&str, &str); 5] = [
    ("times", "What were the times?"),
    ("marks", "What fell or caught, and when?"),
    ("layer", "What became of the layer below?"),
    ("specimen", "What became of the specimen?"),
    ("unusual", "Was anything unusual?"),
];

/// A specimen that is being described.
struct Place {
    plan: PlanNumber,
    specimen: SpecimenNumber,
    /// How many applications the plan asks for.
    applications: usize,
}

impl Place {
    async fn at(site: &Site, named: &str) -> Result<Self, Refused> {
        let (plan, specimen) = shown::specimen_at(site, named).await?;
        let read = move |book: &OpenBook| {
            let count = book.plan(plan)?.requirement().asked.application.count.value.number();
            let used = book.history().used_specimens(plan).contains(&specimen);
            Ok((usize::try_from(count).unwrap_or(1), used))
        };
        let (applications, used) = site.read(read).await?;
        if used {
            let text = format!("specimen {specimen} of plan {plan} was described before");
            let problem = Problem::used_wrongly(text)
                .hint("Nothing was recorded twice. Its page shows what was recorded.");
            return Err(Refused::with(problem, StatusCode::CONFLICT));
        }
        Ok(Self { plan, specimen, applications })
    }

    fn address(&self, page: &str) -> String {
        format!("/specimens/{}-{}/describe/{page}", self.plan.0, self.specimen)
    }

    fn draft_name(&self) -> String {
        format!("describe-{}-{}", self.plan.0, self.specimen)
    }

    /// The fields of a page.
    fn fields(&self, page: &str) -> Vec<String> {
        let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        match page {
            "times" => {
                let mut fields: Vec<String> =
                    owned(&["began", "flames", "flames-at", "glow", "glow-at"]);
                let nth = 1..=self.applications;
                fields.extend(nth.flat_map(|nth| [format!("on-{nth}"), format!("removed-{nth}")]));
                fields
            }
            "marks" => (1..=MARKS)
                .flat_map(|nth| {
                    [format!("mark-{nth}-at"), format!("mark-{nth}"), format!("mark-{nth}-words")]
                })
                .collect(),
            "layer" => owned(&["layer", "surroundings", "surroundings-at"]),
            "specimen" => owned(&[
                "burnt",
                "damaged-length",
                "damaged-uncertainty",
                "temperature",
                "humidity",
            ]),
            "unusual" => owned(&["note", "spoilt"]),
            _ => Vec::new(),
        }
    }
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new()
        .route("/specimens/{specimen}/describe", get(begin))
        .route("/specimens/{specimen}/describe/{page}", get(page).post(answer))
        .route("/specimens/{specimen}/photos", post(photos))
        .layer(DefaultBodyLimit::max(PAGE_BYTES))
        .layer(Extension(Drafts::default()))
}

async fn begin(
    State(site): State<Site>,
    Path(named): Path<String>,
    _person: Person,
) -> Result<Redirect, Refused> {
    let place = Place::at(&site, &named).await?;
    Ok(Redirect::to(&place.address(PAGES[0].0)))
}

async fn page(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Path((named, page)): Path<(String, String)>,
    person: Person,
) -> Result<Markup, Refused> {
    let place = Place::at(&site, &named).await?;
    let typed = drafts.of(&person.0, &place.draft_name()).unwrap_or_default();
    drawn(&site, person, (&place, &page), Filled { typed: &typed, wrong: &[] }).await
}

async fn answer(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Path((named, page)): Path<(String, String)>,
    person: Person,
    came: Typed,
) -> Result<Response, Refused> {
    let place = Place::at(&site, &named).await?;
    let mut typed = drafts.of(&person.0, &place.draft_name()).unwrap_or_default();
    if page == "check" {
        return record(&site, &drafts, person, (&place, &typed)).await;
    }
    let fields = place.fields(&page);
    for field in &fields {
        typed.take(field, &came);
    }
    drafts.keep(&person.0, &place.draft_name(), typed.clone());
    let mut wrong = observed(&typed, known(&place, &person, &typed)).err().unwrap_or_default();
    wrong.retain(|wrong| fields.contains(&wrong.field));
    if !wrong.is_empty() {
        let page = drawn(&site, person, (&place, &page), Filled { typed: &typed, wrong: &wrong });
        return Ok((StatusCode::UNPROCESSABLE_ENTITY, page.await?).into_response());
    }
    let next = PAGES.iter().position(|(name, _)| *name == page).and_then(|it| PAGES.get(it + 1));
    let next = next.filter(|_| came.text("then") != "check").map_or("check", |(name, _)| name);
    Ok(Redirect::to(&place.address(next)).into_response())
}

/// Records the run; what speaks against it comes back on the page.
async fn record(
    site: &Site,
    drafts: &Drafts,
    person: Person,
    (place, typed): (&Place, &Typed),
) -> Result<Response, Refused> {
    let who = person.0.clone();
    let wrong = match observed(typed, known(place, &person, typed)) {
        Err(wrong) => wrong,
        Ok(seen) => {
            let plan = place.plan;
            let again = Person(who.clone());
            let done =
                site.act(again, move |book, output| Ok(step::run::run(book, plan, seen, output)));
            match done.await? {
                Ok(()) => {
                    drafts.forget(&who, &place.draft_name());
                    let address = format!("/specimens/{}-{}", place.plan.0, place.specimen);
                    return Ok(Redirect::to(&address).into_response());
                }
                Err(problem) if problem.exit == Exit::Finding => {
                    let words = |text: &str, hint: &str| format!("{} {hint}", sentence(text));
                    let found = problem.findings.iter();
                    found.map(|it| Wrong::new("answers", words(&it.text, &it.hint))).collect()
                }
                Err(problem) => return Err(problem.into()),
            }
        }
    };
    let page = drawn(site, person, (place, "check"), Filled { typed, wrong: &wrong }).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, page).into_response())
}

/// What a description rests on besides its answers.
fn known(place: &Place, person: &Person, typed: &Typed) -> Known {
    Known {
        specimen: place.specimen,
        applications: place.applications,
        observer: person.0.clone(),
        evidence: typed.all("photo").filter_map(kept_photo).collect(),
    }
}

/// A photograph as the draft names it: hash, size, name.
fn kept_photo(text: &str) -> Option<Evidence> {
    let mut parts = text.splitn(3, ' ');
    let (hash, bytes, name) = (parts.next()?, parts.next()?.parse().ok()?, parts.next()?);
    let mut digest = [0; 32];
    for (place, byte) in digest.iter_mut().enumerate() {
        *byte = u8::from_str_radix(hash.get(place * 2..place * 2 + 2)?, 16).ok()?;
    }
    let (name, hash) = (name.to_owned(), EvidenceHash(digest));
    Some(Evidence { name, hash, bytes, kind: EvidenceKind::Photo })
}

/// Takes photographs up: they are filed at once, and named in the record when the run is.
async fn photos(
    State(site): State<Site>,
    Extension(drafts): Extension<Drafts>,
    Path(named): Path<String>,
    person: Person,
    mut parts: Multipart,
) -> Result<Redirect, Refused> {
    let place = Place::at(&site, &named).await?;
    let broken = |error: axum::extract::multipart::MultipartError| {
        let problem = Problem::used_wrongly("the photographs cannot be read");
        let problem = Problem { causes: vec![error.body_text()], ..problem }.hint(LIMITS);
        Refused::with(problem, error.status())
    };
    while let Some(part) = parts.next_field().await.map_err(broken)? {
        let Some(name) = part.file_name().map(str::to_owned) else { continue };
        let name: String = name.chars().filter(|it| !it.is_control()).take(120).collect();
        let bytes = part.bytes().await.map_err(broken)?;
        if bytes.is_empty() {
            continue;
        }
        if bytes.len() > PHOTO_BYTES || shown::picture_kind(&bytes).is_none() {
            let text = format!("`{name}` is no JPEG, PNG or WebP picture of at most 30 MB");
            return Err(Problem::used_wrongly(text).hint(LIMITS).into());
        }
        let filed =
            site.read(move |book| book.file_bytes(&name, EvidenceKind::Photo, &mut &*bytes));
        let filed = filed.await?;
        let mut typed = drafts.of(&person.0, &place.draft_name()).unwrap_or_default();
        let text = format!("{} {} {}", filed.hash, filed.bytes, filed.name);
        if !typed.all("photo").any(|photo| photo == text) {
            typed.add("photo", &text);
        }
        drafts.keep(&person.0, &place.draft_name(), typed);
    }
    Ok(Redirect::to(&place.address("unusual")))
}

/// What may be handed in.
const LIMITS: &str = "JPEG, PNG or WebP, each at most 30 MB, together at most 64 MB. Where a \
    camera makes HEIC, set it to the most compatible form, or choose JPEG.";

async fn drawn(
    site: &Site,
    person: Person,
    (place, page): (&Place, &str),
    filled: Filled<'_>,
) -> Result<Markup, Refused> {
    let heading = match PAGES.iter().find(|(name, _)| *name == page) {
        Some((_, heading)) => *heading,
        None if page == "check" => "Check the answers",
        None => {
            let problem = Problem::used_wrongly(format!("there is no question called `{page}`"));
            return Err(Refused::not_found(problem.hint("Begin on the specimen's page.")));
        }
    };
    let body = if page == "check" { check(place, filled) } else { question(place, page, filled) };
    let main = html! {
        p { a href={ "/specimens/" (place.plan.0) "-" (place.specimen) } {
            "Specimen " (place.specimen) " of plan " (place.plan)
        } }
        (filled.summary())
        (body)
    };
    let show = |(): &()| Shown { title: filled.title(heading), heading: heading.to_owned(), main };
    site.show(person, "/plans", |_| Ok(()), show).await
}

const fn field<'a>(name: &'a str, label: &'a str, hint: &'a str) -> Field<'a> {
    Field { name, label, hint }
}

fn question(place: &Place, page: &str, filled: Filled<'_>) -> Markup {
    html! {
        form method="post" novalidate {
            @match page {
                "times" => (times(place, filled)),
                "marks" => (marks(filled)),
                "layer" => (layer(filled)),
                "specimen" => (specimen(filled)),
                _ => (unusual(filled)),
            }
            button type="submit" { "Continue" } " "
            button.second type="submit" name="then" value="check" { "Continue to the check" }
        }
        @if page == "unusual" { (photographs(place, filled)) }
    }
}

fn times(place: &Place, filled: Filled<'_>) -> Markup {
    html! {
        p { "No presses were kept for this specimen, so the times are typed from a stop-watch that was started with the first flame. The record says that they were typed." }
        (filled.line(field("began", "When did the first flame touch it?", "Date and time in UTC, such as 2026-11-25 09:40.")))
        @for nth in 1..=place.applications {
            @if nth > 1 {
                (filled.number(field(&format!("on-{nth}"), &format!("Flame {nth} on specimen, in seconds"), "")))
            }
            (filled.number(field(&format!("removed-{nth}"), &format!("Flame {nth} removed, in seconds"), "")))
        }
        (ended(filled, "flames", "Flames after the last removal"))
        (ended(filled, "glow", "Glow after the flames"))
    }
}

/// How something ended, and when.
fn ended(filled: Filled<'_>, name: &str, label: &str) -> Markup {
    let answer = |value, label: &str| Answer { value, label: label.to_owned() };
    let options = [
        answer("none", "There were none"),
        answer("out", "They went out by themselves"),
        answer("by-hand", "They were put out by hand"),
    ];
    html! {
        (filled.one_of(field(name, label, ""), &options))
        (filled.number(field(&format!("{name}-at"), "When they were last seen, in seconds on the stop-watch (optional)", "")))
    }
}

fn marks(filled: Filled<'_>) -> Markup {
    let mut kinds = vec![Answer { value: "", label: "Nothing".to_owned() }];
    kinds.extend(
        MarkKind::ALL
            .iter()
            .map(|kind| Answer { value: kind.word(), label: shown::mark_kind(*kind).to_owned() }),
    );
    html! {
        p { "Leave the time empty where there was nothing more." }
        @for nth in 1..=MARKS {
            (filled.number(field(&format!("mark-{nth}-at"), &format!("Mark {nth}, in seconds (optional)"), "")))
            (filled.pick(field(&format!("mark-{nth}"), "What was it?", ""), &kinds))
            (filled.line(field(&format!("mark-{nth}-words"), "In words (optional)", "")))
        }
    }
}

fn layer(filled: Filled<'_>) -> Markup {
    let outcomes: Vec<Answer<'_>> = LayerOutcome::ALL
        .iter()
        .map(|it| Answer { value: it.word(), label: shown::layer(*it).to_owned() })
        .collect();
    html! {
        (filled.one_of(field("layer", "The layer below", ""), &outcomes))
        (ended(filled, "surroundings", "Flames or glow of the layer and the surroundings"))
    }
}

fn specimen(filled: Filled<'_>) -> Markup {
    let burnt: Vec<Answer<'_>> = Burnt::ALL
        .iter()
        .map(|it| Answer { value: it.word(), label: it.word().to_owned() })
        .collect();
    html! {
        (filled.one_of(field("burnt", "How much of it burnt?", ""), &burnt))
        (filled.number(field("damaged-length", "Damaged length, in mm (optional)", "Needed where the plan's rules limit it.")))
        (filled.number(field("damaged-uncertainty", "Its standard uncertainty, in mm (optional)", "")))
        (filled.number(field("temperature", "Temperature of the air, in °C", "")))
        (filled.number(field("humidity", "Relative humidity of the air, in %", "")))
    }
}

fn unusual(filled: Filled<'_>) -> Markup {
    html! {
        (filled.words(field("note", "Anything unusual (optional)", "")))
        (filled.line(field("spoilt", "If the specimen is spoilt: why (optional)", "A spoilt specimen is replaced, not judged.")))
    }
}

fn photographs(place: &Place, filled: Filled<'_>) -> Markup {
    html! {
        h2 { "Photographs" }
        @for photo in filled.typed.all("photo").filter_map(kept_photo) {
            p { (photo.name) ", " (photo.bytes.div_ceil(1024)) " kB: kept" }
        }
        form method="post" enctype="multipart/form-data" novalidate
            action={ "/specimens/" (place.plan.0) "-" (place.specimen) "/photos" } {
            div.field {
                label for="photo" { "Add photographs" }
                p.hint id="photo-hint" { (LIMITS) }
                input id="photo" name="photo" type="file" accept="image/*" capture="environment"
                    multiple aria-describedby="photo-hint";
            }
            button.second type="submit" { "Keep the photographs" }
        }
    }
}

fn check(place: &Place, filled: Filled<'_>) -> Markup {
    html! {
        div #answers {
            @for (name, heading) in PAGES {
                h2 { (heading) }
                dl.said { @for field in place.fields(name) {
                    @let text = filled.typed.text(&field);
                    @if !text.is_empty() { dt { (field.replace('-', " ")) } dd { (text) } }
                } }
                p { a href=(place.address(name)) { "Change" span.apart { ": " (heading) } } }
            }
            p { (filled.typed.all("photo").count()) " photographs." }
        }
        form method="post" novalidate { button type="submit" { "Record what was seen" } }
    }
}

//! A specimen that is being described: what was pressed for it, and which pages ask about it.

use axum::http::StatusCode;
use trial::bench::State;
use trial::moment::Moment;
use trial::number::{PersonName, PlanNumber, SpecimenNumber};
use trial::run::{Ending, Observed};
use trial::signature::{Meaning, Signed};

use crate::book::OpenBook;
use crate::form::fields::{Typed, Wrong};
use crate::form::pressed::{Pressed, at_the_bench, in_words};
use crate::form::run_answers::{MARKS, began, offered};
use crate::problem::Problem;
use crate::step::review::hours_later;
use crate::web::answer::Refused;
use crate::web::page::drafts::Drafts;
use crate::web::page::shown;
use crate::web::page::sign::way;
use crate::web::site::Site;

/// One page of questions: its name in the address, and what it asks.
pub(super) type Page = (&'static str, &'static str);

/// The pages, in their order.
const PAGES: [Page; 5] = [
    ("times", "What were the times?"),
    ("marks", "What fell or caught, and when?"),
    ("layer", "What became of the layer below?"),
    ("specimen", "What became of the specimen?"),
    ("unusual", "Was anything unusual?"),
];

/// The field that takes why it is written later.
pub(super) const WHY_LATER: &str = "later-reason";

/// The only page where what was pressed leaves nothing else to ask: all questions on one.
const ALL: Page = ("all", "What did you see?");

/// The only page where the specimen was found spoilt at the bench.
const SPOILT: Page = ("spoilt", "Why is the specimen spoilt?");

/// A specimen that is being described.
pub(super) struct Place {
    pub(super) plan: PlanNumber,
    pub(super) specimen: SpecimenNumber,
    /// How many applications the plan asks for.
    pub(super) applications: usize,
    /// What was pressed at the bench, if it was.
    pub(super) pressed: Option<Pressed>,
    /// Whether it was found spoilt at the bench.
    pub(super) spoilt: bool,
    /// Temperature and humidity of the plan's last run, offered again.
    air: Option<(String, String)>,
    /// Whether the laboratory asks for a signature on what was seen.
    pub(super) signs: bool,
    /// When it is described.
    now: Moment,
}

impl Place {
    /// The specimen that an address names.
    ///
    /// # Errors
    ///
    /// [`Refused`] where it is not there, was described before, or is at the bench now.
    pub(super) async fn at(site: &Site, named: &str) -> Result<Self, Refused> {
        let (plan, specimen) = shown::specimen_at(site, named).await?;
        let (place, state) = site.read(move |book| Self::read(book, plan, specimen)).await?;
        if let Some(state) = state.filter(|state| at_the_bench(*state)) {
            let text =
                format!("specimen {specimen} of plan {plan} is at the bench: {}", in_words(state));
            let problem = Problem::used_wrongly(text)
                .hint("Describe it once it is finished there; another device can take it over.");
            return Err(Refused::with(problem, StatusCode::CONFLICT));
        }
        place.ok_or_else(|| {
            let text = format!("specimen {specimen} of plan {plan} was described before");
            let problem = Problem::used_wrongly(text)
                .hint("Nothing was recorded twice. Its page shows what was recorded.");
            Refused::with(problem, StatusCode::CONFLICT)
        })
    }

    fn read(
        book: &OpenBook,
        plan: PlanNumber,
        specimen: SpecimenNumber,
    ) -> Result<(Option<Self>, Option<State>), Problem> {
        let history = book.history();
        if history.used_specimens(plan).contains(&specimen) {
            return Ok((None, None));
        }
        let count = book.plan(plan)?.requirement().asked.application.count.value.number();
        let state = history.standing(plan, specimen).map(|standing| standing.state);
        let air = |seen: &Observed| {
            let (temperature, humidity) = (seen.air.temperature, seen.air.humidity);
            (format!("{:.1}", temperature.celsius()), format!("{:.0}", humidity.percent()))
        };
        let place = Self {
            plan,
            specimen,
            applications: usize::try_from(count).unwrap_or(1),
            pressed: Pressed::of(history, plan, specimen),
            spoilt: state == Some(State::Spoilt),
            air: history.runs(plan).last().map(|last| air(last.run.observed())),
            signs: history.signatures_asked().contains(&Meaning::Tested),
            now: book.now()?,
        };
        Ok((Some(place), state))
    }

    pub(super) fn address(&self, page: &str) -> String {
        format!("{}/describe/{page}", self.specimen_address())
    }

    pub(super) fn specimen_address(&self) -> String {
        format!("/specimens/{}-{}", self.plan.0, self.specimen)
    }

    /// The page that follows once it is recorded: where it is signed, or the plan.
    pub(super) fn once_recorded(&self) -> String {
        let (plan, specimen) = (self.plan, self.specimen);
        let to = format!("/plans/{}", plan.0);
        if self.signs { way(Signed::Specimen { plan, specimen }, "tested", &to) } else { to }
    }

    /// What the button says that records it for a person.
    pub(super) fn button(&self, who: &PersonName) -> String {
        if self.signs {
            "Record, then sign as tested".to_owned()
        } else {
            format!("Record as tested by {who}")
        }
    }

    pub(super) fn draft_name(&self) -> String {
        format!("describe-{}-{}", self.plan.0, self.specimen)
    }

    /// What was answered so far; what is known, before anything was.
    pub(super) fn draft(&self, drafts: &Drafts, who: &PersonName) -> Typed {
        drafts.of(who, &self.draft_name()).unwrap_or_else(|| {
            let mut typed = offered(self.pressed.as_ref());
            if let Some((temperature, humidity)) = &self.air {
                typed.put("temperature", temperature);
                typed.put("humidity", humidity);
            }
            typed
        })
    }

    /// The page of this name.
    pub(super) fn page(&self, name: &str) -> Option<Page> {
        let spoilt = Some(SPOILT).filter(|_| self.spoilt);
        let all = Some(ALL).filter(|_| self.on_one_page());
        PAGES.into_iter().chain(spoilt).chain(all).find(|(page, _)| *page == name)
    }

    /// Whether all is asked on one page: the times were pressed, none of them is doubted, and there
    /// is no mark to name.
    pub(super) fn on_one_page(&self) -> bool {
        let simple = |pressed: &Pressed| !pressed.asks && pressed.timing.marks.is_empty();
        !self.spoilt && self.pressed.as_ref().is_some_and(simple)
    }

    /// The page that a description begins with.
    pub(super) fn first(&self) -> &'static str {
        if self.on_one_page() {
            return ALL.0;
        }
        self.asks().first().copied().unwrap_or("check")
    }

    /// The page that photographs are added on.
    pub(super) fn with_photos(&self) -> &'static str {
        if self.on_one_page() { ALL.0 } else { "unusual" }
    }

    /// All pages, for the check.
    pub(super) const fn pages() -> [Page; 5] {
        PAGES
    }

    /// The pages that must be gone through, in their order: times that were pressed and marks that
    /// were not are not asked about.
    pub(super) fn asks(&self) -> Vec<&'static str> {
        if self.spoilt {
            return vec![SPOILT.0];
        }
        let needed = |name: &str| match (name, &self.pressed) {
            ("times", Some(pressed)) => pressed.asks,
            ("marks", Some(pressed)) => !pressed.timing.marks.is_empty(),
            _ => true,
        };
        PAGES.into_iter().map(|(name, _)| name).filter(|name| needed(name)).collect()
    }

    /// Where to go on from a page.
    pub(super) fn after(&self, page: &str) -> &'static str {
        let place = |name: &str| PAGES.iter().position(|(page, _)| *page == name);
        let asked = self.asks();
        asked.into_iter().find(|next| place(next) > place(page)).unwrap_or("check")
    }

    /// Where to go back to from a page; none from the first.
    pub(super) fn before(&self, page: &str) -> Option<&'static str> {
        if page == ALL.0 {
            return None;
        }
        let place =
            |name: &str| PAGES.iter().position(|(page, _)| *page == name).unwrap_or(PAGES.len());
        self.asks().into_iter().rfind(|earlier| place(earlier) < place(page))
    }

    /// Whether the end of the layer's burning was pressed: then it stands with the times.
    pub(super) fn layer_pressed(&self) -> bool {
        let layer = self.pressed.as_ref().map(|pressed| pressed.timing.surroundings);
        layer.is_some_and(|layer| layer != Ending::None)
    }

    /// How many marks there are to describe.
    pub(super) fn marks(&self) -> usize {
        self.pressed.as_ref().map_or(MARKS, |pressed| pressed.timing.marks.len())
    }

    /// How many hours after the flame it is described, where that counts as later.
    pub(super) fn hours_later(&self, typed: &Typed) -> Option<f64> {
        let pressed = self.pressed.as_ref().map(|pressed| pressed.timing.began);
        hours_later(pressed.or_else(|| began(typed))?, self.now)
    }

    /// What is wrong where it is described later and does not say why.
    pub(super) fn unexplained(&self, typed: &Typed) -> Option<Wrong> {
        let hours = self.hours_later(typed)?;
        let ask = format!("Say why it is written {hours:.0} h after the flame.");
        typed.needed(WHY_LATER, &ask).err()
    }

    /// The fields of a page.
    pub(super) fn fields(&self, page: &str) -> Vec<String> {
        let owned = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect();
        let layer = ["surroundings", "surroundings-at"];
        let mut fields: Vec<String> = match page {
            "times" => owned(&["flames", "flames-at", "glow", "glow-at"]),
            "marks" => (1..=self.marks()).flat_map(mark_fields).collect(),
            "layer" => owned(&["layer"]),
            "specimen" => owned(&[
                "burnt",
                "damaged-length",
                "damaged-uncertainty",
                "temperature",
                "humidity",
            ]),
            "unusual" => owned(&["note", WHY_LATER, "spoilt"]),
            "spoilt" => owned(&["spoilt"]),
            "all" => {
                ["layer", "specimen", "unusual"].iter().flat_map(|page| self.fields(page)).collect()
            }
            _ => Vec::new(),
        };
        if page == "times" {
            let nth = 1..=self.applications;
            fields.extend(nth.flat_map(|nth| [format!("on-{nth}"), format!("removed-{nth}")]));
            match &self.pressed {
                None => fields.push("began".to_owned()),
                Some(_) => fields.extend(owned(&["times-reason", "any"])),
            }
        }
        if page == if self.layer_pressed() { "times" } else { "layer" } {
            fields.extend(layer.map(str::to_owned));
        }
        fields
    }
}

fn mark_fields(nth: usize) -> [String; 3] {
    [format!("mark-{nth}-at"), format!("mark-{nth}"), format!("mark-{nth}-words")]
}

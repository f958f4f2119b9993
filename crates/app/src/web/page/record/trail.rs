//! Which entries are asked for, and all of them as a file that is never held whole.

use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::extract::{Query, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use futures_util::stream;
use jiff::civil::Date;
use report::csv::{Reader, cell};
use trial::fact::Recorded;
use utoipa_axum::router::OpenApiRouter;

use crate::problem::Problem;
use crate::web::answer::Refused;
use crate::web::asked::Given;
use crate::web::download::{disposition, kind};
use crate::web::site::{Person, Site};

use super::Asked;
use super::telling::{Thing, words};

/// So many entries are looked at and written at once, while the book is held.
const BATCH: u64 = 2000;

/// Which entries are asked for.
#[derive(Clone, Debug, Default)]
pub(super) struct Filter {
    person: Option<String>,
    kind: Option<String>,
    thing: Option<Thing>,
    from: Option<Date>,
    until: Option<Date>,
    before: Option<u64>,
}

impl Filter {
    /// The filter that is asked for.
    pub(super) fn of(asked: &Asked) -> Result<Self, Problem> {
        let text = |text: &str| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
        let before = text(&asked.before).map(|found| {
            found.parse().map_err(|_| {
                Problem::used_wrongly(format!("`{found}` is no number of an entry"))
                    .hint("Give `before` a whole number, such as the last one shown.")
            })
        });
        Ok(Self {
            person: text(&asked.person),
            kind: text(&asked.kind),
            thing: text(&asked.thing).map(|thing| Thing::of(&thing)),
            from: text(&asked.from).map(|found| day(&found)).transpose()?,
            until: text(&asked.until).map(|found| day(&found)).transpose()?,
            before: before.transpose()?,
        })
    }

    /// Those of `entries` that are asked for, newest first.
    pub(super) fn newest_first<'a>(
        &'a self,
        entries: &'a [Recorded],
    ) -> impl Iterator<Item = &'a Recorded> {
        // Numbers and moments only grow, so the ends are found without looking at what lies between.
        let first =
            self.from.map_or(0, |from| entries.partition_point(|entry| entry.at.day() < from));
        let last = self.until.map_or(entries.len(), |until| {
            entries.partition_point(|entry| entry.at.day() <= until)
        });
        let below = self.before.map_or(entries.len(), |before| {
            entries.partition_point(|entry| entry.entry.0 < before)
        });
        let asked = entries.get(first..last.min(below)).unwrap_or_default();
        asked.iter().rev().filter(|entry| self.holds(entry))
    }

    fn holds(&self, entry: &Recorded) -> bool {
        self.person.as_ref().is_none_or(|person| entry.who.0 == *person)
            && self.kind.as_ref().is_none_or(|kind| entry.fact.kind() == kind)
            && self.thing.as_ref().is_none_or(|thing| thing.is_in(&entry.fact))
    }
}

fn day(found: &str) -> Result<Date, Problem> {
    found.parse().map_err(|_| {
        Problem::used_wrongly(format!("`{found}` is no day"))
            .hint("Write it as year, month and day, such as 2026-11-25.")
    })
}

/// The routes.
pub(super) fn routes() -> OpenApiRouter<Site> {
    OpenApiRouter::new().route("/record.csv", get(file)).route("/api/record.csv", get(file))
}

/// All entries asked for as CSV, a batch at a time.
async fn file(
    State(site): State<Site>,
    _person: Person,
    Given(Query(asked)): Given<Query<Asked>>,
) -> Result<Response, Refused> {
    let filter = Filter::of(&asked)?;
    let reader = if asked.r#for == "spreadsheet" { Reader::Spreadsheet } else { Reader::Program };
    let mark = if reader == Reader::Spreadsheet { "\u{feff}" } else { "" };
    let head = format!("{mark}entry,at,who,kind,what\r\n");
    let last = site.read(|book| Ok(book.history().entries().len() as u64)).await?;
    let next = filter.before.unwrap_or(u64::MAX).min(last.saturating_add(1));
    let began = Written { site, filter: Arc::new(filter), reader, next, head: Some(head) };
    let body = Body::from_stream(stream::unfold(began, Written::more));
    let name = "record.csv";
    let headers =
        [(header::CONTENT_TYPE, kind(name)), (header::CONTENT_DISPOSITION, disposition(name))];
    Ok((headers, body).into_response())
}

/// How far a file has been written.
struct Written {
    site: Site,
    filter: Arc<Filter>,
    reader: Reader,
    /// Entries below this number are still to be looked at.
    next: u64,
    head: Option<String>,
}

impl Written {
    /// The next batch; none once all is written. A reader that stops asking stops the work.
    async fn more(mut self) -> Option<(Result<Bytes, std::io::Error>, Self)> {
        if let Some(head) = self.head.take() {
            return Some((Ok(Bytes::from(head)), self));
        }
        while self.next > 1 {
            let (filter, reader, next) = (Arc::clone(&self.filter), self.reader, self.next);
            let first = next.saturating_sub(BATCH).max(1);
            let read = self.site.read(move |book| {
                let entries = book.history().entries();
                let from = entries.partition_point(|entry| entry.entry.0 < first);
                let to = entries.partition_point(|entry| entry.entry.0 < next);
                let batch = entries.get(from..to).unwrap_or_default();
                Ok(filter.newest_first(batch).map(|entry| row(entry, reader)).collect::<String>())
            });
            let Ok(rows) = read.await else {
                let broken = std::io::Error::other("the record could not be read to its end");
                self.next = 0;
                return Some((Err(broken), self));
            };
            self.next = first;
            if !rows.is_empty() {
                return Some((Ok(Bytes::from(rows)), self));
            }
        }
        None
    }
}

fn row(entry: &Recorded, reader: Reader) -> String {
    format!(
        "{},{},{},{},{}\r\n",
        entry.entry,
        entry.at,
        cell(&entry.who.0, reader),
        entry.fact.kind(),
        cell(&words(&entry.fact), reader)
    )
}

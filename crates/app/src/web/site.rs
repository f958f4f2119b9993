//! What all pages share: the book, one at a time, and who asks.

use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use maud::Markup;
use trial::number::PersonName;

use super::answer::Refused;
use super::shell::{self, Around};
use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// The served book.
#[derive(Clone)]
pub(super) struct Site(Arc<Shared>);

struct Shared {
    desk: Mutex<Desk>,
    address: SocketAddr,
}

/// The book, and the door its words go through.
struct Desk {
    book: OpenBook,
    output: Output,
}

impl Site {
    /// A site over `book`, reached at `address`.
    pub(super) fn new(book: OpenBook, output: Output, address: SocketAddr) -> Self {
        Self(Arc::new(Shared { desk: Mutex::new(Desk { book, output }), address }))
    }

    /// The hosts that requests may name.
    pub(super) fn names(&self) -> [String; 2] {
        [self.0.address.to_string(), format!("localhost:{}", self.0.address.port())]
    }

    /// How the pages are asked for.
    pub(super) const fn scheme(&self) -> &'static str {
        "http"
    }

    /// Where the pages are.
    pub(super) fn origin(&self) -> String {
        format!("{}://{}", self.scheme(), self.0.address)
    }

    /// Says something on the terminal.
    pub(super) fn say(&self, line: &str) {
        self.0.desk.lock().unwrap_or_else(PoisonError::into_inner).output.word(line);
    }

    /// Reads in the book.
    ///
    /// # Errors
    ///
    /// As `reads` says.
    pub(super) async fn read<T: Send + 'static>(
        &self,
        reads: impl FnOnce(&OpenBook) -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Refused> {
        self.at_the_desk(move |desk| reads(&desk.book)).await
    }

    /// A page: looks into the book, and shows what was found.
    ///
    /// # Errors
    ///
    /// As `look` says.
    pub(super) async fn page<T: Send + 'static>(
        &self,
        person: Person,
        Place { here, heading }: Place,
        look: impl FnOnce(&OpenBook) -> Result<T, Problem> + Send + 'static,
        main: impl FnOnce(&T) -> Markup,
    ) -> Result<Markup, Refused> {
        let show = |seen: &T| Shown::under(heading, main(seen));
        self.show(person, here, look, show).await
    }

    /// A page whose heading says what was found.
    ///
    /// # Errors
    ///
    /// As `look` says.
    pub(super) async fn show<T: Send + 'static>(
        &self,
        Person(person): Person,
        here: &'static str,
        look: impl FnOnce(&OpenBook) -> Result<T, Problem> + Send + 'static,
        show: impl FnOnce(&T) -> Shown,
    ) -> Result<Markup, Refused> {
        let (seen, laboratory, made_up) = self
            .read(move |book| {
                let laboratory = book.history().laboratory().map(|it| it.name.clone());
                Ok((look(book)?, laboratory.unwrap_or_default(), book.history().made_up()))
            })
            .await?;
        let around = Around { laboratory, made_up, person: person.to_string(), here };
        let Shown { title, heading, main } = show(&seen);
        Ok(shell::page(&title, &heading, Some(&around), &main))
    }

    /// Does something in the book, as `person`. What it kept is on the disk when this returns.
    ///
    /// # Errors
    ///
    /// As `does` says.
    pub(super) async fn act<T: Send + 'static>(
        &self,
        Person(person): Person,
        does: impl FnOnce(&mut OpenBook, &Output) -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Refused> {
        self.at_the_desk(move |desk| {
            desk.book.hand_to(&person.0);
            does(&mut desk.book, &desk.output)
        })
        .await
    }

    async fn at_the_desk<T: Send + 'static>(
        &self,
        deed: impl FnOnce(&mut Desk) -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Refused> {
        let shared = Arc::clone(&self.0);
        let done = tokio::task::spawn_blocking(move || {
            deed(&mut shared.desk.lock().unwrap_or_else(PoisonError::into_inner))
        });
        let done = done.await.map_err(|error| {
            Refused::from(Problem::surroundings("a fault of this program").because(&error))
        })?;
        done.map_err(Refused::from)
    }
}

/// Where a page stands.
pub(super) struct Place {
    /// The address of its line in the bar.
    pub(super) here: &'static str,
    /// Its heading.
    pub(super) heading: &'static str,
}

/// A page as it is shown.
pub(super) struct Shown {
    /// What the window is called; it begins with "Error: " where a form comes back.
    pub(super) title: String,
    /// What stands on top.
    pub(super) heading: String,
    /// What stands below.
    pub(super) main: Markup,
}

impl Shown {
    /// A page whose window is called as its heading.
    pub(super) fn under(heading: impl Into<String>, main: Markup) -> Self {
        let heading = heading.into();
        Self { title: heading.clone(), heading, main }
    }
}

/// Who asks.
pub(super) struct Person(pub(super) PersonName);

impl FromRequestParts<Site> for Person {
    type Rejection = Refused;

    async fn from_request_parts(_: &mut Parts, site: &Site) -> Result<Self, Refused> {
        site.read(|book| book.who().map(Self)).await
    }
}

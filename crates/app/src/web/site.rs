//! What all pages share: the book, one at a time, and who asks.

use std::future::poll_fn;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::task::Poll;

use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use axum::response::Response;
use maud::Markup;
use trial::number::{PersonName, PlanNumber, SpecimenNumber};

use super::access::{Access, Authority, Secret};
use super::answer::Refused;
use super::guard;
use super::live::Seat;
use super::shell::{self, Around};
use super::tls::Enciphered;
use crate::book::OpenBook;
use crate::form::pressed::keeps_time;
use crate::output::Output;
use crate::problem::Problem;

/// The served book.
#[derive(Clone)]
pub(super) struct Site(Arc<Shared>);

struct Shared {
    desk: Mutex<Desk>,
    folder: PathBuf,
    seat: Seat,
    reached: Reached,
    access: Access,
}

/// How the pages are reached.
pub(super) struct Reached {
    /// `http` or `https`.
    pub(super) scheme: &'static str,
    /// The hosts that requests may name, each with its port; the first is shown to people.
    pub(super) names: Vec<String>,
    /// The cookie of sessions.
    pub(super) cookie: String,
    /// How they are enciphered, if they are.
    pub(super) enciphered: Option<Enciphered>,
}

/// The book, and the door its words go through.
struct Desk {
    book: OpenBook,
    output: Output,
}

impl Site {
    /// A site over `book`, to be reached as said by those whom `access` lets in.
    pub(super) fn new(
        (book, output): (OpenBook, Output),
        reached: Reached,
        access: Access,
    ) -> Self {
        let folder = book.book().own_folder().to_owned();
        let desk = Mutex::new(Desk { book, output });
        Self(Arc::new(Shared { desk, folder, seat: Seat::default(), reached, access }))
    }

    /// Who may come in.
    pub(super) fn access(&self) -> &Access {
        &self.0.access
    }

    /// The folder of what belongs to this program alone while it serves the book.
    pub(super) fn folder(&self) -> &Path {
        &self.0.folder
    }

    /// The place of the one sitting at the block.
    pub(super) fn seat(&self) -> &Seat {
        &self.0.seat
    }

    /// The hosts that requests may name, each with its port.
    pub(super) fn names(&self) -> &[String] {
        &self.0.reached.names
    }

    /// How the pages are asked for.
    pub(super) fn scheme(&self) -> &'static str {
        self.0.reached.scheme
    }

    /// The name of the cookie that holds a session's secret.
    pub(super) fn cookie(&self) -> &str {
        &self.0.reached.cookie
    }

    /// The book's own authority, where it certifies the pages.
    pub(super) fn authority(&self) -> Option<&Authority> {
        self.enciphered().and_then(Enciphered::authority)
    }

    /// How the pages are enciphered, if they are.
    pub(super) fn enciphered(&self) -> Option<&Enciphered> {
        self.0.reached.enciphered.as_ref()
    }

    /// Where the pages are.
    pub(super) fn origin(&self) -> String {
        let name = self.names().first().map_or("", String::as_str);
        format!("{}://{name}", self.scheme())
    }

    /// Says something on the terminal.
    pub(super) fn say(&self, line: &str) {
        self.0.desk.lock().unwrap_or_else(PoisonError::into_inner).output.word(line);
    }

    /// Writes a value on standard output.
    pub(super) fn value(&self, line: &str) {
        self.0.desk.lock().unwrap_or_else(PoisonError::into_inner).output.value(line);
    }

    /// Does something with the book at once, on a thread that may wait for it.
    pub(super) fn with_book<T>(&self, deed: impl FnOnce(&OpenBook, &Output) -> T) -> T {
        let desk = self.0.desk.lock().unwrap_or_else(PoisonError::into_inner);
        deed(&desk.book, &desk.output)
    }

    /// Whether a person keeps the time of a specimen that is not closed.
    ///
    /// # Errors
    ///
    /// Where the book cannot be read.
    pub(super) async fn specimen_open(
        &self,
        person: &PersonName,
        (plan, specimen): (u32, u32),
    ) -> Result<bool, Refused> {
        let (person, of) = (person.clone(), (PlanNumber(plan), SpecimenNumber(specimen)));
        self.read(move |book| Ok(keeps_time(book.history(), &person, of))).await
    }

    /// Does what waits for the disk aside from the waiting requests.
    ///
    /// # Errors
    ///
    /// As `work` says.
    pub(super) async fn aside<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Refused> {
        let done = tokio::task::spawn_blocking(work).await;
        done.map_err(|error| self.fault(&error.to_string()))?.map_err(Refused::from)
    }

    /// The answer to a request for `path`; of a fault of ours a page that tells its number.
    pub(super) async fn answer(
        &self,
        path: &str,
        answers: impl Future<Output = Response>,
    ) -> Response {
        let mut answers = pin!(answers);
        poll_fn(|context| {
            let polled = catch_unwind(AssertUnwindSafe(|| answers.as_mut().poll(context)));
            polled.unwrap_or_else(|_| {
                Poll::Ready(self.fault(&format!("the answer to {path} broke off")).to(path))
            })
        })
        .await
    }

    /// A bug of ours, told by a number: what it is stands on the terminal alone (R60).
    fn fault(&self, error: &str) -> Refused {
        let number: String = Secret::new()
            .map_or_else(|_| "000000".to_owned(), |secret| secret.word().chars().take(6).collect());
        self.say(&format!("fault {number} of this program: {error}"));
        let text = format!("a fault of this program; its number is {number}");
        Problem::surroundings(text).hint("Tell the number to who looks after the server.").into()
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
        self.aside(move || {
            let mut desk = shared.desk.lock().unwrap_or_else(PoisonError::into_inner);
            // Other programs may write in the book too.
            desk.book.catch_up()?;
            deed(&mut desk)
        })
        .await
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

/// Who asks: the person of the session that the guard found.
#[derive(Clone)]
pub(super) struct Person(pub(super) PersonName);

impl FromRequestParts<Site> for Person {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, _: &Site) -> Result<Self, Response> {
        let person = parts.extensions.get::<Self>().cloned();
        person.ok_or_else(|| guard::sign_in_first(&parts.method, &parts.uri))
    }
}

/// The secret of the session that the guard found.
#[derive(Clone)]
pub(super) struct InSession(pub(super) String);

impl FromRequestParts<Site> for InSession {
    type Rejection = Response;

    async fn from_request_parts(parts: &mut Parts, _: &Site) -> Result<Self, Response> {
        let word = parts.extensions.get::<Self>().cloned();
        word.ok_or_else(|| guard::sign_in_first(&parts.method, &parts.uri))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::book::Time;
    use crate::output::{Chatter, Colour, Form};
    use ledger::Book;
    use tokio::runtime::Runtime;

    fn site(folder: &Path) -> Site {
        let book = Book::create(&folder.join("book")).unwrap();
        let access = Access::open(&book).unwrap();
        let book = OpenBook::of(book, None, Time::Clock).unwrap();
        let output = Output::new(Chatter::ErrorsOnly, Form::Text, Colour::Never);
        let (names, cookie) = (vec!["here".to_owned()], "cookie".to_owned());
        let reached = Reached { scheme: "http", names, cookie, enciphered: None };
        Site::new((book, output), reached, access)
    }

    /// R60: what broke is told by a number, without anything of the inside, and the next is answered.
    #[test]
    fn a_fault_of_ours_is_told_by_its_number_and_nothing_of_the_inside() {
        let folder = tempfile::tempdir().unwrap();
        let (site, runtime) = (site(folder.path()), Runtime::new().unwrap());
        let broken =
            site.aside(|| -> Result<(), Problem> { panic!("made to, in secret/place.rs") });
        let refused = runtime.block_on(broken).unwrap_err();
        assert_eq!(refused.status(), axum::http::StatusCode::SERVICE_UNAVAILABLE);
        let number = refused.problem().text.strip_prefix("a fault of this program; its number is ");
        assert!(number.is_some_and(|it| it.len() == 6), "{}", refused.problem().text);
        let page = site.answer("/plans", async { panic!("made to, in secret/place.rs") });
        let page = runtime.block_on(page);
        assert_eq!(page.status(), 503);
        let text = runtime.block_on(axum::body::to_bytes(page.into_body(), 1 << 20)).unwrap();
        let text = String::from_utf8(text.to_vec()).unwrap();
        assert!(text.contains("A fault of this program; its number is "), "{text}");
        assert!(!text.contains("secret") && !text.contains("panic"), "{text}");
        assert_eq!(runtime.block_on(site.aside(|| Ok(7))).unwrap(), 7);
    }
}

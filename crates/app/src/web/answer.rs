//! How a problem is answered: a page for people, a problem document (RFC 9457) for programs.

use axum::Json;
use axum::http::{Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};
use serde::Serialize;
use utoipa::ToSchema;

use super::shell;
use crate::form::fields::Wrong;
use crate::problem::{Exit, Found, Problem};

/// A problem on its way to whoever asked.
#[derive(Debug)]
pub(super) struct Refused {
    problem: Problem,
    status: StatusCode,
}

impl From<Problem> for Refused {
    fn from(problem: Problem) -> Self {
        let status = match problem.exit {
            _ if problem.may_not => StatusCode::FORBIDDEN,
            Exit::Good | Exit::Finding => StatusCode::CONFLICT,
            Exit::UsedWrongly => StatusCode::UNPROCESSABLE_ENTITY,
            Exit::Surroundings => StatusCode::SERVICE_UNAVAILABLE,
        };
        Self { problem, status }
    }
}

impl Refused {
    /// The same problem under another status.
    pub(super) fn with(problem: Problem, status: StatusCode) -> Self {
        Self { problem, status }
    }

    /// What is wrong.
    pub(super) const fn problem(&self) -> &Problem {
        &self.problem
    }

    /// The same at the field of a form that was filled in wrongly: what is wrong, and the way out.
    ///
    /// # Errors
    ///
    /// Itself, where nothing in the form puts it right.
    pub(super) fn at(self, field: &str) -> Result<Wrong, Self> {
        if self.status != StatusCode::UNPROCESSABLE_ENTITY {
            return Err(self);
        }
        let hint = self.problem.hint.as_deref().unwrap_or_default();
        let words = format!("{} {hint}", sentence(&self.problem.text));
        Ok(Wrong::new(field, words.trim_end()))
    }

    /// Under which status it is answered.
    pub(super) const fn status(&self) -> StatusCode {
        self.status
    }

    /// The answer to whoever asked for `path`: a document below `/api/`, elsewhere a page.
    pub(super) fn to(self, path: &str) -> Response {
        if path.starts_with("/api/") {
            RefusedTwin(self).into_response()
        } else {
            self.into_response()
        }
    }

    /// There is no such thing.
    pub(super) fn not_found(problem: Problem) -> Self {
        Self::with(problem, StatusCode::NOT_FOUND)
    }
}

/// A problem document (RFC 9457).
#[derive(Serialize, ToSchema)]
pub(super) struct ProblemDocument {
    /// What is wrong: the value found, the limit, and which one.
    title: String,
    /// The HTTP status.
    status: u16,
    /// The way out.
    detail: Option<String>,
    /// What lies below it, outermost first.
    causes: Vec<String>,
    /// Why a stage says no, all at once.
    findings: Vec<FindingDocument>,
}

/// One reason why a stage says no.
#[derive(Serialize, ToSchema)]
pub(super) struct FindingDocument {
    /// Its stable name.
    pub(super) kind: String,
    /// The facts.
    pub(super) text: String,
    /// The way out.
    pub(super) hint: String,
}

impl From<Found> for FindingDocument {
    fn from(Found { kind, text, hint }: Found) -> Self {
        Self { kind, text, hint }
    }
}

/// For a page: the problem as a page.
impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        let page = shell::page("Error", "There is a problem", None, &said(&self.problem));
        (self.status, page).into_response()
    }
}

/// For a program: the problem as a document.
pub(super) struct RefusedTwin(pub(super) Refused);

impl From<Refused> for RefusedTwin {
    fn from(refused: Refused) -> Self {
        Self(refused)
    }
}

impl IntoResponse for RefusedTwin {
    fn into_response(self) -> Response {
        let Refused { problem, status } = self.0;
        let document = ProblemDocument {
            title: problem.text,
            status: status.as_u16(),
            detail: problem.hint,
            causes: problem.causes,
            findings: problem.findings.into_iter().map(FindingDocument::from).collect(),
        };
        let kind = [(header::CONTENT_TYPE, "application/problem+json")];
        (status, kind, Json(document)).into_response()
    }
}

fn said(problem: &Problem) -> Markup {
    html! {
        p { (sentence(&problem.text)) }
        @for cause in &problem.causes { p { (sentence(cause)) } }
        @if !problem.findings.is_empty() {
            ul { @for found in &problem.findings { li { (sentence(&found.text)) " " (found.hint) } } }
        }
        @if let Some(hint) = &problem.hint { p { (hint) } }
    }
}

/// A message of the command line as a sentence.
pub(super) fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    let mut sentence: String = first.chain(letters).collect();
    if !sentence.ends_with(['.', '?', '!']) {
        sentence.push('.');
    }
    sentence
}

/// The page at this address does not take what was sent.
pub(super) async fn no_such_act(method: Method, uri: Uri) -> Response {
    let text = format!("the page at {} takes no {method}", uri.path());
    let problem = Problem::used_wrongly(text).hint("Use the page's own links and forms.");
    Refused::with(problem, StatusCode::METHOD_NOT_ALLOWED).to(uri.path())
}

/// No page stands at this address.
pub(super) async fn no_such_page(uri: Uri) -> Response {
    let problem = Problem::used_wrongly(format!("there is no page at {}", uri.path()))
        .hint("Begin at Today.");
    Refused::not_found(problem).to(uri.path())
}

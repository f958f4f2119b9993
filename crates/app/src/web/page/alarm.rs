//! The alarm of the office pages: the record does not check, and what to do.

use maud::{Markup, html};

use crate::book::OpenBook;
use crate::checked;

/// What the last check of the record found, in one line; none where it found nothing.
pub(super) fn of(book: &OpenBook) -> Option<String> {
    let last = checked::alarm(book.book().folder())?;
    Some(last.checked.faults.into_iter().next().unwrap_or_default())
}

/// The alarm as it stands on top of a page.
pub(super) fn shown(alarm: Option<&str>) -> Markup {
    html! {
        @if let Some(fault) = alarm {
            div.problems role="alert" {
                h2 { span aria-hidden="true" { "● " } "The record does not check" }
                p { (fault) }
                p { "No report is issued until it checks. Call the quality manager. "
                    a href="/record/check" { "See the check" } "." }
            }
        }
    }
}

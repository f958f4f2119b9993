//! Answers that are kept between the pages of questions, until they are given to the book.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use trial::number::PersonName;

use crate::form::fields::Typed;

/// So many drafts are kept; the one left alone for longest makes room.
const MOST: usize = 300;

/// Drafts by person and name. They are of this run of the program: the book holds what was given
/// to it, and nothing else.
#[derive(Clone, Default)]
pub(super) struct Drafts(Arc<Mutex<VecDeque<Draft>>>);

struct Draft {
    who: PersonName,
    name: String,
    typed: Typed,
}

impl Drafts {
    /// What was answered so far.
    pub(super) fn of(&self, who: &PersonName, name: &str) -> Option<Typed> {
        let drafts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        drafts.iter().find(|it| it.who == *who && it.name == name).map(|it| it.typed.clone())
    }

    /// Keeps what was answered.
    pub(super) fn keep(&self, who: &PersonName, name: &str, typed: Typed) {
        let mut drafts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        drafts.retain(|it| it.who != *who || it.name != name);
        drafts.push_back(Draft { who: who.clone(), name: name.to_owned(), typed });
        while drafts.len() > MOST {
            drafts.pop_front();
        }
    }

    /// A name that no draft of this run bears yet.
    pub(super) fn fresh_name(&self, who: &PersonName) -> String {
        let drafts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let taken = |number: &usize| {
            let name = format!("plan-{number}");
            drafts.iter().any(|it| it.who == *who && it.name == name)
        };
        let number = (1..=MOST + 1).find(|number| !taken(number)).unwrap_or(1);
        format!("plan-{number}")
    }

    /// Forgets what was given to the book.
    pub(super) fn forget(&self, who: &PersonName, name: &str) {
        let mut drafts = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        drafts.retain(|it| it.who != *who || it.name != name);
    }
}

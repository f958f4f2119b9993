//! Whether a person may do something, and if not, why, and who may.

use super::{Act, Role};
use crate::fact::{Authorisation, Fact};
use crate::finding::{Finding, FindingKind, Stage};
use crate::history::History;
use crate::number::PersonName;
use crate::rules::RulesId;
use jiff::civil::Date;
use std::fmt;
use thiserror::Error;

/// That a person may not do something, in the laboratory's words.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("{person} {why}")]
pub struct MayNot {
    /// Who.
    pub person: PersonName,
    /// Why not.
    pub why: WhyNot,
    /// Who may.
    pub others: Vec<PersonName>,
}

/// Why a person may not do something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum WhyNot {
    /// The record does not know them.
    Unknown,
    /// They were disabled.
    Disabled {
        /// Since when.
        since: Date,
        /// Why.
        reason: String,
    },
    /// It takes another role.
    Role {
        /// What.
        act: Act,
        /// The roles they hold.
        held: Vec<Role>,
    },
    /// They are not authorised for it by this method.
    NotAuthorised {
        /// For what.
        act: Authorisation,
        /// By which method.
        method: RulesId,
    },
    /// Their authorisation begins later.
    NotYet {
        /// For what.
        act: Authorisation,
        /// By which method.
        method: RulesId,
        /// When it begins.
        from: Date,
        /// The day that was asked for.
        day: Date,
    },
    /// Their authorisation is over.
    Over {
        /// For what.
        act: Authorisation,
        /// By which method.
        method: RulesId,
        /// Its last day.
        until: Date,
        /// The day that was asked for.
        day: Date,
    },
}

impl fmt::Display for WhyNot {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unknown => write!(out, "is not known to the record"),
            Self::Disabled { since, reason } => write!(out, "was disabled on {since}: {reason}"),
            Self::Role { act, held } if held.is_empty() => {
                write!(out, "holds no role; to {} is for {}", act.told(), told(act.roles(), "or"))
            }
            Self::Role { act, held } => {
                let (held, asked) = (told(held, "and"), told(act.roles(), "or"));
                write!(out, "is {held}; to {} is for {asked}", act.told())
            }
            Self::NotAuthorised { act, method } => {
                write!(out, "is not authorised to {act} by {method}")
            }
            Self::NotYet { act, method, from, day } => {
                write!(out, "is authorised to {act} by {method} from {from} on, not on {day}")
            }
            Self::Over { act, method, until, day } => {
                write!(out, "was authorised to {act} by {method} until {until}, not on {day}")
            }
        }
    }
}

/// `a technician or an engineer`.
fn told(roles: &[Role], last: &str) -> String {
    let told: Vec<&str> = roles.iter().map(|role| role.told()).collect();
    match told.as_slice() {
        [] => "nobody".to_owned(),
        [only] => (*only).to_owned(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

impl MayNot {
    /// The way out.
    #[must_use]
    pub fn hint(&self) -> String {
        let names: Vec<&str> = self.others.iter().map(|person| person.0.as_str()).collect();
        match (&self.why, names.as_slice()) {
            (WhyNot::Unknown, _) => "Admit the person first.".to_owned(),
            (_, []) => "Ask who looks after people.".to_owned(),
            (_, names) => format!("Ask one who may: {}.", names.join(", ")),
        }
    }

    /// The same as a finding of a stage.
    #[must_use]
    pub fn finding(&self, stage: Stage) -> Finding {
        Finding::new(stage, FindingKind::Person, self.to_string(), &self.hint())
    }
}

impl History {
    /// Whether a person may test, review or issue by a method on a day: they hold the role, and are
    /// authorised for it by this method on that day.
    ///
    /// # Errors
    ///
    /// [`MayNot`] with the reason, and who may.
    pub fn may(
        &self,
        person: &PersonName,
        act: Authorisation,
        (method, day): (&RulesId, Date),
    ) -> Result<(), MayNot> {
        self.leave(person, |it| self.authorised(it, act, (method, day)))
    }

    /// Whether a person holds a role that may do an act, by whichever method. In a book that has
    /// nobody yet everything may be done.
    ///
    /// # Errors
    ///
    /// [`MayNot`] with the reason, and who may.
    pub fn may_do(&self, person: &PersonName, act: Act) -> Result<(), MayNot> {
        if self.people().is_empty() {
            return Ok(());
        }
        self.leave(person, |it| self.holds_a_role(it, act))
    }

    /// Whether a person may bring a fact to the record. A correction may be made by who may record
    /// what it corrects, and by who may correct what others recorded; of people by who looks after them.
    ///
    /// # Errors
    ///
    /// [`MayNot`] with the reason, and who may.
    pub fn may_keep(&self, person: &PersonName, fact: &Fact) -> Result<(), MayNot> {
        let Fact::Corrected { entry, .. } = fact else {
            return self.may_do(person, Act::of(fact));
        };
        let corrected = self.entry(*entry).map(|recorded| Act::of(&recorded.fact));
        match corrected {
            Some(act @ Act::LookAfterPeople) => self.may_do(person, act),
            Some(act) if self.may_do(person, act).is_ok() => Ok(()),
            Some(_) | None => self.may_do(person, Act::Amend),
        }
    }

    /// What `check` says of a person, with the names of those of whom it says nothing.
    fn leave(
        &self,
        person: &PersonName,
        check: impl Fn(&PersonName) -> Result<(), WhyNot>,
    ) -> Result<(), MayNot> {
        check(person).map_err(|why| {
            let others = self.people().keys().filter(|it| check(it).is_ok()).cloned().collect();
            MayNot { person: person.clone(), why, others }
        })
    }

    fn authorised(
        &self,
        person: &PersonName,
        act: Authorisation,
        (method, day): (&RulesId, Date),
    ) -> Result<(), WhyNot> {
        let role = self.holds_a_role(person, Act::authorised(act));
        if let Err(why @ (WhyNot::Unknown | WhyNot::Disabled { .. })) = role {
            return Err(why);
        }
        let stated = self.people().get(person).and_then(|it| it.grants.as_ref());
        let Some(stated) = stated else { return role };
        let of_it = stated.iter().filter(|grant| grant.is_for(act, method));
        if of_it.clone().any(|grant| grant.holds_on(day)) {
            return role;
        }
        let method = method.clone();
        // One that begins says more than one that is over.
        let next = of_it.clone().filter_map(|grant| grant.from.filter(|from| *from > day)).min();
        let last = of_it.filter_map(|grant| grant.until).max();
        Err(match (next, last) {
            (Some(from), _) => WhyNot::NotYet { act, method, from, day },
            (None, Some(until)) => WhyNot::Over { act, method, until, day },
            (None, None) => WhyNot::NotAuthorised { act, method },
        })
    }

    fn holds_a_role(&self, person: &PersonName, act: Act) -> Result<(), WhyNot> {
        let admitted = self.people().get(person).ok_or(WhyNot::Unknown)?;
        if let Some(disabled) = &admitted.disabled {
            let (since, reason) = (disabled.at.day(), disabled.reason.clone());
            return Err(WhyNot::Disabled { since, reason });
        }
        if admitted.roles.iter().any(|role| act.roles().contains(role)) {
            return Ok(());
        }
        Err(WhyNot::Role { act, held: admitted.roles.clone() })
    }
}

//! People: the roles they hold, the acts that each role may do, and by which method a person is
//! authorised to test, to review and to issue (ISO/IEC 17025:2017, 6.2).
//!
//! A person may hold several roles. Which role may do which act is one table, [`Act`]. What a person
//! holds is what the record says last of them; who asks for leave asks [`History::may`] for a method
//! and a day, or [`History::may_do`] for an act that is of no method.

mod act;
mod grant;
mod leave;

pub use act::Act;
pub use grant::{Grant, GrantError};
pub use leave::{MayNot, WhyNot};

use crate::fact::Authorisation;
use crate::finding::words;
#[cfg(doc)]
use crate::history::History;
use crate::moment::Moment;
use crate::number::{EntryNumber, PersonName};

words! {
    /// What somebody is in the laboratory.
    Role {
        /// Stands at the flame.
        Technician = "technician",
        /// Plans, reviews, issues.
        Engineer = "engineer",
        /// Watches equipment, drift, competence and the trail.
        QualityManager = "quality-manager",
        /// Looks after people and the server.
        Administrator = "administrator",
    }
}

impl Role {
    /// As it is read, with its article.
    #[must_use]
    pub const fn told(self) -> &'static str {
        match self {
            Self::Technician => "a technician",
            Self::Engineer => "an engineer",
            Self::QualityManager => "a quality manager",
            Self::Administrator => "an administrator",
        }
    }
}

/// What a person is entrusted with, as recorded: it takes the place of all that was said before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entrusted {
    /// Who.
    pub person: PersonName,
    /// The roles they hold.
    pub roles: Vec<Role>,
    /// What they are authorised for.
    pub grants: Vec<Grant>,
    /// Why it changed; empty where they were admitted with it.
    pub reason: String,
}

/// A person as the record knows them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Admitted {
    /// The roles they hold.
    pub roles: Vec<Role>,
    /// What they are authorised for; none where an older book states nothing, which lets everything
    /// through.
    pub grants: Option<Vec<Grant>>,
    /// Since when they were disabled, and why, if they are.
    pub disabled: Option<Disabled>,
    /// The entry that said so last.
    pub said: EntryNumber,
}

/// That a person was disabled.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Disabled {
    /// When.
    pub at: Moment,
    /// Why.
    pub reason: String,
}

impl Admitted {
    /// Whether they hold a role.
    #[must_use]
    pub fn is(&self, role: Role) -> bool {
        self.disabled.is_none() && self.roles.contains(&role)
    }

    /// What an older book says of a person: authorisations for every method, from which the roles
    /// follow, and one role that they hold besides.
    pub(crate) fn of_old(may: &[Authorisation], and: Option<Role>, said: EntryNumber) -> Self {
        let states = !may.is_empty();
        let has = |act: Authorisation| !states || may.contains(&act);
        let all = Authorisation::ALL.iter().all(|act| has(*act));
        let roles = [
            (Role::Technician, has(Authorisation::Test)),
            (Role::Engineer, has(Authorisation::Review) || has(Authorisation::Issue)),
            (Role::QualityManager, all),
            (Role::Administrator, and == Some(Role::Administrator)),
        ];
        let grants = may.iter().map(|act| Grant::of_every_method(*act)).collect();
        Self {
            roles: roles.into_iter().filter(|(_, held)| *held).map(|(role, _)| role).collect(),
            grants: states.then_some(grants),
            disabled: None,
            said,
        }
    }
}

//! The people of a book: what the record says last of each.

use super::History;
use super::error::{Followed, once};
use super::replay::known;
use crate::fact::{Fact, Recorded};
use crate::number::PersonName;
use crate::person::{Admitted, Disabled, Role};
use std::collections::BTreeMap;

impl History {
    /// The people, by name.
    #[must_use]
    pub const fn people(&self) -> &BTreeMap<PersonName, Admitted> {
        &self.people
    }

    /// A person, if the record knows them.
    #[must_use]
    pub fn person(&self, name: &PersonName) -> Option<&Admitted> {
        self.people.get(name)
    }

    /// The people who hold a role and are not disabled.
    pub fn holders(&self, role: Role) -> impl Iterator<Item = &PersonName> {
        self.people.iter().filter(move |(_, it)| it.is(role)).map(|(person, _)| person)
    }
}

/// Lets one of these facts follow.
pub(super) fn follow(history: &mut History, next: &Recorded) -> Followed {
    let people = &mut history.people;
    if let Fact::PersonAdmitted { person, authorisations } = &next.fact {
        // The first person of a book looks after people; a later change by this form leaves it so.
        let before = people.get(person).is_some_and(|it| it.roles.contains(&Role::Administrator));
        let and = (people.is_empty() || before).then_some(Role::Administrator);
        people.insert(person.clone(), Admitted::of_old(authorisations, and, next.entry));
    } else if let Fact::PersonEntrusted(said) = &next.fact {
        let (roles, grants) = (said.roles.clone(), Some(said.grants.clone()));
        let admitted = Admitted { roles, grants, disabled: None, said: next.entry };
        people.insert(said.person.clone(), admitted);
    } else if let Fact::PersonDisabled { person, reason } = &next.fact {
        let found = people.get_mut(person);
        known(found.is_some(), || person.to_string())?;
        let Some(found) = found else { return Ok(()) };
        once(found.disabled.is_some(), || format!("that {person} is disabled"))?;
        found.disabled = Some(Disabled { at: next.at, reason: reason.clone() });
        found.said = next.entry;
    }
    Ok(())
}

//! People: whether who writes may test, review or issue; what a person is entrusted with; who is
//! disabled.

use serde::Serialize;
use trial::fact::{Authorisation, Fact};
use trial::finding::Stage;
use trial::number::{PersonName, PlanNumber};
use trial::person::{Act, Admitted, Entrusted, Grant, MayNot, Role};
use trial::rules::Library;
use utoipa::ToSchema;

use crate::book::OpenBook;
use crate::output::Output;
use crate::problem::Problem;

/// The longest name that is taken.
const CHARACTERS_AT_MOST: usize = 100;

/// Whether who writes may do this on a plan today: they hold the role, and are authorised for the
/// plan's method. A refusal is kept.
///
/// # Errors
///
/// The reason, and who may; and where the plan is not known or the refusal cannot be kept.
pub(crate) fn may(
    book: &mut OpenBook,
    act: Authorisation,
    (stage, plan): (Stage, PlanNumber),
    output: &Output,
) -> Result<(), Problem> {
    let by = (&book.plan(plan)?.draft().ordered.method, book.now()?.day());
    match book.history().may(&book.who()?, act, by) {
        Ok(()) => Ok(()),
        Err(why) => Err(refused(book, (stage, plan), &why, output)),
    }
}

/// Keeps that a person was refused, once however often they ask, and gives it as the problem.
pub(crate) fn refused(
    book: &mut OpenBook,
    (stage, plan): (Stage, PlanNumber),
    why: &MayNot,
    output: &Output,
) -> Problem {
    let findings = vec![why.finding(stage)];
    let last = book.history().refusals(plan).last();
    if last.is_none_or(|last| last.findings != findings)
        && let Err(worse) = book.keep(&Fact::StageRefused { stage, plan, findings }, output)
    {
        return worse;
    }
    Problem::may_not(why)
}

/// A person of the book.
#[derive(Clone, Debug, Serialize, ToSchema)]
pub(crate) struct PersonShown {
    /// The name that the record knows.
    pub(crate) person: String,
    /// The roles they hold.
    pub(crate) roles: Vec<&'static str>,
    /// What they are authorised for, such as `review by iec-60695-11-5/2016 until 2027-12-31`.
    pub(crate) may: Vec<String>,
    /// Since when they are disabled, and why, if they are.
    pub(crate) disabled: Option<String>,
    /// The entry that said so last.
    pub(crate) entry: u64,
}

/// The people of the book, by name.
pub(crate) fn list(book: &OpenBook) -> Vec<PersonShown> {
    book.history().people().iter().map(|(person, it)| shown(person, it)).collect()
}

/// One of them.
///
/// # Errors
///
/// [`Problem`] where the record does not know them.
pub(crate) fn one(book: &OpenBook, person: &PersonName) -> Result<PersonShown, Problem> {
    admitted(book, person).map(|it| shown(person, it))
}

fn shown(person: &PersonName, it: &Admitted) -> PersonShown {
    PersonShown {
        person: person.0.clone(),
        roles: it.roles.iter().map(|role| role.word()).collect(),
        may: grants(it).iter().map(Grant::to_string).collect(),
        disabled: it.disabled.as_ref().map(|it| format!("since {}: {}", it.at.day(), it.reason)),
        entry: it.said.0,
    }
}

/// What a person is authorised for; where an older book states nothing, all that their roles may.
fn grants(it: &Admitted) -> Vec<Grant> {
    it.grants.clone().unwrap_or_else(|| {
        let acts = Authorisation::ALL.iter().filter(|act| role_for(**act, &it.roles));
        acts.map(|act| Grant::of_every_method(*act)).collect()
    })
}

/// Whether one of these roles goes with an authorisation.
fn role_for(act: Authorisation, roles: &[Role]) -> bool {
    Act::authorised(act).roles().iter().any(|role| roles.contains(role))
}

/// What a person shall be entrusted with, as it is written.
#[derive(Clone, Debug, Default)]
pub(crate) struct Wish {
    /// Who.
    pub(crate) person: String,
    /// The roles by their words; as before where none are given.
    pub(crate) roles: Option<Vec<String>>,
    /// The authorisations as they are written; as before where none are given.
    pub(crate) may: Option<Vec<String>>,
    /// Why it changes; needed but for a new person.
    pub(crate) reason: String,
}

/// Entrusts a person with roles and authorisations; who is not known yet is admitted.
///
/// # Errors
///
/// Where the wish cannot be read, changes nothing, has no reason, or leaves nobody who looks after
/// people; and as the disk says.
pub(crate) fn entrust(
    book: &mut OpenBook,
    wish: Wish,
    output: &Output,
) -> Result<PersonName, Problem> {
    let person = named(&wish.person)?;
    let before = book.history().person(&person).cloned();
    if before.is_none() {
        unlike_others(book, &person)?;
    }
    let roles = match &wish.roles {
        Some(words) => words.iter().map(|word| role(word)).collect::<Result<Vec<_>, _>>()?,
        None => before.as_ref().map(|it| it.roles.clone()).unwrap_or_default(),
    };
    let grants = match &wish.may {
        Some(texts) => {
            texts.iter().map(|text| grant(book.library(), text)).collect::<Result<Vec<_>, _>>()?
        }
        None => before.as_ref().map(grants).unwrap_or_default(),
    };
    let (roles, grants, reason) = (in_order(roles), in_order(grants), wish.reason.trim());
    fits(&person, &roles, &grants)?;
    if let Some(before) = &before {
        changes(book, (&person, before), (&roles, &grants, reason))?;
    }
    let reason = reason.to_owned();
    let said = Entrusted { person: person.clone(), roles, grants, reason };
    book.keep(&Fact::PersonEntrusted(Box::new(said)), output)?;
    Ok(person)
}

/// Disables a person.
///
/// # Errors
///
/// Where they are not known, are disabled already, are the last who looks after people, or no reason
/// is given; and as the disk says.
pub(crate) fn disable(
    book: &mut OpenBook,
    (person, reason): (&PersonName, &str),
    output: &Output,
) -> Result<(), Problem> {
    let it = admitted(book, person)?;
    if let Some(disabled) = &it.disabled {
        let since = disabled.at.day();
        return Err(Problem::conflict(format!("{person} is disabled since {since}"))
            .hint("Nothing is to be done."));
    }
    let reason = reason.trim().to_owned();
    if reason.is_empty() {
        return Err(Problem::used_wrongly(format!("it is not said why {person} is disabled"))
            .hint("Write the reason: it stays in the record."));
    }
    somebody_else(book, person)?;
    book.keep(&Fact::PersonDisabled { person: person.clone(), reason }, output).map(drop)
}

/// A person that the record knows.
fn admitted<'b>(book: &'b OpenBook, person: &PersonName) -> Result<&'b Admitted, Problem> {
    book.history().person(person).ok_or_else(|| {
        Problem::used_wrongly(format!("`{person}` is not admitted to this book"))
            .hint("Invite them first.")
    })
}

fn named(text: &str) -> Result<PersonName, Problem> {
    let (name, long) = (text.trim(), text.trim().chars().count());
    if name.is_empty() {
        return Err(Problem::used_wrongly("it is not said who is invited").hint("Type a name."));
    }
    if long > CHARACTERS_AT_MOST || name.contains(char::is_control) {
        return Err(Problem::used_wrongly(format!("the name has {long} characters"))
            .hint(format!("Type one line of at most {CHARACTERS_AT_MOST} characters.")));
    }
    Ok(PersonName::from(name))
}

/// One name is one person, however its letters are written.
fn unlike_others(book: &OpenBook, person: &PersonName) -> Result<(), Problem> {
    let alike = |known: &&PersonName| known.0.to_lowercase() == person.0.to_lowercase();
    match book.history().people().keys().find(alike) {
        None => Ok(()),
        Some(known) => Err(Problem::used_wrongly(format!("{known} is in the book already"))
            .hint("Make a link in the list.")),
    }
}

fn role(word: &str) -> Result<Role, Problem> {
    Role::of_word(word.trim()).ok_or_else(|| {
        let words: Vec<&str> = Role::ALL.iter().map(|it| it.word()).collect();
        Problem::used_wrongly(format!("`{word}` is no role"))
            .hint(format!("Name {}.", words.join(", ")))
    })
}

fn grant(library: &Library, text: &str) -> Result<Grant, Problem> {
    let grant = Grant::parse(text)
        .map_err(|error| Problem::used_wrongly(error.to_string()).hint(error.hint()))?;
    let methods = methods(library);
    if let Some(method) = &grant.method
        && !methods.iter().any(|known| grant.is_for(grant.act, &known.as_str().into()))
    {
        return Err(Problem::used_wrongly(format!("`{method}` is no method that is known here"))
            .hint(format!("Name one of {}, or leave the edition out.", methods.join(", "))));
    }
    Ok(grant)
}

/// The methods that are built in.
pub(crate) fn methods(library: &Library) -> Vec<String> {
    // A profile says with which methods it is used; a method does not.
    let methods = library.all().into_iter().filter(|rules| rules.head.methods.is_empty());
    methods.map(|rules| rules.head.id.to_string()).collect()
}

fn in_order<T: Ord>(mut all: Vec<T>) -> Vec<T> {
    all.sort_unstable();
    all.dedup();
    all
}

/// Whether roles and authorisations go together.
fn fits(person: &PersonName, roles: &[Role], grants: &[Grant]) -> Result<(), Problem> {
    if roles.is_empty() {
        return Err(Problem::used_wrongly(format!("{person} holds no role"))
            .hint("Choose one at least; a person who left is disabled."));
    }
    match grants.iter().find(|grant| !role_for(grant.act, roles)) {
        None => Ok(()),
        Some(grant) => {
            let act = Act::authorised(grant.act);
            let roles: Vec<&str> = act.roles().iter().map(|role| role.told()).collect();
            let text = format!("to {} is for {}", act.told(), roles.join(" or "));
            Err(Problem::used_wrongly(text)
                .hint(format!("Choose that role too, or leave `{grant}` out.")))
        }
    }
}

/// Whether something changes, and is said why.
fn changes(
    book: &OpenBook,
    (person, before): (&PersonName, &Admitted),
    (roles, grants, reason): (&[Role], &[Grant], &str),
) -> Result<(), Problem> {
    let same = before.grants.as_deref() == Some(grants) && before.roles == roles;
    if same && before.disabled.is_none() {
        return Err(Problem::conflict(format!("nothing changes for {person}"))
            .hint("Change a role or an authorisation."));
    }
    if reason.is_empty() {
        return Err(Problem::used_wrongly(format!("it is not said why this changes for {person}"))
            .hint("Write the reason: it stays in the record."));
    }
    if roles.contains(&Role::Administrator) { Ok(()) } else { somebody_else(book, person) }
}

/// Whether somebody else looks after people.
fn somebody_else(book: &OpenBook, person: &PersonName) -> Result<(), Problem> {
    let mut holders = book.history().holders(Role::Administrator).peekable();
    if holders.peek().is_none() || holders.any(|it| it != person) {
        return Ok(());
    }
    Err(Problem::conflict(format!("{person} is the only one who looks after people"))
        .hint("Make another person an administrator first."))
}

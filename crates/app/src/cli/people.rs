//! `people`: who may do what, and what they are entrusted with.

use clap::{Args, Subcommand};
use serde::Serialize;
use trial::number::PersonName;
use trial::person::{Act, Role};

use super::Global;
use crate::book::OpenBook;
use crate::output::{Form, Output};
use crate::problem::{Exit, Problem};
use crate::step::people::{Wish, disable, entrust, list};

/// Admits people, and says what each may do
///
/// Examples:
///   cinderbook people                                    who is in the book, and may do what
///   cinderbook people admit "Bo Lind" --role technician --may "test by iec-60695-11-5/2016"
///   cinderbook people change "Bo Lind" --may "test until 2027-12-31" --reason "retrained"
///   cinderbook people disable "Bo Lind" --reason "left the laboratory"
///   cinderbook people acts                               the table of roles and acts
///
/// Roles: technician, engineer, quality-manager, administrator. An authorisation is test, review or
/// issue, and where it is limited: by METHOD, from DATE, until DATE. A password is chosen with a
/// link of `serve --link NAME`.
#[derive(Args, Debug)]
#[command(verbatim_doc_comment)]
pub(crate) struct People {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Subcommand, Debug)]
enum What {
    /// Lists the people
    List,
    /// Admits a person
    Admit {
        /// The name, as reports shall show it
        name: String,
        /// A role; may be given more than once
        #[arg(long, required = true)]
        role: Vec<String>,
        /// An authorisation; may be given more than once
        #[arg(long)]
        may: Vec<String>,
    },
    /// Changes what a person is entrusted with; who was disabled is back
    Change {
        /// The name that the record knows
        name: String,
        /// A role, in place of those before; may be given more than once
        #[arg(long)]
        role: Vec<String>,
        /// An authorisation, in place of those before; may be given more than once
        #[arg(long)]
        may: Vec<String>,
        /// Takes all authorisations away
        #[arg(long, conflicts_with = "may")]
        none: bool,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Disables a person: they do nothing more, and their sign-ins end
    Disable {
        /// The name that the record knows
        name: String,
        /// Why
        #[arg(long)]
        reason: String,
    },
    /// Shows which role may do which act
    Acts,
}

/// A row of the table of roles and acts.
#[derive(Serialize)]
struct Row {
    act: &'static str,
    says: &'static str,
    roles: Vec<&'static str>,
    authorisation: Option<&'static str>,
}

impl People {
    /// Runs the command.
    pub(crate) fn run(&self, global: &Global, output: &mut Output) -> Result<Exit, Problem> {
        if let Some(What::Acts) = &self.what {
            acts(output);
            return Ok(Exit::Good);
        }
        let mut book = OpenBook::open(global)?;
        match &self.what {
            None | Some(What::List | What::Acts) => {}
            Some(What::Admit { name, role, may }) => {
                let (person, roles, may) = (name.clone(), Some(role.clone()), Some(may.clone()));
                if book.history().person(&PersonName(person.trim().to_owned())).is_some() {
                    return Err(Problem::conflict(format!("{person} is in the book already"))
                        .hint("Use `people change`, and say why."));
                }
                entrust(&mut book, Wish { person, roles, may, reason: String::new() }, output)?;
                output.word("Next: `cinderbook serve --link NAME` gives them a way in.");
            }
            Some(What::Change { name, role, may, none, reason }) => {
                let given = |it: &Vec<String>| Some(it.clone()).filter(|it| !it.is_empty());
                let wish = Wish {
                    person: name.clone(),
                    roles: given(role),
                    may: if *none { Some(Vec::new()) } else { given(may) },
                    reason: reason.clone(),
                };
                if book.history().person(&PersonName(name.trim().to_owned())).is_none() {
                    return Err(Problem::used_wrongly(format!("{name} is not in this book"))
                        .hint("Use `people admit`."));
                }
                entrust(&mut book, wish, output)?;
            }
            Some(What::Disable { name, reason }) => {
                disable(&mut book, (&PersonName(name.trim().to_owned()), reason), output)?;
            }
        }
        shown(&book, output);
        Ok(Exit::Good)
    }
}

fn shown(book: &OpenBook, output: &mut Output) {
    let all = list(book);
    if output.form() == Form::Json {
        output.json(&all);
        return;
    }
    for it in all {
        let may = if it.may.is_empty() { "no authorisation".to_owned() } else { it.may.join("; ") };
        let disabled = it.disabled.map(|it| format!("\tdisabled {it}")).unwrap_or_default();
        output.value(&format!("{}\t{}\t{may}{disabled}", it.person, it.roles.join(", ")));
    }
    output.word("Next: `cinderbook people acts` shows which role may do what.");
}

fn acts(output: &mut Output) {
    let row = |act: &Act| Row {
        act: act.word(),
        says: act.told(),
        roles: act.roles().iter().map(|role| role.word()).collect(),
        authorisation: act.authorisation().map(|it| it.word()),
    };
    let rows: Vec<Row> = Act::ALL.iter().map(row).collect();
    if output.form() == Form::Json {
        output.json(&rows);
        return;
    }
    for Row { act, says, roles, authorisation } in rows {
        let by = if authorisation.is_some() { ", and authorised for the method" } else { "" };
        let roles =
            if roles.len() == Role::ALL.len() { "all".to_owned() } else { roles.join(", ") };
        output.value(&format!("{act}\t{says}\t{roles}{by}"));
    }
    output.word("Next: `cinderbook people` shows who holds which role.");
}

//! The built-in rules, found by the name that is typed.

use trial::method::Asked;
use trial::rules::{Entry, Head, Library, Rules, RulesId};

use crate::problem::Problem;

/// The built-in library, each file under the hash by which a book files it.
pub(crate) fn library() -> Result<Library, Problem> {
    ledger::library().map_err(|error| {
        Problem::surroundings("the built-in rules are unsound: this is a bug of ours")
            .because(&error)
    })
}

/// The rules file with this id.
pub(crate) fn find<'l>(library: &'l Library, id: &str) -> Result<&'l Rules, Problem> {
    library.current(&RulesId::from(id)).map(|(rules, _)| rules).ok_or_else(|| {
        let known: Vec<String> =
            library.all().iter().map(|rules| format!("`{}`", rules.head.id)).collect();
        Problem::used_wrongly(format!("no rules are known by the name `{id}`"))
            .hint(format!("Name one of {}.", known.join(", ")))
    })
}

/// What the method with this id asks by itself.
pub(crate) fn method(id: &str) -> Result<(Head, Asked), Problem> {
    let library = library()?;
    let rules = find(&library, id)?;
    let asked = trial::method::asked_by(rules).map_err(|error| {
        Problem::used_wrongly(format!("`{id}` is not a method of its own"))
            .because(&error)
            .hint("Name a method, such as iec-60695-11-5/2016; `standards` lists them.")
    })?;
    Ok((rules.head.clone(), asked))
}

/// Every number, those of variants with the variant's name.
pub(crate) fn numbers(rules: &Rules) -> impl Iterator<Item = (Option<&str>, &Entry)> {
    let own = rules.entries.values().map(|entry| (None, entry));
    let of_variants = rules.variants.iter().flat_map(|(name, variant)| {
        variant.entries.values().map(move |entry| (Some(name.0.as_str()), entry))
    });
    own.chain(of_variants)
}

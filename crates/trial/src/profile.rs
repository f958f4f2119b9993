//! What a product standard asks of a method: which editions, which variants.

use crate::rules::{Rules, RulesId, VariantName};

/// Whether this file is a profile; a method names no method.
///
/// ```
/// let library = trial::rules::Library::built_in(|_| [0; 32])?;
/// let (rules, _) = library.current(&"iec-60335-1/5".into()).unwrap();
/// assert!(trial::profile::is_profile(rules));
/// # Ok::<(), trial::rules::RulesError>(())
/// ```
#[must_use]
pub fn is_profile(rules: &Rules) -> bool {
    !rules.head.methods.is_empty()
}

/// The edition of the method that this profile uses unless the plan says another.
#[must_use]
pub fn method_by_default(rules: &Rules) -> Option<&RulesId> {
    rules.head.methods.first()
}

/// Whether this profile may be used with this edition of the method.
#[must_use]
pub fn allows(rules: &Rules, method: &RulesId) -> bool {
    rules.head.methods.contains(method)
}

/// The variants of this profile, in order of name.
pub fn variants(rules: &Rules) -> impl Iterator<Item = (&VariantName, &str)> {
    rules.variants.iter().map(|(name, variant)| (name, variant.title.as_str()))
}

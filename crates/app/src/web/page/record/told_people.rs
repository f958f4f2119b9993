//! What entries about people say, in words.

use trial::fact::Fact;
use trial::person::Entrusted;

/// What a fact about a person says.
#[expect(clippy::wildcard_enum_match_arm, reason = "the others are told elsewhere")]
pub(super) fn people(fact: &Fact) -> Option<String> {
    Some(match fact {
        Fact::PersonEntrusted(said) => entrusted(said),
        Fact::PersonDisabled { person, reason } => {
            format!("{person} was disabled: {}.", reason.trim_end_matches('.'))
        }
        _ => return None,
    })
}

fn entrusted(said: &Entrusted) -> String {
    let roles: Vec<&str> = said.roles.iter().map(|role| role.told()).collect();
    let may: Vec<String> = said.grants.iter().map(ToString::to_string).collect();
    let may = if may.is_empty() { "nothing".to_owned() } else { may.join("; ") };
    let why = match said.reason.trim_end_matches('.') {
        "" => String::new(),
        reason => format!(" The reason: {reason}."),
    };
    format!("{} is {}; authorised to: {may}.{why}", said.person, roles.join(", "))
}

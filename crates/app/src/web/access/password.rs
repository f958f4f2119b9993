//! Passwords: how long, and what is kept of them.

use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher as _, PasswordVerifier as _};
use argon2::{Algorithm, Argon2, Params, Version};

use super::common;
use crate::problem::Problem;

/// R53 (`OWASP ASVS` 5.0, 6.2.1): characters, and no rule of what they are.
const CHARACTERS_AT_LEAST: usize = 12;

/// R53 asks for 64; more is let through as long as it is no file.
const CHARACTERS_AT_MOST: usize = 256;

/// R54: 46 MiB, one pass, one lane.
const MEMORY_KIB: u32 = 46 * 1024;
const PASSES: u32 = 1;
const LANES: u32 = 1;

/// Whether a new password may be used by one with these names.
pub(super) fn fit(password: &str, names: &[&str]) -> Result<(), Problem> {
    let count = password.chars().count();
    if count < CHARACTERS_AT_LEAST {
        return Err(Problem::used_wrongly(format!(
            "the password has {count} characters; it takes {CHARACTERS_AT_LEAST} at least"
        ))
        .hint("Take several words; spaces count."));
    }
    if count > CHARACTERS_AT_MOST {
        return Err(Problem::used_wrongly(format!(
            "the password has {count} characters; {CHARACTERS_AT_MOST} are taken at most"
        ))
        .hint("Choose a shorter one."));
    }
    common::uncommon(password, names)
}

/// What is kept of a password: Argon2id with a salt of its own.
pub(super) fn hashed(password: &str) -> Result<String, Problem> {
    let fault = || Problem::surroundings("this machine cannot hash a password");
    let hash: Result<PasswordHash, _> = argon2()
        .ok_or_else(fault)?
        .hash_password(password.as_bytes())
        .map_err(|error| fault().because(&error));
    Ok(hash?.to_string())
}

/// Whether a password is the one of which `hash` was kept. Takes as long when there is none.
pub(super) fn agrees(password: &str, hash: Option<&str>) -> bool {
    let Some(hash) = hash else {
        drop(hashed(password));
        return false;
    };
    let Some(argon2) = argon2() else { return false };
    let Ok(hash) = PasswordHash::new(hash) else { return false };
    argon2.verify_password(password.as_bytes(), &hash).is_ok()
}

fn argon2() -> Option<Argon2<'static>> {
    let params = Params::new(MEMORY_KIB, PASSES, LANES, None).ok()?;
    Some(Argon2::new(Algorithm::Argon2id, Version::V0x13, params))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_password_takes_twelve_characters_and_no_more_rules() {
        let check = |password: &str, fits: bool| {
            assert_eq!(fit(password, &["Ana Ruiz"]).is_ok(), fits, "{password}");
        };
        check("elevenchars", false);
        check("twelve chars", true);
        check("ärgerlich öde", true);
        check(&"seven words and a lamp ".repeat(3)[..64], true);
        check(&"seven words and a lamp ".repeat(12)[..257], false);
    }

    #[test]
    fn of_a_password_an_argon2id_hash_is_kept() {
        let kept = hashed("a long enough password").unwrap();
        assert!(kept.starts_with("$argon2id$v=19$m=47104,t=1,p=1$"), "{kept}");
        assert!(agrees("a long enough password", Some(&kept)));
        assert!(!agrees("a long enough passwore", Some(&kept)));
        assert!(!agrees("a long enough password", None));
    }
}

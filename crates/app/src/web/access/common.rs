//! The passwords that are tried first: a list of the commonest, and what is made by a rule that
//! anybody guesses. What a password is made of is nobody's business otherwise.

use sha2::{Digest as _, Sha256};

use crate::problem::Problem;

/// Of the commonest passwords, in lower case, the first eight bytes of the SHA-256 each, in order.
/// Whence: `open-data/README.md`.
const COMMONEST: &[u8] = include_bytes!("../../../../../open-data/passwords/commonest.bin");

/// So many bytes of a hash are kept.
const KEPT: usize = 8;

/// A common one of so many characters, or more, is looked for inside too.
const INSIDE_AT_LEAST: usize = 6;

/// The longest of the commonest has no more characters.
const LONGEST: usize = 20;

/// A password of one piece of so many characters, said again and again, is none.
const PIECE_AT_MOST: usize = 4;

/// A name, or a word that comes first, with fewer characters beside it is none.
const BESIDE_AT_LEAST: usize = 6;

/// Words that come first when a password for this program is guessed.
const FIRST: [&str; 6] =
    ["password", "passwort", "cinderbook", "needleflame", "laboratory", "welcome"];

/// What fingers run along: letters, figures, rows and columns of keys.
const RUNS: [&str; 6] = [
    "abcdefghijklmnopqrstuvwxyz",
    "0123456789",
    "1234567890qwertyuiopasdfghjklzxcvbnm",
    "1234567890qwertzuiopasdfghjklyxcvbnm",
    "1qaz2wsx3edc4rfv5tgb6yhn7ujm8ik9ol0p",
    "qazwsxedcrfvtgbyhnujmikolp",
];

/// Whether a password is none of those that are tried first; `names` are those of who chooses it.
pub(super) fn uncommon(password: &str, names: &[&str]) -> Result<(), Problem> {
    let low = password.to_lowercase();
    let why = if common_inside(&low) {
        "it is one of the commonest, or has little beside one"
    } else if repeats(&low) {
        "it says one piece again and again"
    } else if runs(&low) {
        "it runs along letters, figures or keys"
    } else if only_names(&low, names) {
        "it is a name, or a word that is tried first, with little beside it"
    } else {
        return Ok(());
    };
    Err(Problem::used_wrongly(format!("the password is easily guessed: {why}"))
        .hint("Take several words that do not belong together; spaces count."))
}

/// Whether it is one of the commonest, or holds one with little beside it.
fn common_inside(low: &str) -> bool {
    let letters: Vec<char> = low.chars().collect();
    let all = letters.iter().filter(|c| c.is_alphanumeric()).count();
    (0..letters.len()).any(|from| {
        let rest = letters.len() - from;
        (INSIDE_AT_LEAST..=rest.min(LONGEST)).any(|long| {
            let piece = letters.iter().skip(from).take(long);
            let of_it = piece.clone().filter(|c| c.is_alphanumeric()).count();
            all - of_it < BESIDE_AT_LEAST && is_common(&piece.collect::<String>())
        })
    })
}

fn is_common(low: &str) -> bool {
    let hash = Sha256::digest(low.as_bytes());
    let (all, _) = COMMONEST.as_chunks::<KEPT>();
    all.binary_search_by(|kept| kept[..].cmp(&hash[..KEPT])).is_ok()
}

fn repeats(low: &str) -> bool {
    let letters: Vec<char> = low.chars().collect();
    (1..=PIECE_AT_MOST)
        .any(|long| letters.iter().zip(letters.iter().skip(long)).all(|(one, next)| one == next))
}

fn runs(low: &str) -> bool {
    RUNS.iter().any(|run| {
        // Who comes to the end begins anew.
        let times = low.len() / run.len() + 2;
        let forwards = run.repeat(times);
        let backwards: String = forwards.chars().rev().collect();
        forwards.contains(low) || backwards.contains(low)
    })
}

fn only_names(low: &str, names: &[&str]) -> bool {
    let words = names.iter().flat_map(|name| name.split_whitespace()).map(str::to_lowercase);
    let words = words.filter(|word| word.chars().count() > 2);
    let mut beside = low.to_owned();
    for word in words.chain(FIRST.map(str::to_owned)) {
        beside = beside.replace(&word, "");
    }
    beside.len() < low.len()
        && beside.chars().filter(|c| c.is_alphanumeric()).count() < BESIDE_AT_LEAST
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_tried_first_is_refused_and_says_why() {
        let check = |password: &str, said: Option<&str>| {
            let refused = uncommon(password, &["Ana Ruiz", "Fire laboratory"]).err();
            let text = refused.map(|problem| problem.text);
            let wanted = said.map(|why| format!("the password is easily guessed: {why}"));
            assert_eq!(text, wanted, "{password}");
        };
        let common = Some("it is one of the commonest, or has little beside one");
        check("SanFrancisco", common);
        check("peanutbutter", common);
        check("Football-2026", common);
        check("aaaaaaaaaaaa", Some("it says one piece again and again"));
        check("Abc1abc1abc1ab", Some("it says one piece again and again"));
        check("234567890123", Some("it runs along letters, figures or keys"));
        check("QWERTYUIOPASDF", common);
        check("Yhn7ujm8ik9o", Some("it runs along letters, figures or keys"));
        check("zyxwvutsrqpo", Some("it runs along letters, figures or keys"));
        let named = Some("it is a name, or a word that is tried first, with little beside it");
        check("AnaRuiz2026!", named);
        check("cinderbook 26", named);
        check("NeedleFlame42", named);
        check("three words and a lamp", None);
        check("Ana likes nine lamps", None);
        check("correct horse battery staple", None);
    }

    #[test]
    fn the_list_is_whole_and_in_order() {
        let (all, rest) = COMMONEST.as_chunks::<KEPT>();
        assert!(all.len() >= 10_000 && rest.is_empty(), "{}", all.len());
        assert!(all.windows(2).all(|two| two[0] < two[1]));
        for common in ["password", "iloveyou", "1q2w3e4r5t6y", "password1234"] {
            assert!(is_common(common), "{common}");
        }
        assert!(!is_common("a lamp and nine"));
    }
}

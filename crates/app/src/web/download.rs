//! Files handed out: always as an attachment, under a name that no system can misread (RFC 6266).

use axum::http::header;
use axum::response::{IntoResponse, Response};

/// The most characters of a name.
const NAME_MOST: usize = 120;

/// The most bytes of its ending.
const ENDING_MOST: usize = 8;

/// Some bytes as a file called `name`.
pub(super) fn attachment(name: &str, bytes: Vec<u8>) -> Response {
    ([(header::CONTENT_TYPE, kind(name)), (header::CONTENT_DISPOSITION, disposition(name))], bytes)
        .into_response()
}

/// What a file is, by the end of its name. What is not known is bytes and no more.
pub(super) fn kind(name: &str) -> String {
    let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending);
    match ending.to_ascii_lowercase().as_str() {
        "pdf" => "application/pdf",
        "json" => "application/json",
        "csv" => "text/csv; charset=utf-8",
        "png" => "image/png",
        "jpg" | "jpeg" => "image/jpeg",
        "mp4" | "m4v" => "video/mp4",
        "webm" => "video/webm",
        _ => "application/octet-stream",
    }
    .to_owned()
}

/// The header that names the file: once in plain letters, once as it is.
pub(super) fn disposition(name: &str) -> String {
    let name = safe(name);
    let plain: String = name
        .chars()
        .map(|letter| match letter {
            '"' | '\\' | '%' => '_',
            ' '..='~' => letter,
            _ => '_',
        })
        .collect();
    format!("attachment; filename=\"{plain}\"; filename*=UTF-8''{}", encoded(&name))
}

/// A name without folders, without letters that cannot be seen, and not too long.
pub(super) fn safe(name: &str) -> String {
    let last = name.rsplit(['/', '\\', ':']).next().unwrap_or_default();
    let seen = last.chars().filter(|letter| !letter.is_control() && !turns(*letter));
    let name: String = seen.collect();
    match name.trim_matches(['.', ' ']) {
        "" => "file".to_owned(),
        name => shortened(name),
    }
}

/// A name of at most [`NAME_MOST`] characters: what it ends in, which tells what it is, stays.
fn shortened(name: &str) -> String {
    let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending);
    let ending = if ending.len() > ENDING_MOST { "" } else { ending };
    let stem = NAME_MOST.saturating_sub(ending.len() + 1);
    match name.char_indices().nth(NAME_MOST) {
        None => name.to_owned(),
        Some(_) if ending.is_empty() => name.chars().take(NAME_MOST).collect(),
        Some(_) => name.chars().take(stem).chain(['.']).chain(ending.chars()).collect(),
    }
}

/// Marks that turn the direction of reading, or cannot be seen.
fn turns(letter: char) -> bool {
    matches!(letter, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

/// Text as an address holds it: every byte but plain letters and digits by its number.
pub(super) fn encoded(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => {
                out.push(char::from(byte));
            }
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, plain: &str, encoded: &str) {
        let expected = format!("attachment; filename=\"{plain}\"; filename*=UTF-8''{encoded}");
        assert_eq!(disposition(name), expected);
    }

    #[test]
    fn a_name_is_a_name_and_no_path() {
        check("R-1.pdf", "R-1.pdf", "R-1.pdf");
        check("../../etc/passwd", "passwd", "passwd");
        check("C:\\Windows\\a.csv", "a.csv", "a.csv");
        check("a\0b\r\nX: y.csv", "y.csv", "y.csv");
        check("..", "file", "file");
        check("Prüfung 1.csv", "Pr_fung 1.csv", "Pr%C3%BCfung%201.csv");
        check("a\"b%.pdf", "a_b_.pdf", "a%22b%25.pdf");
        check("x\u{202e}fdp.exe", "xfdp.exe", "xfdp.exe");
    }

    #[test]
    fn a_long_name_is_cut() {
        assert!(disposition(&"a".repeat(300)).len() < 300);
        assert_eq!(safe(&format!("{}.mp4", "ü".repeat(300))), format!("{}.mp4", "ü".repeat(116)));
        assert_eq!(safe(&format!("a.{}", "b".repeat(300))).chars().count(), 120);
    }
}

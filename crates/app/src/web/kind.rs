//! Whether a file is what its name says, and what it was sent as: the three must agree (R74).

use super::{download, film, picture};

/// What a file is by its first bytes, where that is known here; none of a text.
fn found(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(b"%PDF-") {
        return Some("application/pdf");
    }
    let film = || film::kind(bytes.get(..film::HEAD_BYTES).unwrap_or(bytes)).map(|it| it.media);
    picture::head(bytes).map(|it| it.kind).or_else(film)
}

/// Whether what a file was sent as fits its first bytes. What is sent as bytes, or as a kind of which
/// the first bytes say nothing, fits all.
///
/// # Errors
///
/// A sentence's end: what the file is, against what it was sent as.
pub(super) fn sent_as(name: &str, sent: Option<&str>, bytes: &[u8]) -> Result<(), String> {
    let sent = sent.unwrap_or_default().split(';').next().unwrap_or_default().trim();
    let sent = sent.to_ascii_lowercase();
    let family = |media: &str| media.split('/').next().unwrap_or_default().to_owned();
    let told = matches!(family(&sent).as_str(), "image" | "video") || sent == "application/pdf";
    let is = found(bytes).unwrap_or("something else");
    // Browsers differ in their names for one kind of picture and for one family of films.
    let same = match sent.as_str() {
        "image/jpg" | "image/pjpeg" => is == "image/jpeg",
        _ => sent == is || family(&sent) == "video" && family(is) == "video",
    };
    if !told || same {
        return Ok(());
    }
    Err(format!("`{name}` is by its first bytes {is}, and was sent as {sent}"))
}

/// Whether the end of a file's name fits its first bytes, for the kinds that are known here.
///
/// # Errors
///
/// A sentence's end: what the file is, against its name.
pub(super) fn named_as(name: &str, bytes: &[u8]) -> Result<(), String> {
    let (named, found) = (download::kind(name), found(bytes));
    let fits = match named.as_str() {
        "application/pdf" | "image/png" | "image/jpeg" | "video/mp4" | "video/webm" => {
            found == Some(&named)
        }
        "text/csv; charset=utf-8" | "application/json" => found.is_none(),
        _ => true,
    };
    if fits {
        return Ok(());
    }
    let is = found.unwrap_or("something else");
    Err(format!("`{name}` is by its first bytes {is}, not what its name says"))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PNG: &[u8] = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01";
    const PDF: &[u8] = b"%PDF-1.7";

    #[test]
    fn what_a_file_was_sent_as_must_fit_its_first_bytes() {
        let check = |sent, bytes, fits| {
            assert_eq!(sent_as("a", Some(sent), bytes).is_ok(), fits, "{sent}");
        };
        check("image/png", PNG, true);
        check("image/jpeg", PNG, false);
        check("application/pdf", PNG, false);
        check("application/pdf", PDF, true);
        check("application/octet-stream", PNG, true);
        check("text/plain; charset=utf-8", b"1;2", true);
        check("IMAGE/JPG", b"\xff\xd8\xff\xe0", true);
        check("video/x-m4v", b"\0\0\0\x18ftypisom", true);
        check("video/mp4", b"1;2", false);
        assert!(sent_as("a", None, PNG).is_ok());
    }

    #[test]
    fn the_end_of_a_name_must_fit_the_first_bytes() {
        let check = |name, bytes, fits| assert_eq!(named_as(name, bytes).is_ok(), fits, "{name}");
        check("a.pdf", PDF, true);
        check("a.PDF", PNG, false);
        check("a.jpeg", PNG, false);
        check("a.csv", b"1;2".as_slice(), true);
        check("a.csv", PDF, false);
        check("a.mp4", b"\0\0\0\x18ftypisom", true);
        check("a.webm", b"\0\0\0\x18ftypisom", false);
        check("a.lvm", PDF, true);
        check("a.json", b"{}", true);
    }
}

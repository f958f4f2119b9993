//! What kind of file it is, and how its text is spelt.

use std::borrow::Cow;
use std::io::{self, Read};

use encoding_rs::{CoderResult, Decoder, UTF_16BE, UTF_16LE, WINDOWS_1252};

use super::error::ImportError;
use super::options::Encoding;

const AS_TEXT: &str = "Save the readings as CSV from the program that wrote this file.";
const UNPACK: &str = "Unpack it first, and hand in the logger's file that is inside.";
const READINGS: &str = "Hand in the logger's file, not a picture or a film of it.";

/// How files of other kinds begin: from which byte, with what, what they are, the way out.
/// Source: the registrations of these media types and the formats' own descriptions.
const SIGNATURES: [(usize, &[u8], &str, &str); 27] = [
    (0, b"PK\x03\x04", "a zip archive", UNPACK),
    (0, b"PK\x05\x06", "an empty zip archive", UNPACK),
    (0, b"\x1f\x8b", "a gzip archive", UNPACK),
    (0, b"BZh", "a bzip2 archive", UNPACK),
    (0, b"\xfd7zXZ\0", "an xz archive", UNPACK),
    (0, b"\x28\xb5\x2f\xfd", "a zstandard archive", UNPACK),
    (0, b"7z\xbc\xaf\x27\x1c", "a 7z archive", UNPACK),
    (0, b"Rar!\x1a", "a rar archive", UNPACK),
    (257, b"ustar", "a tar archive", UNPACK),
    (0, b"\x89PNG", "a PNG picture", READINGS),
    (0, b"\xff\xd8\xff", "a JPEG picture", READINGS),
    (0, b"GIF8", "a GIF picture", READINGS),
    (0, b"II*\0", "a TIFF picture", READINGS),
    (0, b"MM\0*", "a TIFF picture", READINGS),
    (0, b"RIFF", "a RIFF film, sound or picture", READINGS),
    (4, b"ftyp", "an MP4 film or picture", READINGS),
    (0, b"\x1a\x45\xdf\xa3", "a Matroska or WebM film", READINGS),
    (0, b"%PDF", "a PDF document", AS_TEXT),
    (0, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old office document or workbook", AS_TEXT),
    (0, b"{\\rtf", "a rich-text document", AS_TEXT),
    (0, b"SQLite format 3\0", "an SQLite database", AS_TEXT),
    (0, b"\x89HDF", "an HDF5 file", AS_TEXT),
    (0, b"PAR1", "a Parquet file", AS_TEXT),
    (0, b"\x7fELF", "a program", AS_TEXT),
    (0, b"<?xml", "an XML file", AS_TEXT),
    (0, b"<!DOCTYPE", "a web page", AS_TEXT),
    (0, b"<html", "a web page", AS_TEXT),
];

/// Refuses files that are known to be of another kind.
pub(super) fn refuse_other_kinds(head: &[u8]) -> Result<(), ImportError> {
    if head.is_empty() {
        return Err(ImportError::Empty);
    }
    for (start, signature, what, hint) in SIGNATURES {
        if head.get(start..).is_some_and(|rest| rest.starts_with(signature)) {
            if what == "a zip archive" && memchr::memmem::find(head, b"[Content_Types]").is_some() {
                return Err(ImportError::OtherKind { what: "an office workbook", hint: AS_TEXT });
            }
            return Err(ImportError::OtherKind { what, hint });
        }
    }
    Ok(())
}

/// How the text is spelt, and how many bytes of mark it opens with.
pub(super) fn sniff(head: &[u8], stated: Option<Encoding>) -> (Encoding, usize) {
    let marks: [(&[u8], Encoding); 3] = [
        (b"\xef\xbb\xbf", Encoding::Utf8Mark),
        (b"\xff\xfe", Encoding::Utf16Le),
        (b"\xfe\xff", Encoding::Utf16Be),
    ];
    for (mark, encoding) in marks {
        if head.starts_with(mark) && stated.is_none_or(|stated| same_text(stated, encoding)) {
            return (encoding, mark.len());
        }
    }
    if let Some(stated) = stated {
        return (stated, 0);
    }
    if let Some(utf16) = utf16_without_mark(head) {
        return (utf16, 0);
    }
    match std::str::from_utf8(head) {
        Ok(_) => (Encoding::Utf8, 0),
        // The head may end inside a letter.
        Err(error) if error.error_len().is_none() => (Encoding::Utf8, 0),
        Err(_) => (Encoding::Latin1, 0),
    }
}

fn same_text(stated: Encoding, marked: Encoding) -> bool {
    stated == marked || (stated == Encoding::Utf8 && marked == Encoding::Utf8Mark)
}

/// UTF-16 shows itself in text of the trade: every second byte is zero, and no other.
fn utf16_without_mark(head: &[u8]) -> Option<Encoding> {
    let head = &head[..head.len().min(4096)];
    let zeros =
        |start: usize| head.iter().skip(start).step_by(2).filter(|byte| **byte == 0).count();
    let (even, odd) = (zeros(0), zeros(1));
    let most = head.len() * 9 / 20;
    if head.len() < 8 || even.max(odd) < most || even.min(odd) > 0 {
        return None;
    }
    Some(if odd > even { Encoding::Utf16Le } else { Encoding::Utf16Be })
}

/// The letters of `bytes`, which are UTF-8 by now unless the file is Latin-1.
pub(super) fn text(bytes: &[u8], encoding: Encoding) -> Cow<'_, str> {
    if encoding == Encoding::Latin1 {
        return WINDOWS_1252.decode_without_bom_handling(bytes).0;
    }
    String::from_utf8_lossy(bytes)
}

/// Reads UTF-16 and hands it out as UTF-8.
pub(super) struct Utf16<Source> {
    source: Source,
    decoder: Decoder,
    raw: Vec<u8>,
    start: usize,
    ended: bool,
    finished: bool,
}

impl<Source: Read> Utf16<Source> {
    pub(super) fn new(source: Source, encoding: Encoding) -> Self {
        let encoding = if encoding == Encoding::Utf16Be { UTF_16BE } else { UTF_16LE };
        let decoder = encoding.new_decoder_without_bom_handling();
        Self { source, decoder, raw: Vec::new(), start: 0, ended: false, finished: false }
    }
}

/// The least room in which any letter of UTF-8 can be handed out.
const LETTER_ROOM: usize = 16;

impl<Source: Read> Read for Utf16<Source> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if into.len() < LETTER_ROOM {
            return Err(io::Error::other("less room than a letter may need"));
        }
        loop {
            if self.finished {
                return Ok(0);
            }
            if self.start == self.raw.len() && !self.ended {
                self.raw.resize(into.len(), 0);
                let count = self.source.read(&mut self.raw)?;
                self.raw.truncate(count);
                self.start = 0;
                self.ended = count == 0;
            }
            let rest = &self.raw[self.start..];
            let (state, used, written, _) = self.decoder.decode_to_utf8(rest, into, self.ended);
            self.start += used;
            self.finished = self.ended && state == CoderResult::InputEmpty;
            if written > 0 {
                return Ok(written);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spellings_are_told_apart() {
        let check = |bytes: &[u8], expected| assert_eq!(sniff(bytes, None), expected, "{bytes:?}");
        check(b"Time,T", (Encoding::Utf8, 0));
        check("T1 (°C)".as_bytes(), (Encoding::Utf8, 0));
        check(b"T1 (\xb0C)", (Encoding::Latin1, 0));
        check(b"\xef\xbb\xbfTime", (Encoding::Utf8Mark, 3));
        check(b"\xff\xfeT\0i\0", (Encoding::Utf16Le, 2));
        check(b"T\0i\0m\0e\0,\0T\0", (Encoding::Utf16Le, 0));
        check(b"\0T\0i\0m\0e\0,\0T", (Encoding::Utf16Be, 0));
        check("T (°".as_bytes().split_last().unwrap().1, (Encoding::Utf8, 0));
    }

    #[test]
    fn utf_16_comes_out_as_utf_8_however_it_is_cut() {
        let text = "Temperatura (ºC)\t🔥\n".repeat(40);
        let bytes: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let mut reader = Utf16::new(bytes.as_slice(), Encoding::Utf16Be);
        let mut out = Vec::new();
        let mut room = [0; 17];
        loop {
            let count = reader.read(&mut room).unwrap();
            if count == 0 {
                break;
            }
            out.extend_from_slice(&room[..count]);
        }
        assert_eq!(String::from_utf8(out).unwrap(), text);
    }
}

//! What a film is by its own first bytes, how long it is, and whether its end is there. Boxes and
//! blocks are counted by their lengths; no picture is decoded here.

use std::fs::File;
use std::io::{BufReader, Read, Result, Seek, SeekFrom};

use crate::problem::Problem;

/// The most bytes of a film (R73).
pub(super) const FILM_BYTES: u64 = 2 << 30;

/// So many bytes tell what a film is.
pub(super) const HEAD_BYTES: usize = 64;

/// So many boxes or blocks are looked at: one film of 20 minutes has fewer.
const PARTS_MOST: usize = 100_000;

/// Brands of the family of MP4 that are pictures or sound.
const NO_FILM: [&[u8; 4]; 11] = [
    b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"M4A ",
    b"M4B ",
];

/// What a film is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Kind {
    /// Its media type.
    pub(super) media: &'static str,
    /// The endings of names that go with it.
    endings: &'static [&'static str],
}

impl Kind {
    /// What its name ends in.
    pub(super) fn ending(self) -> &'static str {
        self.endings.first().copied().unwrap_or("film")
    }
}

/// How far a film can be shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Standing {
    /// To its end.
    Whole,
    /// Its end is missing.
    CutOff,
    /// What a player needs first is missing.
    NotShown,
}

/// A film as it was looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Seen {
    /// How far it can be shown.
    pub(super) standing: Standing,
    /// How long that is, in seconds, where the film says so.
    pub(super) seconds: Option<f64>,
}

/// What a film is by its first bytes; none of anything else.
pub(super) fn kind(head: &[u8]) -> Option<Kind> {
    match head {
        [_, _, _, _, b'f', b't', b'y', b'p', brand @ ..] => match brand.first_chunk::<4>()? {
            b"qt  " => Some(Kind { media: "video/quicktime", endings: &["mov", "qt"] }),
            brand if NO_FILM.contains(&brand) => None,
            _ => Some(Kind { media: "video/mp4", endings: &["mp4", "m4v", "3gp"] }),
        },
        [0x1a, 0x45, 0xdf, 0xa3, rest @ ..] => {
            let holds = |word: &[u8]| rest.windows(word.len()).any(|part| part == word);
            if holds(b"\x42\x82\x84webm") {
                Some(Kind { media: "video/webm", endings: &["webm"] })
            } else if holds(b"\x42\x82\x88matroska") {
                Some(Kind { media: "video/x-matroska", endings: &["mkv"] })
            } else {
                None
            }
        }
        _ => None,
    }
}

/// What a film is by its first bytes, and the film as it was.
///
/// # Errors
///
/// As the disk says.
pub(super) fn kind_of(mut film: File) -> std::result::Result<(File, Option<Kind>), Problem> {
    let cannot = |error: std::io::Error| {
        Problem::surroundings("a film cannot be read from the disk").because(&error)
    };
    let mut head = Vec::with_capacity(HEAD_BYTES);
    (&mut film).take(HEAD_BYTES as u64).read_to_end(&mut head).map_err(cannot)?;
    Ok((film, kind(&head)))
}

/// Whether a file of this name with these first bytes may be kept as a film.
///
/// # Errors
///
/// A sentence's end: what the file is, against what may be.
pub(super) fn fit(name: &str, head: &[u8]) -> std::result::Result<Kind, String> {
    let Some(kind) = kind(head) else {
        return Err(format!("`{name}` is no MP4, MOV, WebM or Matroska film"));
    };
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    if kind.endings.iter().any(|fits| ending.as_deref() == Some(fits)) {
        return Ok(kind);
    }
    Err(format!("`{name}` is by its first bytes {}, not what its name says", kind.media))
}

impl Seen {
    /// How it stands in words; nothing of a film that is whole.
    pub(super) fn words(self) -> Option<String> {
        let what = match (self.standing, self.seconds) {
            (Standing::Whole, _) => return None,
            (Standing::CutOff, Some(seconds)) => {
                format!("The film is cut off: {seconds:.1} s can be shown.")
            }
            (Standing::CutOff, None) => {
                "The film is cut off: its beginning can be shown.".to_owned()
            }
            (Standing::NotShown, _) => "The film is cut off and cannot be shown.".to_owned(),
        };
        Some(format!("{what} It is kept as it is."))
    }
}

/// Looks a film through from its beginning.
///
/// # Errors
///
/// As the disk says.
pub(super) fn look(film: impl Read + Seek, kind: Kind) -> Result<Seen> {
    // Most of a film is passed over: what is read ahead would be read for nothing.
    let mut parts = Parts { film: BufReader::with_capacity(512, film), at: 0, length: 0 };
    parts.length = parts.film.seek(SeekFrom::End(0))?;
    parts.at = parts.length;
    parts.go(0)?;
    if kind.media.ends_with("webm") || kind.media.ends_with("matroska") {
        blocks(&mut parts)
    } else {
        boxes(&mut parts)
    }
}

/// A file that is gone through part by part.
struct Parts<F> {
    film: BufReader<F>,
    at: u64,
    length: u64,
}

impl<F: Read + Seek> Parts<F> {
    fn go(&mut self, to: u64) -> Result<()> {
        let by = i64::try_from(to).unwrap_or(i64::MAX) - i64::try_from(self.at).unwrap_or(0);
        self.film.seek_relative(by)?;
        self.at = to;
        Ok(())
    }

    /// The next bytes; none where the file ends before.
    fn take<const N: usize>(&mut self) -> Result<Option<[u8; N]>> {
        if self.length - self.at.min(self.length) < N as u64 {
            return Ok(None);
        }
        let mut bytes = [0; N];
        self.film.read_exact(&mut bytes)?;
        self.at += N as u64;
        Ok(Some(bytes))
    }

    /// A number of EBML: its first byte tells how many there are. With the mark that tells so, as
    /// names of elements have it, or without.
    fn number(&mut self, marked: bool) -> Result<Option<u64>> {
        let Some([first]) = self.take::<1>()? else { return Ok(None) };
        let more = first.leading_zeros();
        if more > 7 {
            return Ok(None);
        }
        let mut number = u64::from(first);
        if !marked {
            number &= 0x7f >> more;
        }
        for _ in 0..more {
            let Some([byte]) = self.take::<1>()? else { return Ok(None) };
            number = number << 8 | u64::from(byte);
        }
        // All ones: as long as it takes.
        let open = !marked && number == (1 << (7 * (more + 1))) - 1;
        Ok(Some(if open { u64::MAX } else { number }))
    }

    /// A whole number of so many bytes, highest first.
    fn whole(&mut self, bytes: u64) -> Result<u64> {
        let mut number = 0;
        for _ in 0..bytes.min(8) {
            number = number << 8 | self.take::<1>()?.map_or(0, |[byte]| u64::from(byte));
        }
        Ok(number)
    }
}

/// The boxes of ISO base media (ISO/IEC 14496-12, from memory): `moov` says what there is.
fn boxes<F: Read + Seek>(parts: &mut Parts<F>) -> Result<Seen> {
    let (mut shown, mut seconds, mut cut) = (false, None, false);
    for _ in 0..PARTS_MOST {
        let from = parts.at;
        if from == parts.length {
            break;
        }
        let Some([a, b, c, d, name @ ..]) = parts.take::<8>()? else {
            cut = true;
            break;
        };
        let size = match u32::from_be_bytes([a, b, c, d]) {
            0 => parts.length - from,
            1 => parts.take::<8>()?.map_or(u64::MAX, u64::from_be_bytes),
            size => u64::from(size),
        };
        let end = from.saturating_add(size);
        cut = end > parts.length || end < parts.at;
        if cut {
            break;
        }
        if name == *b"moov" {
            (shown, seconds) = (true, length(parts)?);
        }
        parts.go(end)?;
    }
    Ok(match (shown, cut) {
        (false, _) => Seen { standing: Standing::NotShown, seconds: None },
        (true, true) => Seen { standing: Standing::CutOff, seconds: None },
        (true, false) => Seen { standing: Standing::Whole, seconds },
    })
}

/// How long the film is by the first box of `moov`.
fn length<F: Read + Seek>(parts: &mut Parts<F>) -> Result<Option<f64>> {
    let Some([_, _, _, _, b'm', b'v', b'h', b'd', version, _, _, _]) = parts.take::<12>()? else {
        return Ok(None);
    };
    let each = if version == 1 { 8 } else { 4 };
    parts.whole(each)?;
    parts.whole(each)?;
    let (scale, length) = (parts.whole(4)?, parts.whole(each)?);
    let seconds = whole(length) / whole(scale);
    Ok(Some(seconds).filter(|seconds| seconds.is_finite() && *seconds > 0.0))
}

/// A whole number as it enters a quotient; what is beyond exactness is no film's length.
fn whole(number: u64) -> f64 {
    u32::try_from(number).map_or(f64::NAN, f64::from)
}

const SEGMENT: u64 = 0x1853_8067;
const INFO: u64 = 0x1549_a966;
const SCALE: u64 = 0x2a_d7b1;
const DURATION: u64 = 0x4489;
const CLUSTER: u64 = 0x1f43_b675;
const TIMESTAMP: u64 = 0xe7;
const BLOCK_GROUP: u64 = 0xa0;
const BLOCK: u64 = 0xa1;
const SIMPLE_BLOCK: u64 = 0xa3;

/// The elements of Matroska (RFC 9559): the time of the last block is what can be shown.
fn blocks<F: Read + Seek>(parts: &mut Parts<F>) -> Result<Seen> {
    let (mut scale, mut cluster, mut last) = (1_000_000, 0, None);
    let (mut said, mut ends) = (None, 0);
    let mut cut = false;
    for _ in 0..PARTS_MOST {
        if parts.at == parts.length {
            break;
        }
        let (Some(name), Some(size)) = (parts.number(true)?, parts.number(false)?) else {
            cut = true;
            break;
        };
        let end = parts.at.saturating_add(size);
        let inside = [SEGMENT, INFO, CLUSTER, BLOCK_GROUP].contains(&name);
        if name == SEGMENT && size < u64::MAX {
            ends = end;
        }
        cut = !inside && end > parts.length;
        if cut {
            break;
        }
        match name {
            SCALE => scale = parts.whole(size)?,
            DURATION if size == 8 => said = parts.take::<8>()?.map(f64::from_be_bytes),
            DURATION => said = parts.take::<4>()?.map(|it| f64::from(f32::from_be_bytes(it))),
            TIMESTAMP => cluster = parts.whole(size)?,
            BLOCK | SIMPLE_BLOCK => {
                parts.number(false)?;
                let after = parts.take::<2>()?.map_or(0, i16::from_be_bytes);
                last = last.max(Some(cluster.saturating_add_signed(i64::from(after))));
            }
            _ => {}
        }
        if !inside {
            parts.go(end)?;
        }
    }
    let unit = whole(scale) / 1e9;
    let shown = last.map(|last| whole(last) * unit);
    Ok(match shown {
        None => Seen { standing: Standing::NotShown, seconds: None },
        Some(_) if cut || parts.length < ends => {
            Seen { standing: Standing::CutOff, seconds: shown }
        }
        Some(_) => {
            Seen { standing: Standing::Whole, seconds: said.map(|said| said * unit).or(shown) }
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn seen(bytes: &[u8]) -> Seen {
        look(Cursor::new(bytes), kind(bytes).unwrap()).unwrap()
    }

    /// An MP4 of 12.5 s: brand, pictures, then what says where they are.
    fn mp4() -> Vec<u8> {
        let part = |name: &[u8; 4], inside: &[u8]| {
            let size = u32::try_from(inside.len() + 8).unwrap().to_be_bytes();
            [size.as_slice(), name, inside].concat()
        };
        let mut length = vec![0; 12];
        length.extend(1000_u32.to_be_bytes());
        length.extend(12_500_u32.to_be_bytes());
        let moov = part(b"moov", &part(b"mvhd", &length));
        [part(b"ftyp", b"isom\0\0\0\0"), part(b"mdat", &[7; 900]), moov].concat()
    }

    /// What a browser records: nothing says how long it is.
    fn webm() -> Vec<u8> {
        let head =
            b"\x1a\x45\xdf\xa3\x87\x42\x82\x84webm\x18\x53\x80\x67\x01\xff\xff\xff\xff\xff\xff\xff";
        let info = b"\x15\x49\xa9\x66\x87\x2a\xd7\xb1\x83\x0f\x42\x40";
        let mut film = [head.as_slice(), info].concat();
        for second in 0..3_u8 {
            film.extend(b"\x1f\x43\xb6\x75\x01\xff\xff\xff\xff\xff\xff\xff\xe7\x82");
            film.extend((u16::from(second) * 1000).to_be_bytes());
            for after in [0_u16, 500] {
                film.extend(b"\xa3\x8a\x81");
                film.extend(after.to_be_bytes());
                film.extend([0x80, 1, 2, 3, 4, 5, 6]);
            }
        }
        film
    }

    #[test]
    fn a_film_is_known_by_its_first_bytes_and_its_name_must_fit() {
        let media = |bytes: &[u8]| kind(bytes).map(|kind| kind.media);
        assert_eq!(media(b"\0\0\0\x18ftypisom"), Some("video/mp4"));
        assert_eq!(media(b"\0\0\0\x18ftypqt  "), Some("video/quicktime"));
        assert_eq!(media(&webm()), Some("video/webm"));
        assert_eq!(media(b"\x1a\x45\xdf\xa3\x8b\x42\x82\x88matroska"), Some("video/x-matroska"));
        for none in [b"\0\0\0\x18ftypheic".as_slice(), b"\0\0\0\x18ftyp", b"", b"RIFF", b"text"] {
            assert_eq!(media(none), None, "{none:?}");
        }
        assert!(fit("IMG_1.MOV", b"\0\0\0\x18ftypqt  ").is_ok());
        let refused = fit("film.mp4", &webm()).unwrap_err();
        assert_eq!(refused, "`film.mp4` is by its first bytes video/webm, not what its name says");
        assert!(fit("film", b"\0\0\0\x18ftypisom").is_err());
    }

    #[test]
    fn a_film_that_is_whole_says_how_long_it_is() {
        assert_eq!(seen(&mp4()), Seen { standing: Standing::Whole, seconds: Some(12.5) });
        assert_eq!(seen(&webm()), Seen { standing: Standing::Whole, seconds: Some(2.5) });
        assert_eq!(seen(&mp4()).words(), None);
    }

    #[test]
    fn a_film_that_is_cut_off_says_so() {
        let (mp4, webm) = (mp4(), webm());
        let words = |bytes: &[u8]| seen(bytes).words().unwrap();
        let not_shown = "The film is cut off and cannot be shown. It is kept as it is.";
        assert_eq!(words(&mp4[..500]), not_shown);
        assert_eq!(words(&mp4[..mp4.len() - 1]), not_shown);
        assert_eq!(
            words(&webm[..webm.len() - 3]),
            "The film is cut off: 2.0 s can be shown. It is kept as it is."
        );
        assert_eq!(words(&webm[..40]), not_shown);
    }

    #[test]
    fn whatever_the_bytes_are_they_are_gone_through() {
        for film in [mp4(), webm()] {
            for place in 12..film.len() {
                for byte in [0, 1, 0x7f, 0x80, 0xff] {
                    let mut changed = film.clone();
                    changed[place] = byte;
                    if let Some(kind) = kind(&changed) {
                        look(Cursor::new(&changed), kind).unwrap();
                        look(Cursor::new(&changed[..place]), kind).unwrap();
                    }
                }
            }
        }
    }
}

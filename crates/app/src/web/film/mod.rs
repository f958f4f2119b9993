//! What a film is by its own first bytes, how long it is, and whether its end is there. Boxes and
//! blocks are counted by their lengths; no picture is decoded here.

mod blocks;
mod boxes;
mod parts;

use std::fs::File;
use std::io::{Read, Result, Seek};

use parts::Parts;

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
    /// How long a frame of it lasts, on average, in seconds, where the film says so.
    pub(super) frame_seconds: Option<f64>,
    /// When its sound begins, in seconds, where it has one and says so.
    pub(super) sound_begins_seconds: Option<f64>,
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
    /// So far, with no more known of it.
    const fn shown(standing: Standing, seconds: Option<f64>) -> Self {
        Self { standing, seconds, frame_seconds: None, sound_begins_seconds: None }
    }

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
    let mut parts = Parts::of(film)?;
    if kind.media.ends_with("webm") || kind.media.ends_with("matroska") {
        blocks::look(&mut parts)
    } else {
        boxes::look(&mut parts)
    }
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
        let moov = part(b"moov", &part(b"mvhd", &numbers(&[0, 0, 0, 1000, 12_500])));
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
        assert_eq!(seen(&mp4()), Seen::shown(Standing::Whole, Some(12.5)));
        assert_eq!(seen(&webm()), Seen::shown(Standing::Whole, Some(2.5)));
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

    fn part(name: &[u8; 4], inside: &[u8]) -> Vec<u8> {
        let size = u32::try_from(inside.len() + 8).unwrap().to_be_bytes();
        [size.as_slice(), name, inside].concat()
    }

    fn numbers(numbers: &[u32]) -> Vec<u8> {
        numbers.iter().flat_map(|number| number.to_be_bytes()).collect()
    }

    /// An MP4 of 300 frames in 10 s, whose sound begins 20 ms late.
    fn mp4_with_sound() -> Vec<u8> {
        let track = |of: &[u8; 4], scale: u32, edits: &[u32], times: &[u32]| {
            let about = part(b"mdhd", &numbers(&[0, 0, 0, scale, 0]));
            let kind = part(b"hdlr", &[&[0; 8], of.as_slice(), &[0; 12]].concat());
            let table = part(b"minf", &part(b"stbl", &part(b"stts", &numbers(times))));
            let media = part(b"mdia", &[about, kind, table].concat());
            part(b"trak", &[part(b"edts", &part(b"elst", &numbers(edits))), media].concat())
        };
        let about = part(b"mvhd", &numbers(&[0, 0, 0, 1000, 10_000]));
        let pictures = track(b"vide", 90_000, &[0, 1, 10_000, 0, 1], &[0, 2, 200, 3000, 100, 3003]);
        let nothing = u32::MAX;
        let edits = [0, 2, 20, nothing, 1, 9_980, 2112, 1];
        let sound = track(b"soun", 48_000, &edits, &[0, 1, 469, 1024]);
        let moov = part(b"moov", &[about, pictures, sound].concat());
        [part(b"ftyp", b"isom\0\0\0\0"), moov, part(b"mdat", &[7; 90])].concat()
    }

    /// What a browser records with sound, which begins 40 ms late.
    fn webm_with_sound() -> Vec<u8> {
        let head =
            b"\x1a\x45\xdf\xa3\x87\x42\x82\x84webm\x18\x53\x80\x67\x01\xff\xff\xff\xff\xff\xff\xff";
        let tracks =
            b"\x16\x54\xae\x6b\x90\xae\x86\xd7\x81\x02\x83\x81\x01\xae\x86\x83\x81\x02\xd7\x81\x01";
        let mut film = [head.as_slice(), tracks].concat();
        film.extend(b"\x1f\x43\xb6\x75\x01\xff\xff\xff\xff\xff\xff\xff\xe7\x81\x00");
        for (track, after) in [(2, 0), (1, 40), (2, 33), (1, 60), (2, 67), (2, 100_u16)] {
            film.extend([0xa3, 0x85, 0x80 | track]);
            film.extend(after.to_be_bytes());
            film.extend([0x80, 1]);
        }
        film
    }

    #[test]
    fn how_long_a_frame_lasts_and_when_the_sound_begins_is_read_from_the_tracks() {
        let (mp4, webm) = (seen(&mp4_with_sound()), seen(&webm_with_sound()));
        assert_eq!((mp4.standing, mp4.seconds), (Standing::Whole, Some(10.0)));
        assert_eq!(mp4.frame_seconds, Some(900_300.0 / 300.0 / 90_000.0));
        assert_eq!(mp4.sound_begins_seconds, Some(0.02));
        assert_eq!((webm.standing, webm.seconds), (Standing::Whole, Some(0.1)));
        assert_eq!(webm.frame_seconds.map(|it| (it * 1e6).round()), Some(33_333.0));
        assert_eq!(webm.sound_begins_seconds, Some(0.04));
    }

    #[test]
    fn whatever_the_bytes_are_they_are_gone_through() {
        for film in [mp4(), webm(), mp4_with_sound(), webm_with_sound()] {
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

//! The copy of a photograph that is shown and printed: what the camera wrote beside the picture, the
//! place above all, is left out. The photograph itself is kept as it came.

/// The photograph without what its camera says of place, time and device; how it is turned stays.
/// What is no JPEG or PNG, or is broken, comes back as it is.
pub(crate) fn without_place(bytes: Vec<u8>) -> Vec<u8> {
    let shown = match bytes.as_slice() {
        [0xff, 0xd8, rest @ ..] => jpeg(rest),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', rest @ ..] => png(rest),
        _ => None,
    };
    shown.unwrap_or(bytes)
}

/// The segments of a JPEG (ITU-T T.81, B.1) up to the picture's data, without those of the camera.
fn jpeg(mut rest: &[u8]) -> Option<Vec<u8>> {
    let mut shown = vec![0xff, 0xd8];
    loop {
        let [0xff, marker] = *rest.first_chunk::<2>()? else { return None };
        if matches!(marker, 0x01 | 0xd0..=0xd7 | 0xff) {
            // Without contents; or a byte that fills.
            let bytes = if marker == 0xff { 1 } else { 2 };
            shown.extend(rest.get(..bytes)?);
            rest = rest.get(bytes..)?;
            continue;
        }
        if matches!(marker, 0xd9 | 0xda) {
            shown.extend(rest);
            return Some(shown);
        }
        let length = usize::from(u16::from_be_bytes(*rest.get(2..4)?.first_chunk()?));
        let (segment, after) = rest.split_at_checked(length.checked_add(2)?)?;
        match marker {
            0xe1 => shown.extend(turned(segment.get(4..)?)),
            // Other words of the camera and of programs: IPTC, comments.
            0xed | 0xfe => {}
            _ => shown.extend(segment),
        }
        rest = after;
    }
}

/// A segment that says only how the picture is turned; nothing where the old one does not say it.
fn turned(application: &[u8]) -> Vec<u8> {
    let tiff = application.strip_prefix(b"Exif\0\0");
    let Some(turn @ 2..=8) = tiff.and_then(turn) else { return Vec::new() };
    // A TIFF of one entry: tag 0x0112, a short, one of it.
    let mut segment = vec![0xff, 0xe1, 0, 34];
    segment.extend(b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01");
    segment.extend(turn.to_be_bytes());
    segment.extend([0; 6]);
    segment
}

/// How a picture is turned, by the first directory of its TIFF (TIFF 6.0, 2; Exif 2.3, 4.6.4 A).
fn turn(tiff: &[u8]) -> Option<u16> {
    let little = match tiff.first_chunk::<2>()? {
        b"II" => true,
        b"MM" => false,
        _ => return None,
    };
    let short = |at: usize| {
        let bytes = *tiff.get(at..)?.first_chunk::<2>()?;
        Some(if little { u16::from_le_bytes(bytes) } else { u16::from_be_bytes(bytes) })
    };
    let at = *tiff.get(4..)?.first_chunk::<4>()?;
    let at = if little { u32::from_le_bytes(at) } else { u32::from_be_bytes(at) };
    let at = usize::try_from(at).ok()?;
    let entries = usize::from(short(at)?);
    let places = (0..entries).map(|nth| at.saturating_add(2 + 12 * nth));
    let found = places.into_iter().find(|place| short(*place) == Some(0x0112))?;
    short(found.checked_add(8)?)
}

/// The chunks of a PNG without texts and what the camera wrote.
fn png(mut rest: &[u8]) -> Option<Vec<u8>> {
    let mut shown = b"\x89PNG\r\n\x1a\n".to_vec();
    while !rest.is_empty() {
        let length = usize::try_from(u32::from_be_bytes(*rest.first_chunk()?)).ok()?;
        let (chunk, after) = rest.split_at_checked(length.checked_add(12)?)?;
        if ![b"eXIf", b"tEXt", b"zTXt", b"iTXt"].contains(&chunk.get(4..)?.first_chunk()?) {
            shown.extend(chunk);
        }
        rest = after;
    }
    Some(shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A JPEG with what a telephone writes: place and turn in Exif, words in a comment.
    fn telephone(order: &[u8; 2], turn: u16) -> Vec<u8> {
        let little = order == b"II";
        let short = |it: u16| if little { it.to_le_bytes() } else { it.to_be_bytes() };
        let long = |it: u32| if little { it.to_le_bytes() } else { it.to_be_bytes() };
        let mut tiff = [order.as_slice(), &short(42), &long(8), &short(2)].concat();
        tiff.extend(
            [short(0x0112).as_slice(), &short(3), &long(1), &short(turn), &[0; 2]].concat(),
        );
        tiff.extend([short(0x8825).as_slice(), &short(4), &long(1), &long(38), &long(0)].concat());
        tiff.extend(b"48 N 11 E");
        let exif = [b"Exif\0\0".as_slice(), &tiff].concat();
        let mut jpeg = vec![0xff, 0xd8];
        for (marker, inside) in [(0xe0, b"JFIF\0".as_slice()), (0xe1, &exif), (0xfe, b"48 N 11 E")]
        {
            jpeg.extend([0xff, marker]);
            jpeg.extend(u16::try_from(inside.len() + 2).unwrap().to_be_bytes());
            jpeg.extend(inside);
        }
        jpeg.extend(b"\xff\xc0\0\x0b\x08\0\x10\0\x10\x01\x01\x11\0\xff\xda\0\x08data\xff\xd9");
        jpeg
    }

    fn holds(bytes: &[u8], what: &[u8]) -> bool {
        bytes.windows(what.len()).any(|window| window == what)
    }

    #[test]
    fn the_place_goes_and_the_turn_stays() {
        for (order, turn_said) in [(b"II", 6), (b"MM", 8)] {
            let photo = telephone(order, turn_said);
            assert!(holds(&photo, b"48 N"));
            let shown = without_place(photo);
            assert!(!holds(&shown, b"48 N") && holds(&shown, b"JFIF") && holds(&shown, b"data"));
            let at = shown.windows(6).position(|window| window == b"Exif\0\0").unwrap();
            assert_eq!(turn(&shown[at + 6..]), Some(turn_said));
            assert_eq!(without_place(shown.clone()), shown);
        }
        assert!(!holds(&without_place(telephone(b"II", 1)), b"Exif"));
    }

    #[test]
    fn texts_of_a_png_go() {
        let chunk = |name: &[u8; 4], inside: &[u8]| {
            let length = u32::try_from(inside.len()).unwrap().to_be_bytes();
            [length.as_slice(), name, inside, &[0; 4]].concat()
        };
        let head = b"\x89PNG\r\n\x1a\n".to_vec();
        let parts = [(b"IHDR", "head"), (b"eXIf", "48 N"), (b"tEXt", "48 N"), (b"IDAT", "data")];
        let parts: Vec<Vec<u8>> = parts.map(|(name, it)| chunk(name, it.as_bytes())).to_vec();
        let shown = without_place([head.clone(), parts.concat()].concat());
        assert_eq!(shown, [head, parts[0].clone(), parts[3].clone()].concat());
    }

    #[test]
    fn what_is_broken_comes_back_as_it_is() {
        let photo = telephone(b"II", 6);
        for length in 0..photo.len() - 20 {
            assert_eq!(without_place(photo[..length].to_vec()), photo[..length], "{length}");
        }
    }
}

//! What a picture is by its own first bytes. It is never unpacked here: kind and size are read, so
//! that none is kept that no browser should be asked to show.

/// The most picture elements of a photograph, in millions.
pub(super) const MEGAPIXELS: u64 = 50;

/// The most bytes of a photograph once it is unpacked for print, in millions.
const UNPACKED_MEGABYTES: u64 = 200;

/// A picture by its head.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Head {
    /// Its media type.
    pub(super) kind: &'static str,
    /// The endings of names that go with it.
    endings: &'static [&'static str],
    /// Width and height, as far as the head tells.
    size: Option<(u32, u32)>,
    /// How many bytes one element has at most, unpacked.
    element_bytes: u64,
}

/// Why a picture is not taken: what was found, and the limit.
pub(super) type Refusal = String;

/// The head of a JPEG, PNG or WebP picture; none of anything else.
pub(super) fn head(bytes: &[u8]) -> Option<Head> {
    match bytes {
        [0xff, 0xd8, 0xff, ..] => {
            let endings = &["jpg", "jpeg"];
            Some(Head { kind: "image/jpeg", endings, size: jpeg(bytes), element_bytes: 4 })
        }
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => {
            let size = Option::zip(number(bytes, 16..20), number(bytes, 20..24));
            // Its numbers have up to 8 bits or 16; an element has four of them at most.
            let element_bytes = if bytes.get(24) == Some(&16) { 8 } else { 4 };
            Some(Head { kind: "image/png", endings: &["png"], size, element_bytes })
        }
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => {
            let (endings, size) = (&["webp"], webp(bytes));
            Some(Head { kind: "image/webp", endings, size, element_bytes: 4 })
        }
        _ => None,
    }
}

/// Whether a file of this name may be kept as a photograph.
///
/// # Errors
///
/// [`Refusal`] as a sentence's end: what the file is, against what may be.
pub(super) fn fit(name: &str, bytes: &[u8]) -> Result<(), Refusal> {
    let Some(head) = head(bytes) else {
        return Err(format!("`{name}` is no JPEG, PNG or WebP picture"));
    };
    let ending = name.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase());
    if !head.endings.iter().any(|fits| ending.as_deref() == Some(fits)) {
        return Err(format!(
            "`{name}` is by its first bytes {}, not what its name says",
            head.kind
        ));
    }
    let Some((width, height)) = head.size else {
        return Err(format!("`{name}` does not say how wide and high it is"));
    };
    let elements = u64::from(width) * u64::from(height);
    if elements > MEGAPIXELS * 1_000_000 {
        let most = MEGAPIXELS;
        return Err(format!("`{name}` has {width} × {height} elements, more than {most} million"));
    }
    let unpacked = elements * head.element_bytes / 1_000_000;
    if unpacked > UNPACKED_MEGABYTES {
        let most = UNPACKED_MEGABYTES;
        return Err(format!("`{name}` may have {unpacked} MB unpacked, more than {most} MB"));
    }
    Ok(())
}

/// A whole number, highest byte first.
fn number(bytes: &[u8], place: std::ops::Range<usize>) -> Option<u32> {
    let bytes = bytes.get(place)?;
    Some(bytes.iter().fold(0, |number, byte| number << 8 | u32::from(*byte)))
}

/// A whole number, lowest byte first.
fn reversed(bytes: &[u8], place: std::ops::Range<usize>) -> Option<u32> {
    let bytes = bytes.get(place)?;
    Some(bytes.iter().rev().fold(0, |number, byte| number << 8 | u32::from(*byte)))
}

/// The size in the frame header of a JPEG, which stands behind segments of any length.
fn jpeg(bytes: &[u8]) -> Option<(u32, u32)> {
    let mut at = 2;
    loop {
        let [0xff, marker] = *bytes.get(at..at + 2)? else { return None };
        match marker {
            // The frame headers; the four gaps are tables and a reserved marker.
            0xc0..=0xcf if !matches!(marker, 0xc4 | 0xc8 | 0xcc) => {
                let height = number(bytes, at + 5..at + 7)?;
                return Some((number(bytes, at + 7..at + 9)?, height));
            }
            0xff => at += 1,
            0x01 | 0xd0..=0xd8 => at += 2,
            0xd9 | 0xda => return None,
            _ => at += 2 + usize::try_from(number(bytes, at + 2..at + 4)?).ok()?,
        }
    }
}

/// The size in the first chunk of a WebP.
fn webp(bytes: &[u8]) -> Option<(u32, u32)> {
    match bytes.get(12..16)? {
        b"VP8X" => Some((reversed(bytes, 24..27)? + 1, reversed(bytes, 27..30)? + 1)),
        b"VP8L" => {
            let packed = reversed(bytes, 21..25)?;
            Some(((packed & 0x3fff) + 1, (packed >> 14 & 0x3fff) + 1))
        }
        b"VP8 " => Some((reversed(bytes, 26..28)? & 0x3fff, reversed(bytes, 28..30)? & 0x3fff)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, bytes: &[u8], expected: &str) {
        let found = fit(name, bytes).err().unwrap_or_default();
        assert!(found.contains(expected) && found.is_empty() == expected.is_empty(), "{found}");
    }

    /// A JPEG head: a comment, then a frame of this size.
    fn jpeg_head(width: u16, height: u16) -> Vec<u8> {
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xfe, 0, 4, b'h', b'i', 0xff, 0xc0, 0, 17, 8];
        bytes.extend(height.to_be_bytes());
        bytes.extend(width.to_be_bytes());
        bytes
    }

    fn png_head(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        bytes.extend(width.to_be_bytes());
        bytes.extend(height.to_be_bytes());
        bytes
    }

    fn webp_head(kind: &[u8; 4], rest: &[u8]) -> Vec<u8> {
        [b"RIFF\0\0\0\0WEBP", kind.as_slice(), b"\0\0\0\0", rest].concat()
    }

    #[test]
    fn a_picture_is_known_by_its_first_bytes() {
        check("a.jpg", &jpeg_head(4000, 3000), "");
        check("a.JPEG", &jpeg_head(10_000, 5_000), "");
        check("a.png", &png_head(1, 1), "");
        check("a.webp", &webp_head(b"VP8X", &[0, 0, 0, 0, 0x9f, 0x0f, 0, 0xb7, 0x0b, 0]), "");
        check("a.webp", &webp_head(b"VP8L", &[0x2f, 0x9f, 0xcf, 0xed, 0x02]), "");
        check("a.webp", &webp_head(b"VP8 ", &[0, 0, 0, 0x9d, 1, 0x2a, 0xa0, 0x0f, 0xb8, 0x0b]), "");
        assert_eq!(
            head(&webp_head(b"VP8X", &[0, 0, 0, 0, 0x9f, 0x0f, 0, 0xb7, 0x0b, 0])).unwrap().size,
            Some((4000, 3000))
        );
    }

    #[test]
    fn what_is_no_picture_to_keep_is_named_with_its_limit() {
        check("a.jpg", b"\0\0\0\x18ftypheic", "no JPEG, PNG or WebP");
        check("a.jpg", &png_head(1, 1), "is by its first bytes image/png");
        check("a", &png_head(1, 1), "not what its name says");
        check("a.jpg", &jpeg_head(12_500, 8_000), "12500 × 8000 elements, more than 50 million");
        check("a.png", &png_head(u32::MAX, u32::MAX), "more than 50 million");
        let deep = [png_head(8000, 6000), vec![16, 6]].concat();
        check("a.png", &deep, "may have 384 MB unpacked, more than 200 MB");
        check("a.jpg", &jpeg_head(1, 1)[..9], "does not say how wide");
        check("a.jpg", b"\xff\xd8\xff\xfe\xff\xff", "does not say how wide");
        check("a.png", b"\x89PNG\r\n\x1a\n", "does not say how wide");
        check("a.jpg", b"", "no JPEG");
    }
}

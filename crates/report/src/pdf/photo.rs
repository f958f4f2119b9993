//! A photograph as the pages show it: a smaller copy where it is larger than print can show, so that
//! many large photographs need no more memory than the largest one of them.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{ColorType, DynamicImage, ImageDecoder as _, ImageEncoder as _, ImageError};
use image::{ImageReader, Limits};
use thiserror::Error;

/// So many elements has the longer side of what is printed: 370 to the inch over half a page's width.
const LONGER_SIDE: u32 = 1200;

/// How well a smaller copy is kept, of 100.
const QUALITY: u8 = 90;

/// One photograph is unpacked within so many bytes: 50 million elements of four bytes.
const UNPACKED_BYTES: u64 = 200_000_000;

/// Why there is no copy of a photograph for print.
#[derive(Debug, Error)]
pub enum PhotoError {
    /// It is no picture, or a damaged one.
    #[error("it cannot be unpacked")]
    Damaged(#[from] ImageError),
    /// It is of a kind that is not read.
    #[error("its first bytes cannot be read")]
    Head(#[from] std::io::Error),
    /// It is too large.
    #[error("unpacked it has {found} bytes, more than {UNPACKED_BYTES}")]
    TooLarge {
        /// How many it has.
        found: u64,
    },
}

/// The copy of a photograph that is printed, as JPEG, turned as its camera says and with nothing else
/// that its camera wrote but its colours; none where the photograph is small enough itself.
///
/// # Errors
///
/// [`PhotoError`]
pub fn smaller(photo: &[u8]) -> Result<Option<Vec<u8>>, PhotoError> {
    let mut reader = ImageReader::new(Cursor::new(photo)).with_guessed_format()?;
    let mut limits = Limits::no_limits();
    limits.max_alloc = Some(UNPACKED_BYTES);
    reader.limits(limits);
    let mut decoder = reader.into_decoder()?;
    let (width, height) = decoder.dimensions();
    if width.max(height) <= LONGER_SIDE {
        return Ok(None);
    }
    let found = decoder.total_bytes();
    if found > UNPACKED_BYTES {
        return Err(PhotoError::TooLarge { found });
    }
    let turn = decoder.orientation()?;
    let in_colour = matches!(decoder.color_type(), ColorType::Rgb8 | ColorType::Rgba8);
    // A profile of other elements than red, green and blue does not fit the copy.
    let colours = decoder.icc_profile()?.filter(|profile| in_colour && !profile.is_empty());
    let mut copy = DynamicImage::from_decoder(decoder)?.thumbnail(LONGER_SIDE, LONGER_SIDE);
    copy.apply_orientation(turn);
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, QUALITY);
    if let Some(colours) = colours {
        // Without it the colours are a little off, and nothing else is.
        encoder.set_icc_profile(colours).ok();
    }
    copy.to_rgb8().write_with_encoder(encoder)?;
    Ok(Some(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{ImageFormat, Rgb, RgbImage};

    /// A photograph whose left half is red and whose right half is blue.
    fn photograph(width: u32, height: u32, format: ImageFormat) -> Vec<u8> {
        let halves =
            |x: u32, _| if x < width / 2 { Rgb([200, 20, 20]) } else { Rgb([20, 20, 200]) };
        let mut bytes = Cursor::new(Vec::new());
        RgbImage::from_fn(width, height, halves).write_to(&mut bytes, format).unwrap();
        bytes.into_inner()
    }

    #[test]
    fn a_large_photograph_is_printed_smaller_and_the_same_each_time() {
        for format in [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP] {
            let photo = photograph(1500, 1000, format);
            let copy = smaller(&photo).unwrap().unwrap();
            assert_eq!(smaller(&photo).unwrap().unwrap(), copy);
            let copy = image::load_from_memory(&copy).unwrap().to_rgb8();
            assert_eq!(copy.dimensions(), (1200, 800));
            let [red, _, blue] = copy.get_pixel(300, 400).0;
            assert!(red > 180 && blue < 40, "{format:?}: {red} {blue}");
            let [red, _, blue] = copy.get_pixel(900, 400).0;
            assert!(red < 40 && blue > 180, "{format:?}: {red} {blue}");
        }
    }

    #[test]
    fn one_that_is_turned_is_turned_and_says_no_place() {
        // A camera held upright: tag 0x0112 is 6, a quarter turn to the right.
        let exif =
            b"\xff\xe1\0\x2dExif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\
            \0\0\0\0 48 N 11 E ";
        let photo = photograph(1280, 960, ImageFormat::Jpeg);
        let photo = [&photo[..2], exif.as_slice(), &photo[2..]].concat();
        let copy = smaller(&photo).unwrap().unwrap();
        assert!(!copy.windows(4).any(|it| it == b"48 N" || it == b"Exif"));
        let copy = image::load_from_memory(&copy).unwrap().to_rgb8();
        assert_eq!(copy.dimensions(), (900, 1200));
        let [red, _, blue] = copy.get_pixel(450, 300).0;
        assert!(red > 180 && blue < 40, "its left half is on top: {red} {blue}");
    }

    #[test]
    fn a_small_one_is_printed_as_it_is_and_what_is_none_is_said() {
        assert!(smaller(&photograph(1200, 900, ImageFormat::Png)).unwrap().is_none());
        assert!(matches!(smaller(b"no picture"), Err(PhotoError::Damaged(_))));
        let photo = photograph(1300, 9, ImageFormat::Png);
        assert!(matches!(smaller(&photo[..photo.len() / 2]), Err(PhotoError::Damaged(_))));
        // A head that promises more than is unpacked, and holds nothing.
        let mut head = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        head.extend([20_000_u32, 20_000].iter().flat_map(|side| side.to_be_bytes()));
        head.extend(b"\x08\x02\0\0\0");
        let sum = crc(&head[12..]);
        head.extend(sum.to_be_bytes());
        head.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
        let refused = smaller(&head).unwrap_err().to_string();
        assert!(refused.contains("1200000000 bytes, more than 200000000"), "{refused}");
    }

    /// The sum that ends a chunk of a PNG (RFC 2083, 15, from memory).
    fn crc(bytes: &[u8]) -> u32 {
        !bytes.iter().fold(!0, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| sum >> 1 ^ (0xedb8_8320 * (sum & 1)))
        })
    }
}

//! Numbers and the words that stand in their place.

use crate::MissingCause;

/// Powers of ten that an `f64` holds exactly, as far as they are needed.
const TENS: [f64; 20] = [
    1.0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
    1e17, 1e18, 1e19,
];

/// One in each of eight bytes.
pub(super) const EACH_BYTE: u64 = 0x0101_0101_0101_0101;

/// Digits that an `f64` surely holds exactly as a whole number.
const DIGITS_EXACT: usize = 15;

/// The number that `cell` spells from its first to its last byte.
pub(super) fn number(cell: &[u8], decimal: u8) -> Option<f64> {
    let (value, used) = leading_number(cell, decimal)?;
    (used == cell.len()).then_some(value)
}

/// As [`leading_number`], with at most seven digits before the decimal sign and seven after it, no
/// plus, and some bytes after it: else none. A power of ten is not seen.
#[inline]
pub(super) fn short_number(text: &[u8], decimal: u8) -> Option<(f64, usize)> {
    let negative = *text.first()? == b'-';
    let sign = usize::from(negative);
    let (whole, count) = up_to_seven_digits(text.get(sign..)?)?;
    let (mut size, mut used, mut places) = (f64::from(whole), sign + count, 0);
    if text.get(used) == Some(&decimal) {
        let fraction;
        (fraction, places) = up_to_seven_digits(text.get(used + 1..)?)?;
        // Until it is divided, each step is a whole number below 10^14, and so exact.
        size = (size * TENS[places] + f64::from(fraction)) / TENS[places];
        used += 1 + places;
    }
    (count + places > 0).then_some((if negative { -size } else { size }, used))
}

/// The number of the digits that `text` opens with, and how many they are; none where fewer than
/// eight bytes are left, or all eight are digits. They are looked at together: neighbours are
/// joined to pairs, to fours, to eight (after D. Lemire, "Quickly parsing eight digits", 2018).
#[inline]
fn up_to_seven_digits(text: &[u8]) -> Option<(u32, usize)> {
    const SECOND: u64 = 0x0000_00ff_0000_00ff;
    // The first byte lies lowest. A digit becomes 0 to 9; anything else sets the top bit of its
    // byte in `others`, and may disturb only the bytes after it.
    let values = u64::from_le_bytes(*text.first_chunk()?) ^ (EACH_BYTE * 0x30);
    let others = (values.wrapping_add(EACH_BYTE * (0x80 - 10)) | values) & (EACH_BYTE * 0x80);
    if others == 0 {
        return None;
    }
    let count = others.trailing_zeros() / 8;
    // The last digit comes to the top; zeros lead.
    let digits = values << 8 << (56 - 8 * count);
    let pairs = digits.wrapping_mul(10).wrapping_add(digits >> 8);
    let odd = (pairs & SECOND).wrapping_mul(100 + (1_000_000 << 32));
    let even = ((pairs >> 16) & SECOND).wrapping_mul(1 + (10_000 << 32));
    let number = (odd.wrapping_add(even) >> 32) as u32;
    Some((number, count as usize))
}

/// The number that `text` opens with, correctly rounded, and how many bytes it takes.
pub(super) fn leading_number(text: &[u8], decimal: u8) -> Option<(f64, usize)> {
    let sign = usize::from(matches!(text.first(), Some(b'-' | b'+')));
    let mut mantissa = 0_u64;
    let mut used = text.len();
    let mut point = None;
    for (place, byte) in text.iter().enumerate().skip(sign) {
        let digit = byte.wrapping_sub(b'0');
        if digit <= 9 {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(u64::from(digit));
        } else if *byte == decimal && point.is_none() {
            point = Some(place);
        } else {
            used = place;
            break;
        }
    }
    let places = point.map_or(0, |point| used - point - 1);
    let count = used - sign - usize::from(point.is_some());
    if count == 0 {
        return None;
    }
    if count > DIGITS_EXACT || matches!(text.get(used), Some(b'e' | b'E')) {
        return slow_number(text, decimal, used);
    }
    #[expect(clippy::cast_precision_loss, reason = "15 digits are exact in an f64")]
    let size = mantissa as f64 / TENS[places];
    Some((if text.first() == Some(&b'-') { -size } else { size }, used))
}

/// As [`leading_number`], for many digits and for powers of ten; `mantissa_end` is known.
fn slow_number(text: &[u8], decimal: u8, mantissa_end: usize) -> Option<(f64, usize)> {
    let mut end = mantissa_end;
    if matches!(text.get(end), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(text.get(end + 1), Some(b'-' | b'+')));
        let power = &text[end + 1 + sign..];
        let digits = power.iter().take_while(|byte| byte.is_ascii_digit()).count();
        if digits > 0 {
            end += 1 + sign + digits;
        }
    }
    let unsigned = text[..end].strip_prefix(b"+").unwrap_or(&text[..end]);
    let spelt: Vec<u8> =
        unsigned.iter().map(|byte| if *byte == decimal { b'.' } else { *byte }).collect();
    Some((fast_float2::parse(&spelt).ok()?, end))
}

/// From here on a number is the logger's way to say that the wire is open.
pub(super) const OPEN_CIRCUIT_FROM: f64 = 1e30;

/// What a cell without a number says about the reading, if it is one of the known words.
pub(super) fn missing_word(cell: &[u8]) -> Option<MissingCause> {
    const BLANK: [&str; 11] =
        ["nan", "na", "n/a", "#n/a", "-", "--", "---", "null", "none", "no data", "?"];
    const OPEN: [&str; 14] = [
        "ol",
        "o.l",
        "o.l.",
        "open",
        "overload",
        "over",
        "overrange",
        "over range",
        "inf",
        "+inf",
        "-inf",
        "infinity",
        "burnout",
        "open circuit",
    ];
    let among =
        |words: &[&str]| words.iter().any(|word| cell.eq_ignore_ascii_case(word.as_bytes()));
    if cell.iter().all(|byte| *byte == b'*') || among(&BLANK) {
        return Some(MissingCause::Blank);
    }
    among(&OPEN).then_some(MissingCause::OpenCircuit)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn check(cell: &str, expected: Option<f64>) {
        let found = number(cell.as_bytes(), b'.');
        assert_eq!(found.map(f64::to_bits), expected.map(f64::to_bits), "{cell}");
    }

    #[test]
    fn numbers_are_read_whole_or_not_at_all() {
        check("23.9", Some(23.9));
        check("-0.5", Some(-0.5));
        check("+7", Some(7.0));
        check("5.", Some(5.0));
        check(".5", Some(0.5));
        check("2.54E+01", Some(25.4));
        check("0.0000000000000000E+0", Some(0.0));
        check("123456789012345678901234567890", Some(123_456_789_012_345_680_000_000_000_000.0));
        for text in ["", "-", ".", "e5", "1e", "1.2.3", "1,5", "0x10", "1 2", "--1", "1_0"] {
            check(text, None);
        }
        assert_eq!(number(b"3,906250E-5", b','), Some(3.906_25e-5));
    }

    #[test]
    fn words_for_nothing_and_for_an_open_wire_are_known() {
        assert_eq!(missing_word(b"NaN"), Some(MissingCause::Blank));
        assert_eq!(missing_word(b""), Some(MissingCause::Blank));
        assert_eq!(missing_word(b"*****"), Some(MissingCause::Blank));
        assert_eq!(missing_word(b"OL"), Some(MissingCause::OpenCircuit));
        assert_eq!(missing_word(b"LOST"), None);
    }

    proptest! {
        #[test]
        fn every_number_is_rounded_as_the_standard_library_does(value in proptest::num::f64::NORMAL) {
            for text in [format!("{value}"), format!("{value:e}"), format!("{value:.3}")] {
                check(&text, Some(text.parse().unwrap()));
            }
        }

        #[test]
        fn digits_together_give_what_one_after_the_other_gives(
            text in r"[-+]?[0-9]{0,9}[.,]?[0-9]{0,9}([-+eE.,; 0-9\r\n/:]|é|\PC){0,3}",
        ) {
            let padded = [text.as_bytes(), &[b'\n'; 16]].concat();
            for text in [text.as_bytes(), &padded] {
                for decimal in [b'.', b','] {
                    let bits = |it: Option<(f64, usize)>| it.map(|it| (it.0.to_bits(), it.1));
                    let together = bits(short_number(text, decimal));
                    let in_turn = bits(leading_number(text, decimal));
                    let power = |used: usize| matches!(text.get(used), Some(b'e' | b'E'));
                    if together.is_some_and(|(_, used)| !power(used)) {
                        prop_assert_eq!(together, in_turn);
                    }
                }
            }
        }
    }
}

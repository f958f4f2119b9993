//! What registers hold.

use reading::MissingCause;

use crate::settings::{Number, RegisterChannel};
use crate::source::Value;

/// The number in the words of a channel, which are as many as [`Number::words`] asks.
fn number(channel: &RegisterChannel, words: &[u16]) -> f64 {
    let swapped = |word: &u16| {
        let word = if channel.byte_order.is_high_first() { *word } else { word.swap_bytes() };
        u32::from(word)
    };
    let mut words: Vec<u32> = words.iter().map(swapped).collect();
    if !channel.word_order.is_high_first() {
        words.reverse();
    }
    let bits = words.iter().fold(0_u32, |bits, word| (bits << 16) | word);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_possible_wrap,
        reason = "the bits are read as the device's manual says they are meant"
    )]
    match channel.number {
        Number::I16 => f64::from(bits as u16 as i16),
        Number::I32 => f64::from(bits as i32),
        Number::U16 | Number::U32 => f64::from(bits),
        Number::F32 => f64::from(f32::from_bits(bits)),
    }
}

/// What a channel's words show.
///
/// # Errors
///
/// The number, where it lies below absolute zero.
pub(super) fn value(channel: &RegisterChannel, words: &[u16]) -> Result<Value, f64> {
    let number = number(channel, words);
    if number.is_nan() {
        return Ok(Value::Missing(MissingCause::Blank));
    }
    let open = |code: &f64| code.to_bits() == number.to_bits();
    if number.is_infinite() || channel.open_circuit.iter().any(open) {
        return Ok(Value::Missing(MissingCause::OpenCircuit));
    }
    let scaled = scaled(number, channel.scale);
    channel.unit.temperature(scaled).map(Value::Temperature).ok_or(scaled)
}

/// `number` times `scale`; where the scale is a decimal such as 0.1, the nearest to the decimal
/// number that is meant: 237 tenths are 23.7 and not a hair off it.
fn scaled(number: f64, scale: f64) -> f64 {
    let parts = (1.0 / scale).round();
    if (parts * scale - 1.0).abs() < 1e-12 { number / parts } else { number * scale }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::{Order, Table, Unit};

    fn channel(number: Number) -> RegisterChannel {
        RegisterChannel {
            name: "Block".to_owned(),
            table: Table::Input,
            register: 0,
            number,
            scale: 1.0,
            word_order: Order::HighFirst,
            byte_order: Order::HighFirst,
            unit: Unit::C,
            open_circuit: Vec::new(),
        }
    }

    fn celsius(channel: &RegisterChannel, words: &[u16]) -> Option<f64> {
        match value(channel, words) {
            Ok(Value::Temperature(found)) => Some(found.celsius()),
            Ok(Value::Missing(_)) | Err(_) => None,
        }
    }

    /// The words of 123456 and of 25.5 as IEEE 754 and two's complement have them, worked by hand.
    #[test]
    fn numbers_are_read_in_every_type_and_order() {
        let check = |channel: &RegisterChannel, words: &[u16], expected: f64| {
            assert_eq!(celsius(channel, words).map(f64::to_bits), Some(expected.to_bits()));
        };
        check(&channel(Number::U16), &[65000], 65000.0);
        check(&channel(Number::I16), &[0xFF9C], -100.0);
        check(&channel(Number::I32), &[0x0001, 0xE240], 123_456.0);
        check(&channel(Number::I32), &[0xFFFF, 0xFF9C], -100.0);
        check(&channel(Number::U32), &[0x0001, 0xE240], 123_456.0);
        check(&channel(Number::F32), &[0x41CC, 0x0000], 25.5);
        let low_word = RegisterChannel { word_order: Order::LowFirst, ..channel(Number::F32) };
        check(&low_word, &[0x0000, 0x41CC], 25.5);
        let low_byte = RegisterChannel { byte_order: Order::LowFirst, ..channel(Number::F32) };
        check(&low_byte, &[0xCC41, 0x0000], 25.5);
        let both = RegisterChannel { byte_order: Order::LowFirst, ..low_word };
        check(&both, &[0x0000, 0xCC41], 25.5);
        check(&RegisterChannel { scale: 0.1, ..channel(Number::I16) }, &[237], 23.7);
        check(&RegisterChannel { scale: 2.5, ..channel(Number::I16) }, &[10], 25.0);
        let kelvin = RegisterChannel { scale: 0.01, unit: Unit::K, ..channel(Number::U16) };
        check(&kelvin, &[29615], 296.15 - 273.15);
    }

    #[test]
    fn a_code_and_no_number_are_no_temperature() {
        let open = Ok(Value::Missing(MissingCause::OpenCircuit));
        let coded =
            RegisterChannel { open_circuit: vec![32767.0], scale: 0.1, ..channel(Number::I16) };
        assert_eq!(value(&coded, &[32767]), open);
        assert_eq!(celsius(&coded, &[32766]), Some(3276.6));
        assert_eq!(value(&channel(Number::F32), &[0x7F80, 0]), open);
        let blank = Ok(Value::Missing(MissingCause::Blank));
        assert_eq!(value(&channel(Number::F32), &[0x7FC0, 0]), blank);
        assert_eq!(value(&channel(Number::I16), &[0x8000]), Err(-32768.0));
    }
}

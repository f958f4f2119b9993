//! Which characters can be printed. An archived PDF may not hold a character without its glyph.

use std::sync::LazyLock;

use serde_json::Value;
use typst::text::Font;

use super::world::FONTS;

/// The faces that text is set in: a character is printable when each of them holds it.
static FACES: LazyLock<Vec<Font>> = LazyLock::new(|| {
    let book = FONTS.book();
    let faces = (0..).map_while(|index| book.info(index).map(|info| (index, info)));
    faces
        .filter(|(_, info)| info.family == "Libertinus Serif")
        .filter_map(|(index, _)| FONTS.font(index))
        .collect()
});

/// `data` with every character that cannot be printed replaced by its code in square brackets,
/// and how many there were.
pub(super) fn printable(data: Value) -> (Value, usize) {
    let mut replaced = 0;
    let data = walk(data, &mut replaced);
    (data, replaced)
}

fn walk(data: Value, replaced: &mut usize) -> Value {
    match data {
        Value::String(text) => Value::String(shown(&text, replaced)),
        Value::Array(items) => {
            Value::Array(items.into_iter().map(|item| walk(item, replaced)).collect())
        }
        Value::Object(members) => Value::Object(
            members.into_iter().map(|(key, item)| (key, walk(item, replaced))).collect(),
        ),
        Value::Null | Value::Bool(_) | Value::Number(_) => data,
    }
}

fn shown(text: &str, replaced: &mut usize) -> String {
    if text.bytes().all(|byte| byte == b'\n' || (b' '..0x7f).contains(&byte)) {
        return text.to_owned();
    }
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if holds(character) {
            out.push(character);
        } else {
            *replaced += 1;
            out.push_str(&format!("[U+{:04X}]", u32::from(character)));
        }
    }
    out
}

/// Is there a glyph, and does the character mean what it looks like? Signs that steer the order
/// of writing are shown as codes too: they could turn a word round.
fn holds(character: char) -> bool {
    let steers = matches!(
        u32::from(character),
        0x200b..=0x200f | 0x2028..=0x202e | 0x2060..=0x206f | 0xfeff | 0xe000..=0xf8ff | 0xad
    );
    let plain = character == '\n' || !character.is_control();
    plain && !steers && FACES.iter().all(|face| character == '\n' || has(face, character))
}

fn has(face: &Font, character: char) -> bool {
    face.info().coverage.contains(u32::from(character))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, expected: &str) {
        let (shown, _) = printable(Value::String(text.into()));
        assert_eq!(shown, Value::String(expected.into()));
    }

    #[test]
    fn greek_and_cyrillic_are_printed_as_they_are() {
        check("Πλάκα · Плата · Zürich ± 0.5 °C ≤ −3", "Πλάκα · Плата · Zürich ± 0.5 °C ≤ −3");
    }

    #[test]
    fn a_character_without_a_glyph_is_printed_as_its_code() {
        check("板 A", "[U+677F] A");
        check("\u{1f525}", "[U+1F525]");
    }

    #[test]
    fn a_character_that_turns_text_round_is_printed_as_its_code() {
        check("a\u{202e}b", "a[U+202E]b");
        check("a\u{0}b", "a[U+0000]b");
    }
}

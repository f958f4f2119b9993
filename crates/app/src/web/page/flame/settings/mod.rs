//! The settings of an instrument as fields of a page: each with what it begins with, each fault
//! named at its field. They come to the same text that `read live` takes.

mod table;

use acquisition::{SettingsError, SourceSettings};
use maud::{Markup, html};

use crate::form::fields::{Answer, Field, Filled as Form, Typed, Wrong};
use crate::form::number::{self, Kind as NumberKind};
use table::{CHANNEL, Group, Kind, PLAIN, Setting, all, groups};

/// The field that says where an instrument is.
pub(super) fn place(kind: &str) -> &'static str {
    if kind.starts_with("serial") || kind == "modbus-rtu" { "path" } else { "address" }
}

/// Offers each setting as it was the last time, or as it begins.
pub(super) fn offer(typed: &mut Typed, last: &[(String, String)]) {
    for setting in all(typed.text("source")) {
        let last = last.iter().find(|(name, _)| name == setting.name);
        typed.put(setting.name, last.map_or(setting.begins, |(_, text)| text));
    }
}

/// What was typed into the settings of a kind, to be offered again.
pub(super) fn kept(typed: &Typed) -> Vec<(String, String)> {
    let text = |setting: &Setting| (setting.name.to_owned(), typed.text(setting.name).to_owned());
    all(typed.text("source")).map(text).collect()
}

/// The settings as they were typed.
///
/// # Errors
///
/// What is wrong, at its field.
pub(super) fn read(typed: &Typed) -> Result<SourceSettings, Vec<Wrong>> {
    let kind = typed.text("source");
    let mut lines = vec![(None, format!("source = {}", quoted(kind)))];
    let mut wrong = Vec::new();
    for table in ["", "port", "line", "[channel]"] {
        let inside: Vec<&Setting> = all(kind).filter(|setting| setting.table == table).collect();
        if !table.is_empty() && !inside.is_empty() {
            lines.push((None, format!("[{table}]")));
        }
        if table == "[channel]" {
            lines.push((None, format!("name = {}", quoted(CHANNEL))));
        }
        for setting in inside {
            match setting.written(typed.text(setting.name)) {
                Ok(None) => {}
                Ok(Some(value)) => {
                    lines.push((Some(setting), format!("{} = {value}", setting.name)));
                }
                Err(words) => wrong.push(Wrong::new(setting.name, words)),
            }
        }
    }
    if !wrong.is_empty() {
        return Err(wrong);
    }
    let text: String = lines.iter().map(|(_, line)| format!("{line}\n")).collect();
    SourceSettings::from_toml(&text).map_err(|error| vec![named(&error, &lines, typed)])
}

/// What the settings are refused for, at the field it lies in.
fn named(error: &SettingsError, lines: &[(Option<&Setting>, String)], typed: &Typed) -> Wrong {
    let named =
        |name: &str| lines.iter().filter_map(|it| it.0).find(|setting| setting.name == name);
    let (setting, words) = match error {
        SettingsError::Outside { name, found, least, most, unit } => (
            named(name),
            format!("is {found}{unit}. Type a number from {least}{unit} to {most}{unit}."),
        ),
        SettingsError::Value { name, found, because } => {
            (named(name), format!("is `{found}`: {because}."))
        }
        SettingsError::Form { line, .. } => {
            let setting = lines.get(line.saturating_sub(1)).and_then(|it| it.0);
            let found = setting.map_or("", |setting| typed.text(setting.name));
            (setting, format!("cannot be `{found}`. Look it up in the instrument's manual."))
        }
        SettingsError::Channels { .. } | SettingsError::Name { .. } => (None, error.to_string()),
    };
    let field = setting.map_or(place(typed.text("source")), |setting| setting.name);
    Wrong::new(field, format!("{} {words}", setting.map_or("It", Setting::called)))
}

impl Setting {
    /// What it is called in a sentence.
    fn called(&self) -> &'static str {
        self.label.trim_end_matches(" (optional)").trim_end_matches('?')
    }

    /// Its value as the text has it; none where it is left out.
    fn written(&self, typed: &str) -> Result<Option<String>, String> {
        let number = |text: &str, kind: &NumberKind| {
            number::read(text, kind).map_err(|fault| fault.words(self.called(), text, kind))
        };
        match self.kind {
            Kind::MayBeWords | Kind::MayBe(_) | Kind::Numbers if typed.is_empty() => Ok(None),
            Kind::Words if typed.is_empty() => {
                Err(format!("{}: nothing is typed. {}", self.called(), self.hint))
            }
            Kind::Words | Kind::MayBeWords => Ok(Some(quoted(typed))),
            Kind::Number(kind) | Kind::MayBe(kind) => {
                number(typed, kind).map(|found| Some(format!("{:?}", found.value())))
            }
            Kind::Whole => {
                let found = number(typed, &PLAIN)?.to_string();
                if found.contains('.') {
                    return Err(format!("{} is {found}. Type a whole number.", self.called()));
                }
                Ok(Some(found))
            }
            Kind::Numbers => {
                let each = typed.split([' ', ';']).filter(|text| !text.is_empty());
                let found: Result<Vec<String>, String> = each
                    .map(|text| number(text, &PLAIN).map(|it| format!("{:?}", it.value())))
                    .collect();
                Ok(Some(format!("[{}]", found?.join(", "))))
            }
            Kind::Choice(answers) if answers.iter().any(|(value, _)| *value == typed) => {
                let bare = typed.bytes().all(|letter| letter.is_ascii_digit());
                Ok(Some(if bare { typed.to_owned() } else { quoted(typed) }))
            }
            Kind::Choice(_) => Err(format!("{}: choose one.", self.called())),
        }
    }

    fn field(&self, form: Form<'_>, hint: &str) -> Markup {
        let field = Field { name: self.name, label: self.label, hint };
        match self.kind {
            Kind::Words | Kind::MayBeWords | Kind::Numbers => form.line(field),
            Kind::Whole | Kind::Number(_) | Kind::MayBe(_) => form.number(field),
            Kind::Choice(answers) => {
                let answers = answers
                    .iter()
                    .map(|(value, label)| Answer { value, label: (*label).to_owned() });
                form.pick(field, &answers.collect::<Vec<_>>())
            }
        }
    }
}

/// Text as it is written between quotation marks.
fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

/// The fields of a kind of instrument.
pub(super) fn fields(form: Form<'_>) -> Markup {
    let kind = form.typed.text("source");
    html! {
        @for group in groups(kind) {
            @if group.folded {
                details open[differs(group, form)] {
                    summary { (group.heading) }
                    (inside(group, form))
                }
            } @else {
                h2 { (group.heading) }
                (inside(group, form))
            }
        }
    }
}

fn inside(group: &Group, form: Form<'_>) -> Markup {
    html! {
        @for setting in group.settings {
            @if setting.name == "path" { (setting.field(form, &ports(setting.hint))) }
            @else { (setting.field(form, setting.hint)) }
        }
    }
}

/// What helps to name a port: those that are there.
fn ports(hint: &str) -> String {
    let there = acquisition::port::serial_ports();
    if there.is_empty() {
        return format!("The server sees no serial port now. {hint}");
    }
    format!("The server sees {there}. {hint}")
}

/// Whether a folded group must be open: something in it is wrong, or not as it begins.
fn differs(group: &Group, form: Form<'_>) -> bool {
    group.settings.iter().any(|setting| {
        form.typed.text(setting.name) != setting.begins
            || form.wrong.iter().any(|wrong| wrong.field == setting.name)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const INSTRUMENTS: [&str; 4] = ["serial-lines", "tcp-lines", "modbus-rtu", "modbus-tcp"];

    /// The settings as a page begins with them, but for those told.
    fn typed(kind: &str, others: &[(&str, &str)]) -> Typed {
        let mut typed = Typed::default();
        typed.put("source", kind);
        offer(&mut typed, &[]);
        if place(kind) == "address" {
            typed.put("address", "192.168.1.20:502");
        }
        for (name, text) in others {
            typed.put(name, *text);
        }
        typed
    }

    #[test]
    fn what_is_offered_can_be_read_and_is_offered_again() {
        for kind in INSTRUMENTS {
            let typed = typed(kind, &[]);
            assert!(read(&typed).is_ok(), "{kind}: {:?}", read(&typed));
            let mut again = Typed::default();
            again.put("source", kind);
            offer(&mut again, &kept(&typed));
            assert_eq!(read(&again), read(&typed), "{kind}");
        }
    }

    #[test]
    fn what_is_typed_is_what_the_text_says() {
        let others = [
            ("baud", "19200"),
            ("parity", "even"),
            ("scale", "0,01"),
            ("open_circuit", "32767; -32768"),
            ("word_order", "low-first"),
            ("silence_seconds", "2 s"),
            ("path", "/dev/\"odd\""),
        ];
        let text = "source = \"modbus-rtu\"\nunit_number = 1\ninterval_seconds = 0.1\n\
            silence_seconds = 2.0\n[port]\npath = '/dev/\"odd\"'\nbaud = 19200\nparity = \"even\"\n\
            [[channel]]\nname = \"Block\"\ntable = \"input\"\nregister = 0\nnumber = \"i16\"\n\
            scale = 0.01\nunit = \"C\"\nopen_circuit = [32767.0, -32768.0]\n\
            word_order = \"low-first\"\n";
        let expected = SourceSettings::from_toml(text).unwrap();
        assert_eq!(read(&typed("modbus-rtu", &others)), Ok(expected));
    }

    #[test]
    fn each_fault_is_named_at_its_field() {
        for (kind, field, text, said) in [
            ("serial-lines", "path", "", "Port of the server: nothing is typed."),
            ("serial-lines", "baud", "fast", "Baud rate: `fast` is no number."),
            ("serial-lines", "baud", "20", "Baud rate is 20. Type a number from 50 to 4000000."),
            ("serial-lines", "baud", "9600.5", "Baud rate is 9600.5. Type a whole number."),
            ("serial-lines", "parity", "mark", "Parity: choose one."),
            ("serial-lines", "column", "0", "Cell of a line that is the block is 0."),
            ("serial-lines", "open_circuit", "1372 OL", "`OL` is no number. Type one."),
            ("tcp-lines", "address", "here", "is `here`: a host and a port are asked"),
            ("tcp-lines", "interval_seconds", "", ": type a number from 0 to"),
            ("tcp-lines", "silence_seconds", "0.01", "is 0.01 s. Type a number from 0.1 s"),
            ("modbus-tcp", "register", "70000", "Register of the block cannot be `70000`."),
            ("modbus-tcp", "unit_number", "300", "cannot be `300`."),
            ("modbus-rtu", "unit_number", "250", "is 250. Type a number from 1 to 247."),
            ("modbus-tcp", "scale", "1.234", "can be read as 1234"),
            ("modbus-tcp", "answer_within_seconds", "11", "is 11 s."),
        ] {
            let wrong = read(&typed(kind, &[(field, text)])).unwrap_err();
            assert_eq!(wrong.len(), 1, "{field}: {wrong:?}");
            assert_eq!(wrong[0].field, field, "{wrong:?}");
            assert!(wrong[0].words.contains(said), "`{}` does not say `{said}`", wrong[0].words);
        }
    }
}

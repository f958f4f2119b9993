//! Why settings cannot be used, and checks that several kinds share.

use thiserror::Error;

/// Why settings cannot be used.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum SettingsError {
    /// They are not written as such settings are.
    #[error("line {line} of the settings: {what}")]
    Form {
        /// The line, counted from 1.
        line: usize,
        /// What is wrong there.
        what: String,
    },
    /// A number lies outside of its limits.
    #[error("{name} is {found}{unit}; it lies between {least}{unit} and {most}{unit}")]
    Outside {
        /// Which.
        name: &'static str,
        /// The number found.
        found: f64,
        /// The least that can be.
        least: f64,
        /// The most that can be.
        most: f64,
        /// Their unit, with the blank before it.
        unit: &'static str,
    },
    /// There is no channel, or there are too many.
    #[error("there are {found} channels; there can be 1 to {CHANNELS_MOST}")]
    Channels {
        /// How many there are.
        found: usize,
    },
    /// A channel's name cannot stand at the head of a column.
    #[error("the channel name {name:?} {because}")]
    Name {
        /// The name.
        name: String,
        /// What is in the way.
        because: &'static str,
    },
    /// A value cannot be meant.
    #[error("{name} is {found:?}: {because}")]
    Value {
        /// Which.
        name: &'static str,
        /// What is there.
        found: String,
        /// What is asked.
        because: &'static str,
    },
}

/// The most channels that one source has.
const CHANNELS_MOST: usize = 64;

/// The most letters in the name of one.
const NAME_LETTERS_MOST: usize = 40;

impl SettingsError {
    pub(super) fn form(text: &str, error: &toml::de::Error) -> Self {
        let before = error.span().and_then(|span| text.get(..span.start)).unwrap_or_default();
        Self::Form { line: before.matches('\n').count() + 1, what: error.message().to_owned() }
    }

    /// The way out, in the imperative.
    #[must_use]
    pub const fn hint(&self) -> &'static str {
        match self {
            Self::Form { .. } => "Write the settings as the manual's page on sources shows them.",
            Self::Outside { .. } | Self::Value { .. } => "Change the value in the settings.",
            Self::Channels { .. } => "Write one `[[channel]]` for each thermocouple.",
            Self::Name { .. } => "Give each channel a short name of its own, such as `Block`.",
        }
    }
}

/// Refuses a number outside of its limits.
pub(super) fn within(
    name: &'static str,
    found: f64,
    (least, most): (f64, f64),
    unit: &'static str,
) -> Result<(), SettingsError> {
    if (least..=most).contains(&found) {
        return Ok(());
    }
    Err(SettingsError::Outside { name, found, least, most, unit })
}

/// Refuses names that cannot stand over the columns of a recording.
pub(super) fn check_names<'a>(
    names: impl ExactSizeIterator<Item = &'a String>,
) -> Result<(), SettingsError> {
    if !(1..=CHANNELS_MOST).contains(&names.len()) {
        return Err(SettingsError::Channels { found: names.len() });
    }
    let mut seen: Vec<&str> = Vec::new();
    for name in names {
        let because = if name.trim().is_empty() {
            "is empty"
        } else if name.chars().count() > NAME_LETTERS_MOST {
            "is longer than 40 letters"
        } else if name.contains(|letter: char| letter.is_control() || letter == '"') {
            "holds a quotation mark or a character that is not printed"
        } else if seen.contains(&name.as_str()) {
            "stands twice"
        } else {
            seen.push(name);
            continue;
        };
        return Err(SettingsError::Name { name: name.clone(), because });
    }
    Ok(())
}

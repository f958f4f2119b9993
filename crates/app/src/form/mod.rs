//! Forms that people fill in: TOML files and command-line texts, to the values of the stages.

pub(crate) mod fields;
pub(crate) mod number;
pub(crate) mod equipment;
pub(crate) mod written;
pub(crate) mod plan;
pub(crate) mod plan_answers;
pub(crate) mod run;
pub(crate) mod pressed;
pub(crate) mod run_answers;
pub(crate) mod amend;

use std::path::Path;

use serde::de::DeserializeOwned;

use crate::problem::Problem;

/// Reads a filled-in form.
///
/// # Errors
///
/// [`Problem`] that names the file, the line and the column, and what to write there.
pub(crate) fn fill<F: DeserializeOwned>(file: &Path, template: &str) -> Result<F, Problem> {
    let text = crate::input::text(file)?;
    of_text(&text, &file.display().to_string(), template)
}

/// Reads a form from its text; `name` is how the file is called in an error.
pub(crate) fn of_text<F: DeserializeOwned>(
    text: &str,
    name: &str,
    template: &str,
) -> Result<F, Problem> {
    toml::from_str(text).map_err(|error: toml::de::Error| {
        let before = &text[..error.span().map_or(0, |span| span.start).min(text.len())];
        let line = before.matches('\n').count() + 1;
        let column = before.chars().rev().take_while(|&letter| letter != '\n').count() + 1;
        Problem::used_wrongly(format!("{name}:{line}:{column}: {}", error.message().trim_end()))
            .hint(format!("Run `cinderbook {template}` for a form with every line explained."))
    })
}

//! A command line that cannot be understood, said in our words.
#![expect(clippy::wildcard_enum_match_arm, reason = "clap keeps its enums open")]

use std::ffi::OsString;

use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::output::{Chatter, Colour, Form, Output};
use crate::problem::{Exit, Problem};

/// Answers what clap could not parse, or was asked to show.
pub(super) fn answer(error: &clap::Error, arguments: &[OsString]) -> Exit {
    let json = arguments.iter().any(|argument| argument == "--json");
    let form = if json { Form::Json } else { Form::Text };
    let mut output = Output::new(Chatter::Full, form, Colour::WhereSeen);
    let exit = match error.kind() {
        ErrorKind::DisplayHelp | ErrorKind::DisplayVersion => {
            output.value(&error.render().to_string());
            Exit::Good
        }
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            output.word(error.render().to_string().trim_end());
            Exit::UsedWrongly
        }
        _ => super::tell(&mut output, &problem(error, arguments)),
    };
    output.end(exit)
}

fn problem(error: &clap::Error, arguments: &[OsString]) -> Problem {
    let about = |kind| error.get(kind).map(words).filter(|words| !words.is_empty());
    let argument = about(ContextKind::InvalidArg).unwrap_or_default();
    let value = about(ContextKind::InvalidValue).unwrap_or_default();
    let text = match error.kind() {
        ErrorKind::UnknownArgument if argument.starts_with('-') => {
            format!("there is no option `{argument}` here")
        }
        ErrorKind::UnknownArgument => format!("there is no place for `{argument}` here"),
        ErrorKind::InvalidSubcommand => format!(
            "there is no command `{}`",
            about(ContextKind::InvalidSubcommand).unwrap_or_default()
        ),
        ErrorKind::InvalidValue if value.is_empty() => format!("`{argument}` has no value"),
        ErrorKind::InvalidValue => match about(ContextKind::ValidValue) {
            Some(choices) => format!("`{value}` is none of the choices of `{argument}`: {choices}"),
            None => format!("`{value}` is no value for `{argument}`"),
        },
        ErrorKind::ValueValidation => {
            let reason = std::error::Error::source(error).map(ToString::to_string);
            format!("`{value}` is no value for `{argument}`: {}", reason.unwrap_or_default())
        }
        ErrorKind::MissingRequiredArgument => format!("the command needs {argument}"),
        ErrorKind::ArgumentConflict => format!(
            "`{argument}` cannot be used with `{}`",
            about(ContextKind::PriorArg).unwrap_or_default()
        ),
        _ => first_line(error),
    };
    Problem::used_wrongly(text).hint(hint(error, arguments))
}

/// The nearest thing that exists, and where the help is.
fn hint(error: &clap::Error, arguments: &[OsString]) -> String {
    let nearest =
        [ContextKind::SuggestedSubcommand, ContextKind::SuggestedArg, ContextKind::SuggestedValue];
    let nearest = nearest.into_iter().find_map(|kind| error.get(kind)).map(words);
    let nearest = nearest.map_or_else(String::new, |word| format!("Did you mean `{word}`? "));
    format!("{nearest}Run `cinderbook{} --help` for what there is.", commands(arguments))
}

/// The commands among `arguments`, each with a blank before it: ` read trace`.
fn commands(arguments: &[OsString]) -> String {
    let mut level = <super::Cli as clap::CommandFactory>::command();
    let mut path = String::new();
    for argument in arguments.iter().skip(1).filter_map(|argument| argument.to_str()) {
        let Some(below) = level.find_subcommand(argument) else { continue };
        path = format!("{path} {argument}");
        level = below.clone();
    }
    path
}

fn words(value: &ContextValue) -> String {
    match value {
        ContextValue::String(word) => word.clone(),
        ContextValue::Strings(words) => words.join(", "),
        other => other.to_string(),
    }
}

fn first_line(error: &clap::Error) -> String {
    let text = error.render().to_string();
    let line = text.lines().next().unwrap_or_default();
    line.trim_start_matches("error: ").to_owned()
}

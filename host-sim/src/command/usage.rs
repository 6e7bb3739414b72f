//! A command line that cannot be read, told in the layout of every other failure.
//!
//! Has words for what is easily mistyped. Help, the version and whatever is left are told as the
//! parser tells them.

use crate::files::failure_text;
use clap::error::{ContextKind, ContextValue, ErrorKind};
use clap::{Command, Error};
use std::error::Error as _;
use std::num::{IntErrorKind, ParseFloatError, ParseIntError};

/// What, where, what was expected and what to do next; `None` for what the parser tells itself. `typed`
/// is the line without the program's name.
pub(super) fn failure(
    error: &Error,
    program: Command,
    typed: impl Iterator<Item = String>,
) -> Option<String> {
    let place = words(error, ContextKind::InvalidArg, ", ")
        .or_else(|| words(error, ContextKind::InvalidSubcommand, ", "))?;
    let (what, expected) = wrong(error, &place)?;
    let more = format!("{} --help tells what there is", named(program, typed));
    let next = match perhaps(error) {
        Some(perhaps) => format!("perhaps {perhaps} was meant; {more}"),
        None => more,
    };
    Some(failure_text(&what, &place, &expected, &next))
}

/// What is wrong at a place, and what was expected there.
fn wrong(error: &Error, place: &str) -> Option<(String, String)> {
    let value = words(error, ContextKind::InvalidValue, ", ").unwrap_or_default();
    Some(match error.kind() {
        ErrorKind::InvalidValue if value.is_empty() => {
            (format!("{place} has no value"), suitable(error))
        }
        ErrorKind::InvalidValue | ErrorKind::ValueValidation => {
            (format!("\"{value}\" does not suit {place}"), suitable(error))
        }
        ErrorKind::TooManyValues => (format!("\"{value}\" is too much for {place}"), usage(error)),
        ErrorKind::UnknownArgument => (format!("nothing here takes \"{place}\""), usage(error)),
        ErrorKind::MissingRequiredArgument => ("something is missing".to_owned(), usage(error)),
        ErrorKind::InvalidSubcommand => (format!("there is no command \"{place}\""), usage(error)),
        ErrorKind::ArgumentConflict if words(error, ContextKind::PriorArg, ", ")? == place => {
            (format!("{place} is there twice"), "it once".to_owned())
        }
        _ => return None,
    })
}

/// What goes where, in one line.
fn usage(error: &Error) -> String {
    let usage = words(error, ContextKind::Usage, "").unwrap_or_default();
    usage.trim_start_matches("Usage:").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The command that was named, in full.
fn named(mut command: Command, typed: impl Iterator<Item = String>) -> String {
    let mut name = command.get_name().to_owned();
    for word in typed {
        if let Some(named) = command.find_subcommand(&word).cloned() {
            command = named;
            name = format!("{name} {}", command.get_name());
        }
    }
    name
}

/// What the parser says of one side of it, in one line; `between` parts what it says several of.
fn words(error: &Error, kind: ContextKind, between: &str) -> Option<String> {
    match error.get(kind)? {
        ContextValue::String(one) => Some(one.clone()),
        ContextValue::Strings(some) if some.is_empty() => None,
        ContextValue::Strings(some) => Some(some.join(between)),
        ContextValue::StyledStr(one) => Some(one.to_string()),
        _ => None,
    }
}

/// Something that is spelt nearly so.
fn perhaps(error: &Error) -> Option<String> {
    let kinds =
        [ContextKind::SuggestedArg, ContextKind::SuggestedSubcommand, ContextKind::SuggestedValue];
    kinds.into_iter().find_map(|kind| words(error, kind, " or "))
}

/// Values that would do.
fn suitable(error: &Error) -> String {
    if let Some(listed) = words(error, ContextKind::ValidValue, " or ") {
        return listed;
    }
    let Some(source) = error.source() else { return "a value after it".to_owned() };
    if let Some(source) = source.downcast_ref::<ParseIntError>() {
        let too_large = *source.kind() == IntErrorKind::PosOverflow;
        return if too_large { "a smaller number" } else { "a whole number, not below 0" }
            .to_owned();
    }
    if source.is::<ParseFloatError>() {
        return "a number".to_owned();
    }
    let source = source.to_string();
    let range = source.split_once(" is not in ").and_then(|(_, range)| range.split_once("..="));
    match range {
        Some((least, most)) => format!("a number from {least} to {most}"),
        None => source,
    }
}

//! Says in plain words where a document is not TOML.

use std::collections::HashSet;
use std::ops::Range;

use toml::de::Error;

use super::wording::quoted;
use crate::show::Fault;

/// Faults told of a document that is not TOML: the first is what matters.
const MOST: usize = 100;

/// One fault for each line that cannot be read, and those of `values` that stand on other lines.
pub(super) fn explain(text: &str, errors: &[Error], values: Vec<Fault>) -> Vec<Fault> {
    let starts: Vec<usize> = std::iter::once(0)
        .chain(text.match_indices('\n').map(|(i, _)| i + 1))
        .collect();
    let line_of = |byte: usize| starts.partition_point(|start| *start <= byte);
    let mut lines = HashSet::new();
    let mut faults = Vec::new();
    let swallowed = swallowed(errors);
    if let Some(at) = swallowed {
        lines.insert(line_of(at));
        let fault = Fault::error(at..at + 1, "what stands above this is not closed")
            .help("end the list with a ], the table with a }");
        faults.push(fault);
    }
    let readable = |at: usize| swallowed.is_none_or(|from| at < from);
    for error in errors.iter().take(MOST) {
        let at = place(text, error);
        if readable(at.start) && lines.insert(line_of(at.start)) {
            faults.push(fault(text, error.message(), at));
        }
    }
    faults.extend(values.into_iter().filter(|fault| match &fault.at {
        Some(at) => readable(at.start) && !lines.contains(&line_of(at.start)),
        None => true,
    }));
    faults.sort_by_key(|fault| fault.at.as_ref().map_or(usize::MAX, |at| at.start));
    faults
}

/// Where an unclosed bracket begins to swallow what follows it.
fn swallowed(errors: &[Error]) -> Option<usize> {
    let begins = |error: &&Error, with: &str| error.message().starts_with(with);
    errors
        .iter()
        .find(|error| begins(error, "unclosed array,") || begins(error, "unclosed inline table"))?;
    errors
        .iter()
        .filter(|error| begins(error, "missing comma") || begins(error, "unexpected `=` in array"))
        .filter_map(|error| error.span().map(|at| at.start))
        .min()
}

/// Where a fault is seen best: a text that never ends, where it begins.
fn place(text: &str, error: &Error) -> Range<usize> {
    let at = error.span().unwrap_or(0..0);
    let endless = error
        .message()
        .starts_with("invalid multi-line basic string")
        && at.end == text.len();
    match text.rfind("\"\"\"").filter(|_| endless) {
        Some(begin) => begin..begin + 3,
        None => at,
    }
}

fn fault(text: &str, message: &str, at: Range<usize>) -> Fault {
    let written = text.get(at.clone()).unwrap_or_default();
    let (message, help) = if message.starts_with("string values must be quoted") {
        if written.is_empty() {
            (
                "nothing is written here".into(),
                "write a value after the =".into(),
            )
        } else {
            let bare = written.trim_matches(['"', '\'', '“', '”', '„']);
            (
                "a text must stand in quotes".into(),
                format!("write \"{}\"", quoted(bare)),
            )
        }
    } else if message.starts_with("invalid basic string") {
        (
            "this text is not closed on its line".into(),
            "end it with a \"; a text of several lines begins and ends with \"\"\"".into(),
        )
    } else if message.starts_with("invalid multi-line basic string") {
        (
            "this text of several lines is not closed".into(),
            "end it with \"\"\"".into(),
        )
    } else if message.starts_with("invalid boolean") {
        (
            "this is neither true nor false".into(),
            "write true or false, in small letters".into(),
        )
    } else if message.starts_with("missing escaped value") {
        (
            "a backslash inside a text".into(),
            "write \\\\ for a backslash, or put the text between single quotes".into(),
        )
    } else if message.starts_with("duplicate key") {
        (
            format!("`{}` is written twice", quoted(written)),
            "keep one of them; sections that come many times, such as [[figure]], have two brackets"
                .into(),
        )
    } else if message.starts_with("key with no value") {
        (
            "a name must be followed by an = and what it is".into(),
            "write name = \"…\"; a note begins with #".into(),
        )
    } else if message.starts_with("unclosed array,") {
        ("a list is not closed".into(), "end it with a ]".into())
    } else if message.starts_with("unclosed inline table") {
        ("a table is not closed".into(), "end it with a }".into())
    } else if message.starts_with("missing comma") {
        ("a comma is missing before this".into(), String::new())
    } else if message.starts_with("unclosed table") || message.starts_with("unclosed array table") {
        (
            "a section's header is not closed".into(),
            "write [site], or [[figure]] for what comes many times".into(),
        )
    } else if message.contains("recurs") {
        (
            "brackets or dots nested too deeply".into(),
            "no part of a show is nested more than a few deep".into(),
        )
    } else {
        (message.to_owned(), String::new())
    };
    Fault::error(at, message).help(help)
}

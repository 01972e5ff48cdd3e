//! Reads one value: a text, a number, a quantity with its unit, a choice, a time, a list, a table.

use std::ops::{Range, RangeInclusive};
use std::str::FromStr;

use toml::Spanned;
use toml::de::DeValue;

use super::reader::{Faults, MOST_LISTED, Section, too_many};
use super::wording::{quoted, unit_of};
use crate::show::{Fault, Name, TimeExpression};
use crate::units::UnitError;

/// One value and the key it stands at.
#[derive(Clone)]
pub(super) struct Item<'d> {
    pub(super) key: &'d str,
    pub(super) key_at: Range<usize>,
    /// Whether it is an element of the list at the key.
    pub(super) element: bool,
    pub(super) what: &'static str,
    pub(super) value: &'d Spanned<DeValue<'d>>,
    pub(super) faults: &'d Faults,
}

impl<'d> Item<'d> {
    /// Bytes of the value.
    pub(super) fn at(&self) -> Range<usize> {
        self.value.span()
    }

    /// An error at the value, still to be added.
    pub(super) fn fault(&self, message: impl Into<String>) -> Fault {
        Fault::error(self.at(), message)
    }

    /// An error at the key, still to be added.
    pub(super) fn key_fault(&self, message: impl Into<String>) -> Fault {
        Fault::error(self.key_at.clone(), message)
    }

    /// `write height = "500 ft"`, or for an element of a list only what to write in it.
    fn instead(&self, example: &str) -> String {
        if self.element {
            format!("write {example}")
        } else {
            format!("write {} = {example}", self.key)
        }
    }

    fn wrong_type(&self, expected: &str, example: &str) {
        let found = match self.value.get_ref() {
            DeValue::String(_) => "a text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date or time without quotes",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        self.fault(format!(
            "`{}` of {} must be {expected}, not {found}",
            self.key, self.what
        ))
        .help(self.instead(example))
        .add(self.faults);
    }

    /// A text.
    pub(super) fn text(&self) -> Option<&'d str> {
        let text = self.value.get_ref().as_str();
        if text.is_none() {
            self.wrong_type("a text", "\"…\"");
        }
        text
    }

    /// Whether it is just this word.
    pub(super) fn says(&self, word: &str) -> bool {
        self.value.get_ref().as_str() == Some(word)
    }

    /// `true` or `false`.
    pub(super) fn flag(&self) -> Option<bool> {
        let flag = self.value.get_ref().as_bool();
        if flag.is_none() {
            self.wrong_type("true or false", "true");
        }
        flag
    }

    /// A bare number inside `limits`.
    pub(super) fn number(&self, example: &str, limits: RangeInclusive<f64>) -> Option<f64> {
        let Some(number) = bare_number(self.value.get_ref()) else {
            self.wrong_type("a number", example);
            return None;
        };
        if limits.contains(&number) {
            return Some(number);
        }
        self.fault(format!(
            "`{}` of {} must lie between {} and {}",
            self.key,
            self.what,
            limits.start(),
            limits.end()
        ))
        .help(self.instead(example))
        .add(self.faults);
        None
    }

    /// A quantity with its unit, read as `T` reads it.
    pub(super) fn parsed<T: FromStr<Err = UnitError>>(&self, example: &str) -> Option<T> {
        let text = match self.value.get_ref() {
            DeValue::String(text) => text,
            value @ (DeValue::Integer(_) | DeValue::Float(_)) => {
                let (unit, number) = (unit_of(example), bare_number(value));
                let instead = match number.filter(|number| number.is_finite()) {
                    Some(number) if !unit.is_empty() => format!("\"{number} {unit}\""),
                    _ => format!("\"{example}\""),
                };
                let message = if number.is_none_or(|number| !number.is_finite()) {
                    format!("`{}` of {} is not a finite number", self.key, self.what)
                } else if unit.is_empty() {
                    format!("`{}` of {} must be a text", self.key, self.what)
                } else {
                    format!("`{}` of {} needs a unit", self.key, self.what)
                };
                self.fault(message)
                    .help(format!("write {instead}"))
                    .add(self.faults);
                return None;
            }
            DeValue::Datetime(time) => {
                self.fault(format!("`{}` of {} must be a text", self.key, self.what))
                    .help(format!("write it in quotes: \"{time}\""))
                    .add(self.faults);
                return None;
            }
            _ => {
                self.wrong_type("a text", &format!("\"{example}\""));
                return None;
            }
        };
        match text.parse::<T>() {
            Ok(value) => Some(value),
            Err(error) => {
                self.fault(format!("\"{}\" is not {}", quoted(&error.text), error.what))
                    .help(format!("write {}", error.expected))
                    .add(self.faults);
                None
            }
        }
    }

    /// A quantity with its unit, inside `limits`.
    pub(super) fn within<T>(&self, example: &str, limits: RangeInclusive<T>) -> Option<T>
    where
        T: FromStr<Err = UnitError> + PartialOrd + std::fmt::Display,
    {
        let value: T = self.parsed(example)?;
        if limits.contains(&value) {
            return Some(value);
        }
        let written = quoted(self.value.get_ref().as_str().unwrap_or_default());
        let (low, high) = (limits.start(), limits.end());
        let negative = written.trim_start().starts_with(['-', '−']);
        let fault = if value < *low && negative && !low.to_string().starts_with('-') {
            "cannot be negative"
        } else if value < *low {
            "is too little"
        } else {
            "is too much"
        };
        self.fault(format!(
            "`{}` of {} {fault}: \"{written}\"",
            self.key, self.what
        ))
        .help(format!(
            "write something from {low} to {high}, such as \"{example}\""
        ))
        .add(self.faults);
        None
    }

    /// One of a few words.
    pub(super) fn choice<T: Copy>(&self, choices: &[(&'static str, T)]) -> Option<T> {
        let text = self.text()?;
        let chosen = choices.iter().find(|(word, _)| *word == text);
        if chosen.is_none() {
            let words: Vec<String> = choices
                .iter()
                .map(|(word, _)| format!("\"{word}\""))
                .collect();
            self.fault(format!(
                "`{}` of {} cannot be \"{}\"",
                self.key,
                self.what,
                quoted(text)
            ))
            .help(format!("write one of {}", words.join(", ")))
            .add(self.faults);
        }
        chosen.map(|&(_, value)| value)
    }

    /// The name of something.
    pub(super) fn name(&self) -> Option<Name> {
        read_name(self.text()?, self.at(), self.faults)
    }

    /// A time expression, with its place.
    pub(super) fn time(&self) -> Option<TimeExpression> {
        let time: TimeExpression = self.parsed("memorial.abeam - 10 s")?;
        Some(TimeExpression {
            at: self.at(),
            ..time
        })
    }

    /// The elements of a list, each at the same key.
    pub(super) fn list(&self, example: &str) -> Vec<Item<'d>> {
        let Some(array) = self.value.get_ref().as_array() else {
            self.wrong_type("a list", example);
            return Vec::new();
        };
        if let Some(value) = array.get(MOST_LISTED) {
            let what = format!("`{}` of {}", self.key, self.what);
            Fault::error(value.span(), too_many(&what)).add(self.faults);
        }
        array
            .iter()
            .take(MOST_LISTED)
            .map(|value| Item {
                value,
                key_at: value.span(),
                element: true,
                ..self.clone()
            })
            .collect()
    }

    /// A table, called `what`.
    pub(super) fn table(&self, what: &'static str) -> Option<Section<'d>> {
        let Some(table) = self.value.get_ref().as_table() else {
            self.wrong_type("a table", inside(what));
            return None;
        };
        Some(Section::new(what, table, self.at(), self.faults))
    }
}

/// What a table that is called so holds, as a document writes it.
fn inside(what: &str) -> &'static str {
    match what {
        "`centre`" => "{ lat = 61.0, lon = 9.5 }",
        "`cuts`" | "`loop`" => "{ from = \"0:08.000\", to = \"0:40.000\" }",
        "`delay`" => "{ music = \"fade\" }",
        "`hits`" => "{ bell = \"0:10.000\" }",
        "`hush`" => "{ from = \"-4 s\", until = \"10 s\" }",
        "`meets`" => "{ hit = \"bell\", on = \"memorial.abeam\" }",
        "`needs`" => "{ height = \"above 4000 ft\", speed = \"below 200 kt\" }",
        "`permits`" => "{ overhead = true }",
        "`vamp`" => "{ from = \"0:12.000\", to = \"0:24.000\", step = \"bar\" }",
        "a wind" => "{ height = \"0 ft\", from = 230, speed = \"9 kt\" }",
        "a leg" => "{ run = \"to centre\" }",
        _ => "{ … }",
    }
}

/// A name of the show's own: letters, digits, `-` and `_`.
pub(super) fn read_name(text: &str, at: Range<usize>, faults: &Faults) -> Option<Name> {
    let fit = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    let (message, help) = if text.is_empty() {
        ("a name cannot be empty".to_owned(), NAMES)
    } else if let Some(c) = text.chars().find(|&c| !fit(c)) {
        let held = match c {
            ' ' => "a space".to_owned(),
            c => format!("{c:?}"),
        };
        (format!("the name `{}` holds {held}", quoted(text)), NAMES)
    } else if matches!(text, "show" | "clock") {
        (
            format!("nothing can be called `{text}`: time expressions use that word"),
            "choose another name",
        )
    } else {
        return Some(text.into());
    };
    Fault::error(at, message).help(help).add(faults);
    None
}

const NAMES: &str = "a name is made of letters, digits, - and _, such as slow-pass";

/// A number without quotes; `None` if the value is none. NaN and infinities are numbers here.
fn bare_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().parse().ok(),
        DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
            .ok()
            .map(|number| number as f64),
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

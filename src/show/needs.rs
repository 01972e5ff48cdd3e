//! What must be so where a leg or a figure begins.

use std::fmt;
use std::ops::Range;
use std::str::FromStr;

use crate::units::{Airspeed, Length, UnitError};

/// What must be so where a leg or a figure begins.
#[derive(Debug, Clone, PartialEq)]
pub struct Needs {
    /// How high.
    pub height: Option<Limits<Length>>,
    /// How fast; both limits name the same speed.
    pub speed: Option<Limits<Airspeed>>,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// `"above 4000 ft"`, `"below 200 kt cas"`, `"100 kt to 200 kt"`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits<T> {
    /// Not less than this.
    pub least: Option<T>,
    /// Not more than this.
    pub most: Option<T>,
}

impl<T: fmt::Display> fmt::Display for Limits<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (&self.least, &self.most) {
            (Some(least), Some(most)) => write!(f, "{least} to {most}"),
            (Some(least), None) => write!(f, "above {least}"),
            (None, Some(most)) => write!(f, "below {most}"),
            (None, None) => f.write_str("anything"),
        }
    }
}

/// Reads `"above 4000 ft"`, `"below 5000 ft"`, `"3000 ft to 5000 ft"`.
impl FromStr for Limits<Length> {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        limits(
            text,
            |one, _| one.parse().ok(),
            |height: &Length| height.m(),
        )
        .ok_or_else(|| UnitError {
            text: text.into(),
            what: "what a height must be",
            expected: "it as \"above 4000 ft\", \"below 5000 ft\" or \"3000 ft to 5000 ft\"",
        })
    }
}

/// Reads `"above 120 kt"`, `"below 200 kt cas"`, `"120 kt to 200 kt cas"`.
impl FromStr for Limits<Airspeed> {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        limits(text, named_like, |speed: &Airspeed| speed.value()).ok_or_else(|| UnitError {
            text: text.into(),
            what: "what a speed must be",
            expected: "it as \"above 120 kt\", \"below 200 kt cas\" or \"120 kt to 200 kt cas\"; \
                       a speed through the air, and the same kind twice",
        })
    }
}

/// The limits `text` states; `read` is given one of them and, if there is one, the other.
fn limits<T>(
    text: &str,
    read: impl Fn(&str, Option<&str>) -> Option<T>,
    value: impl Fn(&T) -> f64,
) -> Option<Limits<T>> {
    let text = text.trim();
    if let Some(least) = text.strip_prefix("above ") {
        let (least, most) = (Some(read(least, None)?), None);
        return Some(Limits { least, most });
    }
    if let Some(most) = text.strip_prefix("below ") {
        let (least, most) = (None, Some(read(most, None)?));
        return Some(Limits { least, most });
    }
    let (least, most) = text.split_once(" to ")?;
    let (least, most) = (read(least, Some(most))?, read(most, Some(least))?);
    (value(&least) < value(&most)).then_some(Limits {
        least: Some(least),
        most: Some(most),
    })
}

/// An airspeed; a bare one is of the kind that the other one names.
fn named_like(text: &str, other: Option<&str>) -> Option<Airspeed> {
    let text = text.trim();
    let kind = |text: &str| {
        ["cas", "tas", "mach"]
            .into_iter()
            .find(|kind| text.ends_with(kind))
    };
    let speed: Airspeed = match (kind(text), other.and_then(|other| kind(other.trim()))) {
        (None, Some(kind)) => format!("{text} {kind}").parse().ok()?,
        (Some(one), Some(other)) if one != other => return None,
        _ => text.parse().ok()?,
    };
    (!matches!(speed, Airspeed::Ground(_))).then_some(speed)
}

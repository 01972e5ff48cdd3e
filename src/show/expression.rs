//! Time expressions: `memorial.abeam - 10 s`, `show + 1:30`, `clock 19:45:00`.

use std::fmt;
use std::ops::Range;
use std::str::FromStr;

use jiff::civil;

use super::Name;
use crate::units::{Span, UnitError};

/// An instant of the show, said by what it depends on.
#[derive(Debug, Clone)]
pub struct TimeExpression {
    /// What it is measured from.
    pub anchor: Anchor,
    /// How much later; negative is earlier.
    pub offset: Span,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// What a time is measured from.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Anchor {
    /// Show zero.
    Show,
    /// A time of day.
    Clock(civil::Time),
    /// A point of a figure, block, track or silence.
    Point {
        /// Whose.
        of: Name,
        /// Which.
        point: PointName,
    },
}

/// A point of something, as written after the dot. Passes and gates count from 1.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PointName {
    /// Its start.
    Start,
    /// Leaving the hold fix towards centre.
    Inbound,
    /// Seen at crowd centre, on its nth pass.
    Abeam(u8),
    /// The sound of its nth pass arrives.
    Heard(u8),
    /// Its nth gate.
    Gate(u8),
    /// Two aircraft cross.
    Cross,
    /// Its end.
    End,
    /// A point of one of its aircraft, where these fly apart: `two.abeam`.
    Own(Name, OwnPoint),
    /// A hit of a track.
    Hit(Name),
}

/// What each aircraft of a figure comes to by itself where they fly apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum OwnPoint {
    /// Seen at crowd centre, on its nth pass.
    Abeam(u8),
    /// The sound of its nth pass arrives.
    Heard(u8),
    /// It has flown all that is its own of the figure.
    End,
}

impl FromStr for TimeExpression {
    type Err = UnitError;

    /// Reads an expression; `at` is the whole text, from byte 0.
    fn from_str(text: &str) -> Result<Self, UnitError> {
        let error = || UnitError {
            text: text.into(),
            what: "a time",
            expected: "it as \"memorial.abeam - 10 s\", \"show + 1:30\" or \"clock 19:45:00\"",
        };
        let (base, offset) = split_offset(text.trim());
        let offset = match offset {
            Some(span) => span.parse()?,
            None => Span::ZERO,
        };
        let anchor = if base == "show" {
            Anchor::Show
        } else if let Some(clock) = base.strip_prefix("clock ") {
            Anchor::Clock(clock.trim().parse::<ClockTime>().map_err(|_| error())?.0)
        } else {
            let (of, point) = base.split_once('.').ok_or_else(error)?;
            if of.is_empty() || point.is_empty() || base.contains(char::is_whitespace) {
                return Err(error());
            }
            Anchor::Point {
                of: of.into(),
                point: PointName::read(point),
            }
        };
        Ok(TimeExpression {
            anchor,
            offset,
            at: 0..text.len(),
        })
    }
}

/// A time of day as a show states it, `19:40:00`: no date, no zone.
pub(super) struct ClockTime(pub civil::Time);

impl FromStr for ClockTime {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let only_time = text
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b':' | b'.'));
        match text.parse() {
            Ok(time) if only_time => Ok(ClockTime(time)),
            _ => Err(UnitError {
                text: text.into(),
                what: "a time of day",
                expected: "it as \"19:40:00\"",
            }),
        }
    }
}

/// Splits `memorial.abeam - 10 s` before its sign. An id may hold hyphens, so the sign stands alone
/// or before a digit after a space.
fn split_offset(text: &str) -> (&str, Option<&str>) {
    let sign = text
        .char_indices()
        .find(|&(i, c)| matches!(c, '+' | '-' | '−') && text[..i].ends_with(char::is_whitespace));
    match sign {
        Some((i, _)) => (text[..i].trim_end(), Some(text[i..].trim_end())),
        None => (text, None),
    }
}

impl PointName {
    /// What is written after the dot. What is no point of a figure is taken for a hit.
    pub fn read(text: &str) -> PointName {
        let own = || {
            let (aircraft, point) = text.split_once('.')?;
            Some(PointName::Own(aircraft.into(), OwnPoint::read(point)?))
        };
        let of_figure = || match text {
            "start" => Some(PointName::Start),
            "inbound" => Some(PointName::Inbound),
            "cross" => Some(PointName::Cross),
            "end" => Some(PointName::End),
            _ => match counted(text)? {
                ("abeam", n) => Some(PointName::Abeam(n)),
                ("heard", n) => Some(PointName::Heard(n)),
                ("gate", n) => Some(PointName::Gate(n)),
                _ => None,
            },
        };
        of_figure()
            .or_else(own)
            .unwrap_or_else(|| PointName::Hit(text.into()))
    }
}

impl OwnPoint {
    fn read(text: &str) -> Option<OwnPoint> {
        match counted(text)? {
            ("abeam", n) => Some(OwnPoint::Abeam(n)),
            ("heard", n) => Some(OwnPoint::Heard(n)),
            _ => (text == "end").then_some(OwnPoint::End),
        }
    }
}

/// `abeam.2` as word and count, `abeam` as its first.
fn counted(text: &str) -> Option<(&str, u8)> {
    let Some((word, count)) = text.split_once('.') else {
        return Some((text, 1));
    };
    let count = count.parse().ok().filter(|count| *count > 0)?;
    Some((word, count))
}

/// The same point of a figure whose aircraft fly as one.
impl From<OwnPoint> for PointName {
    fn from(point: OwnPoint) -> PointName {
        match point {
            OwnPoint::Abeam(n) => PointName::Abeam(n),
            OwnPoint::Heard(n) => PointName::Heard(n),
            OwnPoint::End => PointName::End,
        }
    }
}

impl fmt::Display for PointName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PointName::Start => f.write_str("start"),
            PointName::Inbound => f.write_str("inbound"),
            PointName::Abeam(1) => f.write_str("abeam"),
            PointName::Abeam(n) => write!(f, "abeam.{n}"),
            PointName::Heard(1) => f.write_str("heard"),
            PointName::Heard(n) => write!(f, "heard.{n}"),
            PointName::Gate(n) => write!(f, "gate.{n}"),
            PointName::Cross => f.write_str("cross"),
            PointName::End => f.write_str("end"),
            PointName::Own(aircraft, point) => write!(f, "{aircraft}.{}", PointName::from(*point)),
            PointName::Hit(name) => name.fmt(f),
        }
    }
}

/// As the document writes it.
impl fmt::Display for TimeExpression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.anchor.fmt(f)?;
        match self.offset {
            Span::ZERO => Ok(()),
            offset => write!(f, " {}", offset_text(offset)),
        }
    }
}

/// How much later, to the microsecond, as it is written: `+ 24 s`, `- 1:30`.
pub fn offset_text(offset: Span) -> String {
    let sign = if offset < Span::ZERO { '-' } else { '+' };
    let length = offset.abs();
    let length = match (length >= Span::from_ms(60_000), length.us() % 1_000_000) {
        (false, _) => format!("{} s", length.us() as f64 / 1e6),
        (true, 0) => length.clock(0),
        (true, _) => length.clock(6),
    };
    format!("{sign} {length}")
}

impl fmt::Display for Anchor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Anchor::Show => f.write_str("show"),
            Anchor::Clock(time) => write!(f, "clock {time}"),
            Anchor::Point { of, point } => write!(f, "{of}.{point}"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn expressions_are_read_as_the_design_writes_them() {
        for (text, anchor, us) in [
            ("memorial.inbound - 15 s", "memorial.inbound", -15_000_000),
            ("slow-pass.abeam.2 +0:01.5", "slow-pass.abeam.2", 1_500_000),
            ("show", "show", 0),
            ("clock 19:45:00", "clock 19:45:00", 0),
            ("hymn.last_verse + 2 s", "hymn.last_verse", 2_000_000),
            ("memorial.gate.2", "memorial.gate.2", 0),
            ("hymn.end - 1:30.000021", "hymn.end", -90_000_021),
            ("hymn.end + 0.000021 s", "hymn.end", 21),
            ("pair.two.abeam + 1 s", "pair.two.abeam", 1_000_000),
        ] {
            let read: TimeExpression = text.parse().expect(text);
            assert_eq!(read.anchor.to_string(), anchor);
            assert_eq!(read.offset.us(), us, "{text}");
            let again: TimeExpression = read.to_string().parse().expect(text);
            assert_eq!((again.anchor, again.offset), (read.anchor, read.offset));
        }
    }

    #[test]
    fn a_point_of_one_aircraft_is_told_from_those_of_the_figure_and_from_hits() {
        for (text, point) in [
            (
                "two.abeam",
                PointName::Own("two".into(), OwnPoint::Abeam(1)),
            ),
            ("2.heard.3", PointName::Own("2".into(), OwnPoint::Heard(3))),
            ("two.end", PointName::Own("two".into(), OwnPoint::End)),
            ("abeam.2", PointName::Abeam(2)),
            (
                "abeam.abeam",
                PointName::Own("abeam".into(), OwnPoint::Abeam(1)),
            ),
            ("two.gate.1", PointName::Hit("two.gate.1".into())),
            ("two.start", PointName::Hit("two.start".into())),
            ("abeam.0", PointName::Hit("abeam.0".into())),
        ] {
            assert_eq!(PointName::read(text), point);
            assert_eq!(point.to_string(), text);
        }
    }

    #[test]
    fn what_is_no_time_says_what_to_write() {
        for text in [
            "",
            "memorial",
            "memorial.",
            ".abeam",
            "clock 25:00:00",
            "clock 2026-01-01T19:51:00",
            "a.b - x",
            "a b.c",
        ] {
            assert!(text.parse::<TimeExpression>().is_err(), "{text}");
        }
    }
}

//! Figures.

use std::ops::Range;
use std::str::FromStr;

use super::{Leg, Name, Needs, TimeExpression};
use crate::units::{Length, Span, UnitError};

/// One figure of the display.
#[derive(Debug, Clone)]
pub struct Figure {
    /// What the show calls it.
    pub id: Name,
    /// What people call it.
    pub name: String,
    /// Who flies it, by aircraft id; never empty. Several: their chains join here.
    pub aircraft: Vec<Name>,
    /// The side of the crowd it is begun from.
    pub from: Side,
    /// Whether the document says so; a timed figure need not.
    pub says_from: bool,
    /// When it begins, if not at the end of what comes before it in the order.
    pub starts: Option<TimeExpression>,
    /// Places on the run-in that can be marked: distances out from crowd centre.
    pub gates: Vec<Length>,
    /// One standard deviation of the time the whole figure takes, the crew's own.
    pub spread: Span,
    /// How much longer it takes than its legs say, as those before it did; its flown steps share it by their time.
    pub late: Span,
    /// How it is flown, unless the profile has a version of its own.
    pub manner: Manner,
    /// How it is flown in other profiles, by profile name.
    pub versions: Vec<(Name, Manner)>,
    /// A stated hush, from and until, relative to its (first) abeam; `None`: from the model.
    pub hush: Option<(Span, Span)>,
    /// Where it is flown.
    pub flown: FlownWhere,
    /// What must be so where it begins to move.
    pub needs: Option<Needs>,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// Where a figure is flown: anywhere but before the crowd, the site must permit it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FlownWhere {
    /// Before the crowd.
    #[default]
    Before,
    /// Over the crowd.
    Overhead,
    /// Behind the crowd line.
    BehindCrowd,
}

/// A side of the crowd, as the crowd sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The crowd's left: x below zero.
    Left,
    /// The crowd's right: x above zero.
    Right,
}

/// How a figure is flown.
#[derive(Debug, Clone)]
pub enum Manner {
    /// Leg by leg, all its aircraft as one.
    Flown(Vec<Leg>),
    /// Leg by leg, its aircraft in parts: at least two, the first that of the figure's first aircraft.
    Apart(Vec<Part>),
    /// As long as somebody timed it. It ends where the next figure begins.
    Timed {
        /// How long it takes.
        takes: Span,
        /// When it crosses crowd centre, after its start; in order; often none.
        passes: Vec<Span>,
    },
}

/// Those of a figure's aircraft that fly the same legs as one.
#[derive(Debug, Clone)]
pub struct Part {
    /// Which; never empty.
    pub aircraft: Vec<Name>,
    /// What they fly.
    pub legs: Vec<Leg>,
}

/// A place on the display line: how far from crowd centre, and on which side.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// From crowd centre, not negative.
    pub out: Length,
    /// On which side; `None`: the side the figure is begun from.
    pub side: Option<Side>,
}

/// Reads `"2 nmi"`, `"2 nmi right"`.
impl FromStr for Place {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let text = text.trim();
        let (length, side) = match text.rsplit_once(char::is_whitespace) {
            Some((length, "left")) => (length, Some(Side::Left)),
            Some((length, "right")) => (length, Some(Side::Right)),
            _ => (text, None),
        };
        match length.parse::<Length>() {
            Ok(out) if out >= Length::ZERO => Ok(Place { out, side }),
            _ => Err(UnitError {
                text: text.into(),
                what: "a place on the display line",
                expected: "how far out it is and, if it matters, on which side: \"2 nmi\" or \"2 nmi right\"",
            }),
        }
    }
}

impl Side {
    /// The other side.
    pub const fn mirrored(self) -> Side {
        match self {
            Side::Left => Side::Right,
            Side::Right => Side::Left,
        }
    }

    /// As words have it: "left", "right".
    pub const fn word(self) -> &'static str {
        match self {
            Side::Left => "left",
            Side::Right => "right",
        }
    }

    /// −1 for left, 1 for right: the sign of x there.
    pub const fn sign(self) -> f64 {
        match self {
            Side::Left => -1.0,
            Side::Right => 1.0,
        }
    }
}

impl Manner {
    /// The legs of each part, or of all aircraft together; none of a figure that is only timed.
    pub fn parts(&self) -> Vec<&[Leg]> {
        match self {
            Manner::Flown(legs) => vec![legs],
            Manner::Apart(parts) => parts.iter().map(|part| part.legs.as_slice()).collect(),
            Manner::Timed { .. } => Vec::new(),
        }
    }

    /// The legs of all its parts.
    pub fn legs(&self) -> impl Iterator<Item = &Leg> {
        self.parts().into_iter().flatten()
    }
}

impl Figure {
    /// How it is flown in `profile`.
    pub fn manner_in(&self, profile: &Name) -> &Manner {
        self.versions
            .iter()
            .find(|(name, _)| name == profile)
            .map_or(&self.manner, |(_, manner)| manner)
    }
}

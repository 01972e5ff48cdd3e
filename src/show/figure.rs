//! Figures and the legs they are made of.

use std::ops::Range;
use std::str::FromStr;

use super::{Name, TimeExpression};
use crate::units::{Acceleration, Airspeed, Angle, Length, Span, UnitError};

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
    /// How it is flown, unless the profile has a version of its own.
    pub manner: Manner,
    /// How it is flown in other profiles, by profile name.
    pub versions: Vec<(Name, Manner)>,
    /// A stated hush, from and until, relative to its (first) abeam; `None`: from the model.
    pub hush: Option<(Span, Span)>,
    /// Where it is flown.
    pub flown: FlownWhere,
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
    /// Leg by leg.
    Flown(Vec<Leg>),
    /// As long as somebody timed it. It ends where the next figure begins.
    Timed {
        /// How long it takes.
        takes: Span,
        /// When it crosses crowd centre, after its start; in order; often none.
        passes: Vec<Span>,
    },
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

/// One leg.
#[derive(Debug, Clone)]
pub enum Leg {
    /// Wait at a place until inbound.
    Hold {
        /// Where.
        place: Place,
        /// For how long, as planned.
        expect: Span,
        /// One standard deviation of that.
        spread: Span,
        /// Bytes of the document that state it.
        at: Range<usize>,
    },
    /// Straight.
    Run {
        /// How far.
        until: RunUntil,
        /// The speed held or changed to; `None`: as the leg before ended.
        speed: Option<SpeedPlan>,
        /// Height above the site; `None`: as the leg before.
        height: Option<Length>,
        /// Whether crossing crowd centre on it counts as a pass.
        pass: bool,
        /// Bytes of the document that state it.
        at: Range<usize>,
    },
    /// A level turn.
    Turn {
        /// How far round, positive.
        angle: Angle,
        /// Which way.
        towards: TurnTowards,
        /// How hard.
        by: TurnBy,
        /// The speed held or changed to; `None`: as the leg before ended.
        speed: Option<SpeedPlan>,
        /// Height above the site; `None`: as the leg before.
        height: Option<Length>,
        /// Bytes of the document that state it.
        at: Range<usize>,
    },
}

/// Which way a turn goes, as the pilot turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnTowards {
    /// To the pilot's left.
    PilotsLeft,
    /// To the pilot's right.
    PilotsRight,
    /// Towards the crowd.
    Crowd,
    /// Away from the crowd.
    Away,
}

/// What ends a run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RunUntil {
    /// Crossing crowd centre.
    Centre,
    /// Passing a place.
    Place(Place),
    /// So far over the ground.
    Distance(Length),
    /// So long.
    Time(Span),
}

/// Reads `"to centre"`, `"to 2 nmi right"`, `"for 1 nmi"`, `"for 20 s"`.
impl FromStr for RunUntil {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        read_run(text.trim()).ok_or_else(|| UnitError {
            text: text.into(),
            what: "the end of a run",
            expected: "it as \"to centre\", \"to 2 nmi\", \"to 2 nmi right\", \"for 1 nmi\" or \"for 20 s\"",
        })
    }
}

fn read_run(text: &str) -> Option<RunUntil> {
    let (word, rest) = text.split_once(char::is_whitespace)?;
    let rest = rest.trim();
    match word {
        "to" if rest == "centre" => Some(RunUntil::Centre),
        "to" => rest.parse().ok().map(RunUntil::Place),
        "for" => match rest.parse::<Length>() {
            Ok(length) => (length > Length::ZERO).then_some(RunUntil::Distance(length)),
            Err(_) => rest
                .parse()
                .ok()
                .filter(|&span| span > Span::ZERO)
                .map(RunUntil::Time),
        },
        _ => None,
    }
}

/// How hard a turn is flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurnBy {
    /// Bank.
    Bank(Angle),
    /// Load factor, above 1.
    Load(f64),
}

/// A speed, and how it is come by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpeedPlan {
    /// The speed.
    pub speed: Airspeed,
    /// `Some`: changed to from the speed before, at this rate of the speed as named;
    /// `None`: held from the beginning of the leg.
    pub gain: Option<Acceleration>,
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

impl Figure {
    /// How it is flown in `profile`.
    pub fn manner_in(&self, profile: &Name) -> &Manner {
        self.versions
            .iter()
            .find(|(name, _)| name == profile)
            .map_or(&self.manner, |(_, manner)| manner)
    }
}

//! What ends a leg, as it is written.

use std::str::FromStr;

use super::{Place, Side};
use crate::units::{Airspeed, Angle, Length, Span, UnitError};

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
    /// Passing a height above the site.
    Height(Length),
    /// Reaching a speed.
    Speed(Airspeed),
}

/// What ends a turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurnUntil {
    /// So far round, positive.
    Angle(Angle),
    /// Headed along the display line to a side of the crowd's.
    Side(Side),
    /// Headed straight away from the crowd.
    Away,
    /// Headed straight at the crowd.
    Crowd,
}

/// What ends a pull or a push.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PullUntil {
    /// So far round the path, positive.
    Round(Angle),
    /// The path next climbs at this angle; negative: descends.
    Climb(Angle),
    /// The path is next straight up or straight down.
    Vertical,
    /// The path is level: out of a dive by pulling, out of a climb by letting go.
    Out,
    /// The path is headed back to where it came from.
    Back,
}

/// What ends a coast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CoastUntil {
    /// The climb ends.
    Top,
    /// Reaching a speed.
    Speed(Airspeed),
    /// Passing a height above the site.
    Height(Length),
    /// So long.
    Time(Span),
}

/// Reads `"to centre"`, `"to 2 nmi right"`, `"for 1 nmi"`, `"for 20 s"`, `"to height 3000 ft"`,
/// `"to speed 120 kt cas"`.
impl FromStr for RunUntil {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let read = || match end(text)? {
            End::To("centre") => Some(RunUntil::Centre),
            End::To(place) => place_on_the_line(place).map(RunUntil::Place),
            End::Height(height) => Some(RunUntil::Height(height)),
            End::Speed(speed) => Some(RunUntil::Speed(speed)),
            End::For(rest) => match rest.parse::<Length>() {
                Ok(length) => (length > Length::ZERO).then_some(RunUntil::Distance(length)),
                Err(_) => span(rest).map(RunUntil::Time),
            },
        };
        read().ok_or_else(|| UnitError {
            text: text.into(),
            what: "the end of a run",
            expected: "it as \"to centre\", \"to 2 nmi\", \"to 800 m right\", \"for 1 nmi\", \"for 20 s\", \
                       \"to height 3000 ft\" or \"to speed 120 kt cas\"",
        })
    }
}

/// A place; in feet or metres with its side, for without it a height may be meant.
fn place_on_the_line(text: &str) -> Option<Place> {
    let place: Place = text.parse().ok()?;
    let unit = text.trim_start_matches(|c: char| !c.is_alphabetic());
    (place.side.is_some() || !matches!(unit, "m" | "ft")).then_some(place)
}

/// Reads `"180 deg"`, `"to right"`, `"to left"`, `"to away"`, `"to crowd"`.
impl FromStr for TurnUntil {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let read = || match end(text) {
            Some(End::To("right")) => Some(TurnUntil::Side(Side::Right)),
            Some(End::To("left")) => Some(TurnUntil::Side(Side::Left)),
            Some(End::To("away")) => Some(TurnUntil::Away),
            Some(End::To("crowd")) => Some(TurnUntil::Crowd),
            Some(_) => None,
            None => text.parse().ok().map(TurnUntil::Angle),
        };
        read().ok_or_else(|| UnitError {
            text: text.into(),
            what: "the end of a turn",
            expected: "how far round, \"180 deg\", or where it is headed then, \"to right\", \"to left\", \
                       \"to away\" or \"to crowd\"",
        })
    }
}

/// Reads `"90 deg"`, `"to level"`, `"to vertical"`, `"to 45 deg"`, `"to -45 deg"`.
impl FromStr for PullUntil {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let read = || match end(text) {
            Some(End::To("level")) => Some(PullUntil::Climb(Angle::ZERO)),
            Some(End::To("vertical")) => Some(PullUntil::Vertical),
            Some(End::To("back")) => Some(PullUntil::Back),
            None if text.trim() == "out" => Some(PullUntil::Out),
            Some(End::To(angle)) => angle.parse().ok().map(PullUntil::Climb),
            Some(_) => None,
            None => text.parse().ok().map(PullUntil::Round),
        };
        read().ok_or_else(|| UnitError {
            text: text.into(),
            what: "the end of a pull or a push",
            expected: "how far round, \"90 deg\", or the climb it ends at, \"to level\", \"to vertical\", \
                       \"to 45 deg\" or \"to -45 deg\"; \"out\" is level the nearest way, \"to back\" the other heading",
        })
    }
}

/// Reads `"to top"`, `"to speed 60 kt"`, `"to height 3000 ft"`, `"for 2 s"`.
impl FromStr for CoastUntil {
    type Err = UnitError;

    fn from_str(text: &str) -> Result<Self, UnitError> {
        let read = || match end(text)? {
            End::To("top") => Some(CoastUntil::Top),
            End::To(_) => None,
            End::Height(height) => Some(CoastUntil::Height(height)),
            End::Speed(speed) => Some(CoastUntil::Speed(speed)),
            End::For(rest) => span(rest).map(CoastUntil::Time),
        };
        read().ok_or_else(|| UnitError {
            text: text.into(),
            what: "the end of a coast",
            expected: "it as \"to top\", \"to speed 60 kt\", \"to height 3000 ft\" or \"for 2 s\"",
        })
    }
}

/// How the end of a leg begins.
enum End<'t> {
    To(&'t str),
    Height(Length),
    Speed(Airspeed),
    For(&'t str),
}

fn end(text: &str) -> Option<End<'_>> {
    let (word, rest) = text.trim().split_once(char::is_whitespace)?;
    let rest = rest.trim();
    match (word, rest.split_once(char::is_whitespace)) {
        ("to", Some(("height", height))) => height.parse().ok().map(End::Height),
        ("to", Some(("speed", speed))) => speed.parse().ok().map(End::Speed),
        ("to", _) => Some(End::To(rest)),
        ("for", _) => Some(End::For(rest)),
        _ => None,
    }
}

fn span(text: &str) -> Option<Span> {
    text.parse().ok().filter(|&span| span > Span::ZERO)
}

//! Why a leg cannot be flown, and what to do instead.

use std::fmt;

use crate::show::{Leg, Motion, PullBy, RunUntil};
use crate::units::{Length, Speed};

/// Why a leg cannot be flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CannotFly {
    /// Nothing says how fast.
    NoSpeed,
    /// A change of speed with nothing to change from.
    NoSpeedBefore,
    /// A speed of nothing, or less, or no number.
    SpeedNotPositive,
    /// Faster than sound: the airspeed relations and the sound heard hold below it.
    Supersonic,
    /// A gain of nothing never gets to the speed.
    NoGain,
    /// A ground speed can be held only straight along the ground.
    GroundSpeed,
    /// The wind across is as fast as the aircraft.
    Crosswind,
    /// Against the wind it does not get forward.
    NoProgress,
    /// Where it should go is behind it.
    Behind,
    /// It takes more than an hour.
    TooLong,
    /// Nothing says how high.
    NoHeight,
    /// Below the site, or no number.
    HeightBelowSite,
    /// A distance or time below nothing, or no number.
    NegativeLength,
    /// A turn that is none, or of more than ten circles.
    TurnAngle,
    /// Harder or softer than a level turn can be.
    TurnHardness,
    /// As tight as it can, but nothing says what its aircraft can.
    NothingTightest,
    /// As tight as it can is not round at all.
    NoTurnLeft,
    /// Neither way is towards the crowd or away from it.
    TurnWay,
    /// The same of a roll, or of one on a vertical path.
    RollWay,
    /// No turn or roll before it says which way is back.
    NoTurnBefore,
    /// It is headed already where it should turn to.
    HeadedThere,
    /// Begun inverted.
    TurnInverted,
    /// The heading is nearer across the display line than along it.
    OffLine,
    /// Nothing says what power there is.
    NoClimbPower,
    /// Nothing says how fast it rolls.
    NoRollRate,
    /// The path leads elsewhere when it begins: climbs at so many degrees.
    NotThatWay(f64),
    /// Pulled no harder than straight flight needs.
    PullTooSoft,
    /// Pushed no harder than straight flight needs.
    PushTooSoft,
    /// A radius or a rate of nothing, or no number.
    NoRate,
    /// It never gets to the climb it should end at, or is past it.
    NeverThere,
    /// Begun at this height and calibrated airspeed it goes away from what it should end at.
    OtherWay(Length, Speed),
    /// After so long that it was given up it is at this height and calibrated airspeed.
    NotThere(Length, Speed),
    /// Pulled or pushed to a climb that it is past: it climbs at so many degrees.
    PastIt(f64),
    /// It coasts no higher.
    NoHigher(Length),
    /// It coasts no slower than this calibrated airspeed.
    NoSlower(Speed),
    /// It can be flown only so far.
    Stops(Stop),
}

/// Where a leg stops being flyable.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    /// Why.
    pub why: Unflyable,
    /// Since the leg's start, s.
    pub after: f64,
    /// Above the site.
    pub height: Length,
    /// Calibrated airspeed.
    pub speed: Speed,
}

/// What an aircraft cannot do, or must not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Unflyable {
    /// Slower than its lift needs at this load factor.
    TooSlow(f64),
    /// A load factor above its most: what it is and what it may be.
    TooHard(f64, f64),
    /// A load factor below its least: what it is and what it may be.
    TooNegative(f64, f64),
    /// Under the ground.
    BelowSite,
    /// Faster than sound.
    TooFast,
}

impl CannotFly {
    /// What is wrong, without its subject: "has no speed".
    pub fn what(self) -> String {
        let what = match self {
            CannotFly::NoSpeed => "has no speed",
            CannotFly::NoSpeedBefore => "changes speed, but nothing says from which",
            CannotFly::SpeedNotPositive => "has a speed that is not above zero",
            CannotFly::Supersonic => "is not below the speed of sound",
            CannotFly::NoGain => "changes speed at a gain of zero and never gets there",
            CannotFly::GroundSpeed => "holds a ground speed where it is not a level run",
            CannotFly::Crosswind => "cannot hold its track: the wind across it is too strong",
            CannotFly::NoProgress => "never arrives: its ground speed is not above zero",
            CannotFly::Behind => "runs to a place that is behind it",
            CannotFly::TooLong => "takes more than an hour",
            CannotFly::NoHeight => "has no height",
            CannotFly::HeightBelowSite => "is below the site",
            CannotFly::NegativeLength => "has a distance or time below zero",
            CannotFly::TurnAngle => "goes round by no angle, or by more than ten circles",
            CannotFly::TurnHardness => "is turned as hard as no level turn can be",
            CannotFly::NothingTightest => {
                "turns as tight as it can, but nothing says what its aircraft can"
            }
            CannotFly::NoTurnLeft => "is too slow to turn, or has too little power for it",
            CannotFly::TurnWay => {
                "turns towards the crowd or away, but heads straight at one of them"
            }
            CannotFly::RollWay => {
                "rolls towards the crowd or away, but heads along neither side of it"
            }
            CannotFly::NoTurnBefore => "goes back, but there is no turn or roll before it",
            CannotFly::HeadedThere => "turns to where it is headed already",
            CannotFly::TurnInverted => "turns while it is inverted",
            CannotFly::OffLine => "runs along the display line, but is headed across it",
            CannotFly::NoClimbPower => {
                "follows energy, but nothing says what power its aircraft has"
            }
            CannotFly::NoRollRate => "rolls, but nothing says how fast",
            CannotFly::NotThatWay(deg) if deg < 0.0 => {
                return format!("begins while the path descends at {:.0} degrees", -deg);
            }
            CannotFly::NotThatWay(deg) => {
                return format!("begins while the path climbs at {deg:.0} degrees");
            }
            CannotFly::PullTooSoft => "pulls no harder than straight flight needs",
            CannotFly::PushTooSoft => "pushes no harder than straight flight needs",
            CannotFly::NoRate => "has a radius or a rate that is not above zero",
            CannotFly::NeverThere => "never gets to its end",
            CannotFly::OtherWay(height, speed) => {
                let at = at(height, speed);
                return format!("never gets to its end: from {at} it goes the other way");
            }
            CannotFly::NotThere(height, speed) => {
                let at = at(height, speed);
                return format!("never gets to its end: it is given up at {at}");
            }
            CannotFly::PastIt(deg) => {
                return format!("goes to a climb that it is past: it begins at {deg:.0} degrees");
            }
            CannotFly::NoHigher(height) => {
                return format!("coasts no higher than {} ft", height.whole_feet());
            }
            CannotFly::NoSlower(speed) => {
                return format!("coasts no slower than {:.0} kt", speed.kt());
            }
            CannotFly::Stops(stop) => return stop.what(),
        };
        what.into()
    }

    /// What to write or do instead on this leg.
    pub(crate) fn help_on(self, leg: &Leg) -> String {
        let named = leg.part.is_some();
        let help = match (self, &leg.motion) {
            (CannotFly::Stops(stop), motion) => stop.help_on(motion),
            (CannotFly::OtherWay(..), _) if named => {
                "begin the figure slower or faster, or write another speed for it to come to"
            }
            (CannotFly::OtherWay(..), Motion::Run { until, .. }) => match until {
                RunUntil::Height(_) => "write a height on its way, or a pitch towards that one",
                _ => {
                    "write a speed that it changes to, or speed = \"energy\" with more power, or less: power = -0.5"
                }
            },
            (CannotFly::NotThere(..), Motion::Run { .. }) => {
                "write an end before that, or more power, or less"
            }
            (CannotFly::NotThere(..), Motion::Pull { .. }) => "pull harder, or to less",
            (CannotFly::NotThere(..), Motion::Push { .. }) => "push harder, or to less",
            (CannotFly::NotThere(..), Motion::Pivot { .. }) => {
                "write a slower out, or turn the nose to where the path can follow it"
            }
            (
                CannotFly::NotThatWay(_),
                Motion::Run {
                    pitch: Some(pitch), ..
                },
            ) if pitch.deg() != 0.0 => {
                let way = if pitch.deg() > 0.0 { "pull" } else { "push" };
                let load = if pitch.deg() > 0.0 { 3 } else { 0 };
                return format!(
                    "{way} to its path first, {{ {way} = \"to {:.0} deg\", g = {load} }}",
                    pitch.deg()
                );
            }
            (other, _) => other.help(),
        };
        help.into()
    }

    /// What to write or do instead.
    pub fn help(self) -> &'static str {
        match self {
            CannotFly::NoSpeed => "write its speed, \"350 kt cas\"",
            CannotFly::NoSpeedBefore => "write a speed on the leg before it, or one that it holds",
            CannotFly::SpeedNotPositive => "write a speed above zero, \"350 kt cas\"",
            CannotFly::Supersonic => "write a speed below Mach 1",
            CannotFly::NoGain => "write a gain such as \"3 kt/s\"",
            CannotFly::GroundSpeed => {
                "write a speed through the air, \"350 kt cas\" or \"350 kt tas\""
            }
            CannotFly::Crosswind | CannotFly::NoProgress => "write a higher speed or less wind",
            CannotFly::Behind => "turn round before it, or run for a distance or a time",
            CannotFly::TooLong => {
                "write a shorter distance or time, a higher speed or a higher gain"
            }
            CannotFly::NoHeight => "write its height above the site, \"500 ft\"",
            CannotFly::HeightBelowSite => "write a height above the site, \"500 ft\"",
            CannotFly::NegativeLength => "write it as \"1 nmi\" or \"20 s\"",
            CannotFly::TurnAngle => "write an angle above zero, \"180 deg\"",
            CannotFly::TurnHardness => {
                "write a bank between 1 and 86 degrees, or a load factor above 1 and up to 15"
            }
            CannotFly::NothingTightest => {
                "write stall = \"55 kt cas\" and most_g = 6 in its [aircraft.…]"
            }
            CannotFly::NoTurnLeft => "fly it faster, or write how hard it turns, g = 3",
            CannotFly::TurnWay | CannotFly::RollWay | CannotFly::NoTurnBefore => {
                "say the pilot's left or right"
            }
            CannotFly::HeadedThere => "leave it out, or write how far it turns, \"360 deg\"",
            CannotFly::TurnInverted => "roll upright before it, { roll = \"180 deg\" }",
            CannotFly::OffLine => "turn further before it",
            CannotFly::NoClimbPower => "write climb_power = \"60 m/s\" in its [aircraft.…]",
            CannotFly::NoRollRate => "write rate = 180, or roll_rate = 180 in its [aircraft.…]",
            CannotFly::NotThatWay(_) => "level out before it, { pull = \"out\", g = 3 }",
            CannotFly::PullTooSoft => "write a higher g",
            CannotFly::PushTooSoft => "write a lower g",
            CannotFly::NoRate => "write radius = \"150 m\", or rate = 90",
            CannotFly::NeverThere | CannotFly::OtherWay(..) | CannotFly::NotThere(..) => {
                "write an end that it comes to, or more power"
            }
            CannotFly::PastIt(_) => {
                "pull instead of pushing, or push instead of pulling; all the way round is so many degrees: \"350 deg\""
            }
            CannotFly::NoHigher(_) => "write a lower height, or \"to top\"",
            CannotFly::NoSlower(_) => {
                "write a higher speed, or \"to top\", or climb more steeply before it"
            }
            CannotFly::Stops(stop) => stop.help(),
        }
    }
}

impl Stop {
    fn what(self) -> String {
        let why = match self.why {
            Unflyable::TooSlow(load) if load.abs() < 0.3 => "too slow to fly on".to_owned(),
            Unflyable::TooSlow(load) if load < 0.0 => format!("too slow to push {load:.1} g"),
            Unflyable::TooSlow(load) => format!("too slow to pull {load:.1} g"),
            Unflyable::TooHard(load, most) => format!("{load:.1} g is more than its {most} g"),
            Unflyable::TooNegative(load, least) => {
                format!("{load:.1} g is less than its {least} g")
            }
            Unflyable::BelowSite => "it goes below the site".to_owned(),
            Unflyable::TooFast => "it reaches the speed of sound".to_owned(),
        };
        format!(
            "stops flying {:.1} s in, at {} ft and {:.0} kt: {why}",
            self.after,
            self.height.whole_feet(),
            self.speed.kt(),
        )
    }

    fn help_on(self, motion: &Motion) -> &'static str {
        let by_radius = matches!(
            motion,
            Motion::Pull {
                by: PullBy::Radius(_),
                ..
            } | Motion::Push {
                by: PullBy::Radius(_),
                ..
            }
        );
        match (self.why, motion) {
            (Unflyable::TooNegative(..), Motion::Pull { .. }) if by_radius => {
                "begin it faster, or write a smaller radius: at the top too little of it is left to pull"
            }
            (Unflyable::TooHard(..) | Unflyable::TooSlow(_), _) if by_radius => {
                "write a larger radius, or begin it slower where it is too much g, faster where its wings give too little"
            }
            (Unflyable::BelowSite, Motion::Pull { .. }) => "begin it higher, or pull harder",
            (Unflyable::BelowSite, Motion::Push { .. }) => {
                "begin it higher, or push harder: a push of less than straight flight needs settles into a dive"
            }
            (Unflyable::TooSlow(_), Motion::Turn { .. }) => "begin it faster, or turn softer",
            (Unflyable::TooHard(..), Motion::Turn { .. }) => "turn softer",
            (Unflyable::TooSlow(load), Motion::Push { .. }) if load < 0.0 => {
                "begin it faster, or push less"
            }
            _ => self.help(),
        }
    }

    fn help(self) -> &'static str {
        match self.why {
            Unflyable::TooSlow(load) if load.abs() < 0.3 => "begin it faster, or end it sooner",
            Unflyable::TooSlow(_) => "begin it faster, or pull less",
            Unflyable::TooHard(..) => "pull less, or begin it slower",
            Unflyable::TooNegative(..) => "push less, or begin it slower",
            Unflyable::BelowSite => "begin it higher, or end it sooner",
            Unflyable::TooFast => "begin it slower, or use less power",
        }
    }
}

fn at(height: Length, speed: Speed) -> String {
    format!("{} ft and {:.0} kt", height.whole_feet(), speed.kt())
}

impl fmt::Display for CannotFly {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.what(), self.help())
    }
}

impl std::error::Error for CannotFly {}

/// Goes on where `holds` does; a comparison with what is no number does not.
pub(super) fn ensure(holds: bool, why: CannotFly) -> Result<(), CannotFly> {
    if holds { Ok(()) } else { Err(why) }
}

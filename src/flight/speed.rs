//! The speed flown on a leg: as the crew names it, through the air, and along the display line.

use super::air::Parcel;
use super::wind::WindVector;
use crate::show::LegSpeed;
use crate::units::{Airspeed, Speed};

/// A true airspeed of less is none, m/s.
const SLOWEST: f64 = 1e-3;

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
    /// A ground speed cannot be held in a turn.
    GroundSpeedInTurn,
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
    /// Neither way is towards the crowd or away from it.
    TurnWay,
    /// A leg of a kind that is read but not flown.
    NotYet,
    /// The heading is nearer across the display line than along it.
    OffLine,
}

impl CannotFly {
    /// What is wrong, without its subject: "has no speed".
    pub fn what(self) -> &'static str {
        match self {
            CannotFly::NoSpeed => "has no speed",
            CannotFly::NoSpeedBefore => "changes speed, but nothing says from which",
            CannotFly::SpeedNotPositive => "has a speed that is not above zero",
            CannotFly::Supersonic => "is not below the speed of sound",
            CannotFly::NoGain => "changes speed at a gain of zero and never gets there",
            CannotFly::GroundSpeedInTurn => "turns at a ground speed",
            CannotFly::Crosswind => "cannot hold its track: the wind across it is too strong",
            CannotFly::NoProgress => "never arrives: its ground speed is not above zero",
            CannotFly::Behind => "runs to a place that is behind it",
            CannotFly::TooLong => "takes more than an hour",
            CannotFly::NoHeight => "has no height",
            CannotFly::HeightBelowSite => "is below the site",
            CannotFly::NegativeLength => "has a distance or time below zero",
            CannotFly::TurnAngle => "turns by no angle, or by more than ten circles",
            CannotFly::TurnHardness => "is turned as hard as no level turn can be",
            CannotFly::TurnWay => {
                "turns towards the crowd or away, but heads straight at one of them"
            }
            CannotFly::NotYet => "is of a kind that is read but not flown yet",
            CannotFly::OffLine => "runs along the display line, but is headed across it",
        }
    }

    /// What to write or do instead.
    pub fn help(self) -> &'static str {
        match self {
            CannotFly::NoSpeed => "write its speed, \"350 kt cas\"",
            CannotFly::NoSpeedBefore => {
                "write the speed on the leg before it, or leave the gain out"
            }
            CannotFly::SpeedNotPositive => "write a speed above zero, \"350 kt cas\"",
            CannotFly::Supersonic => "write a speed below Mach 1",
            CannotFly::NoGain => "write a gain such as \"3 kt/s\"",
            CannotFly::GroundSpeedInTurn => {
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
                "write a bank between 1 and 85 degrees, or a load factor above 1 and up to 12"
            }
            CannotFly::TurnWay => "say the pilot's left or right",
            CannotFly::NotYet => "time the figure with `takes`",
            CannotFly::OffLine => "turn further before it",
        }
    }
}

impl std::fmt::Display for CannotFly {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.what(), self.help())
    }
}

impl std::error::Error for CannotFly {}

/// Goes on where `holds` does; a comparison with what is no number does not.
pub(super) fn ensure(holds: bool, why: CannotFly) -> Result<(), CannotFly> {
    if holds { Ok(()) } else { Err(why) }
}

/// The air and wind a leg is flown in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Conditions {
    pub parcel: Parcel,
    pub wind: WindVector,
}

/// Ground and air velocity on a course; m/s.
#[derive(Debug, Clone, Copy)]
pub(super) struct Triangle {
    /// Over the ground, x and y.
    pub ground: [f64; 2],
    /// Through the air, x and y.
    pub air: [f64; 2],
    /// Over the ground along the course, and across it to its left.
    pub along_across: [f64; 2],
}

impl Conditions {
    /// True airspeed, m/s, of an airspeed as named. A ground speed needs [`Conditions::triangle`].
    pub fn true_airspeed(&self, named: Airspeed) -> Result<f64, CannotFly> {
        let speed = match named {
            Airspeed::Calibrated(speed) => self.parcel.true_of(speed).mps(),
            Airspeed::True(speed) => speed.mps(),
            Airspeed::Mach(mach) => mach * self.parcel.sound.mps(),
            Airspeed::Ground(_) => return Err(CannotFly::GroundSpeedInTurn),
        };
        self.checked(speed)
    }

    fn checked(&self, true_airspeed: f64) -> Result<f64, CannotFly> {
        ensure(true_airspeed > SLOWEST, CannotFly::SpeedNotPositive)?;
        let sound = self.parcel.sound.mps();
        ensure(true_airspeed < sound, CannotFly::Supersonic)?;
        // A wind faster than sound is a slip of the pen, and would not stay finite.
        ensure(
            self.wind.x.mps().hypot(self.wind.y.mps()) < sound,
            CannotFly::Crosswind,
        )?;
        Ok(true_airspeed)
    }

    /// The wind triangle at a speed as named on a course (a unit vector), while `closing` gives the speed
    /// wanted across it, to its left, at a true airspeed.
    pub fn triangle(
        &self,
        named: Airspeed,
        course: [f64; 2],
        closing: impl Fn(f64) -> f64,
    ) -> Result<Triangle, CannotFly> {
        let [cx, cy] = course;
        let (wx, wy) = (self.wind.x.mps(), self.wind.y.mps());
        let (tailwind, wind_across) = (wx * cx + wy * cy, wy * cx - wx * cy);
        let (forward, along, across) = if let Airspeed::Ground(speed) = named {
            let along = speed.mps();
            ensure(along > 0.0, CannotFly::NoProgress)?;
            let across = closing(along);
            ensure(along > tailwind, CannotFly::SpeedNotPositive)?;
            self.checked((along - tailwind).hypot(across - wind_across))?;
            (along - tailwind, along, across)
        } else {
            let speed = self.true_airspeed(named)?;
            let across = closing(speed);
            let crab = across - wind_across;
            ensure(crab.abs() < speed, CannotFly::Crosswind)?;
            let forward = (speed * speed - crab * crab).sqrt();
            ensure(forward + tailwind > 0.0, CannotFly::NoProgress)?;
            (forward, forward + tailwind, across)
        };
        let in_site =
            |along: f64, across: f64| [along * cx - across * cy, along * cy + across * cx];
        Ok(Triangle {
            ground: in_site(along, across),
            air: in_site(forward, across - wind_across),
            along_across: [along, across],
        })
    }

    /// What `true_airspeed` (and the ground speed that goes with it) is, named as `like` is.
    fn named_like(&self, like: Airspeed, true_airspeed: f64, ground_speed: f64) -> f64 {
        match like {
            Airspeed::Calibrated(_) => {
                let speed = Speed::from_mps(true_airspeed);
                self.parcel.calibrated_of(speed).mps()
            }
            Airspeed::True(_) => true_airspeed,
            Airspeed::Mach(_) => true_airspeed / self.parcel.sound.mps(),
            Airspeed::Ground(_) => ground_speed,
        }
    }
}

/// The speed of a leg as it is named, over the time since the leg began: it changes evenly from one
/// value to another and then stays.
#[derive(Debug, Clone, Copy)]
pub(super) struct SpeedLaw {
    to: Airspeed,
    from: f64,
    ramp: f64,
}

impl SpeedLaw {
    /// A speed held.
    pub fn held(speed: Airspeed) -> Self {
        SpeedLaw {
            to: speed,
            from: speed.value(),
            ramp: 0.0,
        }
    }

    /// The speed of a leg: as planned, or as the leg `before` it ended. A gain is of the speed as named
    /// (of a Mach number: of the true airspeed it stands for) and its sign is the direction's.
    /// `course` is that of a run; `None` in a turn.
    pub fn new(
        conditions: &Conditions,
        plan: Option<LegSpeed>,
        before: Option<Airspeed>,
        course: Option<[f64; 2]>,
    ) -> Result<Self, CannotFly> {
        let (to, gain) = match plan {
            None => return before.map(SpeedLaw::held).ok_or(CannotFly::NoSpeed),
            Some(LegSpeed::Held(speed)) => return Ok(SpeedLaw::held(speed)),
            Some(LegSpeed::Changed { to, gain }) => (to, gain),
            Some(LegSpeed::Energy) => return Err(CannotFly::NotYet),
        };
        let before = before.ok_or(CannotFly::NoSpeedBefore)?;
        let (true_airspeed, ground_speed) = match course {
            Some(course) => {
                let triangle = conditions.triangle(before, course, |_| 0.0)?;
                let ([x, y], [along, _]) = (triangle.air, triangle.along_across);
                (x.hypot(y), along)
            }
            None => (conditions.true_airspeed(before)?, 0.0),
        };
        let from = conditions.named_like(to, true_airspeed, ground_speed);
        let rate = match to {
            Airspeed::Mach(_) => gain.mps2().abs() / conditions.parcel.sound.mps(),
            _ => gain.mps2().abs(),
        };
        let change = (to.value() - from).abs();
        if change > 0.0 {
            ensure(rate > 0.0, CannotFly::NoGain)?;
        }
        Ok(SpeedLaw {
            to,
            from,
            ramp: if change > 0.0 { change / rate } else { 0.0 },
        })
    }

    /// The speed as named `t` seconds into the leg.
    pub fn at(&self, t: f64) -> Airspeed {
        if t >= self.ramp {
            return self.to;
        }
        let value = self.from + (self.to.value() - self.from) * t.max(0.0) / self.ramp;
        match self.to {
            Airspeed::Calibrated(_) => Airspeed::Calibrated(Speed::from_mps(value)),
            Airspeed::True(_) => Airspeed::True(Speed::from_mps(value)),
            Airspeed::Mach(_) => Airspeed::Mach(value),
            Airspeed::Ground(_) => Airspeed::Ground(Speed::from_mps(value)),
        }
    }

    /// How long the speed changes.
    pub fn ramp(&self) -> f64 {
        self.ramp
    }
}

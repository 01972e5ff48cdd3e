//! The speed flown on a leg: as the crew names it, through the air, and along the display line.

use super::air::{Air, Parcel};
use super::cannot::{CannotFly, ensure};
use super::craft::Effort;
use super::vector::Vector;
use super::wind::WindVector;
use crate::show::LegSpeed;
use crate::units::{Airspeed, Length, Speed};

/// A speed of less is none, m/s.
const SLOWEST: f64 = 1e-3;

/// The air and wind a leg is flown in.
#[derive(Debug, Clone, Copy)]
pub(super) struct Conditions {
    air: Air,
    height: Length,
    /// The air there, once it has been worked out.
    parcel: Option<Parcel>,
    pub wind: WindVector,
}

/// Ground and air velocity on a course; m/s.
#[derive(Debug, Clone, Copy)]
pub(super) struct Triangle {
    /// Over the ground.
    pub ground: Vector,
    /// Through the air.
    pub air: Vector,
    /// Over the ground along the course, and across it to its left.
    pub along_across: [f64; 2],
}

impl Conditions {
    /// At one height; the air there is worked out only if it is asked for.
    pub fn new(air: &Air, wind: WindVector, height: Length) -> Conditions {
        Conditions {
            air: *air,
            height,
            parcel: None,
            wind,
        }
    }

    /// For a leg that stays there: the air is worked out once.
    pub fn of_a_stay(self) -> Conditions {
        Conditions {
            parcel: Some(self.parcel()),
            ..self
        }
    }

    fn parcel(&self) -> Parcel {
        self.parcel.unwrap_or_else(|| self.air.at(self.height))
    }

    fn sound(&self) -> f64 {
        let sound = |parcel: Parcel| parcel.sound;
        let known = self.parcel.map(sound);
        known
            .unwrap_or_else(|| self.air.sound_at(self.height))
            .mps()
    }

    /// True airspeed, m/s, of an airspeed as named. A ground speed needs [`Conditions::triangle`].
    pub fn true_airspeed(&self, named: Airspeed) -> Result<f64, CannotFly> {
        let speed = match named {
            Airspeed::Calibrated(speed) => self.parcel().true_of(speed).mps(),
            Airspeed::True(speed) => speed.mps(),
            Airspeed::Mach(mach) => mach * self.sound(),
            Airspeed::Ground(_) => return Err(CannotFly::GroundSpeed),
        };
        self.checked(speed)
    }

    fn checked(&self, true_airspeed: f64) -> Result<f64, CannotFly> {
        ensure(true_airspeed > SLOWEST, CannotFly::SpeedNotPositive)?;
        let sound = self.sound();
        ensure(true_airspeed < sound, CannotFly::Supersonic)?;
        let (wx, wy) = (self.wind.x.mps(), self.wind.y.mps());
        // A wind faster than sound is a slip of the pen, and would not stay finite.
        ensure(wx * wx + wy * wy < sound * sound, CannotFly::Crosswind)?;
        Ok(true_airspeed)
    }

    /// A velocity through the air as one over the ground.
    pub fn over_ground(&self, [x, y, z]: Vector) -> Vector {
        [x + self.wind.x.mps(), y + self.wind.y.mps(), z]
    }

    /// The wind triangle at a speed as named on a course (a unit vector over the ground), while `closing`
    /// gives the speed wanted across it, to its left, and `climbing` the speed upwards, each at a true
    /// airspeed (at a ground speed, where that is what is named).
    pub fn triangle(
        &self,
        named: Airspeed,
        course: [f64; 2],
        closing: impl Fn(f64) -> f64,
        climbing: impl Fn(f64) -> f64,
    ) -> Result<Triangle, CannotFly> {
        let [cx, cy] = course;
        let (wx, wy) = (self.wind.x.mps(), self.wind.y.mps());
        let (tailwind, wind_across) = (wx * cx + wy * cy, wy * cx - wx * cy);
        let (forward, along, across, up) = if let Airspeed::Ground(speed) = named {
            let along = speed.mps();
            ensure(along > SLOWEST, CannotFly::NoProgress)?;
            let (across, up) = (closing(along), climbing(along));
            ensure(along > tailwind, CannotFly::SpeedNotPositive)?;
            self.checked((along - tailwind).hypot(across - wind_across).hypot(up))?;
            (along - tailwind, along, across, up)
        } else {
            let speed = self.true_airspeed(named)?;
            let (across, up) = (closing(speed), climbing(speed));
            let crab = across - wind_across;
            let level = speed * speed - up * up;
            ensure(crab * crab < level, CannotFly::Crosswind)?;
            let forward = (level - crab * crab).sqrt();
            ensure(forward + tailwind > 0.0, CannotFly::NoProgress)?;
            (forward, forward + tailwind, across, up)
        };
        let in_site =
            |along: f64, across: f64, up| [along * cx - across * cy, along * cy + across * cx, up];
        Ok(Triangle {
            ground: in_site(along, across, up),
            air: in_site(forward, across - wind_across, up),
            along_across: [along, across],
        })
    }

    /// A true airspeed as an airspeed of the kind that `like` is; of a ground speed, a true one.
    pub fn named(&self, like: Airspeed, true_airspeed: f64) -> Airspeed {
        let value = self.named_like(like, true_airspeed, true_airspeed);
        match like {
            Airspeed::Ground(_) => Airspeed::True(Speed::from_mps(true_airspeed)),
            like => with_value(like, value),
        }
    }

    /// What `true_airspeed` (and the ground speed that goes with it) is, named as `like` is.
    fn named_like(&self, like: Airspeed, true_airspeed: f64, ground_speed: f64) -> f64 {
        match like {
            Airspeed::Calibrated(_) => {
                let speed = Speed::from_mps(true_airspeed);
                self.parcel().calibrated_of(speed).mps()
            }
            Airspeed::True(_) => true_airspeed,
            Airspeed::Mach(_) => true_airspeed / self.sound(),
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
            None | Some(LegSpeed::Energy | LegSpeed::SameEnergy) => {
                return before.map(SpeedLaw::held).ok_or(CannotFly::NoSpeed);
            }
            Some(LegSpeed::Held(speed)) => return Ok(SpeedLaw::held(speed)),
            Some(LegSpeed::Changed { to, gain }) => (to, gain),
        };
        let before = before.ok_or(CannotFly::NoSpeedBefore)?;
        let (true_airspeed, ground_speed) = match course {
            Some(course) => {
                let triangle = conditions.triangle(before, course, |_| 0.0, |_| 0.0)?;
                let ([x, y, _], [along, _]) = (triangle.air, triangle.along_across);
                (x.hypot(y), along)
            }
            None => (conditions.true_airspeed(before)?, 0.0),
        };
        let from = conditions.named_like(to, true_airspeed, ground_speed);
        let rate = match to {
            Airspeed::Mach(_) => gain.mps2().abs() / conditions.sound(),
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
        with_value(self.to, value)
    }

    /// How long the speed changes.
    pub fn ramp(&self) -> f64 {
        self.ramp
    }
}

/// An airspeed of the kind that `like` is, with this bare number.
fn with_value(like: Airspeed, value: f64) -> Airspeed {
    match like {
        Airspeed::Calibrated(_) => Airspeed::Calibrated(Speed::from_mps(value)),
        Airspeed::True(_) => Airspeed::True(Speed::from_mps(value)),
        Airspeed::Mach(_) => Airspeed::Mach(value),
        Airspeed::Ground(_) => Airspeed::Ground(Speed::from_mps(value)),
    }
}

/// What sets the speed on a leg.
#[derive(Debug, Clone, Copy)]
pub(super) enum Pace {
    /// The pilot.
    Set(SpeedLaw),
    /// Energy, with so much power.
    Energy(Effort),
}

impl Pace {
    /// The true airspeed `t` seconds into a leg, m/s, where energy has led to `speed`.
    pub fn true_airspeed(
        &self,
        conditions: &Conditions,
        t: f64,
        speed: f64,
    ) -> Result<f64, CannotFly> {
        match self {
            Pace::Set(law) => conditions.true_airspeed(law.at(t)),
            Pace::Energy(_) => Ok(speed),
        }
    }

    /// The same for a leg that stays where it is `here`: a speed held is one true airspeed.
    pub fn at_one_height(self, here: &Conditions) -> Pace {
        match self {
            Pace::Set(law) if law.ramp() == 0.0 => match here.true_airspeed(law.at(0.0)) {
                Ok(speed) => Pace::Set(SpeedLaw::held(Airspeed::True(Speed::from_mps(speed)))),
                Err(_) => self,
            },
            _ => self,
        }
    }

    /// The same, as it is named.
    pub fn named(&self, t: f64, speed: f64) -> Airspeed {
        match self {
            Pace::Set(law) => law.at(t),
            Pace::Energy(_) => Airspeed::True(Speed::from_mps(speed)),
        }
    }

    /// When, after `t`, it next begins or ceases to change; energy never does.
    pub fn kink_after(&self, t: f64) -> f64 {
        match self {
            Pace::Set(law) if law.ramp() > t + 1e-9 => law.ramp(),
            _ => f64::INFINITY,
        }
    }

    /// Whether it stays as it is at `t`, as named.
    pub fn is_held_from(&self, t: f64) -> bool {
        matches!(self, Pace::Set(_)) && self.kink_after(t) == f64::INFINITY
    }
}

//! Flying one leg from where the aircraft is.
//!
//! `run`: runs. `turn`: turns. `steep`: pulls, pushes, rolls, coasts, pivots. The laws they follow: `straight`, and
//! rolls that go straight on too; `lifted`, round in the plane of the lift; `looped`, where that is vertical; `falling`.
//! `goal`: what ends those. `climb`: to another height on
//! the way.

mod climb;
mod falling;
mod goal;
mod lifted;
mod looped;
mod run;
mod steep;
pub(super) mod straight;
mod turn;

pub(super) use climb::Climb;
pub(super) use turn::UNWRITTEN;

use std::f64::consts::PI;

use super::attitude::Attitude;
use super::cannot::{CannotFly, ensure};
use super::craft::Effort;
use super::speed::{Conditions, Pace, SpeedLaw};
use super::track::{State, Track};
use super::vector::{self, Vector, length, unit};
use super::world::World;
use crate::show::{Leg, LegSpeed, Motion, Side, TurnTowards};
use crate::units::{Airspeed, Angle, Speed};

/// Nearer across the line than this a turn towards the crowd has no side (cosine of 80 degrees).
const ACROSS_LINE: f64 = 0.17;
/// A run or a turn takes up its own path at once from one that leads no further off, rad (15 degrees).
pub(super) const KINK: f64 = PI / 12.0;
/// The furthest round, rad.
const MOST_ROUND: f64 = 20.0 * PI;

/// Where and how a leg begins.
#[derive(Debug, Clone, Copy)]
pub(super) struct Begin<'a> {
    pub world: &'a World,
    pub state: State,
    pub attitude: Attitude,
    /// Whether it moves already; if not, only the direction of its velocity counts.
    pub moves: bool,
    /// As the leg before ended, or the last speed spoken of.
    pub speed: Option<Airspeed>,
    /// Whether anything says how high it is.
    pub has_height: bool,
    /// The side the figure is begun from, as the document says.
    pub from: Side,
    pub mirrored: bool,
    /// Which way the turn before it went: 1 to the pilot's left, −1 to the right.
    pub turned: Option<f64>,
}

/// A leg flown: its track, and how the next leg may take on from it.
#[derive(Debug, Clone)]
pub(super) struct Flown {
    pub track: Track,
    pub speed: Airspeed,
    pub attitude: Attitude,
}

impl Begin<'_> {
    /// Flies a leg that moves.
    pub fn fly(&self, leg: &Leg) -> Result<Flown, CannotFly> {
        ensure(self.has_height, CannotFly::NoHeight)?;
        ensure(self.state.place[2] >= 0.0, CannotFly::HeightBelowSite)?;
        ensure(
            leg.height.is_none_or(|height| height.m() >= 0.0),
            CannotFly::HeightBelowSite,
        )?;
        match leg.motion {
            Motion::Hold { .. } => Err(CannotFly::NegativeLength),
            Motion::Run { until, pitch: None } => self.run(leg, until),
            Motion::Run {
                until,
                pitch: Some(pitch),
            } => self.pitched_run(leg, until, pitch),
            Motion::Turn { until, towards, by } => self.turn(leg, until, towards, by),
            Motion::Pull { until, by } => self.pull(leg, until, by, 1.0),
            Motion::Push { until, by } => self.pull(leg, until, by, -1.0),
            Motion::Roll {
                angle,
                rate,
                towards,
                load,
            } => self.roll(leg, angle, rate, towards, load),
            Motion::Coast { until } => self.coast(until),
            Motion::Pivot { .. } => self.pivot(&leg.motion),
        }
    }

    /// To the leg's height on the way, if it has one.
    fn climb(&self, leg: &Leg) -> Climb {
        Climb::new(self.state.place[2], leg.height.map(|to| to.m()))
    }

    /// Air and wind where it begins.
    fn here(&self) -> Conditions {
        self.world.at(self.state.place[2])
    }

    /// The direction it flies in, through the air.
    fn along(&self) -> Result<Vector, CannotFly> {
        unit(self.state.air).ok_or(CannotFly::SpeedNotPositive)
    }

    /// What sets the speed, and what it is at the start, m/s; `level` legs hold theirs if nothing is said.
    /// `course` is that of a run over the ground.
    fn pace(
        &self,
        leg: &Leg,
        level: bool,
        course: Option<[f64; 2]>,
    ) -> Result<(Pace, f64), CannotFly> {
        let here = self.here();
        let effort = match leg.speed {
            Some(LegSpeed::SameEnergy) => Some(Effort::Keeping),
            Some(LegSpeed::Held(_) | LegSpeed::Changed { .. }) => None,
            Some(LegSpeed::Energy) => Some(Effort::Share(leg.power.unwrap_or(1.0))),
            None => (!level).then(|| Effort::Share(leg.power.unwrap_or(1.0))),
        };
        if let Some(effort) = effort {
            let asks_no_power = matches!(effort, Effort::Share(0.0) | Effort::Keeping);
            let known = asks_no_power || self.world.craft.power.is_some();
            ensure(known, CannotFly::NoClimbPower)?;
            return Ok((Pace::Energy(effort), self.begun_speed(&here)?));
        }
        let here = here.of_a_stay();
        let law = SpeedLaw::new(&here, leg.speed, self.speed, course)?;
        let speed = match law.at(0.0) {
            Airspeed::Ground(_) if course.is_some() => 0.0,
            named => here.true_airspeed(named)?,
        };
        Ok((Pace::Set(law), speed))
    }

    /// The true airspeed it begins at, m/s.
    fn begun_speed(&self, here: &Conditions) -> Result<f64, CannotFly> {
        if self.moves {
            return Ok(length(self.state.air));
        }
        here.true_airspeed(self.speed.ok_or(CannotFly::NoSpeedBefore)?)
    }

    /// The speed a leg ended at, of the kind spoken of last.
    fn as_before(&self, end: &State) -> Airspeed {
        let kind = self.speed.unwrap_or(Airspeed::Calibrated(Speed::ZERO));
        self.named_at_end(kind, end)
    }

    /// A set speed as it is where a leg ended; one over the ground is a true airspeed from there on.
    fn named_at_end(&self, set: Airspeed, end: &State) -> Airspeed {
        self.world.at(end.place[2]).named(set, length(end.air))
    }

    /// An error where the path leads further than a kink off the angle a leg keeps to, rad.
    fn leads(&self, along: Vector, angle: f64) -> Result<(), CannotFly> {
        let climbs = vector::climb(along);
        ensure(
            (climbs - angle).abs() <= KINK,
            CannotFly::NotThatWay(climbs.to_degrees()),
        )
    }

    /// The heading as a unit vector; on a vertical path, the one it came from.
    fn heading(&self, along: Vector) -> [f64; 2] {
        let [x, y, z] = along;
        let [lx, ly, _] = self.attitude.carried(self.attitude.nose, along).lift;
        let level = x.hypot(y);
        if level > 1e-3 {
            return [x / level, y / level];
        }
        let size = lx.hypot(ly);
        [-z.signum() * lx / size, -z.signum() * ly / size]
    }

    /// The side meant, as it is flown today.
    fn side(&self, side: Option<Side>) -> Side {
        let side = side.unwrap_or(self.from);
        if self.mirrored { side.mirrored() } else { side }
    }

    /// 1 for a turn or a roll to the pilot's left, −1 to the right.
    fn sense(&self, along: Vector, towards: TurnTowards) -> Result<f64, CannotFly> {
        let mirror = if self.mirrored { -1.0 } else { 1.0 };
        let along = share_along(along);
        match towards {
            TurnTowards::PilotsLeft => Ok(mirror),
            TurnTowards::PilotsRight => Ok(-mirror),
            TurnTowards::Back => self.turned.map(|way| -way).ok_or(CannotFly::NoTurnBefore),
            _ if along.abs() < ACROSS_LINE => Err(CannotFly::TurnWay),
            TurnTowards::Crowd => Ok(-along.signum()),
            TurnTowards::Away => Ok(along.signum()),
        }
    }

    /// Which way a turn or a roll from here goes, if it can be said.
    pub fn turns(&self, towards: TurnTowards) -> Option<f64> {
        self.sense(self.along().ok()?, towards).ok()
    }
}

/// An angle that something goes round by, rad.
fn round(angle: Angle) -> Result<f64, CannotFly> {
    let angle = angle.rad();
    ensure(angle > 0.0 && angle <= MOST_ROUND, CannotFly::TurnAngle)?;
    Ok(angle)
}

/// The cosine between the heading and the display line towards the crowd's right.
fn share_along([x, y, _]: Vector) -> f64 {
    x / x.hypot(y)
}

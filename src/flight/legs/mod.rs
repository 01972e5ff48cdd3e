//! Flying one leg from where the aircraft is.
//!
//! `straight`: runs, and rolls that go straight on. `turn`: turns. `lifted`: pulls, pushes and rolls that
//! keep their load. `falling`: coasts and pivots. `climb`: to another height on the way.

mod climb;
mod falling;
mod lifted;
mod steep;
pub(super) mod straight;
mod turn;

pub(super) use climb::Climb;

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::attitude::Attitude;
use super::cannot::{CannotFly, ensure};
use super::integrate;
use super::speed::{Conditions, Pace, SpeedLaw};
use super::track::{State, Track};
use super::vector::{Vector, length, unit};
use super::world::World;
use crate::show::{Leg, LegSpeed, Motion, Place, RunUntil, Side, TurnTowards, TurnUntil};
use crate::units::{Airspeed, Angle, Speed};
use straight::{End, Keeps, Straight};

/// Headed nearer than this to the display line, a run takes to it (cosine of 30 degrees).
const ALONG_LINE: f64 = 0.866;
/// A run to a place takes to it even when headed further off, to here (cosine of 60 degrees).
const TO_A_PLACE: f64 = 0.5;
/// Nearer across the line than this a turn towards the crowd has no side (cosine of 80 degrees).
const ACROSS_LINE: f64 = 0.17;
/// A run or a turn takes up its own path at once from one that leads no further off, rad (15 degrees).
const KINK: f64 = PI / 12.0;
/// More inverted than this it does not turn.
const INVERTED: f64 = -0.1;
/// The furthest round, rad.
const MOST_ROUND: f64 = 20.0 * PI;
/// Nearer than this it is headed where it should turn to, rad.
const HEADED_THERE: f64 = 0.01;

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
            Motion::Turn { until, towards, by } => {
                let hardness = turn::hardness(by, &self.world.craft)?;
                self.turn(leg, until, towards, hardness)
            }
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

    /// Air and wind where it begins.
    fn here(&self) -> Conditions {
        self.world.at(self.state.place[2])
    }

    /// The direction it flies in, through the air.
    fn along(&self) -> Result<Vector, CannotFly> {
        unit(self.state.air).ok_or(CannotFly::SpeedNotPositive)
    }

    /// A level run, or one to another height.
    fn run(&self, leg: &Leg, until: RunUntil) -> Result<Flown, CannotFly> {
        let along = self.along()?;
        self.leads(along, 0.0)?;
        let on_line = along_line(along, until)?;
        let course = on_line.map_or_else(|| self.straight_on(along), |way| [way, 0.0]);
        let (pace, speed) = self.pace(leg, true, Some(course))?;
        let height = self.state.place[2];
        let line = on_line.map(|_| self.world.line);
        let mut law = Straight::new(
            self.world,
            self.state,
            course,
            Keeps::Course { line },
            Climb::new(height, leg.height.map(|to| to.m())),
            pace,
            self.run_end(course, until)?,
        );
        self.go_straight(&mut law, pace, speed)
    }

    /// A run at an angle, straight on through the air.
    fn pitched_run(&self, leg: &Leg, until: RunUntil, pitch: Angle) -> Result<Flown, CannotFly> {
        let along = self.along()?;
        let pitch = pitch.rad();
        ensure(pitch.abs() <= FRAC_PI_2 + 1e-9, CannotFly::TurnAngle)?;
        self.leads(along, pitch)?;
        let (sin, cos) = pitch.sin_cos();
        let [hx, hy] = self.heading(along);
        let cos = if cos < 1e-9 { 0.0 } else { cos };
        let along = unit([hx * cos, hy * cos, sin]).ok_or(CannotFly::TurnAngle)?;
        self.straight_through_the_air(leg, along, self.run_end_through_the_air(until)?)
    }

    /// Straight on in the direction `along` through the air.
    fn straight_through_the_air(
        &self,
        leg: &Leg,
        along: Vector,
        (course, end): (Option<[f64; 2]>, End),
    ) -> Result<Flown, CannotFly> {
        let (pace, speed) = self.pace(leg, false, None)?;
        let mut law = Straight::new(
            self.world,
            self.state,
            course.unwrap_or_else(|| self.straight_on(along)),
            Keeps::Air(along),
            Climb::new(0.0, None),
            pace,
            end,
        );
        self.go_straight(&mut law, pace, speed)
    }

    fn go_straight(
        &self,
        law: &mut Straight<'_>,
        pace: Pace,
        speed: f64,
    ) -> Result<Flown, CannotFly> {
        let y = law.begin(speed)?;
        let led = integrate::fly(law, y)?;
        let along = unit(led.track.end().air).ok_or(CannotFly::SpeedNotPositive)?;
        let speed = match pace {
            Pace::Set(set) => self.named_at_end(set.at(led.t), led.track.end()),
            Pace::Energy(_) => self.as_before(led.track.end()),
        };
        Ok(Flown {
            speed,
            attitude: self.attitude.carried(self.attitude.nose, along),
            track: led.track,
        })
    }

    fn turn(
        &self,
        leg: &Leg,
        until: TurnUntil,
        towards: TurnTowards,
        hardness: turn::Hardness,
    ) -> Result<Flown, CannotFly> {
        let along = self.along()?;
        self.leads(along, 0.0)?;
        let attitude = self.attitude.carried(self.attitude.nose, along);
        ensure(attitude.uprightness() >= INVERTED, CannotFly::TurnInverted)?;
        let sense = self.sense(along, towards)?;
        let angle = self.turn_angle(along, until, sense)?;
        let (pace, speed) = self.pace(leg, true, None)?;
        let height = self.state.place[2];
        let climb = Climb::new(height, leg.height.map(|to| to.m()));
        let mut law = turn::Turn {
            world: self.world,
            start: self.state,
            level: climb.is_level().then(|| self.here()),
            pace: if climb.is_level() {
                pace.at_one_height(&self.here())
            } else {
                pace
            },
            climb,
            heading: self.state.air[1].atan2(self.state.air[0]),
            angle,
            sense,
            hardness,
        };
        let [x, y, _] = self.state.place;
        let led = integrate::fly(&mut law, [x, y, height, 0.0, speed])?;
        let end = led.track.end();
        let along = unit(end.air).ok_or(CannotFly::SpeedNotPositive)?;
        let speed = match pace {
            Pace::Set(set) => self.named_at_end(set.at(led.t), end),
            Pace::Energy(_) => self.as_before(end),
        };
        Ok(Flown {
            speed,
            attitude: Attitude::upright(along, attitude.lift),
            track: led.track,
        })
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
        let follows_energy = match leg.speed {
            Some(speed) => speed == LegSpeed::Energy,
            None => !level,
        };
        if follows_energy {
            let share = leg.power.unwrap_or(1.0);
            let known = share == 0.0 || self.world.craft.power.is_some();
            ensure(known, CannotFly::NoClimbPower)?;
            return Ok((Pace::Energy(share), self.begun_speed(&here)?));
        }
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
        let climbs = along[2].clamp(-1.0, 1.0).asin();
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

    /// The course over the ground, as a unit vector.
    fn straight_on(&self, along: Vector) -> [f64; 2] {
        let [x, y, _] = self.state.ground;
        let speed = x.hypot(y);
        if speed > 1e-6 {
            [x / speed, y / speed]
        } else {
            self.heading(along)
        }
    }

    /// The side meant, as it is flown today.
    fn side(&self, side: Option<Side>) -> Side {
        let side = side.unwrap_or(self.from);
        if self.mirrored { side.mirrored() } else { side }
    }

    fn x_of(&self, place: Place) -> f64 {
        self.side(place.side).sign() * place.out.m()
    }

    fn run_end(&self, course: [f64; 2], until: RunUntil) -> Result<End, CannotFly> {
        let to = |x: f64| End::Along((x - self.state.x()) * course[0]);
        Ok(match until {
            RunUntil::Centre => to(0.0),
            RunUntil::Place(place) => to(self.x_of(place)),
            RunUntil::Distance(far) if far.m() >= 0.0 => End::Along(far.m()),
            RunUntil::Distance(_) => return Err(CannotFly::NegativeLength),
            RunUntil::Time(span) => End::After(span.s()),
            RunUntil::Height(height) => End::Height(height.m()),
            RunUntil::Speed(speed) => End::Speed(speed),
        })
    }

    /// The same where the path does not keep to a course: to a place is along the line.
    fn run_end_through_the_air(
        &self,
        until: RunUntil,
    ) -> Result<(Option<[f64; 2]>, End), CannotFly> {
        let x = match until {
            RunUntil::Centre => 0.0,
            RunUntil::Place(place) => self.x_of(place),
            _ => return Ok((None, self.run_end([1.0, 0.0], until)?)),
        };
        let ahead = (x - self.state.x()) * self.along()?[0];
        ensure(ahead >= 0.0, CannotFly::Behind)?;
        let way = (x - self.state.x()).signum();
        let course = [way, 0.0];
        Ok((Some(course), self.run_end(course, until)?))
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

    /// How far round it goes, rad.
    fn turn_angle(&self, along: Vector, until: TurnUntil, sense: f64) -> Result<f64, CannotFly> {
        let heading = match until {
            TurnUntil::Angle(angle) => return round(angle),
            TurnUntil::Side(side) => match self.side(Some(side)) {
                Side::Right => 0.0,
                Side::Left => PI,
            },
            TurnUntil::Away => FRAC_PI_2,
            TurnUntil::Crowd => -FRAC_PI_2,
        };
        let angle = (sense * (heading - along[1].atan2(along[0]))).rem_euclid(TAU);
        let turns = (HEADED_THERE..=TAU - HEADED_THERE).contains(&angle);
        ensure(turns, CannotFly::HeadedThere)?;
        Ok(angle)
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

/// The way along the display line, 1 or −1, that a run takes; `None` where it goes straight on instead.
fn along_line(along: Vector, until: RunUntil) -> Result<Option<f64>, CannotFly> {
    let along = share_along(along);
    match until {
        RunUntil::Centre | RunUntil::Place(_) => {
            ensure(along.abs() >= TO_A_PLACE, CannotFly::OffLine)?;
            Ok(Some(along.signum()))
        }
        _ => Ok((along.abs() >= ALONG_LINE).then_some(along.signum())),
    }
}

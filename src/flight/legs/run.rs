//! Runs: along the display line, straight on over the ground, or straight on through the air.

use std::f64::consts::FRAC_PI_2;

use super::climb::Climb;
use super::straight::{End, Keeps, Straight};
use super::{Begin, Flown, KINK, share_along};
use crate::flight::cannot::{CannotFly, ensure};
use crate::flight::integrate;
use crate::flight::speed::Pace;
use crate::flight::track::State;
use crate::flight::vector::{Vector, unit};
use crate::show::{Leg, Place, RunUntil};
use crate::units::Angle;

/// Headed nearer than this to the display line, a run takes to it (cosine of 30 degrees).
const ALONG_LINE: f64 = 0.866;
/// A run to a place takes to it even when headed further off, to here (cosine of 60 degrees).
const TO_A_PLACE: f64 = 0.5;

/// Where a level run leads.
struct LevelWay {
    /// Over the ground, as a unit vector.
    course: [f64; 2],
    /// The line it closes on, m from the crowd line.
    line: Option<f64>,
    end: End,
}

impl LevelWay {
    /// What is left of it where a turn has led from one place to another; `None` where that is nothing.
    fn after(&self, begun: &State, turned: &State) -> Option<LevelWay> {
        let [cx, cy] = self.course;
        let along = (turned.x() - begun.x()) * cx + (turned.y() - begun.y()) * cy;
        let end = match self.end {
            End::Along(far) => End::Along(far - along),
            End::After(s) => End::After(s - (turned.t - begun.t)),
            end => end,
        };
        let left = match end {
            End::Along(left) | End::After(left) => left > 0.0,
            End::Height(_) | End::Speed(_) => true,
        };
        left.then_some(LevelWay { end, ..*self })
    }
}

impl Begin<'_> {
    /// A level run, or one to another height. Where it leads further off than a kink, it is turned to first. One that is
    /// over before that goes straight on, or, to a place, takes the corner at once.
    pub(super) fn run(&self, leg: &Leg, until: RunUntil) -> Result<Flown, CannotFly> {
        let along = self.along()?;
        self.leads(along, 0.0)?;
        let on_line = along_line(along, until)?;
        let course = on_line.map_or_else(|| self.straight_on(along), |way| [way, 0.0]);
        let way = LevelWay {
            course,
            line: on_line.map(|_| self.world.line),
            end: self.run_end(course, until)?,
        };
        let (mut law, pace, speed) = self.level_law(leg, &way)?;
        let corner = self.corner(&mut law, speed)?;
        if corner.abs() <= KINK {
            return self.go_straight(&mut law, pace, speed);
        }
        if let Some(flown) = self.turned_run(leg, &way, corner) {
            return Ok(flown);
        }
        let on = match until {
            RunUntil::Distance(_) | RunUntil::Time(_) => LevelWay {
                course: self.straight_on(along),
                line: None,
                end: way.end,
            },
            _ => way,
        };
        self.level_run(leg, &on)
    }

    fn level_run(&self, leg: &Leg, way: &LevelWay) -> Result<Flown, CannotFly> {
        let (mut law, pace, speed) = self.level_law(leg, way)?;
        self.go_straight(&mut law, pace, speed)
    }

    /// The law of a level run, what sets its speed, and that at its start.
    fn level_law(&self, leg: &Leg, way: &LevelWay) -> Result<(Straight<'_>, Pace, f64), CannotFly> {
        let (pace, speed) = self.pace(leg, true, Some(way.course))?;
        let law = Straight::new(
            self.world,
            self.state,
            way.course,
            Keeps::Course { line: way.line },
            self.climb(leg),
            pace,
            way.end,
        );
        Ok((law, pace, speed))
    }

    /// How far to its left the heading of a level run is off the one it begins with, rad.
    fn corner(&self, law: &mut Straight<'_>, speed: f64) -> Result<f64, CannotFly> {
        if !self.moves {
            return Ok(0.0);
        }
        let begun = law.begin(speed)?;
        let ([x, y, _], [to_x, to_y, _]) = (self.state.air, law.begun_air(&begun)?);
        Ok((x * to_y - y * to_x).atan2(x * to_x + y * to_y))
    }

    /// A level run that begins with a turn to its heading; `None` where it is over before that or it cannot turn so.
    fn turned_run(&self, leg: &Leg, way: &LevelWay, corner: f64) -> Option<Flown> {
        let track = self.turn_onto(leg, corner).ok()?;
        let end = track.end();
        let along = unit(end.air)?;
        let turned = Begin {
            state: *end,
            attitude: self.attitude.carried(self.attitude.nose, along),
            speed: Some(self.as_before(end)),
            ..*self
        };
        let way = way.after(&self.state, end)?;
        let run = turned.level_run(leg, &way).ok()?;
        Some(Flown {
            track: track.joined(run.track),
            ..run
        })
    }

    /// A run at an angle, straight on through the air.
    pub(super) fn pitched_run(
        &self,
        leg: &Leg,
        until: RunUntil,
        pitch: Angle,
    ) -> Result<Flown, CannotFly> {
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
    pub(super) fn straight_through_the_air(
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

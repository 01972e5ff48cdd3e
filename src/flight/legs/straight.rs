//! Straight: along a track over the ground, or on through the air.
//!
//! A level run at a held speed on the display line is one step, which is exact.

use super::climb::Climb;
use crate::flight::air::GRAVITY;
use crate::flight::cannot::{CannotFly, ensure};
use crate::flight::integrate::Law;
use crate::flight::speed::{Conditions, Pace, Triangle};
use crate::flight::track::State;
use crate::flight::vector::{Vector, length, times};
use crate::flight::world::World;
use crate::units::Airspeed;

/// A run begun off the display line closes on it: within this time constant, s, ...
pub(in crate::flight) const CLOSING: f64 = 5.0;
/// ... at no more than this share of its speed (a track 30 degrees off).
pub(in crate::flight) const CLOSING_SHARE: f64 = 0.5;
/// On the line, m.
const ON_LINE: f64 = 0.5;
/// The longest step where something changes, s.
const STEP: f64 = 5.0;
/// At the end of a run, m, s or m/s.
const AT_END: f64 = 1e-9;

/// What ends it.
#[derive(Debug, Clone, Copy)]
pub(in crate::flight) enum End {
    /// So many metres over the ground along its course.
    Along(f64),
    /// So many seconds gone.
    After(f64),
    /// This height passed, m.
    Height(f64),
    /// This speed reached.
    Speed(Airspeed),
}

/// What it keeps to.
#[derive(Debug, Clone, Copy)]
pub(in crate::flight) enum Keeps {
    /// Its course over the ground; with a line, m from the crowd line, it closes on that if it begins off it.
    /// Only on a course along the display line.
    Course { line: Option<f64> },
    /// This direction through the air, a unit vector: the wind carries it along.
    Air(Vector),
}

/// The law of a straight leg. Numbers: along the course and across it to its left, m; height, m; true
/// airspeed where energy leads to it, m/s.
pub(in crate::flight) struct Straight<'a> {
    pub world: &'a World,
    pub start: State,
    /// Along which it is measured, as a unit vector.
    pub course: [f64; 2],
    pub keeps: Keeps,
    pub climb: Climb,
    pub pace: Pace,
    pub end: End,
    /// 1 where the height or speed that ends it lies above where it begins, −1 where below.
    sense: f64,
    /// How far the start is off the line it closes on, to the left of the course.
    begun_off: f64,
    /// The air and wind of a leg that stays at one height.
    level: Option<Conditions>,
    on_line: bool,
}

impl<'a> Straight<'a> {
    pub fn new(
        world: &'a World,
        start: State,
        course: [f64; 2],
        keeps: Keeps,
        climb: Climb,
        pace: Pace,
        end: End,
    ) -> Straight<'a> {
        let begun_off = match keeps {
            Keeps::Course { line: Some(line) } => (start.y() - line) * course[0],
            _ => 0.0,
        };
        let stays = match keeps {
            Keeps::Course { .. } => climb.is_level(),
            Keeps::Air(u) => u[2] == 0.0,
        };
        let level = stays.then(|| world.at(start.place[2]).of_a_stay());
        Straight {
            world,
            start,
            course,
            keeps,
            climb,
            pace: level.map_or(pace, |level| pace.at_one_height(&level)),
            end,
            sense: 1.0,
            begun_off,
            level,
            on_line: begun_off.abs() <= ON_LINE,
        }
    }

    /// The numbers at its start, begun at a true airspeed, m/s. An error says that it leads away from its
    /// end.
    pub fn begin(&mut self, speed: f64) -> Result<[f64; 4], CannotFly> {
        let y = [0.0, 0.0, self.start.place[2], speed];
        match self.end {
            End::Along(far) => ensure(far >= -1e-6, CannotFly::Behind)?,
            End::After(s) => ensure(s >= 0.0, CannotFly::NegativeLength)?,
            End::Height(_) => {
                self.sense = self.rest(0.0, &y).signum();
                let up = self.triangle(0.0, &y)?.air[2];
                let comes = self.sense * up > 0.0 || self.rest(0.0, &y).abs() < 1e-6;
                ensure(comes, self.other_way(&y))?;
            }
            End::Speed(_) => {
                let rest = self.rest(0.0, &y);
                self.sense = rest.signum();
                let gain = self.rate(0.0, &y)?[3];
                let follows = matches!(self.pace, Pace::Energy(_)) && rest.abs() > AT_END;
                ensure(!follows || self.sense * gain > 0.0, self.other_way(&y))?;
            }
        }
        Ok(y)
    }

    fn other_way(&self, y: &[f64; 4]) -> CannotFly {
        let flown = self.triangle(0.0, y);
        let speed = flown.map_or(y[3], |triangle| length(triangle.air));
        let (height, speed) = self.world.named(y[2], speed);
        CannotFly::OtherWay(height, speed)
    }

    /// Its velocity through the air where it begins with these numbers, m/s.
    pub fn begun_air(&self, y: &[f64; 4]) -> Result<Vector, CannotFly> {
        Ok(self.triangle(0.0, y)?.air)
    }

    fn at(&self, height: f64) -> Conditions {
        self.level.unwrap_or_else(|| self.world.at(height))
    }

    fn triangle(&self, t: f64, y: &[f64; 4]) -> Result<Triangle, CannotFly> {
        let [_, across, height, speed] = *y;
        let conditions = self.at(height);
        match self.keeps {
            Keeps::Course { .. } => {
                let closing = |speed: f64| {
                    if self.on_line {
                        return 0.0;
                    }
                    let most = CLOSING_SHARE * speed;
                    -most * ((self.begun_off + across) / (CLOSING * most)).tanh()
                };
                conditions.triangle(self.pace.named(t, speed), self.course, closing, |speed| {
                    self.climb.rate(height, speed)
                })
            }
            Keeps::Air(u) => {
                let air = times(u, self.pace.true_airspeed(&conditions, t, speed)?);
                let ground = conditions.over_ground(air);
                let [cx, cy] = self.course;
                Ok(Triangle {
                    ground,
                    air,
                    along_across: [
                        ground[0] * cx + ground[1] * cy,
                        ground[1] * cx - ground[0] * cy,
                    ],
                })
            }
        }
    }

    /// What is between it and the height or the speed that ends it.
    fn rest(&self, t: f64, y: &[f64; 4]) -> f64 {
        match self.end {
            End::Along(far) => far - y[0],
            End::After(s) => s - t,
            End::Height(height) => height - y[2],
            End::Speed(named) => {
                let wanted = self.at(y[2]).true_airspeed(named);
                let flown = self.triangle(t, y).map(|triangle| length(triangle.air));
                wanted.unwrap_or(f64::NAN) - flown.unwrap_or(f64::NAN)
            }
        }
    }
}

impl Law<4> for Straight<'_> {
    fn world(&self) -> &World {
        self.world
    }

    fn tolerance(&self) -> [f64; 4] {
        [3e-3, 3e-3, 3e-3, 1e-3]
    }

    fn rate(&self, t: f64, y: &[f64; 4]) -> Result<[f64; 4], CannotFly> {
        let triangle = self.triangle(t, y)?;
        let [along, across] = triangle.along_across;
        let up = triangle.air[2];
        let gain = match self.pace {
            Pace::Set(_) => 0.0,
            Pace::Energy(effort) => {
                let speed = y[3];
                let steep = up / speed;
                let craft = &self.world.craft;
                craft.push(&self.world.air, y[2], speed, load(steep), effort) - GRAVITY * steep
            }
        };
        Ok([along, across, up, gain])
    }

    fn is_steady(&self, t: f64) -> bool {
        self.level.is_some() && self.on_line && self.pace.is_held_from(t)
    }

    fn longest_step(&self, t: f64, y: &[f64; 4], rate: &[f64; 4]) -> Result<f64, CannotFly> {
        if !self.is_steady(t) {
            let most = STEP.min(self.pace.kink_after(t) - t);
            return Ok(match self.end {
                End::After(s) => most.min(s - t),
                _ => most,
            });
        }
        match self.end {
            End::Along(far) => {
                ensure(rate[0] > 0.0, CannotFly::NoProgress)?;
                Ok((far - y[0]) / rate[0])
            }
            End::After(s) => Ok(s - t),
            End::Height(_) | End::Speed(_) => Err(self.other_way(y)),
        }
    }

    fn left(&self, t: f64, y: &[f64; 4]) -> f64 {
        self.sense * self.rest(t, y) - AT_END
    }

    fn ends_briefly(&self) -> bool {
        matches!(self.end, End::Height(_) | End::Speed(_))
    }

    fn stretch(&self, t: f64, y: &[f64; 4]) -> usize {
        match (self.pace, self.triangle(t, y)) {
            (Pace::Energy(effort), Ok(triangle)) => {
                let load = load(triangle.air[2] / y[3]);
                let craft = &self.world.craft;
                craft.stretch(&self.world.air, y[2], y[3], load, effort)
            }
            _ => 0,
        }
    }

    fn load(&self, _: &[f64; 4], state: &State) -> Option<f64> {
        // A set speed is taken to be one that it can fly level, unless the aircraft says otherwise.
        if matches!(self.pace, Pace::Set(_)) && self.world.craft.stall.is_none() {
            return None;
        }
        let [x, y, _] = state.air;
        Some((x * x + y * y).sqrt() / length(state.air))
    }

    fn state(&self, t: f64, y: &[f64; 4]) -> Result<State, CannotFly> {
        let triangle = self.triangle(t, y)?;
        let [along, across, height, _] = *y;
        let [cx, cy] = self.course;
        Ok(State {
            t: self.start.t + t,
            place: [
                self.start.x() + along * cx - across * cy,
                self.start.y() + along * cy + across * cx,
                height,
            ],
            ground: triangle.ground,
            air: triangle.air,
            nose_off: 0.0,
        })
    }

    fn settle(&mut self, y: &mut [f64; 4], over: bool) -> bool {
        let joins = !self.on_line && (self.begun_off + y[1]).abs() <= ON_LINE;
        self.on_line |= joins;
        let levels = self.climb.settle(&mut y[2]);
        if levels {
            self.level = Some(self.world.at(y[2]).of_a_stay());
        }
        match self.end {
            End::Along(far) if over => y[0] = far,
            End::Height(height) if over => y[2] = height,
            _ => {}
        }
        joins || levels
    }
}

/// The load factor on a path that climbs straight on, at an angle of this sine.
fn load(steep: f64) -> f64 {
    (1.0 - steep * steep).max(0.0).sqrt()
}

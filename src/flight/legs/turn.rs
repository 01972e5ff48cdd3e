//! A turn, level or to a height, in air that drifts.

use super::climb::Climb;
use crate::flight::air::GRAVITY;
use crate::flight::cannot::{CannotFly, ensure};
use crate::flight::craft::Craft;
use crate::flight::integrate::Law;
use crate::flight::speed::{Conditions, Pace};
use crate::flight::track::State;
use crate::flight::vector::Vector;
use crate::flight::world::World;
use crate::show::{HARDEST, TurnBy};

/// The most it goes round in one step, rad.
const STEP_ROUND: f64 = 0.6;
/// The softest level turn, as a bank, rad.
const SOFTEST: f64 = 0.017;

/// How hard it turns.
#[derive(Debug, Clone, Copy)]
pub(super) enum Hardness {
    /// With this load factor.
    Load(f64),
    /// With the highest it can at its speed.
    Tightest,
}

/// The law of a turn. Numbers: x, y and height, m; how far round, rad; true airspeed where energy leads to
/// it, m/s.
pub(super) struct Turn<'a> {
    pub world: &'a World,
    pub start: State,
    pub climb: Climb,
    pub pace: Pace,
    /// The heading at its start, rad to the left of the display line towards the crowd's right.
    pub heading: f64,
    /// How far the heading goes round, rad.
    pub angle: f64,
    /// 1 to the pilot's left, −1 to the right.
    pub sense: f64,
    pub hardness: Hardness,
    /// The air and wind of a turn that stays at one height.
    pub level: Option<Conditions>,
}

impl Turn<'_> {
    fn at(&self, height: f64) -> Conditions {
        self.level.unwrap_or_else(|| self.world.at(height))
    }

    /// The load factor at a speed through the air, and by which limit of the aircraft.
    fn hard(&self, y: &[f64; 5], speed: f64) -> (usize, f64) {
        match self.hardness {
            Hardness::Load(load) => (0, load),
            Hardness::Tightest => {
                let held = match self.pace {
                    Pace::Set(_) => Some(self.climb.rate(y[2], speed)),
                    Pace::Energy(_) => None,
                };
                let World { air, craft, .. } = self.world;
                craft.tightest(air, y[2], speed, held)
            }
        }
    }

    fn speed(&self, t: f64, y: &[f64; 5]) -> Result<f64, CannotFly> {
        self.pace.true_airspeed(&self.at(y[2]), t, y[4])
    }

    /// Velocity through the air.
    fn air(&self, y: &[f64; 5], speed: f64) -> Vector {
        let up = self.climb.rate(y[2], speed);
        let level = (speed * speed - up * up).sqrt();
        let (sin, cos) = (self.heading + self.sense * y[3]).sin_cos();
        [level * cos, level * sin, up]
    }
}

impl Law<5> for Turn<'_> {
    fn world(&self) -> &World {
        self.world
    }

    fn tolerance(&self) -> [f64; 5] {
        [1e-3, 1e-3, 1e-3, 1e-6, 1e-4]
    }

    fn rate(&self, t: f64, y: &[f64; 5]) -> Result<[f64; 5], CannotFly> {
        let speed = self.speed(t, y)?;
        let (_, load) = self.hard(y, speed);
        ensure(load >= softest(), CannotFly::NoTurnLeft)?;
        // Towards the centre of a level turn.
        let inwards = GRAVITY * (load * load - 1.0).sqrt();
        let air = self.air(y, speed);
        let [x, across, up] = self.at(y[2]).over_ground(air);
        let gain = match self.pace {
            Pace::Set(_) => 0.0,
            Pace::Energy(share) => {
                let craft = &self.world.craft;
                craft.push(&self.world.air, y[2], speed, load, share) - GRAVITY * up / speed
            }
        };
        Ok([x, across, up, inwards / speed, gain])
    }

    fn longest_step(&self, t: f64, y: &[f64; 5], rate: &[f64; 5]) -> Result<f64, CannotFly> {
        let round = rate[3];
        let step = STEP_ROUND / round;
        if self.level.is_some() && self.pace.is_held_from(t) {
            return Ok(step.min((self.angle - y[3]) / round));
        }
        Ok(step.min(self.pace.kink_after(t) - t))
    }

    fn left(&self, _: f64, y: &[f64; 5]) -> f64 {
        self.angle - y[3] - 1e-12
    }

    fn stretch(&self, t: f64, y: &[f64; 5]) -> usize {
        let (limit, load) = match (self.hardness, self.speed(t, y)) {
            (Hardness::Tightest, Ok(speed)) => self.hard(y, speed),
            (Hardness::Load(load), _) => (0, load),
            (Hardness::Tightest, Err(_)) => return 0,
        };
        let of_thrust = match self.pace {
            Pace::Set(_) => 0,
            Pace::Energy(share) => {
                let craft = &self.world.craft;
                craft.stretch(&self.world.air, y[2], y[4], load, share)
            }
        };
        3 * of_thrust + limit
    }

    fn load(&self, t: f64, y: &[f64; 5]) -> Option<f64> {
        let speed = self.speed(t, y);
        Some(speed.map_or(f64::NAN, |speed| self.hard(y, speed).1))
    }

    fn state(&self, t: f64, y: &[f64; 5]) -> Result<State, CannotFly> {
        let air = self.air(y, self.speed(t, y)?);
        Ok(State {
            t: self.start.t + t,
            place: [y[0], y[1], y[2]],
            ground: self.at(y[2]).over_ground(air),
            air,
            nose_off: 0.0,
        })
    }

    fn settle(&mut self, y: &mut [f64; 5], over: bool) -> bool {
        let levels = self.climb.settle(&mut y[2]);
        if levels {
            self.level = Some(self.world.at(y[2]));
        }
        if over {
            y[3] = self.angle;
        }
        levels
    }
}

/// How hard a level turn is that the document asks for.
pub(super) fn hardness(by: TurnBy, craft: &Craft) -> Result<Hardness, CannotFly> {
    let load = match by {
        TurnBy::Load(load) => load,
        TurnBy::Bank(bank) if bank.rad() < std::f64::consts::FRAC_PI_2 => 1.0 / bank.rad().cos(),
        TurnBy::Bank(_) => f64::NAN,
        TurnBy::Tightest => {
            ensure(craft.has_a_tightest(), CannotFly::NothingTightest)?;
            return Ok(Hardness::Tightest);
        }
    };
    ensure(
        load >= softest() && load <= HARDEST,
        CannotFly::TurnHardness,
    )?;
    Ok(Hardness::Load(load))
}

/// The softest level turn, as a load factor.
fn softest() -> f64 {
    1.0 / SOFTEST.cos()
}

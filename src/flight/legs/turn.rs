//! A turn, level or to a height, in air that drifts.

use super::climb::Climb;
use crate::flight::air::GRAVITY;
use crate::flight::cannot::{CannotFly, ensure};
use crate::flight::integrate::Law;
use crate::flight::speed::{Conditions, Pace};
use crate::flight::track::State;
use crate::flight::vector::Vector;
use crate::flight::world::World;
use crate::show::TurnBy;

/// The most it goes round in one step, rad.
const STEP_ROUND: f64 = 0.6;
/// The hardest level turn, as a load factor.
const HARDEST: f64 = 12.0;
/// The softest level turn, as a bank, rad.
const SOFTEST: f64 = 0.017;

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
    /// The load factor.
    pub load: f64,
    /// The air and wind of a turn that stays at one height.
    pub level: Option<Conditions>,
}

impl Turn<'_> {
    fn at(&self, height: f64) -> Conditions {
        self.level.unwrap_or_else(|| self.world.at(height))
    }

    /// The acceleration towards the centre of a level turn, m/s².
    fn inwards(&self) -> f64 {
        GRAVITY * (self.load * self.load - 1.0).sqrt()
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
        let air = self.air(y, speed);
        let [x, across, up] = self.at(y[2]).over_ground(air);
        let gain = match self.pace {
            Pace::Set(_) => 0.0,
            Pace::Energy(share) => {
                let craft = &self.world.craft;
                craft.push(&self.world.air, y[2], speed, self.load, share) - GRAVITY * up / speed
            }
        };
        Ok([x, across, up, self.inwards() / speed, gain])
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

    fn stretch(&self, _: f64, y: &[f64; 5]) -> usize {
        match self.pace {
            Pace::Set(_) => 0,
            Pace::Energy(share) => {
                let craft = &self.world.craft;
                craft.stretch(&self.world.air, y[2], y[4], self.load, share)
            }
        }
    }

    fn load(&self, _: f64, _: &[f64; 5]) -> Option<f64> {
        Some(self.load)
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

/// The load factor of a level turn.
pub(super) fn load(by: TurnBy) -> Result<f64, CannotFly> {
    let load = match by {
        TurnBy::Load(load) => load,
        TurnBy::Bank(bank) if bank.rad() < std::f64::consts::FRAC_PI_2 => 1.0 / bank.rad().cos(),
        TurnBy::Bank(_) => f64::NAN,
    };
    let softest = 1.0 / SOFTEST.cos();
    ensure(load >= softest && load <= HARDEST, CannotFly::TurnHardness)?;
    Ok(load)
}

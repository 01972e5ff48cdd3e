//! Round in the plane of the lift: pulls, pushes, and rolls that keep their load.
//!
//! dv/dt = −g k + g n l + thrust and drag along v, with v the velocity through the air, l the direction of
//! the lift and n the load factor. Along a path without roll l turns only as v makes it; a roll adds its
//! rate about v. Wind shear's acceleration is neglected.

use super::goal::{By, End, Goal};
use crate::flight::air::GRAVITY;
use crate::flight::cannot::CannotFly;
use crate::flight::integrate::Law;
use crate::flight::speed::Pace;
use crate::flight::track::State;
use crate::flight::vector::{UP, Vector, across, cross, dot, length, plus, times, unit};
use crate::flight::world::World;

/// The most the path or the wings go round in one step, rad, and in the first, which shows how much is exact enough;
/// flown roughly, twice that.
const STEP_ROUND: f64 = 0.6;
const FIRST_ROUND: f64 = 0.25;
/// The longest step, s.
const STEP: f64 = 5.0;
/// The law. Numbers: place, m; velocity through the air, m/s, or where the speed is set only its
/// direction; direction of the lift; how far round the path, rad.
pub(super) struct Lifted<'a> {
    pub world: &'a World,
    pub start: State,
    pub pace: Pace,
    pub by: By,
    /// 1 round towards the canopy, −1 towards the belly.
    pub sense: f64,
    /// Rate of roll to the pilot's right, rad/s.
    pub roll: f64,
    goal: Goal,
}

/// What the numbers say.
struct Moving {
    /// The direction of the velocity through the air.
    along: Vector,
    speed: f64,
    lift: Vector,
}

impl<'a> Lifted<'a> {
    pub fn new(
        world: &'a World,
        start: State,
        pace: Pace,
        by: By,
        sense: f64,
        roll: f64,
        end: End,
    ) -> Lifted<'a> {
        Lifted {
            world,
            start,
            pace,
            by,
            sense,
            roll,
            goal: Goal::new(end),
        }
    }

    /// The numbers at its start.
    pub fn begin(&mut self, along: Vector, speed: f64, lift: Vector) -> [f64; 10] {
        let [x, y, z] = self.start.place;
        let size = match self.pace {
            Pace::Set(_) => 1.0,
            Pace::Energy(_) => speed,
        };
        let [vx, vy, vz] = times(along, size);
        let [lx, ly, lz] = lift;
        self.goal.look(along, lift[2]);
        [x, y, z, vx, vy, vz, lx, ly, lz, 0.0]
    }

    fn read(&self, t: f64, y: &[f64; 10]) -> Result<Moving, CannotFly> {
        let [_, _, z, vx, vy, vz, lx, ly, lz, _] = *y;
        let size = length([vx, vy, vz]);
        let along = times([vx, vy, vz], 1.0 / size);
        let speed = match self.pace {
            Pace::Energy(_) => size,
            Pace::Set(_) => self.pace.true_airspeed(&self.world.at(z), t, size)?,
        };
        Ok(Moving {
            along,
            speed,
            lift: [lx, ly, lz],
        })
    }
}

impl Law<10> for Lifted<'_> {
    fn world(&self) -> &World {
        self.world
    }

    fn tolerance(&self) -> [f64; 10] {
        let (v, way) = match self.pace {
            Pace::Set(_) => (1e-6, 1e-6),
            Pace::Energy(_) => (3e-4, 3e-6),
        };
        [1e-3, 1e-3, 1e-3, v, v, v, way, way, way, way]
    }

    fn rate(&self, t: f64, y: &[f64; 10]) -> Result<[f64; 10], CannotFly> {
        let Moving { along, speed, lift } = self.read(t, y)?;
        let load = self.by.load(speed, lift[2]);
        let sideways = plus(
            times(across(UP, along), -GRAVITY),
            GRAVITY * load,
            across(lift, along),
        );
        let turning = times(sideways, 1.0 / speed);
        let [dvx, dvy, dvz] = match self.pace {
            Pace::Set(_) => turning,
            Pace::Energy(effort) => {
                let craft = &self.world.craft;
                let push = craft.push(&self.world.air, y[2], speed, load, effort);
                plus(sideways, push - GRAVITY * along[2], along)
            }
        };
        let round = dot(lift, turning);
        let lifting = plus(times(along, -round), self.roll, cross(along, lift));
        let ground = self.world.over_ground(y[2], times(along, speed));
        Ok([
            ground[0],
            ground[1],
            ground[2],
            dvx,
            dvy,
            dvz,
            lifting[0],
            lifting[1],
            lifting[2],
            self.sense * round,
        ])
    }

    fn longest_step(&self, t: f64, _: &[f64; 10], rate: &[f64; 10]) -> Result<f64, CannotFly> {
        let round = length([rate[6], rate[7], rate[8]]);
        Ok(longest_step(self.world, &self.pace, &self.goal, t, round))
    }

    fn left(&self, t: f64, y: &[f64; 10]) -> f64 {
        let [.., vx, vy, vz, _, _, lz, round] = *y;
        let along = || times([vx, vy, vz], 1.0 / length([vx, vy, vz]));
        self.goal.left(t, round, along, lz)
    }

    fn ends_briefly(&self) -> bool {
        self.goal.is_brief()
    }

    fn may_never_end(&self) -> bool {
        !matches!(self.goal.end, End::After(_))
    }

    fn stretch(&self, t: f64, y: &[f64; 10]) -> usize {
        match (self.pace, self.read(t, y)) {
            (Pace::Energy(effort), Ok(moving)) => {
                let load = self.by.load(moving.speed, moving.lift[2]);
                let craft = &self.world.craft;
                craft.stretch(&self.world.air, y[2], moving.speed, load, effort)
            }
            _ => 0,
        }
    }

    fn load(&self, y: &[f64; 10], state: &State) -> Option<f64> {
        Some(self.by.load(length(state.air), y[8]))
    }

    fn state(&self, t: f64, y: &[f64; 10]) -> Result<State, CannotFly> {
        let moving = self.read(t, y)?;
        let air = times(moving.along, moving.speed);
        Ok(State {
            t: self.start.t + t,
            place: [y[0], y[1], y[2]],
            ground: self.world.over_ground(y[2], air),
            air,
            nose_off: 0.0,
        })
    }

    fn settle(&mut self, y: &mut [f64; 10], _: bool) -> bool {
        let [_, _, _, vx, vy, vz, lx, ly, lz, _] = *y;
        let Some(along) = unit([vx, vy, vz]) else {
            return false;
        };
        let Some(lift) = unit(across([lx, ly, lz], along)) else {
            return false;
        };
        [y[6], y[7], y[8]] = lift;
        if matches!(self.pace, Pace::Set(_)) {
            [y[3], y[4], y[5]] = along;
        }
        self.goal.look(along, lift[2]);
        false
    }
}

/// The longest step from `t`, s, of a law by which the path or the wings go round so fast, rad/s.
pub(super) fn longest_step(world: &World, pace: &Pace, goal: &Goal, t: f64, round: f64) -> f64 {
    let most = if t == 0.0 { FIRST_ROUND } else { STEP_ROUND };
    let most = if world.is_rough() { 2.0 * most } else { most };
    let kink = pace.kink_after(t) - t;
    (most / round).min(STEP).min(kink).min(goal.within(t))
}

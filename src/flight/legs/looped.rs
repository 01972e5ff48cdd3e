//! Round in a vertical plane: pulls and pushes with the wings level, upright or inverted. What [`Lifted`] says, with
//! half the numbers.
//!
//! dγ/dt = (n − cos γ) g / v and dv/dt = thrust and drag − g sin γ, with γ the angle the path has gone round from level
//! ahead, v the speed through the air and n the load factor; the lift points a quarter round from the path.
//!
//! [`Lifted`]: super::lifted::Lifted

use super::goal::{By, End, Goal};
use super::lifted::longest_step;
use crate::flight::air::GRAVITY;
use crate::flight::attitude::Attitude;
use crate::flight::cannot::CannotFly;
use crate::flight::integrate::Law;
use crate::flight::speed::Pace;
use crate::flight::track::State;
use crate::flight::vector::{UP, Vector, cross, length};
use crate::flight::world::World;

/// The lift is in the vertical plane of the path if it leans out of it by no more, rad.
const IN_PLANE: f64 = 1e-9;

/// The law. Numbers: place, m; speed through the air, m/s, if energy leads to it; γ, rad.
pub(super) struct Looped<'a> {
    world: &'a World,
    start: State,
    pace: Pace,
    by: By,
    /// 1 round towards the canopy, −1 towards the belly.
    sense: f64,
    goal: Goal,
    /// Level ahead, where γ is 0, with the lift straight up there.
    ahead: [f64; 2],
    begun: f64,
}

impl<'a> Looped<'a> {
    /// From an attitude in a vertical plane; `None` from another.
    pub fn new(
        world: &'a World,
        start: State,
        attitude: &Attitude,
        pace: Pace,
        by: By,
        sense: f64,
        end: End,
    ) -> Option<Looped<'a>> {
        let Attitude { nose, lift } = attitude;
        let right = cross(*nose, *lift);
        let [x, y, _] = cross(UP, right);
        let size = x.hypot(y);
        (right[2].abs() <= IN_PLANE).then_some(())?;
        let ahead = [x / size, y / size];
        let begun = nose[2].atan2(nose[0] * ahead[0] + nose[1] * ahead[1]);
        let mut goal = Goal::new(end);
        goal.look(*nose, lift[2]);
        Some(Looped {
            world,
            start,
            pace,
            by,
            sense,
            goal,
            ahead,
            begun,
        })
    }

    /// The numbers at its start, begun at a true airspeed, m/s.
    pub fn begin(&self, speed: f64) -> [f64; 5] {
        let [x, y, z] = self.start.place;
        [x, y, z, speed, self.begun]
    }

    /// Where the lift points at a γ.
    pub fn lift(&self, gamma: f64) -> Vector {
        let (sin, cos) = gamma.sin_cos();
        self.in_plane(-sin, cos)
    }

    /// So much ahead and so much up.
    fn in_plane(&self, ahead: f64, up: f64) -> Vector {
        [ahead * self.ahead[0], ahead * self.ahead[1], up]
    }

    fn speed(&self, t: f64, y: &[f64; 5]) -> Result<f64, CannotFly> {
        match self.pace {
            Pace::Energy(_) => Ok(y[3]),
            Pace::Set(_) => self.pace.true_airspeed(&self.world.at(y[2]), t, y[3]),
        }
    }
}

impl Law<5> for Looped<'_> {
    fn world(&self) -> &World {
        self.world
    }

    fn tolerance(&self) -> [f64; 5] {
        let way = match self.pace {
            Pace::Set(_) => 1e-6,
            Pace::Energy(_) => 2e-6,
        };
        [1e-3, 1e-3, 1e-3, 3e-4, way]
    }

    fn rate(&self, t: f64, y: &[f64; 5]) -> Result<[f64; 5], CannotFly> {
        let (sin, cos) = y[4].sin_cos();
        let speed = self.speed(t, y)?;
        let load = self.by.load(speed, cos);
        let gain = match self.pace {
            Pace::Set(_) => 0.0,
            Pace::Energy(effort) => {
                let craft = &self.world.craft;
                craft.push(&self.world.air, y[2], speed, load, effort) - GRAVITY * sin
            }
        };
        let air = self.in_plane(speed * cos, speed * sin);
        let [x, away, up] = self.world.over_ground(y[2], air);
        Ok([x, away, up, gain, GRAVITY * (load - cos) / speed])
    }

    fn longest_step(&self, t: f64, _: &[f64; 5], rate: &[f64; 5]) -> Result<f64, CannotFly> {
        let round = rate[4].abs();
        Ok(longest_step(self.world, &self.pace, &self.goal, t, round))
    }

    fn left(&self, t: f64, y: &[f64; 5]) -> f64 {
        let (sin, cos) = y[4].sin_cos();
        let round = self.sense * (y[4] - self.begun);
        self.goal.left(t, round, || self.in_plane(cos, sin), cos)
    }

    fn ends_briefly(&self) -> bool {
        self.goal.is_brief()
    }

    fn may_never_end(&self) -> bool {
        !matches!(self.goal.end, End::After(_))
    }

    fn stretch(&self, t: f64, y: &[f64; 5]) -> usize {
        match (self.pace, self.speed(t, y)) {
            (Pace::Energy(effort), Ok(speed)) => {
                let load = self.by.load(speed, y[4].cos());
                let craft = &self.world.craft;
                craft.stretch(&self.world.air, y[2], speed, load, effort)
            }
            _ => 0,
        }
    }

    fn load(&self, y: &[f64; 5], state: &State) -> Option<f64> {
        Some(self.by.load(length(state.air), y[4].cos()))
    }

    fn state(&self, t: f64, y: &[f64; 5]) -> Result<State, CannotFly> {
        let speed = self.speed(t, y)?;
        let (sin, cos) = y[4].sin_cos();
        let air = self.in_plane(speed * cos, speed * sin);
        Ok(State {
            t: self.start.t + t,
            place: [y[0], y[1], y[2]],
            ground: self.world.over_ground(y[2], air),
            air,
            nose_off: 0.0,
        })
    }

    fn settle(&mut self, y: &mut [f64; 5], _: bool) -> bool {
        let (sin, cos) = y[4].sin_cos();
        self.goal.look(self.in_plane(cos, sin), cos);
        false
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::flight::air::Air;
    use crate::flight::craft::{Craft, Effort};
    use crate::flight::integrate;
    use crate::flight::legs::lifted::Lifted;
    use crate::flight::speed::SpeedLaw;
    use crate::flight::vector::{plus, times};
    use crate::flight::wind::{Wind, WindVector};
    use crate::show::ClimbPower;
    use crate::units::{Airspeed, Angle, Length, Speed};

    fn world() -> World {
        let elevation = Length::from_m(200.0);
        let mut craft = Craft::of(None);
        craft.power = Some(ClimbPower::Everywhere(Speed::from_mps(40.0)));
        let from = Angle::from_deg(230.0);
        World {
            air: Air::new(
                elevation,
                Air::standard_temperature(elevation),
                Air::STANDARD_QNH,
            ),
            wind: Wind::even(WindVector::new(
                from,
                Speed::from_mps(9.0),
                Angle::from_deg(64.0),
            )),
            line: 230.0,
            craft,
            roughness: 1.0,
        }
    }

    fn by() -> impl Strategy<Value = (By, f64)> {
        prop_oneof![
            (4.0..6.0).prop_map(|load| (By::Load(load), 1.0)),
            (-4.0..-2.5).prop_map(|load| (By::Load(load), -1.0)),
            (250.0..500.0).prop_map(|radius| (By::Radius(radius), 1.0)),
        ]
    }

    fn ends() -> impl Strategy<Value = End> {
        prop_oneof![
            (0.2..6.5).prop_map(End::Round),
            (-1.4..1.4).prop_map(End::Climb),
            Just(End::Vertical),
        ]
    }

    proptest! {
        /// Half the numbers say the same as all of them, wherever the wings are level, upright or inverted.
        #[test]
        fn in_a_vertical_plane_it_goes_round_as_in_any(
            (by, sense) in by(),
            end in ends(),
            heading in -3.1..3.1,
            climbs in -1.5..1.5,
            upright in any::<bool>(),
            speed in 150.0..210.0,
            share in prop_oneof![Just(None), (0.0..1.0).prop_map(Some)],
        ) {
            let (sin, cos) = f64::sin_cos(climbs);
            let level = [f64::cos(heading), f64::sin(heading), 0.0];
            let nose = plus(times(level, cos), sin, UP);
            let up = plus(times(level, -sin), cos, UP);
            let lift = times(up, if upright { 1.0 } else { -1.0 });
            let (world, attitude) = (world(), Attitude { lift, nose });
            let air = times(nose, speed);
            let start = State { place: [300.0, 230.0, 8_000.0], air, ..State::default() };
            let held = SpeedLaw::held(Airspeed::True(Speed::from_mps(speed)));
            let pace = share.map_or(Pace::Set(held), |share| Pace::Energy(Effort::Share(share)));

            let mut any = Lifted::new(&world, start, pace, by, sense, 0.0, end);
            let begun = any.begin(nose, speed, lift);
            let any = integrate::fly(&mut any, begun);
            let mut looped = Looped::new(&world, start, &attitude, pace, by, sense, end)
                .expect("a vertical plane");
            let begun = looped.begin(speed);
            let led = integrate::fly(&mut looped, begun);

            prop_assert_eq!(any.is_ok(), led.is_ok());
            let (Ok(any), Ok(led)) = (any, led) else { return Ok(()) };
            let off = |a: Vector, b: Vector| length(plus(a, -1.0, b));
            let [.., lx, ly, lz, _] = any.y;
            prop_assert!((any.t - led.t).abs() < 1e-3, "{} {}", any.t, led.t);
            let (theirs, ours) = (any.track.end(), led.track.end());
            prop_assert!(off(theirs.place, ours.place) < 0.1, "{theirs:?} {ours:?}");
            prop_assert!(off(theirs.air, ours.air) < 0.02, "{theirs:?} {ours:?}");
            prop_assert!(off([lx, ly, lz], looped.lift(led.y[4])) < 1e-4);
        }
    }
}

//! A turn, level or to a height, in air that drifts.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use super::climb::Climb;
use super::{Begin, Flown, round};
use crate::flight::air::GRAVITY;
use crate::flight::attitude::Attitude;
use crate::flight::cannot::{CannotFly, ensure};
use crate::flight::craft::Craft;
use crate::flight::integrate::{self, Law, Led};
use crate::flight::speed::{Conditions, Pace, SpeedLaw};
use crate::flight::track::{State, Track};
use crate::flight::vector::{Vector, length, unit};
use crate::flight::world::World;
use crate::show::{HARDEST, Leg, LegSpeed, Side, TurnBy, TurnTowards, TurnUntil};
use crate::units::{Airspeed, Speed};

/// How hard what nobody wrote is turned, as a load factor (common practice, no published source).
pub(in crate::flight) const UNWRITTEN: f64 = 2.0;
/// More inverted than this it does not turn.
const INVERTED: f64 = -0.1;
/// Nearer than this it is headed where it should turn to, rad.
const HEADED_THERE: f64 = 0.01;
/// The most it goes round in one step, rad.
const STEP_ROUND: f64 = 0.6;
/// The softest level turn, as a bank, rad.
const SOFTEST: f64 = 0.017;

/// How hard it turns.
#[derive(Debug, Clone, Copy)]
enum Hardness {
    /// With this load factor.
    Load(f64),
    /// With the highest it can at its speed.
    Tightest,
}

impl Begin<'_> {
    /// A turn, level or to a height.
    pub(super) fn turn(
        &self,
        leg: &Leg,
        until: TurnUntil,
        towards: TurnTowards,
        by: TurnBy,
    ) -> Result<Flown, CannotFly> {
        let hardness = hardness(by, &self.world.craft)?;
        let along = self.along()?;
        self.leads(along, 0.0)?;
        let attitude = self.attitude.carried(self.attitude.nose, along);
        ensure(attitude.uprightness() >= INVERTED, CannotFly::TurnInverted)?;
        let sense = self.sense(along, towards)?;
        let angle = self.turn_angle(along, until, sense)?;
        let (pace, speed) = self.pace(leg, true, None)?;
        let led = self.go_round(leg, sense * angle, hardness, (pace, speed))?;
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

    /// Turned by an angle to the left, rad, for a run that begins with that, as hard as what nobody wrote is turned. A
    /// speed that is to change, does so after it.
    pub(super) fn turn_onto(&self, leg: &Leg, angle: f64) -> Result<Track, CannotFly> {
        let attitude = self.attitude.carried(self.attitude.nose, self.along()?);
        ensure(attitude.uprightness() >= INVERTED, CannotFly::TurnInverted)?;
        let (pace, speed) = match leg.speed {
            Some(LegSpeed::Changed { .. } | LegSpeed::Held(Airspeed::Ground(_))) => {
                let speed = length(self.state.air);
                let held = SpeedLaw::held(Airspeed::True(Speed::from_mps(speed)));
                (Pace::Set(held), speed)
            }
            _ => self.pace(leg, true, None)?,
        };
        let World { air, craft, .. } = self.world;
        let (_, tightest) = craft.tightest(air, self.state.place[2], speed, None);
        let load = UNWRITTEN.min(tightest);
        ensure(load >= softest(), CannotFly::NoTurnLeft)?;
        let led = self.go_round(leg, angle, Hardness::Load(load), (pace, speed))?;
        Ok(led.track)
    }

    /// Flies a turn by an angle to the left, rad.
    fn go_round(
        &self,
        leg: &Leg,
        angle: f64,
        hardness: Hardness,
        (pace, speed): (Pace, f64),
    ) -> Result<Led<5>, CannotFly> {
        let climb = self.climb(leg);
        let level = climb.is_level().then(|| self.here().of_a_stay());
        let mut law = Turn {
            world: self.world,
            start: self.state,
            pace: level.map_or(pace, |here| pace.at_one_height(&here)),
            level,
            climb,
            heading: self.state.air[1].atan2(self.state.air[0]),
            angle: angle.abs(),
            sense: angle.signum(),
            hardness,
        };
        let [x, y, height] = self.state.place;
        let begun = [x, y, height, 0.0, speed];
        match law.is_steady_from(0.0) {
            true => law.go_steadily_round(begun),
            false => integrate::fly(&mut law, begun),
        }
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

/// The law of a turn. Numbers: x, y and height, m; how far round, rad; true airspeed where energy leads to
/// it, m/s.
struct Turn<'a> {
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
    /// Whether it goes round at one rate from then on: at one height and one speed, so as hard all the time.
    fn is_steady_from(&self, t: f64) -> bool {
        self.level.is_some() && self.pace.is_held_from(t)
    }

    /// A steady turn: a circle through air that drifts, in closed form.
    fn go_steadily_round(&self, begun: [f64; 5]) -> Result<Led<5>, CannotFly> {
        let state = integrate::check(self, 0.0, &begun)?;
        let [.., rate, _] = self.rate(0.0, &begun)?;
        let t = self.angle / rate;
        ensure(t <= integrate::LONGEST, CannotFly::TooLong)?;
        let [x, y, height, _, speed] = begun;
        let ([vx, vy, _], [gx, gy, _]) = (state.air, state.ground);
        let (wx, wy) = (gx - vx, gy - vy);
        let turning = self.sense * rate;
        let at = |t: f64| {
            let (sin, cos) = (turning * t).sin_cos();
            let (along, aside) = (sin / turning, (1.0 - cos) / turning);
            let (ax, ay) = (vx * cos - vy * sin, vy * cos + vx * sin);
            State {
                t: self.start.t + t,
                air: [ax, ay, 0.0],
                ground: [ax + wx, ay + wy, 0.0],
                place: [
                    x + vx * along - vy * aside + wx * t,
                    y + vy * along + vx * aside + wy * t,
                    height,
                ],
                ..state
            }
        };
        let pieces = (self.angle / (0.5 * STEP_ROUND)).ceil();
        let mut track = Track::at_rest(state);
        for piece in 1..=pieces as usize {
            track.push(at(t * piece as f64 / pieces));
        }
        let [x, y, ..] = track.end().place;
        let y = [x, y, height, self.angle, speed];
        Ok(Led { track, t, y })
    }

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
        [3e-3, 3e-3, 3e-3, 1e-5, 1e-3]
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
            Pace::Energy(effort) => {
                let craft = &self.world.craft;
                craft.push(&self.world.air, y[2], speed, load, effort) - GRAVITY * up / speed
            }
        };
        Ok([x, across, up, inwards / speed, gain])
    }

    fn longest_step(&self, t: f64, y: &[f64; 5], rate: &[f64; 5]) -> Result<f64, CannotFly> {
        let round = rate[3];
        let step = STEP_ROUND / round;
        if self.is_steady_from(t) {
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
            Pace::Energy(effort) => {
                let craft = &self.world.craft;
                craft.stretch(&self.world.air, y[2], y[4], load, effort)
            }
        };
        3 * of_thrust + limit
    }

    fn load(&self, y: &[f64; 5], state: &State) -> Option<f64> {
        Some(self.hard(y, length(state.air)).1)
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
            self.level = Some(self.world.at(y[2]).of_a_stay());
        }
        if over {
            y[3] = self.angle;
        }
        levels
    }
}

/// How hard a level turn is that the document asks for.
fn hardness(by: TurnBy, craft: &Craft) -> Result<Hardness, CannotFly> {
    let load = match by {
        TurnBy::Load(load) => load,
        TurnBy::Bank(bank) if bank.rad() < FRAC_PI_2 => 1.0 / bank.rad().cos(),
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

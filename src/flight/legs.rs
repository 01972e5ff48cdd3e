//! Flying one leg: a run along the display line, or a level turn.
//!
//! Fourth-order Runge–Kutta steps; a run at a held speed on the display line is one step, which is
//! exact. The end of a leg is found by halving its last step, far inside 1 ms.

use super::air::GRAVITY;
use super::speed::{CannotFly, Conditions, SpeedLaw, Triangle, ensure};
use super::track::{State, Track, last_true};
use crate::show::TurnBy;
use crate::units::{Airspeed, Speed};

/// No leg lasts longer, s.
const LONGEST: f64 = 3_600.0;
/// The longest step, s.
const STEP: f64 = 0.5;
/// The most a turn goes round in one step, rad.
const STEP_ROUND: f64 = 0.05;
/// A run begun off the display line closes on it: within this time constant, s, ...
const CLOSING: f64 = 5.0;
/// ... at no more than this share of its speed (a track 30 degrees off).
const CLOSING_SHARE: f64 = 0.5;
/// On the line, m.
const ON_LINE: f64 = 0.5;
/// The hardest level turn, as a load factor.
const HARDEST: f64 = 12.0;
/// The softest level turn, as a bank, rad.
const SOFTEST: f64 = 0.017;
/// The longest turn, rad.
const MOST_ROUND: f64 = 20.0 * std::f64::consts::PI;

/// A leg flown: its track, and the speed it ended at as the next leg may take it on.
#[derive(Debug, Clone)]
pub(super) struct Flown {
    pub track: Track,
    pub speed: Airspeed,
}

/// What ends a run.
#[derive(Debug, Clone, Copy)]
pub(super) enum RunEnd {
    /// Being at `x`, m.
    X(f64),
    /// So many seconds gone.
    After(f64),
}

/// A run along the display line.
#[derive(Debug)]
pub(super) struct Run {
    pub conditions: Conditions,
    pub speed: SpeedLaw,
    /// 1 towards the crowd's right, −1 towards its left.
    pub way: f64,
    /// Where the display line is, m from the crowd line.
    pub line: f64,
    /// Height, m.
    pub height: f64,
}

impl Run {
    /// Flies from `start` (its height is the run's) until `end`.
    pub fn fly(&self, start: &State, end: RunEnd) -> Result<Flown, CannotFly> {
        match end {
            RunEnd::X(x) => ensure((x - start.x()) * self.way >= -1e-6, CannotFly::Behind)?,
            RunEnd::After(s) => ensure(s >= 0.0, CannotFly::NegativeLength)?,
        }
        let mut here = [start.x(), start.y()];
        let mut t = 0.0;
        let mut track = Track::at_rest(self.state(start.t, t, here)?);
        loop {
            let steady = self.is_steady(t, here[1]);
            let step = match self.left(t, here, end, steady)? {
                Left::Nothing => return Ok(self.flown(track, t)),
                Left::Seconds(_) if t >= LONGEST => return Err(CannotFly::TooLong),
                Left::Seconds(left) if steady => left,
                Left::Seconds(left) => left.min(STEP).min(self.until_ramp_ends(t)),
            };
            let reached = |h: f64| -> Result<[f64; 2], CannotFly> {
                runge_kutta(here, t, h, |t, place| {
                    Ok(self.triangle(t, place[1])?.ground)
                })
            };
            let mut h = step;
            let mut next = reached(h)?;
            if let RunEnd::X(x) = end {
                if steady {
                    next[0] = x;
                } else if (next[0] - x) * self.way >= 0.0 {
                    h = last_true(0.0, h, |h| {
                        reached(h).is_ok_and(|there| (there[0] - x) * self.way < 0.0)
                    });
                    next = [x, reached(h)?[1]];
                }
            }
            t += h;
            here = next;
            track.push(self.state(start.t, t, here)?);
        }
    }

    /// Nothing changes any more: speed, and place across the line.
    fn is_steady(&self, t: f64, y: f64) -> bool {
        self.until_ramp_ends(t) == f64::INFINITY && (y - self.line).abs() <= ON_LINE
    }

    fn until_ramp_ends(&self, t: f64) -> f64 {
        let left = self.speed.ramp() - t;
        if left > 1e-9 { left } else { f64::INFINITY }
    }

    /// How long it still is to the end; for a place, exact only when steady.
    fn left(&self, t: f64, here: [f64; 2], end: RunEnd, steady: bool) -> Result<Left, CannotFly> {
        let (distance_gone, seconds) = match end {
            RunEnd::X(x) => {
                let distance = (x - here[0]) * self.way;
                let along = self.triangle(t, here[1])?.ground[0] * self.way;
                let seconds = if steady { distance / along } else { STEP };
                (distance <= 0.0, seconds)
            }
            RunEnd::After(s) => (s - t <= 0.0, s - t),
        };
        if distance_gone {
            return Ok(Left::Nothing);
        }
        if steady {
            ensure(t + seconds <= LONGEST, CannotFly::TooLong)?;
        }
        Ok(Left::Seconds(seconds))
    }

    fn triangle(&self, t: f64, y: f64) -> Result<Triangle, CannotFly> {
        let off = y - self.line;
        let closing = |speed: f64| {
            if off.abs() <= ON_LINE {
                return 0.0;
            }
            let most = CLOSING_SHARE * speed;
            -most * (off / (CLOSING * most)).tanh()
        };
        self.conditions
            .triangle(self.speed.at(t), self.way, closing)
    }

    fn state(&self, began: f64, t: f64, here: [f64; 2]) -> Result<State, CannotFly> {
        let triangle = self.triangle(t, here[1])?;
        Ok(State {
            t: began + t,
            place: [here[0], here[1], self.height],
            ground: [triangle.ground[0], triangle.ground[1], 0.0],
            air: [triangle.air[0], triangle.air[1], 0.0],
        })
    }

    fn flown(&self, track: Track, t: f64) -> Flown {
        let speed = match self.speed.at(t) {
            Airspeed::Ground(_) => {
                let [x, y, _] = track.end().air;
                Airspeed::True(Speed::from_mps(x.hypot(y)))
            }
            named => named,
        };
        Flown { track, speed }
    }
}

/// What is left of a run.
enum Left {
    Nothing,
    Seconds(f64),
}

/// A level turn, in air that drifts.
#[derive(Debug)]
pub(super) struct Turn {
    pub conditions: Conditions,
    pub speed: SpeedLaw,
    /// How far the heading goes round, rad.
    pub angle: f64,
    /// 1 to the pilot's left, −1 to the right.
    pub sense: f64,
    /// How hard.
    pub by: TurnBy,
    /// Height, m.
    pub height: f64,
}

impl Turn {
    /// Flies from `start` (its height is the turn's).
    pub fn fly(&self, start: &State) -> Result<Flown, CannotFly> {
        ensure(
            self.angle > 0.0 && self.angle <= MOST_ROUND,
            CannotFly::TurnAngle,
        )?;
        let pull = pull(self.by)?;
        let heading = start.air[1].atan2(start.air[0]);
        // x, y and how far round.
        let mut here = [start.x(), start.y(), 0.0];
        let mut t = 0.0;
        let mut track = Track::at_rest(self.state(start.t, t, here, heading)?);
        while here[2] < self.angle {
            let rate = pull / self.airspeed(t)?;
            let steady = t >= self.speed.ramp();
            let left = (self.angle - here[2]) / rate;
            let step = (STEP_ROUND / rate).min(STEP);
            let mut h = if steady { step.min(left) } else { step };
            let reached = |h: f64| {
                runge_kutta(here, t, h, |t, [_, _, round]| {
                    let airspeed = self.airspeed(t)?;
                    let [vx, vy] = self.over_ground(airspeed, heading + self.sense * round);
                    Ok([vx, vy, pull / airspeed])
                })
            };
            let mut next = reached(h)?;
            if steady && h >= left {
                next[2] = self.angle;
            } else if next[2] > self.angle {
                h = last_true(0.0, h, |h| {
                    reached(h).is_ok_and(|there| there[2] < self.angle)
                });
                next = reached(h)?;
                next[2] = self.angle;
            }
            t += h;
            here = next;
            ensure(t < LONGEST, CannotFly::TooLong)?;
            track.push(self.state(start.t, t, here, heading)?);
        }
        let speed = self.speed.at(t);
        Ok(Flown { track, speed })
    }

    fn airspeed(&self, t: f64) -> Result<f64, CannotFly> {
        self.conditions.true_airspeed(self.speed.at(t))
    }

    fn over_ground(&self, airspeed: f64, heading: f64) -> [f64; 2] {
        let (sin, cos) = heading.sin_cos();
        let wind = self.conditions.wind;
        [airspeed * cos + wind.x.mps(), airspeed * sin + wind.y.mps()]
    }

    fn state(&self, began: f64, t: f64, here: [f64; 3], heading: f64) -> Result<State, CannotFly> {
        let airspeed = self.airspeed(t)?;
        let heading = heading + self.sense * here[2];
        let [vx, vy] = self.over_ground(airspeed, heading);
        ensure(vx.is_finite() && vy.is_finite(), CannotFly::Crosswind)?;
        let (sin, cos) = heading.sin_cos();
        Ok(State {
            t: began + t,
            place: [here[0], here[1], self.height],
            ground: [vx, vy, 0.0],
            air: [airspeed * cos, airspeed * sin, 0.0],
        })
    }
}

/// The acceleration towards the centre of a level turn, m/s².
fn pull(by: TurnBy) -> Result<f64, CannotFly> {
    let load = match by {
        TurnBy::Load(load) => load,
        TurnBy::Bank(bank) if bank.rad() < std::f64::consts::FRAC_PI_2 => 1.0 / bank.rad().cos(),
        TurnBy::Bank(_) => f64::NAN,
    };
    let softest = 1.0 / SOFTEST.cos();
    ensure(load >= softest && load <= HARDEST, CannotFly::TurnHardness)?;
    Ok(GRAVITY * (load * load - 1.0).sqrt())
}

/// One classical fourth-order step of `h` seconds.
fn runge_kutta<const N: usize>(
    y: [f64; N],
    t: f64,
    h: f64,
    rate: impl Fn(f64, [f64; N]) -> Result<[f64; N], CannotFly>,
) -> Result<[f64; N], CannotFly> {
    let along = |k: [f64; N], h: f64| std::array::from_fn(|i| y[i] + h * k[i]);
    let k1 = rate(t, y)?;
    let k2 = rate(t + 0.5 * h, along(k1, 0.5 * h))?;
    let k3 = rate(t + 0.5 * h, along(k2, 0.5 * h))?;
    let k4 = rate(t + h, along(k3, h))?;
    Ok(std::array::from_fn(|i| {
        y[i] + h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i])
    }))
}

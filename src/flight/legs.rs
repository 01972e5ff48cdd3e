//! Flying one leg: a run on a straight track, or a level turn.
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
    /// So many metres along its course.
    Along(f64),
    /// So many seconds gone.
    After(f64),
}

/// A run: a straight track over the ground.
#[derive(Debug)]
pub(super) struct Run {
    pub conditions: Conditions,
    pub speed: SpeedLaw,
    /// Where the track leads, as a unit vector: x and y.
    pub course: [f64; 2],
    /// The line it closes on if it begins off it: how far from the crowd line, m. Only on a course along
    /// the display line.
    pub line: Option<f64>,
    /// Height, m.
    pub height: f64,
}

impl Run {
    /// Flies from `start` (its height is the run's) until `end`.
    pub fn fly(&self, start: &State, end: RunEnd) -> Result<Flown, CannotFly> {
        match end {
            RunEnd::Along(far) => ensure(far >= -1e-6, CannotFly::Behind)?,
            RunEnd::After(s) => ensure(s >= 0.0, CannotFly::NegativeLength)?,
        }
        // Along the course from the start, and across it to its left.
        let mut here = [0.0, 0.0];
        let mut t = 0.0;
        let begun = self.off_line_at(start);
        let rate = |t: f64, [_, across]: [f64; 2]| {
            let triangle = self.triangle(t, begun.map(|off| off + across))?;
            Ok(triangle.along_across)
        };
        let state = |t: f64, here| self.state(start, t, here, begun);
        let mut track = Track::at_rest(state(t, here)?);
        loop {
            let [along, across] = here;
            let on_line = begun.is_none_or(|off| (off + across).abs() <= ON_LINE);
            let steady = on_line && self.until_ramp_ends(t) == f64::INFINITY;
            let left = match end {
                RunEnd::Along(far) if steady => (far - along) / rate(t, here)?[0],
                RunEnd::Along(far) => (far - along).min(STEP),
                RunEnd::After(s) => s - t,
            };
            if left <= 0.0 {
                return Ok(self.flown(track, t));
            }
            let mut h = if steady {
                left
            } else {
                match end {
                    RunEnd::Along(_) => STEP,
                    RunEnd::After(_) => left.min(STEP),
                }
                .min(self.until_ramp_ends(t))
            };
            ensure(t + h <= LONGEST, CannotFly::TooLong)?;
            let reached = |h: f64| runge_kutta(here, t, h, rate);
            let mut next = reached(h)?;
            if let RunEnd::Along(far) = end {
                if steady {
                    next[0] = far;
                } else if next[0] >= far {
                    h = last_true(0.0, h, |h| reached(h).is_ok_and(|there| there[0] < far));
                    next = [far, reached(h)?[1]];
                }
            }
            t += h;
            here = next;
            track.push(state(t, here)?);
        }
    }

    /// How far `start` is off the line the run closes on, to the left of its course.
    fn off_line_at(&self, start: &State) -> Option<f64> {
        self.line.map(|line| (start.y() - line) * self.course[0])
    }

    fn until_ramp_ends(&self, t: f64) -> f64 {
        let left = self.speed.ramp() - t;
        if left > 1e-9 { left } else { f64::INFINITY }
    }

    fn triangle(&self, t: f64, off_line: Option<f64>) -> Result<Triangle, CannotFly> {
        let closing = |speed: f64| match off_line {
            Some(off) if off.abs() > ON_LINE => {
                let most = CLOSING_SHARE * speed;
                -most * (off / (CLOSING * most)).tanh()
            }
            _ => 0.0,
        };
        self.conditions
            .triangle(self.speed.at(t), self.course, closing)
    }

    fn state(
        &self,
        start: &State,
        t: f64,
        [along, across]: [f64; 2],
        begun_off: Option<f64>,
    ) -> Result<State, CannotFly> {
        let triangle = self.triangle(t, begun_off.map(|off| off + across))?;
        let [cx, cy] = self.course;
        Ok(State {
            t: start.t + t,
            place: [
                start.x() + along * cx - across * cy,
                start.y() + along * cy + across * cx,
                self.height,
            ],
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

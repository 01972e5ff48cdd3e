//! What the aircraft can do: its excess power, and what it cannot or must not fly.

use super::air::{Air, GRAVITY};
use super::cannot::Unflyable;
use crate::show::{Aircraft, ClimbPower, HARDEST};
use crate::units::{Airspeed, Angle, Length, Speed};

/// Excess thrust at most, as a share of weight, of an aircraft of which nothing is known.
const MOST_THRUST: f64 = 0.6;
/// Where the aircraft's stall is not known: slower than this, m/s, ...
const SLOW: f64 = 20.0;
/// ... it gives no load factor above this.
const LITTLE_LOAD: f64 = 0.3;
/// Slower than this nothing is flown, m/s.
const HARDLY: f64 = 1.0;
/// Below the speed of sound on any day, m/s.
const SURELY_SUBSONIC: f64 = 200.0;
/// Rounding does not bring a leg below the site, m.
const BELOW: f64 = 0.01;

/// How much power is used where speed follows energy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Effort {
    /// This share of the excess power at 1 g.
    Share(f64),
    /// What keeps the energy height, if there is so much.
    Keeping,
}

/// An aircraft's performance.
#[derive(Debug, Clone)]
pub(super) struct Craft {
    /// Excess power at 1 g.
    pub power: Option<ClimbPower>,
    /// What each unit of (n² − 1) costs of it, times the true airspeed, m²/s².
    induced: f64,
    /// Excess thrust at most, as a share of weight.
    pub most_thrust: f64,
    most_g: f64,
    least_g: f64,
    states_most_g: bool,
    pub stall: Option<Airspeed>,
    pub roll_rate: Option<Angle>,
}

impl Craft {
    /// What `aircraft` can do; nothing is known of one that is not in the show.
    pub fn of(aircraft: Option<&Aircraft>) -> Craft {
        Craft {
            power: aircraft.and_then(|craft| craft.climb_power.clone()),
            induced: aircraft
                .and_then(|craft| craft.induced)
                .map_or(0.0, |induced| induced.cost.mps() * induced.at.mps()),
            most_thrust: aircraft.map_or(MOST_THRUST, |craft| craft.most_thrust),
            most_g: aircraft.and_then(|craft| craft.most_g).unwrap_or(HARDEST),
            least_g: aircraft.and_then(|craft| craft.least_g).unwrap_or(-HARDEST),
            states_most_g: aircraft.is_some_and(|craft| craft.most_g.is_some()),
            stall: aircraft.and_then(|craft| craft.stall),
            roll_rate: aircraft.and_then(|craft| craft.roll_rate),
        }
    }

    /// What thrust and drag add along the path, m/s²: at a true airspeed, m/s, with a load factor.
    pub fn push(&self, air: &Air, height: f64, speed: f64, load: f64, effort: Effort) -> f64 {
        let (_, thrust) = self.thrust(air, height, speed, load, effort);
        GRAVITY * thrust.min(self.most_of(effort))
    }

    /// Which smooth stretch of that it is: of the climb power's table, and whether it is all it can be.
    pub fn stretch(&self, air: &Air, height: f64, speed: f64, load: f64, effort: Effort) -> usize {
        let (row, thrust) = self.thrust(air, height, speed, load, effort);
        2 * row + usize::from(thrust > self.most_of(effort))
    }

    /// Excess thrust at most, as a share of weight.
    fn most_of(&self, effort: Effort) -> f64 {
        match effort {
            Effort::Share(_) => self.most_thrust,
            Effort::Keeping => 0.0,
        }
    }

    /// Excess thrust as a share of weight if it had no limit, and between which rows of the climb power it is.
    fn thrust(
        &self,
        air: &Air,
        height: f64,
        speed: f64,
        load: f64,
        effort: Effort,
    ) -> (usize, f64) {
        let (row, at_one_g) = self.at_one_g(air, height, speed);
        let share = match effort {
            Effort::Share(share) => share,
            Effort::Keeping => 1.0,
        };
        let excess = share * at_one_g - self.lost(speed, load);
        (row, excess / speed)
    }

    /// Its excess power at 1 g, and how much of it a load factor costs, each as a rate of climb, m/s; `None` where nothing
    /// says so.
    pub fn has_and_loses(
        &self,
        air: &Air,
        height: f64,
        speed: f64,
        load: f64,
    ) -> Option<(f64, f64)> {
        self.power.as_ref()?;
        let (_, at_one_g) = self.at_one_g(air, height, speed);
        Some((at_one_g, self.lost(speed, load)))
    }

    /// What a load factor costs of the excess power, m/s.
    fn lost(&self, speed: f64, load: f64) -> f64 {
        self.induced * (load * load - 1.0) / speed
    }

    /// Excess power at 1 g, m/s, and between which rows of the climb power it is.
    fn at_one_g(&self, air: &Air, height: f64, speed: f64) -> (usize, f64) {
        match &self.power {
            None => (0, 0.0),
            Some(ClimbPower::Everywhere(power)) => (0, power.mps()),
            Some(ClimbPower::BySpeed(powers)) => {
                between(powers, |kind| named(air, height, speed, kind))
            }
        }
    }

    /// The highest load factor it can turn with at a true airspeed, m/s: its wings give it, as the square of
    /// the speed over its stall's; its structure bears it; and where its speed is `held` while it climbs so
    /// fast, m/s, its power keeps that up. What is not known of it is no limit. And which of them it is.
    pub fn tightest(&self, air: &Air, height: f64, speed: f64, held: Option<f64>) -> (usize, f64) {
        let wings = self.stall.map_or(f64::INFINITY, |stall| {
            (named(air, height, speed, stall) / stall.value()).powi(2)
        });
        let power = match held.filter(|_| self.power.is_some() && self.induced > 0.0) {
            Some(up) => {
                let (_, at_one_g) = self.at_one_g(air, height, speed);
                let square = 1.0 + (at_one_g - up) * speed / self.induced;
                square.max(0.0).sqrt()
            }
            None => f64::INFINITY,
        };
        let limits = [wings, self.most_g, power];
        let tightest = limits.into_iter().fold(f64::INFINITY, f64::min);
        let which = limits.iter().position(|limit| *limit == tightest);
        (which.unwrap_or(0), tightest)
    }

    /// Whether anything says how tight it can turn.
    pub fn has_a_tightest(&self) -> bool {
        self.stall.is_some() || self.states_most_g
    }

    /// What keeps it from flying so, if anything does.
    pub fn limit(
        &self,
        air: &Air,
        height: f64,
        speed: f64,
        load: Option<f64>,
    ) -> Option<Unflyable> {
        // What is no number is beyond a limit too.
        if height.is_nan() || height < -BELOW {
            return Some(Unflyable::BelowSite);
        }
        let supersonic = || speed >= air.sound_at(Length::from_m(height)).mps();
        if speed.is_nan() || (speed > SURELY_SUBSONIC && supersonic()) {
            return Some(Unflyable::TooFast);
        }
        let load = load?;
        if load > self.most_g + 1e-9 {
            return Some(Unflyable::TooHard(load, self.most_g));
        }
        if load < self.least_g - 1e-9 {
            return Some(Unflyable::TooNegative(load, self.least_g));
        }
        let too_slow = match self.stall {
            _ if speed < HARDLY => true,
            // A leg that was to begin just there may begin a rounding below.
            Some(stall) => slower(air, height, speed, stall, load.abs().sqrt() * (1.0 - 1e-6)),
            None => speed < SLOW && load.abs() > LITTLE_LOAD,
        };
        too_slow.then_some(Unflyable::TooSlow(load))
    }
}

/// A true airspeed, m/s, as the number of the kind that `like` is.
fn named(air: &Air, height: f64, speed: f64, like: Airspeed) -> f64 {
    let true_airspeed = Speed::from_mps(speed);
    match like {
        Airspeed::True(_) | Airspeed::Ground(_) => speed,
        Airspeed::Calibrated(_) => air
            .at(Length::from_m(height))
            .calibrated_of(true_airspeed)
            .mps(),
        Airspeed::Mach(_) => speed / air.sound_at(Length::from_m(height)).mps(),
    }
}

/// Whether a true airspeed, m/s, is slower than `times` the `named` one.
fn slower(air: &Air, height: f64, speed: f64, named: Airspeed, times: f64) -> bool {
    match named {
        Airspeed::Calibrated(least)
            if air.is_plainly_faster(height, speed, least.mps() * times) =>
        {
            false
        }
        Airspeed::Calibrated(least) => air
            .at(Length::from_m(height))
            .is_slower(Speed::from_mps(speed), least * times),
        _ => self::named(air, height, speed, named) < named.value() * times,
    }
}

/// The climb power at a speed, `speed_as` telling it as each kind; linear between, beyond as at the end. And
/// how many rows are not above it.
fn between(powers: &[(Airspeed, Speed)], speed_as: impl Fn(Airspeed) -> f64) -> (usize, f64) {
    let Some((first, _)) = powers.first() else {
        return (0, 0.0);
    };
    let speed = speed_as(*first);
    let above = powers.partition_point(|(at, _)| at.value() <= speed);
    let below = above.checked_sub(1).and_then(|i| powers.get(i));
    let power = match (below, powers.get(above)) {
        (Some((low, less)), Some((high, more))) => {
            let share = (speed - low.value()) / (high.value() - low.value());
            less.mps() + (more.mps() - less.mps()) * share
        }
        (Some((_, only)), None) | (None, Some((_, only))) => only.mps(),
        (None, None) => 0.0,
    };
    (above, power)
}

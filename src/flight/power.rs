//! What is said of a speed that is set: that its aircraft has not the power for it.

use super::air::GRAVITY;
use super::begins::subject;
use super::track::{State, Track};
use super::vector::{UP, across, length, plus, times, unit};
use super::world::World;
use crate::show::{Fault, Figure, Leg, LegSpeed, Motion, TurnBy};
use crate::units::{Length, Speed};

/// Asked for less than this more than there is is worth no word: as a share of it, and in m/s.
const SHARE: f64 = 0.05;
const LITTLE: f64 = 1.0;
/// States nearer to one another than this tell no rate, s.
const AT_ONCE: f64 = 1e-3;

/// What a stretch of path asks of the power, and what there is, each as a rate of climb, m/s.
#[derive(Debug, Clone, Copy)]
struct Asked {
    power: f64,
    has: f64,
    /// What it is asked for at: the load factor, and the true airspeed, m/s, at that height, m.
    load: f64,
    speed: f64,
    height: f64,
}

impl Asked {
    fn beyond(&self) -> f64 {
        self.power - self.has
    }
}

/// Advice where a leg's set speed takes more power than its aircraft has.
pub(super) fn too_little(
    figure: &Figure,
    leg: &Leg,
    world: &World,
    track: &Track,
) -> Option<Fault> {
    is_set(leg).then_some(())?;
    let most = track
        .pairs()
        .filter_map(|(before, after)| asked(world, before, after))
        .max_by(|a, b| a.beyond().total_cmp(&b.beyond()))?;
    (most.beyond() > LITTLE + SHARE * most.has.abs()).then_some(())?;
    let air = world.air.at(Length::from_m(most.height));
    let message = format!(
        "{} asks for a climb power of {:.0} m/s, at {:.1} g and {:.0} kt; its aircraft has {:.0} m/s there",
        subject(figure, leg),
        most.power,
        most.load,
        air.calibrated_of(Speed::from_mps(most.speed)).kt(),
        most.has,
    );
    let help = match leg.motion {
        Motion::Turn { .. } => {
            "turn softer, or write speed = \"energy\" and it slows down as it must"
        }
        _ => {
            "write speed = \"energy\" and it goes as fast as its power lets it, or a smaller gain or climb"
        }
    };
    Some(Fault::advice(leg.at.clone(), message).help(help))
}

/// Whether the pilot sets the speed; as tight as it can be turned asks for no more than there is.
fn is_set(leg: &Leg) -> bool {
    let by = match leg.motion {
        Motion::Turn { by, .. } => Some(by),
        _ => None,
    };
    match leg.speed {
        Some(LegSpeed::Held(_)) => by != Some(TurnBy::Tightest),
        Some(LegSpeed::Changed { .. }) => true,
        Some(LegSpeed::Energy | LegSpeed::SameEnergy) => false,
        None => {
            let is_level = matches!(leg.motion, Motion::Run { pitch: None, .. });
            is_level || by.is_some_and(|by| by != TurnBy::Tightest)
        }
    }
}

/// What the way between two states asks for; `None` where nothing says what there is.
fn asked(world: &World, before: &State, after: &State) -> Option<Asked> {
    let takes = after.t - before.t;
    (takes > AT_ONCE).then_some(())?;
    let energy = |state: &State| {
        let speed = length(state.air);
        state.place[2] + speed * speed / (2.0 * GRAVITY)
    };
    let gained = (energy(after) - energy(before)) / takes;
    let mean = times(plus(before.air, 1.0, after.air), 0.5);
    let speed = 0.5 * (length(before.air) + length(after.air));
    let height = 0.5 * (before.place[2] + after.place[2]);
    // What its wings and its engine give it: all that is not weight, and of that what is across its path.
    let given = plus(
        times(plus(after.air, -1.0, before.air), 1.0 / takes),
        GRAVITY,
        UP,
    );
    let load = length(across(given, unit(mean)?)) / GRAVITY;
    let (has, lost) = world.craft.has_and_loses(&world.air, height, speed, load)?;
    Some(Asked {
        power: gained + lost,
        has,
        load,
        speed,
        height,
    })
}

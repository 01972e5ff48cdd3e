//! The same figure in another wind: what goes by the air alone goes the same way, and only drifts.

use super::attitude::Attitude;
use super::legs::Flown;
use super::path::{FlownLeg, Here};
use super::vector::Vector;
use crate::show::Leg;
use crate::units::Airspeed;

/// Legs that begin less far apart than this begin the same, in m of height ...
const SAME_HEIGHT: f64 = 0.5;
/// ... and in m/s of each part of their speed: how long they last then differs by a
/// millisecond or so.
const SAME: f64 = 0.02;
/// A direction is the same where its parts are.
const SAME_WAY: f64 = 2e-4;

/// How a leg was taken on, and how the next one took on from it.
#[derive(Debug, Clone)]
pub(super) struct Taken {
    pub from: Here,
    pub from_speed: Option<Airspeed>,
    pub speed: Airspeed,
    pub attitude: Attitude,
}

/// The same legs flown in another wind.
#[derive(Clone, Copy)]
pub(super) struct Alike<'a> {
    pub legs: &'a [FlownLeg],
    /// Whether they begin with a reposition.
    pub repositioned: bool,
    /// How much more wind there is along the display line now, m/s, at every height.
    pub more: f64,
}

impl Alike<'_> {
    /// The `nth` leg as it was flown in the other wind, if it begins from `here` the same way through the air
    /// and goes by the air alone.
    pub fn take(
        &self,
        nth: usize,
        here: &Here,
        speed: Option<Airspeed>,
        leg: &Leg,
    ) -> Option<Flown> {
        leg.motion.goes_by_the_air().then_some(())?;
        let other = self.legs.get(nth)?;
        let taken = other.taken.as_ref()?;
        let same_speed = match (taken.from_speed, speed) {
            (Some(a), Some(b)) => (a.value() - b.value()).abs() < SAME,
            (a, b) => a.is_none() && b.is_none(),
        };
        (same_speed && here.is_like(&taken.from)).then(|| Flown {
            track: other.track.drifted(&here.state, self.more),
            speed: taken.speed,
            attitude: taken.attitude,
        })
    }
}

impl Here {
    /// Whether it moves through the air as at another, wherever over the ground.
    fn is_like(&self, other: &Here) -> bool {
        let near =
            |a: Vector, b: Vector, same: f64| a.iter().zip(b).all(|(a, b)| (a - b).abs() < same);
        self.moves
            && other.moves
            && (self.state.place[2] - other.state.place[2]).abs() < SAME_HEIGHT
            && near(self.state.air, other.state.air, SAME)
            && near(self.attitude.lift, other.attitude.lift, SAME_WAY)
            && near(self.attitude.nose, other.attitude.nose, SAME_WAY)
    }
}

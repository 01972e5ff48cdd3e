//! What is said of how a leg ends: a height that it does not come to.

use super::begins::{in_feet, subject};
use super::legs::Climb;
use super::track::State;
use super::vector::length;
use crate::show::{Fault, Figure, Leg, Motion};
use crate::units::{Length, Span};

/// Nearer than this to its height a leg has come to it, m (20 ft).
const AT_HEIGHT: f64 = 6.096;

/// A leg that has ended.
pub(super) struct Ended<'a> {
    pub figure: &'a Figure,
    pub leg: &'a Leg,
    pub state: &'a State,
}

impl Ended<'_> {
    /// Advice where the leg is over before it is at its height: how high it is, and how much longer it would take.
    pub fn short_of_height(&self) -> Option<Fault> {
        let asked = self.leg.height?;
        let reached = Length::from_m(self.state.place[2]);
        ((asked - reached).m().abs() > AT_HEIGHT).then_some(())?;
        let climb = Climb::new(reached.m(), Some(asked.m()));
        let speed = length(self.state.air);
        let more = climb.takes(reached.m(), speed, AT_HEIGHT)?;
        let which = subject(self.figure, self.leg);
        let (asked, reached) = (in_feet(asked), in_feet(reached));
        let message = format!("{which} is to come to {asked}, but ends at {reached}");
        let longer = match self.leg.motion {
            Motion::Run { .. } => {
                let far = Length::from_m(more * self.state.ground_speed());
                format!("run {} further", tenths_of_miles(far))
            }
            _ => format!("turn softer, so that it takes {} longer", seconds(more)),
        };
        let help = format!(
            "{longer}, begin it nearer to {asked}, or leave the height out: a leg climbs or descends at 15 degrees at most"
        );
        Some(Fault::advice(self.leg.at.clone(), message).help(help))
    }
}

/// A distance in tenths of nautical miles, rounded up.
fn tenths_of_miles(distance: Length) -> String {
    const TENTH: f64 = 185.2;
    format!("{:.1} nmi", (distance.m() / TENTH).ceil() / 10.0)
}

/// A time in seconds, rounded up.
fn seconds(s: f64) -> Span {
    Span::from_s(s.ceil())
}

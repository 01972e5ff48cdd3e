//! A flown path as samples.

use super::flown::PathSample;
use super::path::{FlownLeg, LegKind};
use super::track::State;
use super::vector::length;
use crate::units::{Angle, Length, Span, Speed};

/// Between samples, s.
pub(super) const STEP: f64 = 0.5;

/// Where the legs went, for drawing; a hold is its two ends.
pub(super) fn path(legs: &[FlownLeg]) -> Vec<PathSample> {
    let sample = |state: State, kind: LegKind| {
        let speed = match kind {
            LegKind::Hold { .. } => 0.0,
            _ => length(state.air),
        };
        let steep = if speed > 0.0 {
            state.air[2] / speed
        } else {
            0.0
        };
        PathSample {
            after: Span::from_s(state.t),
            x: Length::from_m(state.x()),
            y: Length::from_m(state.y()),
            z: Length::from_m(state.place[2]),
            ground_speed: Speed::from_mps(state.ground_speed()),
            true_airspeed: Speed::from_mps(speed),
            climb: Angle::from_rad(steep.clamp(-1.0, 1.0).asin()),
            nose_off_path: Angle::from_rad(state.nose_off),
        }
    };
    legs.iter()
        .flat_map(|leg| {
            let states = leg.track.every(STEP);
            states.map(|state| sample(state, leg.kind))
        })
        .collect()
}

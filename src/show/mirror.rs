//! A figure as written, flown from the other side: every side in it changes, the crowd's and the pilot's.

use super::{
    Figure, Leg, Manner, Motion, PilotsSide, PivotAbout, Place, RunUntil, TurnTowards, TurnUntil,
};

impl Figure {
    /// The same from the other side.
    pub(super) fn mirrored(mut self) -> Figure {
        self.from = self.from.mirrored();
        let versions = self.versions.iter_mut().map(|(_, manner)| manner);
        versions
            .chain([&mut self.manner])
            .flat_map(legs)
            .for_each(|leg| mirror(&mut leg.motion));
        self
    }
}

fn legs(manner: &mut Manner) -> Vec<&mut Leg> {
    match manner {
        Manner::Flown(legs) => legs.iter_mut().collect(),
        Manner::Apart(parts) => parts.iter_mut().flat_map(|part| &mut part.legs).collect(),
        Manner::Timed { .. } => Vec::new(),
    }
}

fn mirror(motion: &mut Motion) {
    let other_place = |place: &mut Place| place.side = place.side.map(super::Side::mirrored);
    match motion {
        Motion::Hold { place, .. }
        | Motion::Run {
            until: RunUntil::Place(place),
            ..
        } => other_place(place),
        Motion::Turn { until, towards, .. } => {
            if let TurnUntil::Side(side) = until {
                *side = side.mirrored();
            }
            *towards = other_way(*towards);
        }
        Motion::Roll { towards, .. } => *towards = other_way(*towards),
        Motion::Pivot {
            about: PivotAbout::Yaw(side),
            ..
        } => *side = PilotsSide::other(*side),
        Motion::Run { .. }
        | Motion::Pull { .. }
        | Motion::Push { .. }
        | Motion::Coast { .. }
        | Motion::Pivot {
            about: PivotAbout::Pitch,
            ..
        } => {}
    }
}

const fn other_way(towards: TurnTowards) -> TurnTowards {
    match towards {
        TurnTowards::PilotsLeft => TurnTowards::PilotsRight,
        TurnTowards::PilotsRight => TurnTowards::PilotsLeft,
        by_the_crowd => by_the_crowd,
    }
}

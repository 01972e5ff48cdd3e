//! Where the aircraft of a show are between figures.

use std::collections::HashMap;

use super::apart::Course;
use super::path::{Pilot, Whereabouts};
use crate::show::Name;

/// The aircraft, each where its last figure left it.
#[derive(Debug, Default)]
pub(super) struct Pilots {
    left: HashMap<Name, Pilot>,
}

impl Pilots {
    /// That of the first aircraft of a course.
    pub fn of(&self, course: &Course<'_>) -> Pilot {
        let first = course.aircraft.first();
        let left = first.and_then(|id| self.left.get(id)).copied();
        left.unwrap_or(Pilot::NEW)
    }

    /// Where an aircraft is, m, if anything says.
    pub fn place(&self, id: &Name) -> Option<[f64; 3]> {
        match self.left.get(id)?.whereabouts {
            Whereabouts::Known(here) => Some(here.state.place),
            Whereabouts::Unknown | Whereabouts::Lost => None,
        }
    }

    /// Leaves these aircraft where they ended.
    pub fn leave(&mut self, aircraft: &[Name], pilot: Pilot) {
        for id in aircraft {
            self.left.insert(id.clone(), pilot);
        }
    }
}

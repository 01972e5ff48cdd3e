//! The aircraft of a show, flown from figure to figure.

use std::borrow::Cow;
use std::collections::HashMap;

use super::apart::{self, Course};
use super::path::Pilot;
use super::points;
use super::reposition::Repositioned;
use super::skies::Skies;
use super::sortie::{Sortie, timed};
use super::{Entry, FlownFigure};
use crate::show::{Fault, Figure, Manner, Name, Part};

/// The aircraft of a show, each where its last figure left it.
pub(super) struct Crew<'a> {
    pub skies: &'a Skies<'a>,
    pub pilots: HashMap<Name, Pilot>,
    /// Of the figure being flown.
    pub faults: Vec<Fault>,
}

/// A figure of an entry.
pub(super) enum Manoeuvre<'a> {
    Flown(Sortie<'a>),
    /// Only timed.
    Timed(FlownFigure, Vec<Fault>),
}

/// What is told of a figure, and what is to be said of it.
pub(super) type Told = (FlownFigure, Vec<Fault>);

impl Manoeuvre<'_> {
    /// What is told of it.
    pub fn told(self, skies: &Skies<'_>) -> Told {
        match self {
            Manoeuvre::Flown(sortie) => sortie.told(skies),
            Manoeuvre::Timed(figure, faults) => (figure, faults),
        }
    }
}

impl<'a> Crew<'a> {
    /// On the ground.
    pub fn new(skies: &'a Skies<'a>) -> Crew<'a> {
        Crew {
            skies,
            pilots: HashMap::new(),
            faults: Vec::new(),
        }
    }

    /// Flies an entry; `None` if the show has no such figure.
    pub fn fly(&mut self, entry: &'a Entry) -> Option<Manoeuvre<'a>> {
        let figure = self.skies.show.figure(&entry.figure)?;
        let courses = match figure.manner_in(&entry.profile) {
            Manner::Flown(legs) => vec![Course {
                aircraft: &figure.aircraft,
                legs: Cow::Borrowed(legs),
            }],
            Manner::Apart(parts) => {
                let course = |part: &'a Part| Course {
                    aircraft: &part.aircraft,
                    legs: Cow::Borrowed(&part.legs),
                };
                parts.iter().map(course).collect()
            }
            Manner::Timed { takes, passes } => {
                self.leave(&figure.aircraft, Pilot::NEW);
                let (flown, faults) = timed(self.skies, entry, figure, *takes, passes);
                return Some(Manoeuvre::Timed(flown, faults));
            }
        };
        Some(Manoeuvre::Flown(self.sortie(entry, figure, courses)))
    }

    /// Flies a figure leg by leg: each of its courses, which cross at one instant if they cross.
    fn sortie(
        &mut self,
        entry: &'a Entry,
        figure: &'a Figure,
        asked: Vec<Course<'a>>,
    ) -> Sortie<'a> {
        self.advise_apart(figure, &asked);
        let pilot = |course: &Course<'_>| {
            let first = course.aircraft.first();
            let pilot = first.and_then(|id| self.pilots.get(id)).copied();
            pilot.unwrap_or(Pilot::NEW)
        };
        let mut sortie = Sortie {
            entry,
            figure,
            pilots: asked.iter().map(pilot).collect(),
            courses: asked.clone(),
            asked,
            flown: Vec::new(),
            met: Vec::new(),
            reposition: None,
            faults: Vec::new(),
        };
        let world = &self.skies.world;
        let crossing = apart::meet(figure, &mut sortie.courses, |nth, course| {
            let pilot = sortie.pilots.get(nth).copied().unwrap_or(Pilot::NEW);
            Sortie::fly(self.skies, world, entry, figure, course, pilot, None).flown
        });
        self.faults.extend(crossing.err());
        for (course, pilot) in sortie.courses.iter().zip(&sortie.pilots) {
            let Repositioned {
                flown: mut legs,
                reposition,
            } = Sortie::fly(self.skies, world, entry, figure, course, *pilot, None);
            if let Some(reposition) = reposition {
                self.faults.push(reposition.advice(figure));
                sortie.reposition = sortie.reposition.or(Some(reposition.by));
            }
            self.faults.append(&mut legs.remarks);
            sortie.flown.push(legs);
        }
        let whole = sortie.flown.iter().all(|flown| flown.fault.is_none());
        for (course, flown) in sortie.courses.iter().zip(&mut sortie.flown) {
            self.faults.extend(flown.fault.take());
            self.leave(course.aircraft, flown.pilot);
        }
        let flown = &sortie.flown;
        sortie.met = points::of_parts(figure, &sortie.courses, flown, whole, &mut self.faults);
        let by_part: Vec<_> = flown
            .iter()
            .map(|flown| points::passes_of(figure, &flown.legs))
            .collect();
        self.advise(figure, entry.mirrored, &sortie.courses, &by_part, flown);
        sortie.faults = std::mem::take(&mut self.faults);
        sortie
    }

    /// Leaves these aircraft where they ended.
    fn leave(&mut self, aircraft: &[Name], pilot: Pilot) {
        for id in aircraft {
            self.pilots.insert(id.clone(), pilot);
        }
    }
}

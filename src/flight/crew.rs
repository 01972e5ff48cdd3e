//! The aircraft of a show, flown from figure to figure.

use std::borrow::Cow;

use super::apart::{self, Course};
use super::path::Pilot;
use super::pilots::Pilots;
use super::points::{self, Extent, Met};
use super::reposition::{Reposition, Repositioned};
use super::skies::Skies;
use super::sortie::{Sortie, timed};
use super::{Entry, FlownFigure};
use crate::show::{Fault, Figure, Manner, Part};

/// The aircraft of a show, each where its last figure left it.
pub(super) struct Crew<'a> {
    pub skies: &'a Skies<'a>,
    pub pilots: Pilots,
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
    /// What is told of it, with the points it has in other winds.
    pub fn told(self, skies: &Skies<'_>, in_other_winds: &[Vec<Met>]) -> Told {
        match self {
            Manoeuvre::Flown(sortie) => sortie.told(skies, in_other_winds),
            Manoeuvre::Timed(figure, faults) => (figure, faults),
        }
    }
}

impl<'a> Crew<'a> {
    /// On the ground.
    pub fn new(skies: &'a Skies<'a>) -> Crew<'a> {
        Crew {
            skies,
            pilots: Pilots::default(),
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
                self.pilots.leave(&figure.aircraft, Pilot::NEW);
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
        let mut sortie = Sortie {
            entry,
            figure,
            courses: asked.clone(),
            asked,
            flown: Vec::new(),
            repositions: Vec::new(),
            met: Vec::new(),
            faults: Vec::new(),
        };
        let world = &self.skies.world;
        let fly = |course: &Course<'_>| {
            let pilot = self.pilots.of(course);
            Sortie::fly(self.skies, world, entry, figure, course, pilot, None)
        };
        let crossing = apart::meet(figure, &mut sortie.courses, |_, course| fly(course).flown);
        for course in &sortie.courses {
            let Repositioned { flown, reposition } = fly(course);
            sortie.flown.push(flown);
            sortie.repositions.push(reposition);
        }
        self.faults.extend(crossing.err());
        for (flown, reposition) in sortie.flown.iter_mut().zip(&sortie.repositions) {
            let longer = reposition.filter(Reposition::lengthens);
            self.faults
                .extend(longer.map(|longer| longer.advice(figure)));
            self.faults.append(&mut flown.remarks);
        }
        let whole = sortie.flown.iter().all(|flown| flown.fault.is_none());
        for (course, flown) in sortie.courses.iter().zip(&mut sortie.flown) {
            self.faults.extend(flown.fault.take());
            self.pilots.leave(course.aircraft, flown.pilot);
        }
        let flown = &sortie.flown;
        let extent = if whole { Extent::Whole } else { Extent::Part };
        sortie.met = points::of_parts(figure, &sortie.courses, flown, extent, &mut self.faults);
        let by_part: Vec<_> = flown
            .iter()
            .map(|flown| points::passes_of(figure, &flown.legs))
            .collect();
        self.advise(figure, entry.mirrored, &sortie.courses, &by_part, flown);
        sortie.faults = std::mem::take(&mut self.faults);
        sortie
    }
}

//! The same figures in a little more or less wind, one after the other, for what that does to their times: where a
//! figure leads depends on it, so what follows begins elsewhere.

use super::alike::Alike;
use super::apart::{self, Course};
use super::crew::Manoeuvre;
use super::path::{FlownLegs, Pilot};
use super::pilots::Pilots;
use super::points::{self, Extent, Met};
use super::skies::Skies;
use super::sortie::Sortie;
use super::world::World;

/// The crew in another wind than the day's.
pub(super) struct OtherWind<'a> {
    skies: &'a Skies<'a>,
    /// How much more there is along the display line, m/s.
    more: f64,
    world: &'a World,
    pilots: Pilots,
}

impl<'a> OtherWind<'a> {
    /// On the ground, in each of the other winds of these skies.
    pub fn each(skies: &'a Skies<'a>) -> Vec<OtherWind<'a>> {
        let others = skies.others.iter();
        let on_the_ground = |(more, world): &'a (f64, World)| OtherWind {
            skies,
            more: *more,
            world,
            pilots: Pilots::default(),
        };
        others.map(on_the_ground).collect()
    }

    /// Flies what was flown in the day's wind, from where the figure before it ended in this one, repositioned
    /// as it was there. Its points; none for one that is only timed.
    pub fn fly(&mut self, manoeuvre: &Manoeuvre<'_>) -> Vec<Met> {
        match manoeuvre {
            Manoeuvre::Flown(sortie) => self.sortie(sortie),
            Manoeuvre::Timed(figure, _) => {
                self.pilots.leave(&figure.aircraft, Pilot::NEW);
                Vec::new()
            }
        }
    }

    /// Those that fly alone fly the same legs; those that cross make that good anew.
    fn sortie(&mut self, sortie: &Sortie<'_>) -> Vec<Met> {
        let Sortie { entry, figure, .. } = sortie;
        let mut courses = sortie.asked.clone();
        let crossing = courses.len() > 1;
        let fly = |nth: usize, course: &Course<'_>| {
            let planned = sortie.flown.get(nth);
            let alike = Alike {
                legs: planned
                    .filter(|_| !crossing)
                    .map_or(&[], |flown| &flown.legs),
                repositioned: matches!(sortie.repositions.get(nth), Some(Some(_))),
                more: self.more,
            };
            let pilot = self.pilots.of(course);
            let alike = Some(alike);
            Sortie::fly(self.skies, self.world, entry, figure, course, pilot, alike).flown
        };
        if crossing {
            // What cannot cross in it says nothing of the wind it is planned for.
            let _ = apart::meet(figure, &mut courses, fly);
        }
        let each = courses.iter().enumerate();
        let flown: Vec<FlownLegs> = each.map(|(nth, course)| fly(nth, course)).collect();
        for ((course, flown), planned) in courses.iter().zip(&flown).zip(&sortie.flown) {
            // What follows one that cannot be flown in it begins as in the day's.
            let left = match flown.fault {
                None => flown.pilot,
                Some(_) => planned.pilot,
            };
            self.pilots.leave(course.aircraft, left);
        }
        points::of_parts(figure, &courses, &flown, Extent::OtherWind, &mut Vec::new())
    }
}

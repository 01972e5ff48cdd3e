//! Figures by name: each is a list of legs, made from a few parameters.
//!
//! * [`parameters`]: what a figure asks of the document. `legs`: writes a leg in a few words.
//! * `level`: turns and passes. `rolls`. `vertical`: what goes over the top. `post_stall`: where the nose
//!   leaves the path. `repositions`: back to the display line. `pairs`: what several aircraft fly.
//!
//! A figure is begun level and wings level, at whatever speed and height it is come to with, and left level
//! again, unless its `needs` say otherwise.

mod legs;
mod level;
mod pairs;
pub mod parameters;
mod post_stall;
mod repositions;
mod rolls;
mod vertical;

pub use parameters::{Ask, Listing, Parameters, Written};

use super::Leg;

/// A figure that a document may fly by its name.
#[derive(Debug)]
pub struct Named {
    /// What is written after `fly`.
    pub name: &'static str,
    /// The same in a sentence: "a loop".
    pub what: &'static str,
    /// What is flown, in one sentence.
    pub says: &'static str,
    build: Build,
}

/// How its legs are made.
#[derive(Debug)]
enum Build {
    /// Whoever flies it, flies these.
    Together(fn(&mut Parameters) -> Vec<Leg>),
    /// The first half of the aircraft flies the first, the others the second.
    Apart(fn(&mut Parameters) -> [Vec<Leg>; 2]),
}

/// The legs of a named figure.
#[derive(Debug, Clone)]
pub enum Legs {
    /// Whoever flies it, flies these.
    Together(Vec<Leg>),
    /// The first half of the aircraft flies the first, the others the second.
    Apart([Vec<Leg>; 2]),
}

/// All of them, in the order people look for them.
pub static FIGURES: &[&[Named]] = &[
    level::FIGURES,
    rolls::FIGURES,
    vertical::FIGURES,
    post_stall::FIGURES,
    repositions::FIGURES,
    pairs::FIGURES,
];

/// Every figure that can be flown by name.
pub fn all() -> impl Iterator<Item = &'static Named> {
    FIGURES.iter().copied().flatten()
}

impl Named {
    /// The legs, from what is `written`; each says which part of the figure it is: "loop, first quarter".
    /// They lie nowhere in the document yet.
    pub fn legs(&self, written: &mut dyn Written) -> Legs {
        let mut parameters = Parameters::new(written);
        match self.build {
            Build::Together(build) => Legs::Together(self.named(build(&mut parameters))),
            Build::Apart(build) => Legs::Apart(build(&mut parameters).map(|legs| self.named(legs))),
        }
    }

    fn named(&self, legs: Vec<Leg>) -> Vec<Leg> {
        let named = |leg: Leg| Leg {
            part: leg.part.map(|part| format!("{}, {part}", self.name)),
            ..leg
        };
        legs.into_iter().map(named).collect()
    }

    /// Its parameters as a document would write them: `g = 4`, or the key alone where it may be left out
    /// and nothing takes its place.
    pub fn parameters(&self) -> Vec<String> {
        let mut listing = Listing::default();
        self.legs(&mut listing);
        listing.into_list()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_figure_has_a_name_of_its_own_and_legs_that_say_which_part_they_are() {
        let mut names = Vec::new();
        for figure in all() {
            assert!(!names.contains(&figure.name), "{} twice", figure.name);
            names.push(figure.name);
            let legs = match figure.legs(&mut Listing::default()) {
                Legs::Together(legs) => legs,
                Legs::Apart(both) => both.concat(),
            };
            assert!(!legs.is_empty(), "{}", figure.name);
            for leg in legs {
                let part = leg.part.unwrap_or_else(|| panic!("{}", figure.name));
                assert!(part.starts_with(figure.name), "{part}");
            }
        }
    }

    #[test]
    fn what_is_usual_is_a_quantity() {
        for figure in all() {
            let mut listing = Listing::default();
            figure.legs(&mut listing);
            assert_eq!(listing.unread(), [""; 0], "{}", figure.name);
        }
    }
}

//! What the journals teach: how far each figure is off the plan, how far it spreads, how the narrator speaks.

use std::collections::BTreeMap;

use super::shrink::{Measured, Shrunk, shrink, variance_within};
use super::stretch::{PartOf, Took};
use super::words::{Pace, narrator};
use crate::show::{Name, Narrator, Show};
use crate::units::Span;

/// A part of a figure, as all journals show it.
#[derive(Debug, Clone, PartialEq)]
pub struct Habit {
    /// The figure.
    pub figure: Name,
    /// The profile whose own version of it was flown; `None`: the figure's own.
    pub version: Option<Name>,
    /// Which part of it.
    pub part: PartOf,
    /// How often it was flown between things seen.
    pub times: usize,
    /// How much longer than planned it took on the mean.
    pub longer: Span,
    /// How much longer it is taken to take: that drawn towards the plan.
    pub bias: Span,
    /// One standard deviation of the bias.
    pub bias_spread: Span,
    /// How far it was drawn towards the plan, 0 to 1.
    pub drawn: f64,
    /// One standard deviation of its own from one time to the next, as stated.
    pub stated: Span,
    /// The same with what was seen.
    pub spread: Span,
}

impl Habit {
    /// What people call it.
    pub fn name(&self) -> String {
        let part = self.part.name(&self.figure);
        match &self.version {
            Some(profile) => format!("{part} in {profile}"),
            None => part,
        }
    }
}

/// What is learned of the narrator.
#[derive(Debug, Clone, PartialEq)]
pub struct Voice {
    /// How many blocks that rests on.
    pub blocks: usize,
    /// As the show states it.
    pub stated: Narrator,
    /// As it was.
    pub learned: Narrator,
}

/// A figure, and which version of it.
type Flown<'a> = (&'a Name, Option<&'a Name>);

/// Nobody keeps time better than this, however few times it was seen.
const LEAST_SPREAD: f64 = 0.1;

/// Every part of every figure that was seen, in the order of the show's figures.
pub fn habits(show: &Show, took: &[Took]) -> Vec<Habit> {
    let mut habits = of_part(took, PartOf::Hold);
    habits.extend(of_part(took, PartOf::Flight));
    // A stable sort: what is a figure's own stays before its versions.
    habits.sort_by_key(|habit| place(show, &habit.figure, habit.part));
    habits
}

/// Puts parts of figures in the order of the show's figures, each once.
pub fn in_order(show: &Show, parts: &mut Vec<(Name, PartOf)>) {
    parts.sort_by_key(|(figure, part)| place(show, figure, *part));
    parts.dedup();
}

fn place(show: &Show, figure: &Name, part: PartOf) -> (Option<usize>, PartOf) {
    let mut figures = show.figures.iter();
    (figures.position(|other| other.id == *figure), part)
}

/// Holds are waited for and flights are flown: each kind is drawn together by itself.
fn of_part(took: &[Took], part: PartOf) -> Vec<Habit> {
    let mut by_figure: BTreeMap<Flown, Vec<&Took>> = BTreeMap::new();
    for one in took.iter().filter(|one| one.part == part) {
        let flown = (&one.figure, one.version.as_ref());
        by_figure.entry(flown).or_default().push(one);
    }
    let seen: Vec<(Flown, Seen)> = by_figure
        .into_iter()
        .map(|(flown, took)| (flown, Seen::of(&took)))
        .collect();
    let measured: Vec<Measured> = seen.iter().map(|(_, seen)| seen.measured()).collect();
    let stated = mean(seen.iter().map(|(_, seen)| seen.own));
    let shrunk = shrink(&measured, stated);
    seen.iter()
        .zip(shrunk)
        .map(|((flown, seen), shrunk)| seen.habit(*flown, part, shrunk))
        .collect()
}

/// One part of one figure, in numbers: s, s².
struct Seen {
    times: usize,
    longer: f64,
    own: f64,
    other: f64,
    within: f64,
}

impl Seen {
    fn of(took: &[&Took]) -> Seen {
        let longer: Vec<f64> = took.iter().map(|took| took.longer).collect();
        let own = mean(took.iter().map(|took| took.own));
        let other = mean(took.iter().map(|took| took.other));
        Seen {
            times: took.len(),
            longer: mean(longer.iter().copied()),
            own,
            other,
            within: variance_within(&longer, own + other),
        }
    }

    fn measured(&self) -> Measured {
        Measured {
            off: self.longer,
            variance: self.within / self.times as f64,
        }
    }

    fn habit(&self, (figure, version): Flown, part: PartOf, shrunk: Shrunk) -> Habit {
        let own = (self.within - self.other).max(LEAST_SPREAD.powi(2));
        Habit {
            figure: figure.clone(),
            version: version.cloned(),
            part,
            times: self.times,
            longer: Span::from_s(self.longer),
            bias: Span::from_s(shrunk.off),
            bias_spread: Span::from_s(shrunk.spread),
            drawn: shrunk.drawn,
            stated: Span::from_s(self.own.sqrt()),
            spread: Span::from_s(own.sqrt()),
        }
    }
}

fn mean(values: impl ExactSizeIterator<Item = f64>) -> f64 {
    let count = values.len().max(1) as f64;
    values.sum::<f64>() / count
}

/// The narrator; `None` where no block was said from key to key.
pub fn voice(paces: &[Pace], stated: &Narrator) -> Option<Voice> {
    Some(Voice {
        blocks: paces.len(),
        stated: stated.clone(),
        learned: narrator(paces, stated)?,
    })
}

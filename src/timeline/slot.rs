//! The slot: whether the display ends in it, and what would cure it if not.

use super::chain;
use super::clock::{clock_instant, excess};
use super::moments::Moments;
use super::spread::told_within;
use crate::flight::{self, Entry, Flight};
use crate::show::{Anchor, Day, Fault, Show};
use crate::units::{Instant, Span};

/// The most figures that are dropped together in search of a cure.
const MOST_DROPPED: usize = 3;
/// The most cures told.
const MOST_TOLD: usize = 6;
/// The most displays flown in search of them: a long search would be no answer.
const MOST_FLOWN: usize = 400;
/// Dropping figures may shorten their neighbours too, but hardly by more than this.
const NEIGHBOURS: Span = Span::from_ms(15_000);

/// A display as planned.
pub(super) struct Planned<'a> {
    pub(super) show: &'a Show,
    pub(super) day: &'a Day,
    pub(super) entries: &'a [Entry],
    pub(super) flight: &'a Flight,
    pub(super) moments: &'a Moments,
}

/// The instant the slot ends; `None` when the show has none.
pub fn slot_end(show: &Show) -> Option<Instant> {
    clock_instant(show, show.slot_ends?)
}

/// A fault when the display ends after its slot: by how much, and which figures to drop.
pub(super) fn overrun(planned: &Planned<'_>) -> Option<Fault> {
    let (show, slot, end) = (
        planned.show,
        slot_end(planned.show)?,
        planned.moments.end()?,
    );
    let over = end - slot;
    if over <= Span::ZERO {
        return None;
    }
    let profile = planned
        .entries
        .first()
        .and_then(|entry| show.profile(&entry.profile))
        .map_or(0..0, |profile| profile.at.clone());
    let message = format!(
        "the display ends at {}, {} after its slot",
        told_within(show, end, planned.end_spread()),
        excess(over)
    );
    let help = match planned.cures(slot, over).as_slice() {
        [] => format!("dropping up to {MOST_DROPPED} figures does not cure it"),
        [one] => format!("dropping {one} would cure it"),
        several => format!(
            "dropping any of these would cure it: {}",
            several.join("; ")
        ),
    };
    Some(Fault::error(profile, message).help(help))
}

impl Planned<'_> {
    /// How sharply the end of the display is known.
    fn end_spread(&self) -> Option<Span> {
        let last = self.moments.figures.iter().max_by_key(|f| f.end())?;
        Some(last.spread_near(last.end()))
    }

    /// The smallest sets of figures whose dropping ends the display in its slot, as few as will do.
    fn cures(&self, slot: Instant, over: Span) -> Vec<String> {
        // The figure that show zero hangs on cannot be dropped without moving the slot itself.
        let free: Vec<usize> = (0..self.entries.len())
            .filter(|&i| !self.gives_zero(i))
            .collect();
        let mut flown = 0;
        for count in 1..=MOST_DROPPED {
            let found: Vec<String> = subsets(&free, count)
                .into_iter()
                .filter(|dropped| self.takes(dropped) + NEIGHBOURS >= over)
                .take_while(|_| {
                    flown += 1;
                    flown <= MOST_FLOWN
                })
                .filter(|dropped| self.ends_by(slot, dropped))
                .map(|dropped| self.named(&dropped))
                .take(MOST_TOLD)
                .collect();
            if !found.is_empty() {
                return found;
            }
        }
        Vec::new()
    }

    fn gives_zero(&self, i: usize) -> bool {
        let figure = &self.entries[i].figure;
        self.show
            .zero
            .as_ref()
            .is_some_and(|zero| matches!(&zero.anchor, Anchor::Point { of, .. } if of == figure))
    }

    /// How long these entries take together.
    fn takes(&self, entries: &[usize]) -> Span {
        let figures = &self.moments.figures;
        entries
            .iter()
            .filter_map(|&i| {
                figures
                    .iter()
                    .find(|figure| figure.key == self.entries[i].key)
            })
            .map(|figure| figure.end() - figure.start())
            .sum()
    }

    /// Whether the display without these entries ends by `slot`, and can be flown as well as with them.
    fn ends_by(&self, slot: Instant, dropped: &[usize]) -> bool {
        let rest: Vec<Entry> = self
            .entries
            .iter()
            .enumerate()
            .filter(|(i, _)| !dropped.contains(i))
            .map(|(_, entry)| entry.clone())
            .collect();
        let flight = flight::fly_for_times(self.show, self.day, &rest);
        unplanned(&flight) <= unplanned(self.flight)
            && chain::planned(self.show, &flight)
                .end()
                .is_some_and(|end| end <= slot)
    }

    fn named(&self, entries: &[usize]) -> String {
        let keys: Vec<&str> = entries
            .iter()
            .map(|&i| self.entries[i].key.as_str())
            .collect();
        keys.join(" and ")
    }
}

/// What is wrong with a flight. That a figure needs a reposition is not: its time is in the plan.
fn unplanned(flight: &Flight) -> usize {
    let figures = flight.figures.iter();
    let repositions = figures.filter(|figure| figure.reposition.is_some()).count();
    flight.faults.len().saturating_sub(repositions)
}

/// Every way to take `count` of `items`.
fn subsets(items: &[usize], count: usize) -> Vec<Vec<usize>> {
    if count == 0 {
        return vec![Vec::new()];
    }
    let mut sets = Vec::new();
    for (i, &item) in items.iter().enumerate() {
        for mut rest in subsets(&items[i + 1..], count - 1) {
            rest.insert(0, item);
            sets.push(rest);
        }
    }
    sets
}

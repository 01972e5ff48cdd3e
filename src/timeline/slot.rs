//! The slot: whether the display ends in it, and what would cure it if not.

use super::chain;
use crate::flight::{self, Entry};
use crate::show::{Day, Fault, Show};
use crate::units::{Instant, Span};

/// The most figures that are dropped together in search of a cure.
const MOST_DROPPED: usize = 3;

/// The instant the slot ends; `None` when the show has none.
pub fn slot_end(show: &Show) -> Option<Instant> {
    chain::clock_instant(show, show.slot_ends?)
}

/// A fault when the display ends after its slot: by how much, and which figures to drop.
pub fn overrun(show: &Show, day: &Day, entries: &[Entry], end: Instant) -> Option<Fault> {
    let slot = slot_end(show)?;
    let over = end - slot;
    if over <= Span::ZERO {
        return None;
    }
    let cures = cures(show, day, entries, slot);
    let profile = entries
        .first()
        .and_then(|entry| show.profile(&entry.profile))
        .map_or(0..0, |profile| profile.at.clone());
    let help = if cures.is_empty() {
        format!("dropping up to {MOST_DROPPED} figures does not cure it")
    } else {
        format!("dropping one of these would cure it: {}", cures.join("; "))
    };
    Some(
        Fault::error(
            profile,
            format!("the display ends {} after its slot", over.clock(0)),
        )
        .help(help),
    )
}

/// The smallest sets of figures whose dropping ends the display in its slot, as few as will do.
fn cures(show: &Show, day: &Day, entries: &[Entry], slot: Instant) -> Vec<String> {
    let zero_figure = show.zero.as_ref().map(|zero| zero.anchor.to_string());
    // The figure that show zero hangs on cannot be dropped without moving the slot itself.
    let free: Vec<usize> = (0..entries.len())
        .filter(|&i| {
            !zero_figure
                .as_deref()
                .is_some_and(|zero| zero.starts_with(&format!("{}.", entries[i].figure)))
        })
        .collect();
    for count in 1..=MOST_DROPPED {
        let found: Vec<String> = subsets(&free, count)
            .into_iter()
            .filter(|dropped| ends_by(show, day, entries, dropped, slot))
            .map(|dropped| {
                let keys: Vec<&str> = dropped.iter().map(|&i| entries[i].key.as_str()).collect();
                keys.join(" and ")
            })
            .take(6)
            .collect();
        if !found.is_empty() {
            return found;
        }
    }
    Vec::new()
}

fn ends_by(show: &Show, day: &Day, entries: &[Entry], dropped: &[usize], slot: Instant) -> bool {
    let rest: Vec<Entry> = entries
        .iter()
        .enumerate()
        .filter(|(i, _)| !dropped.contains(i))
        .map(|(_, entry)| entry.clone())
        .collect();
    let flight = flight::fly(show, day, &rest);
    // Dropping a figure may leave a gap nobody has modelled: then the answer would be a guess.
    flight.faults.is_empty()
        && chain::planned(show, &flight)
            .end()
            .is_some_and(|end| end <= slot)
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

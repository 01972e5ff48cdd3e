//! What a day may bring that nobody planned, drawn from a seed.

use super::errors::{Draws, Errors, HeldUp, Source, seed_of};
use crate::show::Name;
use crate::timeline::Plan;
use crate::units::Span;

/// How late an inbound is, s (common practice, no published source).
const LATE_S: [f64; 2] = [5.0, 20.0];
/// How long the display is held up, s (common practice, no published source).
const HELD_UP_S: [f64; 2] = [60.0, 180.0];

/// Adds so many surprises to `errors`, drawn from its seed: an inbound that is late, a figure that is dropped, a
/// display held up for weather once. They come from an entry on, if one is given; that one itself is at most late. A
/// figure is surprised once; where there is none left, there are fewer.
pub fn surprise(errors: &mut Errors, plan: &Plan, from: Option<&Name>, count: usize) {
    // Apart from what the crews draw.
    let mut draws = Draws::of(seed_of(errors.seed, 1), Source::Pilot);
    let keys = plan.entries.iter().map(|entry| &entry.key);
    let mut free: Vec<&Name> = keys
        .skip_while(|key| from.is_some_and(|from| from != *key))
        .collect();
    let first = free.first().copied();
    for _ in 0..count {
        let kind = draws.uniform();
        let held = |key: &Name| {
            let mut figures = plan.flight.figures.iter();
            let figure = figures.find(|figure| figure.key == *key);
            figure.is_some_and(|figure| figure.points.iter().any(|point| point.step.waits))
        };
        let wants_hold = kind <= 1.0 / 3.0;
        let fits = |key: &Name| held(key) == wants_hold && (wants_hold || Some(key) != first);
        let fitting: Vec<usize> = (0..free.len()).filter(|&i| fits(free[i])).collect();
        let drawn = (draws.uniform() * fitting.len() as f64).ceil() as usize;
        let Some(&i) = drawn.checked_sub(1).and_then(|nth| fitting.get(nth)) else {
            continue;
        };
        let key = free.remove(i).clone();
        let mut between = |[least, most]: [f64; 2]| {
            Span::from_s((least + (most - least) * draws.uniform()).round())
        };
        match () {
            () if wants_hold => errors.late.push((key, between(LATE_S))),
            () if kind > 2.0 / 3.0 && errors.held_up.is_none() => {
                let lasts = between(HELD_UP_S);
                errors.held_up = Some(HeldUp { before: key, lasts });
            }
            () => errors.dropped.push(key),
        }
    }
}

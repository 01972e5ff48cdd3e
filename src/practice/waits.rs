//! What somebody keyed that the crews keep to: waiting, and leaving a figure out.

use super::errors::HeldUp;
use super::flown::{Flown, FlownFigure};
use crate::live::{Event, What};
use crate::show::Name;
use crate::units::{Instant, Span};

/// Held up until somebody says otherwise.
const INDEFINITELY: Span = Span::from_ms(86_400_000);

/// What somebody keyed that the crews keep to.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Waits {
    /// Held up from, and until when; `None` until further notice.
    delays: Vec<(Instant, Option<Instant>)>,
    /// Entries left out, and when that was said.
    pub dropped: Vec<(Name, Instant)>,
}

impl Waits {
    /// What is kept to of what happened.
    pub fn of(past: &[Event]) -> Waits {
        let mut waits = Waits::default();
        for event in past {
            match &event.what {
                What::Delay if waits.delays.last().is_none_or(|(_, until)| until.is_some()) => {
                    waits.delays.push((event.at, None));
                }
                What::Resume => {
                    if let Some((_, until)) = waits.delays.last_mut() {
                        until.get_or_insert(event.at);
                    }
                }
                What::Drop { key } => waits.dropped.push((key.clone(), event.at)),
                What::Reinstate { key } => waits.dropped.retain(|(dropped, _)| dropped != key),
                _ => {}
            }
        }
        waits
    }

    /// Lets the crews keep to it; `brought` is the wait that the day brings by itself.
    pub fn keep(&self, flown: &mut Flown, brought: Option<&HeldUp>) {
        for (key, at) in &self.dropped {
            break_off(flown, key, *at);
        }
        for delay in &self.delays {
            hold_up(flown, *delay, brought);
        }
    }
}

/// What has not begun by `from` waits until the show goes on; where the wait is the one that the day brings, the
/// director says how long it is.
fn hold_up(flown: &mut Flown, (from, until): (Instant, Option<Instant>), brought: Option<&HeldUp>) {
    let waiting = |figure: &FlownFigure| {
        figure
            .points
            .first()
            .is_some_and(|(_, start)| *start > from)
    };
    let next = flown.figures.iter().filter(|figure| waiting(figure));
    let next = next.min_by_key(|figure| figure.points.first().map(|(_, at)| *at));
    let Some((key, start)) = next.and_then(|f| Some((f.key.clone(), f.points.first()?.1))) else {
        return;
    };
    let is_brought = brought.is_some_and(|held| held.before == key);
    let shift = match until {
        Some(until) => (until - start).max(Span::ZERO),
        None if is_brought => Span::ZERO,
        None => INDEFINITELY,
    };
    for figure in flown.figures.iter_mut().filter(|figure| waiting(figure)) {
        for (_, at) in &mut figure.points {
            *at += shift;
        }
    }
}

/// An entry being flown at `at` ends there, and what comes after it comes so much sooner.
fn break_off(flown: &mut Flown, key: &Name, at: Instant) {
    let Some(i) = flown.figures.iter().position(|figure| figure.key == *key) else {
        return;
    };
    let points = &mut flown.figures[i].points;
    let ends = points.last().map_or(at, |(_, end)| *end);
    if ends <= at || points.first().is_none_or(|(_, start)| *start > at) {
        return;
    }
    for (_, point) in points {
        *point = (*point).min(at);
    }
    for later in flown.figures.iter_mut().skip(i + 1) {
        let waits = later
            .points
            .first()
            .is_some_and(|(_, start)| *start >= ends);
        for (_, point) in later.points.iter_mut().filter(|_| waits) {
            *point = *point - (ends - at);
        }
    }
}

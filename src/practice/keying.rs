//! The marks and keys somebody at the stand would give, from when everything is really passed.

use super::errors::{Draws, Errors, Source};
use super::flown::Flown;
use crate::flight::{Flight, FlownPoint};
use crate::live::estimate::mark_spread;
use crate::live::session::{is_awaited, parallax};
use crate::live::{Event, Mark, MarkKind, PointOf, What};
use crate::show::{Name, PointName, Show};
use crate::timeline::Plan;
use crate::units::{Instant, Span};

/// How marks are keyed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keyed {
    /// By one key: the session finds the point.
    Plainly,
    /// With the point that is meant.
    Named,
}

/// Marks of everything the show waits for and of every gate, in order of time. Each is off by a normal error of
/// the spread that the estimate gives to such a mark, and seen from the stand, unless `errors` says otherwise.
pub fn marks(
    show: &Show,
    flight: &Flight,
    flown: &Flown,
    errors: &Errors,
    how: Keyed,
) -> Vec<Event> {
    let mut reactions = Draws::of(errors.seed, Source::Marks);
    let mut attention = Draws::of(errors.seed, Source::Missed);
    let mut events = Vec::new();
    for (figure, times) in flight.figures.iter().zip(&flown.figures) {
        let points = figure.points.iter().zip(&times.points);
        for (point, (name, passed)) in points.filter(|(point, _)| is_keyed(point)) {
            let off = reactions.normal() * f64::from(u8::from(errors.marks));
            let missed = attention.uniform() <= errors.missed.whole();
            let (false, Some(kind)) = (missed, MarkKind::of(name)) else {
                continue;
            };
            let seen = *passed + parallax(name, show.site.stand.0, point.along);
            let named = PointOf {
                key: times.key.clone(),
                point: name.clone(),
            };
            let observed = seen + mark_spread(name) * off;
            let mark = Mark {
                kind,
                observed,
                point: (how == Keyed::Named).then_some(named),
            };
            events.push(Event {
                at: observed,
                what: What::Mark(mark),
            });
        }
    }
    events.sort_by_key(|event| event.at);
    events
}

/// Whether somebody at the stand keys a point: what the show waits for, and gates.
pub(super) fn is_keyed(point: &FlownPoint) -> bool {
    is_awaited(point) || matches!(point.point, PointName::Gate(_))
}

/// The keys for what is dropped and what is held up, in order of time.
pub fn changes(plan: &Plan, flown: &Flown, errors: &Errors) -> Vec<Event> {
    let mut events = Vec::new();
    for key in &errors.dropped {
        if let Some(at) = told(plan, flown, key) {
            let what = What::Drop { key: key.clone() };
            events.push(Event { at, what });
        }
    }
    if let Some(held) = &errors.held_up
        && let (Some(at), Some(goes_on)) =
            (told(plan, flown, &held.before), flown.start(&held.before))
    {
        let delay = Event {
            at,
            what: What::Delay,
        };
        let resume = Event {
            at: goes_on.max(at),
            what: What::Resume,
        };
        events.extend([delay, resume]);
    }
    events.sort_by_key(|event| event.at);
    events
}

/// When the stand is told of a change before an entry: as the figure before it begins, or half a minute before
/// the display.
fn told(plan: &Plan, flown: &Flown, key: &Name) -> Option<Instant> {
    let entry = plan.entries.iter().position(|entry| entry.key == *key)?;
    let before = plan.entries[..entry].iter().rev();
    let began = before.filter_map(|entry| flown.start(&entry.key)).next();
    // After its start, so that it is the figure being flown.
    let soon = Span::from_ms(500);
    Some(began.map_or_else(|| plan.moments.begin() - Span::from_s(30.0), |at| at + soon))
}

//! Hindsight: a run folded once more, as it was keyed or otherwise, and held against what was really flown.

use super::outcome::{MeetOutcome, Notes, Outcome};
use super::sky::{Seen, Sky};
use crate::live::{Event, Mark, MarkKind, PointOf, Session, What};
use crate::show::{Anchor, Name, TimeExpression};
use crate::units::{Instant, Span};

/// A mark is only spoken of where it would have brought a hit nearer by this.
const WORTH: Span = Span::from_ms(100);

/// A run as it came out.
#[derive(Debug, Clone)]
pub struct Folded {
    /// The session at its end.
    pub session: Session,
    /// What was noted.
    pub notes: Notes,
    /// What came of it.
    pub outcome: Outcome,
}

/// A mark that was not keyed, or keyed off its instant, and what it would have done for a meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Which point.
    pub point: PointOf,
    /// How late it was keyed, if it was.
    pub keyed: Option<Span>,
    /// How late the hit would have been; negative is early.
    pub miss: Span,
}

/// Folds what happened until `until` once more.
pub fn fold(sky: &Sky, past: &[Event], until: Instant) -> Folded {
    let plan = sky.plan();
    let first = past.first().map_or(until, |event| event.at);
    let before = plan.moments.begin().min(first) - Span::from_s(60.0);
    let mut session = Session::new(sky.show().clone(), plan.clone(), before);
    let mut notes = Notes::default();
    let mut take = |session: &mut Session, event: &Event| {
        let effects = session.apply(event);
        notes.note(session, &effects);
    };
    let end = Event {
        at: until,
        what: What::Tick,
    };
    for event in past.iter().filter(|event| event.at <= until).chain([&end]) {
        // Cues are noted at the instants at which they come by themselves.
        while let Some(at) = session.next_deadline().filter(|at| *at < event.at) {
            let what = What::Tick;
            take(&mut session, &Event { at, what });
        }
        take(&mut session, event);
    }
    Folded {
        outcome: sky.truth().outcome(&notes),
        session,
        notes,
    }
}

/// The one mark that would have brought a hit nearest to what it meets, if any would have brought it nearer.
pub fn advice(
    sky: &Sky,
    past: &[Event],
    until: Instant,
    run: &Folded,
    meet: &MeetOutcome,
) -> Option<Advice> {
    let on = &sky.show().tracks[meet.track].meets.as_ref()?.on;
    let figure = figure_of(sky, on, meet.round)?;
    let now = meet.miss().map_or(Span::from_s(f64::MAX), Span::abs);
    let seen = sky.seen(&run.session, until).into_iter();
    let before = seen.filter(|seen| seen.point.key == figure && seen.at < meet.wanted);
    let otherwise = before.filter_map(|seen| {
        let events = keyed_at_its_instant(run, past, &seen);
        let folded = fold(sky, &events, until);
        let same = |other: &&MeetOutcome| (other.track, other.round) == (meet.track, meet.round);
        let miss = folded.outcome.meets.iter().find(same)?.miss()?;
        Some(Advice {
            point: seen.point,
            keyed: seen.keyed,
            miss,
        })
    });
    let best = otherwise.min_by_key(|advice| advice.miss.abs())?;
    (best.miss.abs() + WORTH <= now).then_some(best)
}

/// The entry that a time hangs on.
fn figure_of(sky: &Sky, on: &TimeExpression, round: usize) -> Option<Name> {
    let Anchor::Point { of, .. } = &on.anchor else {
        return None;
    };
    Some(sky.moments().figure(of, round)?.key.clone())
}

/// What happened, the marks as they stood in the end, and one of them at the instant at which it was to be seen.
fn keyed_at_its_instant(run: &Folded, past: &[Event], seen: &Seen) -> Vec<Event> {
    let is_of_marks = |what: &What| {
        matches!(
            what,
            What::Mark(_) | What::UndoMark | What::ShiftMark { .. } | What::Dismiss
        )
    };
    let rest = past
        .iter()
        .filter(|event| !is_of_marks(&event.what))
        .cloned();
    let others = run
        .session
        .marks()
        .iter()
        .filter(|mark| mark.point != seen.point);
    let marks = others.map(|mark| (mark.kind, mark.observed, mark.point.clone()));
    let kind = MarkKind::of(&seen.point.point);
    let this = kind.map(|kind| (kind, seen.at, seen.point.clone()));
    let marks = marks.chain(this).map(|(kind, observed, point)| Event {
        at: observed,
        what: What::Mark(Mark {
            kind,
            observed,
            point: Some(point),
        }),
    });
    let mut events: Vec<Event> = rest.chain(marks).collect();
    events.sort_by_key(|event| event.at);
    events
}

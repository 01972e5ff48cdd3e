//! One whole show folded through a session: marks keyed as somebody at the stand would, words said.

use std::sync::Arc;

use super::errors::Errors;
use super::flown::{Flown, Walk};
use super::keying::{self, Keyed};
use super::narrator::{Narrator, REACTION, Words};
use super::outcome::{Notes, Outcome, Truth};
use crate::flight::{self, Entry, Flight};
use crate::live::{CueState, Event, Mark, PointOf, Session, What};
use crate::show::{Day, Name, Show};
use crate::timeline::{Moments, Plan};
use crate::units::{Instant, Span};

/// Before the first figure begins, and after the last has ended.
pub(super) const MARGIN: Span = Span::from_ms(60_000);

/// A show that ran.
#[derive(Debug, Clone)]
pub struct Run {
    /// The session at its end.
    pub session: Session,
    /// When everything was really passed.
    pub flown: Flown,
    /// What was noted.
    pub notes: Notes,
    /// What came of it.
    pub outcome: Outcome,
}

/// What is really flown of a plan: its entries but for those dropped, on `day`.
pub fn flight_of(show: &Show, plan: &Plan, errors: &Errors, day: &Day) -> Flight {
    let kept = |entry: &&Entry| !errors.dropped.contains(&entry.key);
    let entries: Vec<Entry> = plan.entries.iter().filter(kept).cloned().collect();
    flight::fly(show, day, &entries)
}

/// Runs a whole show that differs from its plan by `errors`, flown by the plan's own flight model.
pub fn run(show: &Arc<Show>, plan: &Arc<Plan>, errors: &Errors, how: Keyed) -> Run {
    let flown_otherwise = !errors.dropped.is_empty();
    let other = flown_otherwise.then(|| flight_of(show, plan, errors, &plan.day));
    let flight = other.as_ref().unwrap_or(&plan.flight);
    let flown = Walk::of(show, plan, flight).fly(errors);
    let mut events = keying::marks(show, flight, &flown, errors, how);
    events.extend(keying::changes(plan, &flown, errors));
    events.sort_by_key(|event| event.at);
    let moments = flown.moments(flight);
    let mut rehearsal = Rehearsal::new(show, plan, &moments, Narrator::of(show, errors));
    rehearsal.play(&events, flown.end().unwrap_or(Instant::ZERO) + MARGIN);
    let Rehearsal { session, notes, .. } = rehearsal;
    let truth = Truth {
        show,
        moments: &moments,
    };
    Run {
        outcome: truth.outcome(&notes),
        session,
        flown,
        notes,
    }
}

/// A session being played to, and who speaks.
struct Rehearsal<'a> {
    truth: Truth<'a>,
    session: Session,
    notes: Notes,
    narrator: Narrator,
    /// What the narrator is about to do.
    next: Option<(Instant, Say)>,
}

/// What a narrator does next.
enum Say {
    Begin(usize),
    End,
}

impl<'a> Rehearsal<'a> {
    fn new(
        show: &'a Arc<Show>,
        plan: &Arc<Plan>,
        moments: &'a Moments,
        narrator: Narrator,
    ) -> Self {
        let before = plan.moments.begin().min(moments.begin()) - MARGIN;
        Rehearsal {
            truth: Truth { show, moments },
            session: Session::new(show.clone(), plan.clone(), before),
            notes: Notes::default(),
            narrator,
            next: None,
        }
    }

    fn play(&mut self, events: &[Event], end: Instant) {
        let mut keyed = events.iter().peekable();
        loop {
            let by_itself = self.session.next_deadline();
            let spoken = self.next.as_ref().map(|(at, _)| *at);
            let mark = keyed.peek().map(|event| event.at);
            let times = by_itself.into_iter().chain(spoken).chain(mark);
            let Some(now) = times.min().filter(|now| *now <= end) else {
                break;
            };
            if by_itself.is_some_and(|at| at <= now) {
                self.happens(now, What::Tick);
            } else if spoken.is_some_and(|at| at <= now) {
                self.speak(now);
            } else if let Some(event) = keyed.next() {
                self.key(event);
            }
            self.listen();
        }
    }

    fn happens(&mut self, at: Instant, what: What) {
        let effects = self.session.apply(&Event { at, what });
        self.notes.note(&self.session, &effects);
    }

    /// Keys an event; where the session asks which point a mark is, it is told.
    fn key(&mut self, event: &Event) {
        self.happens(event.at, event.what.clone());
        let What::Mark(mark) = &event.what else {
            return;
        };
        if self.session.ask().is_some()
            && let Some(point) = self.meant(mark)
        {
            let point = Some(point);
            self.happens(
                event.at,
                What::Mark(Mark {
                    point,
                    ..mark.clone()
                }),
            );
        }
    }

    /// The point a mark was keyed for: of those of its kind, the one really passed nearest to it.
    fn meant(&self, mark: &Mark) -> Option<PointOf> {
        let figures = self.truth.moments.figures.iter();
        let points =
            figures.flat_map(|figure| figure.points.iter().map(|point| (&figure.key, point)));
        let of_kind = points.filter(|(_, (point, _))| mark.kind.is_of(point));
        let nearest = of_kind.min_by_key(|(_, (_, passed))| (passed.at - mark.observed).abs());
        nearest.map(|(key, (point, _))| PointOf {
            key: key.clone(),
            point: point.clone(),
        })
    }

    /// When nobody speaks or is about to, the block that has been due longest is next.
    fn listen(&mut self) {
        if matches!(self.next, Some((_, Say::End))) {
            return;
        }
        let blocks = self.session.blocks();
        let due = |i: &usize| blocks[*i].state == CueState::Due;
        let since = |i: usize| {
            let came = self
                .notes
                .blocks
                .iter()
                .find(|came| came.block == (i, blocks[i].round));
            came.map_or(self.session.now(), |came| came.due)
        };
        let next = (0..blocks.len()).filter(due).min_by_key(|&i| (since(i), i));
        self.next = match (next, self.next.take()) {
            (Some(i), Some((at, Say::Begin(same)))) if i == same => Some((at, Say::Begin(i))),
            (Some(i), _) => Some((self.session.now() + REACTION, Say::Begin(i))),
            (None, _) => None,
        };
    }

    fn speak(&mut self, now: Instant) {
        match self.next.take() {
            Some((_, Say::Begin(i))) => self.begin(i, now),
            Some((_, Say::End)) => self.happens(now, What::EndBlock),
            None => {}
        }
    }

    fn begin(&mut self, i: usize, now: Instant) {
        let block: Name = self.truth.show.blocks[i].id.clone();
        self.happens(now, What::BeginBlock { block });
        let cue = &self.session.blocks()[i];
        let (round, version) = (cue.round, cue.version.unwrap_or_default());
        let words = Words::of(self.truth.show, &self.session.plan().facts, i, version);
        let pieces: Vec<(Instant, Instant)> = words.map_or(Vec::new(), |words| {
            let waits = |time| self.truth.instant(&self.notes, time, round);
            self.narrator.pieces(words, now, waits).collect()
        });
        let end = pieces.last().map_or(now, |piece| piece.1);
        if let Some(came) = self
            .notes
            .blocks
            .iter_mut()
            .find(|came| came.block == (i, round))
        {
            came.version = Some(version);
            came.pieces = pieces;
        }
        self.next = Some((end, Say::End));
    }
}

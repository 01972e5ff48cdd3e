//! One whole show folded through a session: marks keyed as somebody at the stand would, words said.

use std::sync::Arc;

use super::errors::Errors;
use super::flown::{Flown, Walk};
use super::keying::{self, Keyed};
use super::narrator::Narrator;
use super::outcome::{Notes, Outcome, Truth};
use super::player::{Player, Playing};
use crate::flight::{self, Entry, Flight};
use crate::live::{Event, Session};
use crate::show::{Day, Show};
use crate::timeline::Plan;
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
    let truth = Truth {
        show,
        moments: &moments,
    };
    let before = plan.moments.begin().min(moments.begin()) - MARGIN;
    let mut noted = Noted {
        session: Session::new(show.clone(), plan.clone(), before),
        notes: Notes::default(),
    };
    let end = flown.end().unwrap_or(Instant::ZERO) + MARGIN;
    Player::keying(events.into(), Narrator::of(show, errors)).play(&mut noted, &truth, end);
    let Noted { session, notes } = noted;
    Run {
        outcome: truth.outcome(&notes),
        session,
        flown,
        notes,
    }
}

/// A session played to, and what is noted of it.
struct Noted {
    session: Session,
    notes: Notes,
}

impl Playing for Noted {
    fn session(&self) -> &Session {
        &self.session
    }

    fn happens(&mut self, event: Event) {
        let effects = self.session.apply(&event);
        self.notes.note(&self.session, &effects);
    }

    fn notes(&self) -> Option<&Notes> {
        Some(&self.notes)
    }

    fn says(&mut self, pieces: Vec<(Instant, Instant)>) {
        self.notes.note_words(&self.session, pieces);
    }
}

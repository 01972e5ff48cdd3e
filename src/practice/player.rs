//! A simulated narrator: keys what is seen, begins words when they are due, ends them when they are said.

use std::collections::VecDeque;

use super::narrator::{Narrator, REACTION, Words};
use super::outcome::{Notes, Truth};
use super::sky::Sky;
use crate::live::{CueState, Event, Mode, Session, What};
use crate::units::Instant;

/// A running show that can be played to.
pub trait Playing {
    /// Its session.
    fn session(&self) -> &Session;
    /// Something happens at its instant.
    fn happens(&mut self, event: Event);
}

/// A session played to with nobody watching.
pub struct Unseen {
    /// Where it is.
    pub session: Session,
    /// What has happened to it, ticks apart.
    pub past: Vec<Event>,
}

impl Playing for Unseen {
    fn session(&self) -> &Session {
        &self.session
    }

    fn happens(&mut self, event: Event) {
        self.session.apply(&event);
        if event.what != What::Tick {
            self.past.push(event);
        }
    }
}

/// Plays a show as a narrator would, from some instant on.
#[derive(Debug, Clone)]
pub struct Player {
    keys: VecDeque<Event>,
    narrator: Narrator,
    /// The block that will be begun, and when.
    begins: Option<(usize, Instant)>,
}

impl Player {
    /// Somebody who keys what comes after `from`.
    pub fn new(sky: &Sky, from: Instant) -> Player {
        let keys = sky.keys().into_iter().filter(|key| key.at > from);
        Player {
            keys: keys.collect(),
            narrator: Narrator::of(sky.show(), sky.errors()),
            begins: None,
        }
    }

    /// Plays until `until`, every key and every deadline at its own instant.
    pub fn play(&mut self, show: &mut impl Playing, sky: &Sky, until: Instant) {
        loop {
            let words = self.words(show.session(), sky);
            let said = words.as_ref().map(|event| event.at);
            let keyed = self.keys.front().map(|event| event.at);
            let itself = show.session().next_deadline();
            let times = [said, keyed, itself].into_iter().flatten();
            let Some(next) = times.min().filter(|next| *next <= until) else {
                break;
            };
            let event = match words.filter(|event| event.at <= next) {
                Some(event) => Some(event),
                None if keyed == Some(next) => self.keys.pop_front(),
                None => None,
            };
            show.happens(event.unwrap_or_else(|| tick(next)));
        }
        show.happens(tick(until));
    }

    /// What the narrator does next: ends the words being said, or begins those that are due.
    fn words(&mut self, session: &Session, sky: &Sky) -> Option<Event> {
        if !matches!(session.mode(), Mode::Running | Mode::Delayed(_)) {
            return None;
        }
        let blocks = session.blocks();
        if let Some(i) = blocks.iter().position(|cue| cue.state == CueState::Running) {
            self.begins = None;
            return Some(Event {
                at: self.over(session, sky, i)?,
                what: What::EndBlock,
            });
        }
        let due = |i: &usize| blocks[*i].state == CueState::Due;
        let starts = |i: &usize| session.layout().blocks[*i].starts.instant();
        let next = (0..blocks.len())
            .filter(due)
            .min_by_key(|i| (starts(i), *i));
        self.begins = match (next, self.begins) {
            (Some(i), Some((same, at))) if i == same => Some((i, at)),
            (Some(i), _) => Some((i, session.now() + REACTION)),
            (None, _) => None,
        };
        let (i, at) = self.begins?;
        Some(Event {
            at,
            what: What::BeginBlock {
                block: sky.show().blocks[i].id.clone(),
            },
        })
    }

    /// When the block being said is out.
    fn over(&self, session: &Session, sky: &Sky, i: usize) -> Option<Instant> {
        let cue = &session.blocks()[i];
        let (since, version) = (cue.since?, cue.version.unwrap_or_default());
        let truth = Truth {
            show: sky.show(),
            moments: sky.moments(),
        };
        let notes = Notes::default();
        let words = Words::of(sky.show(), &sky.plan().facts, i, version)?;
        let waits = |time| truth.instant(&notes, time, cue.round);
        let last = self.narrator.pieces(words, since, waits).last();
        last.map(|(_, until)| until)
    }
}

/// Time passes until an instant.
fn tick(at: Instant) -> Event {
    Event {
        at,
        what: What::Tick,
    }
}

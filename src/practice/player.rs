//! A simulated narrator: keys what is seen, begins words when they are due, ends them when they are said.

use std::collections::VecDeque;

use super::narrator::{Narrator, REACTION, Words};
use super::outcome::{Notes, Truth};
use super::sky::Sky;
use crate::live::{CueState, Event, Mark, Mode, PointOf, Session, What};
use crate::units::Instant;

/// A running show that can be played to.
pub trait Playing {
    /// Its session.
    fn session(&self) -> &Session;
    /// Something happens at its instant.
    fn happens(&mut self, event: Event);
    /// What is noted of it, if anything is.
    fn notes(&self) -> Option<&Notes> {
        None
    }
    /// The words that have just been begun will be said so, piece by piece between their waits.
    fn says(&mut self, _pieces: Vec<(Instant, Instant)>) {}
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
    /// Since when words are being said, and when they will be out.
    ends: Option<(Instant, Instant)>,
}

impl Player {
    /// Somebody who keys what comes after `from`.
    pub fn new(sky: &Sky, from: Instant) -> Player {
        let keys = sky.keys().into_iter().filter(|key| key.at > from);
        Player::keying(keys.collect(), Narrator::of(sky.show(), sky.errors()))
    }

    /// Somebody who keys all this, in order of time.
    pub fn keying(keys: VecDeque<Event>, narrator: Narrator) -> Player {
        Player {
            keys,
            narrator,
            begins: None,
            ends: None,
        }
    }

    /// Plays until `until`, every key and every deadline at its own instant.
    pub fn play(&mut self, show: &mut impl Playing, truth: &Truth<'_>, until: Instant) {
        loop {
            let words = self.words(show, truth);
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
            self.key(show, truth, event.unwrap_or_else(|| tick(next)));
        }
        show.happens(tick(until));
    }

    /// Keys an event, and what belongs to it: where the session asks which point a mark is, it is told.
    fn key(&mut self, show: &mut impl Playing, truth: &Truth<'_>, event: Event) {
        let Event { at, what } = event.clone();
        show.happens(event);
        match what {
            What::Mark(mark) if show.session().ask().is_some() => {
                if let Some(point) = meant(truth, &mark) {
                    let point = Some(point);
                    let what = What::Mark(Mark { point, ..mark });
                    show.happens(Event { at, what });
                }
            }
            What::BeginBlock { .. } => {
                let pieces = self.pieces(show, truth);
                self.ends = Some((at, pieces.last().map_or(at, |piece| piece.1)));
                show.says(pieces);
            }
            _ => {}
        }
    }

    /// What the narrator does next: ends the words being said, or begins those that have been due longest.
    fn words(&mut self, show: &impl Playing, truth: &Truth<'_>) -> Option<Event> {
        let session = show.session();
        if !matches!(session.mode(), Mode::Running | Mode::Delayed(_)) {
            return None;
        }
        let blocks = session.blocks();
        let mut running = blocks.iter().filter(|cue| cue.state == CueState::Running);
        if let Some(since) = running.next().and_then(|cue| cue.since) {
            self.begins = None;
            let known = self.ends.filter(|(begun, _)| *begun == since);
            // A hand began them.
            let pieces = || self.pieces(show, truth);
            let at = known.map_or_else(
                || pieces().last().map_or(since, |piece| piece.1),
                |(_, ends)| ends,
            );
            self.ends = Some((since, at));
            return Some(Event {
                at,
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
                block: truth.show.blocks[i].id.clone(),
            },
        })
    }

    /// How the block being said is said.
    fn pieces(&self, show: &impl Playing, truth: &Truth<'_>) -> Vec<(Instant, Instant)> {
        let session = show.session();
        let mut blocks = session.blocks().iter().enumerate();
        let running = blocks.find(|(_, cue)| cue.state == CueState::Running);
        let Some((i, cue)) = running else {
            return Vec::new();
        };
        let version = cue.version.unwrap_or_default();
        let words = Words::of(truth.show, &session.plan().facts, i, version);
        let (Some(since), Some(words)) = (cue.since, words) else {
            return Vec::new();
        };
        let none = Notes::default();
        let notes = show.notes().unwrap_or(&none);
        let waits = |time| truth.instant(notes, time, cue.round);
        self.narrator.pieces(words, since, waits).collect()
    }
}

/// The point a mark was keyed for: of those of its kind, the one really passed nearest to it.
fn meant(truth: &Truth<'_>, mark: &Mark) -> Option<PointOf> {
    let figures = truth.moments.figures.iter();
    let points = figures.flat_map(|figure| figure.points.iter().map(|point| (&figure.key, point)));
    let of_kind = points.filter(|(_, (point, _))| mark.kind.is_of(point));
    let nearest = of_kind.min_by_key(|(_, (_, passed))| (passed.at - mark.observed).abs());
    nearest.map(|(key, (point, _))| PointOf {
        key: key.clone(),
        point: point.clone(),
    })
}

/// Time passes until an instant.
fn tick(at: Instant) -> Event {
    Event {
        at,
        what: What::Tick,
    }
}

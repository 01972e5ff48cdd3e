//! Where the reader is in the words being said: at the set rate, from wherever a key last put them.

use std::ops::Range;

use super::{BlockCue, CueState, Session};
use crate::script::{Phrase, Reader};
use crate::show::{Rest, TimeExpression};
use crate::timeline::CueTime;
use crate::units::{Instant, Span};

/// A place in the words being said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Which phrase, by index.
    pub phrase: usize,
    /// Since when it is the one to be said: since the one before it was out, or since a key.
    pub since: Instant,
    /// How much of it is said, 0 to 1; `None` while the voice rests before it, or waits.
    pub share: Option<f64>,
    /// When its first word comes, or came; `None` while nobody knows how long something is waited for.
    pub begins: Option<Instant>,
    /// Whether a key put the reader here.
    pub keyed: bool,
    /// Whether no phrase comes after it.
    pub last: bool,
    /// When the last word is out at the set rate; `None` while nobody knows how long something is waited for.
    pub ends: Option<Instant>,
}

/// Where a key put the reader.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Keyed {
    phrase: usize,
    at: Instant,
    /// Whether the phrase begins whatever it waits for.
    at_once: bool,
}

/// What brackets in words being said hold the reader for.
#[derive(Debug, Clone)]
pub struct Waiting {
    /// The time of the show that is waited for; `None` for a pause.
    pub time: Option<TimeExpression>,
    /// When the words go on; `None` while nobody knows.
    pub until: Option<Instant>,
}

/// What the narrator must stop for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopFor {
    /// The document says when these words end.
    EndsBy,
    /// The aircraft will be too loud to talk over.
    Hush,
    /// Silence is the cue.
    Silence,
    /// Other words begin: index in the show's blocks.
    Words(usize),
}

impl Session {
    /// The block being said, by index.
    pub fn speaking(&self) -> Option<usize> {
        let running = |cue: &BlockCue| cue.state == CueState::Running;
        self.blocks.iter().position(running)
    }

    /// The phrases of a block, by index, as it is said or would be; bytes of [`Session::block_words`].
    pub fn phrases(&self, block: usize) -> Vec<Phrase> {
        let Some(said) = self.show.blocks.get(block) else {
            return Vec::new();
        };
        Reader::of(&self.show, said).phrases(&self.block_words(block, self.version_of(block)))
    }

    /// Where the reader is in the words being said.
    pub fn place(&self) -> Option<Place> {
        let block = self.speaking()?;
        let phrases = self.phrases(block);
        let waits = |pieces: Range<usize>, out| self.waited(block, pieces, out);
        let cue = &self.blocks[block];
        let begun = match cue.read {
            Some(Keyed {
                phrase,
                at,
                at_once,
            }) => {
                let before = phrase.checked_sub(1).and_then(|before| phrases.get(before));
                let from = before.map_or(0, |before| before.piece);
                let begins = match at_once {
                    true => Some(at),
                    false => waits(from..phrases.get(phrase)?.piece, at),
                };
                Begun {
                    phrase,
                    since: at,
                    begins,
                }
            }
            None => Begun {
                phrase: 0,
                since: cue.since?,
                begins: waits(0..phrases.first()?.piece, cue.since?),
            },
        };
        let place = place_in(&phrases, begun, waits, self.now)?;
        let keyed = cue
            .read
            .is_some_and(|keyed| (keyed.phrase, keyed.at) == (place.phrase, place.since));
        Some(Place { keyed, ..place })
    }

    /// Where somebody is in a block, by index, who has read it through for practice since then: nothing is waited
    /// for.
    pub fn place_in_practice(&self, block: usize, since: Instant) -> Option<Place> {
        let begun = Begun {
            phrase: 0,
            since,
            begins: Some(since),
        };
        place_in(&self.phrases(block), begun, |_, out| Some(out), self.now)
    }

    /// What brackets hold the reader for now, if any do.
    pub fn waiting(&self) -> Option<Waiting> {
        let block = self.speaking()?;
        let place = self.place().filter(|place| place.share.is_none())?;
        let phrases = self.phrases(block);
        let before = place.phrase.checked_sub(1).and_then(|i| phrases.get(i));
        let from = before.map_or(0, |before| before.range.end);
        let until = phrases.get(place.phrase)?.range.start;
        let words = self.block_words(block, self.version_of(block));
        let mut times = self.layout.waits.get(block)?.iter();
        let mut waiting: Option<Waiting> = None;
        for aside in words
            .asides
            .iter()
            .take_while(|aside| aside.range.start < until)
        {
            let held = match &aside.what {
                Rest::Pause(_) => Some((None, place.begins)),
                Rest::Wait(time) => match times.next()? {
                    CueTime::At(at) if *at > self.now => Some((Some(time), Some(*at))),
                    CueTime::Held => Some((Some(time), None)),
                    _ => None,
                },
            };
            // Of several, what is waited for last.
            let last = |at: Option<Instant>| at.unwrap_or(Instant::NEVER);
            if aside.range.start >= from
                && let Some((time, at)) = held
                && waiting
                    .as_ref()
                    .is_none_or(|held| held.time.is_none() || last(at) > last(held.until))
            {
                let time = time.cloned();
                waiting = Some(Waiting { time, until: at });
            }
        }
        waiting
    }

    /// When the voice goes on that is done at `out` with what comes before the waits `pieces`; `None` while nobody
    /// knows.
    fn waited(&self, block: usize, pieces: Range<usize>, out: Instant) -> Option<Instant> {
        let waits = self.layout.waits.get(block);
        let waits = waits.and_then(|waits| waits.get(pieces));
        let mut waits = waits.into_iter().flatten();
        waits.try_fold(out, |out, wait| match wait {
            CueTime::At(at) => Some(out.max(*at)),
            CueTime::Held => None,
            CueTime::Orphaned | CueTime::Free => Some(out),
        })
    }

    /// The next instant by which whoever speaks must have stopped, and for what; the past where it is overdue.
    pub fn stop(&self) -> Option<(Instant, StopFor)> {
        let ahead = |at: &Instant| *at > self.now;
        let block = self.speaking()?;
        let ends_by = self.layout.blocks[block].ends_by;
        let hush = self.moments.hushes().into_iter().map(|(from, _)| from);
        let silences = self.layout.silences.iter().zip(&self.silences);
        let silence = silences
            .filter(|(_, cue)| cue.state == CueState::Ahead)
            .filter_map(|((from, _), _)| from.instant());
        let words = self.layout.blocks.iter().zip(&self.blocks).enumerate();
        let words = words
            .filter(|(_, (laid, cue))| cue.state == CueState::Ahead && laid.is_said())
            .filter_map(|(i, (laid, _))| match laid.starts {
                CueTime::At(at) => Some((at, StopFor::Words(i))),
                _ => None,
            });
        ends_by
            .map(|at| (at, StopFor::EndsBy))
            .into_iter()
            .chain(hush.filter(ahead).map(|at| (at, StopFor::Hush)))
            .chain(silence.filter(ahead).map(|at| (at, StopFor::Silence)))
            .chain(words)
            .min_by_key(|(at, _)| *at)
    }

    /// Puts the reader at the beginning of a phrase of the words being said. What waits before it still holds him,
    /// unless he has come to it already: then it begins at once.
    pub(super) fn read_to(&mut self, phrase: usize) {
        if let Some(block) = self.speaking()
            && phrase < self.phrases(block).len()
        {
            let has_come = |place: Place| {
                place.phrase > phrase || place.phrase == phrase && place.share.is_none()
            };
            self.blocks[block].read = Some(Keyed {
                phrase,
                at: self.now,
                at_once: self.place().is_some_and(has_come),
            });
        }
    }
}

/// Where somebody was put in words: at which phrase, since when, and when its first word comes.
struct Begun {
    phrase: usize,
    since: Instant,
    begins: Option<Instant>,
}

/// Where somebody is now who was put there; `waits` tells when a voice goes on that is done with a piece, by the waits
/// before the next.
fn place_in(
    phrases: &[Phrase],
    begun: Begun,
    waits: impl Fn(Range<usize>, Instant) -> Option<Instant>,
    now: Instant,
) -> Option<Place> {
    let from = begun.phrase;
    let mut begins = begun.begins;
    let mut place = Place {
        phrase: from,
        since: begun.since,
        share: said(phrases.get(from)?, begins, now),
        begins,
        keyed: false,
        last: from + 1 == phrases.len(),
        ends: None,
    };
    for (i, pair) in phrases.windows(2).enumerate().skip(from) {
        let (before, phrase) = (&pair[0], &pair[1]);
        let Some(out) = begins.map(|begins| begins + (before.until - before.from)) else {
            return Some(place);
        };
        begins = match phrase.piece == before.piece {
            true => begins.map(|begins| begins + (phrase.from - before.from)),
            false => waits(before.piece..phrase.piece, out),
        };
        if out <= now {
            place = Place {
                phrase: i + 1,
                since: out,
                share: said(phrase, begins, now),
                begins,
                keyed: false,
                last: i + 2 == phrases.len(),
                ends: None,
            };
        }
    }
    let last = phrases.last()?;
    place.ends = begins.map(|begins| begins + (last.until - last.from));
    Some(place)
}

/// How much of a phrase that begins at `begins` is said; `None` before that.
fn said(phrase: &Phrase, begins: Option<Instant>, now: Instant) -> Option<f64> {
    let begun = begins.filter(|begins| *begins <= now)?;
    let lasts = (phrase.until - phrase.from).max(Span::from_ms(1));
    Some(((now - begun).s() / lasts.s()).clamp(0.0, 1.0))
}

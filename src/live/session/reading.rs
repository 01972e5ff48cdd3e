//! Where the reader is in the words being said: at the set rate, from wherever a key last put them.

use super::{BlockCue, CueState, Session};
use crate::script::{Phrase, Reader};
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
    /// Whether a key put the reader here.
    pub keyed: bool,
    /// Whether no phrase comes after it.
    pub last: bool,
    /// When the last word is out at the set rate; `None` while nobody knows how long something is waited for.
    pub ends: Option<Instant>,
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
        let cue = &self.blocks[block];
        let place = match cue.read {
            Some(keyed) => self.place_in(block, keyed)?,
            None => self.place_in(block, (0, cue.since?))?,
        };
        let keyed = cue.read == Some((place.phrase, place.since));
        Some(Place { keyed, ..place })
    }

    /// Where somebody is in a block, by index, who began this phrase of it then; as it is said or would be.
    pub fn place_in(&self, block: usize, (from, begun): (usize, Instant)) -> Option<Place> {
        let phrases = self.phrases(block);
        let first = phrases.get(from)?;
        let mut place = Place {
            phrase: from,
            since: begun,
            share: said(first, Some(begun), self.now),
            keyed: false,
            last: from + 1 == phrases.len(),
            ends: None,
        };
        let mut begins = Some(begun);
        for (i, pair) in phrases.windows(2).enumerate().skip(from) {
            let (before, phrase) = (&pair[0], &pair[1]);
            let Some(out) = begins.map(|begins| begins + (before.until - before.from)) else {
                return Some(place);
            };
            let rests_until = match phrase.piece == before.piece {
                true => begins.map(|begins| begins + (phrase.from - before.from)),
                false => {
                    let goes_on = self.layout.pieces.get(block);
                    let goes_on = goes_on.and_then(|pieces| pieces.get(phrase.piece));
                    goes_on.map(|&(goes_on, _)| goes_on.max(out))
                }
            };
            if out <= self.now {
                place = Place {
                    phrase: i + 1,
                    since: out,
                    share: said(phrase, rests_until, self.now),
                    keyed: false,
                    last: i + 2 == phrases.len(),
                    ends: None,
                };
            }
            begins = rests_until;
        }
        let last = phrases.last()?;
        place.ends = begins.map(|begins| begins + (last.until - last.from));
        Some(place)
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

    /// Puts the reader at the beginning of a phrase of the words being said.
    pub(super) fn read_to(&mut self, phrase: usize) {
        if let Some(block) = self.speaking()
            && phrase < self.phrases(block).len()
        {
            self.blocks[block].read = Some((phrase, self.now));
        }
    }
}

/// How much of a phrase that begins at `begins` is said; `None` before that.
fn said(phrase: &Phrase, begins: Option<Instant>, now: Instant) -> Option<f64> {
    let begun = begins.filter(|begins| *begins <= now)?;
    let lasts = (phrase.until - phrase.from).max(Span::from_ms(1));
    Some(((now - begun).s() / lasts.s()).clamp(0.0, 1.0))
}

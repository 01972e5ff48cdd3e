//! Everything but flight, on one clock: what a laying is made from and what it gives.

use super::meet::{Meeting, Way};
use crate::sound::Course;
use crate::units::{Instant, Span};

/// Which words of a block are said.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Version {
    /// The full text.
    #[default]
    Full,
    /// The short text.
    Short,
}

/// What is known of words and files before anything is laid; one for each block and track of the show.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// Time to speak each block: full, short.
    pub speaking: Vec<(Span, Option<Span>)>,
    /// Length of each track; zero where the file could not be read.
    pub track_lengths: Vec<Span>,
}

/// What has already begun, and how often each cue has been through. One for each cue of the show.
#[derive(Debug, Clone, Default)]
pub struct Begun {
    /// Blocks being said: since when.
    pub blocks: Vec<Option<Instant>>,
    /// How far each block is; nothing counts as ahead.
    pub said: Vec<Said>,
    /// Tracks committed or playing: since when, and how.
    pub tracks: Vec<Option<Way>>,
    /// How often each block, track, call, silence is through: the flying of its figure it now serves.
    pub rounds: Rounds,
    /// Nothing can start before this; `None`: before the display begins.
    pub now: Option<Instant>,
}

/// How far a block is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Said {
    /// It is to be said.
    #[default]
    Ahead,
    /// It is being said: when it ends, the narrator says.
    Now,
    /// It was said, until then.
    Ended(Instant),
    /// It was left out, or nobody began it.
    Never,
}

/// How often each cue is through.
#[derive(Debug, Clone, Default)]
pub struct Rounds {
    /// Blocks.
    pub blocks: Vec<usize>,
    /// Tracks.
    pub tracks: Vec<usize>,
    /// Calls.
    pub calls: Vec<usize>,
    /// Silences.
    pub silences: Vec<usize>,
}

/// When a cue is; or why it has no time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CueTime {
    /// At an instant.
    At(Instant),
    /// The show is held up before what it depends on.
    Held,
    /// What it depends on is not flown.
    Orphaned,
    /// Nothing says when: a filler, a track started by hand.
    Free,
}

/// A block on the clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpokenBlock {
    /// When it is begun.
    pub starts: CueTime,
    /// Which words.
    pub version: Version,
    /// When its last word is out, if it has a start.
    pub ends: Option<Instant>,
    /// When its last word must be out by the document.
    pub ends_by: Option<Instant>,
    /// What is left before it must stop: `ends_by`, a hush, a silence or the next block; `None` if nothing follows.
    pub slack: Option<Span>,
}

/// A track on the clock.
#[derive(Debug, Clone, PartialEq)]
pub struct PlayedTrack {
    /// When it starts.
    pub starts: CueTime,
    /// Where in the track.
    pub entry: Span,
    /// How it is played through from there.
    pub course: Course,
    /// When its fade out begins, if something ends it before its own end.
    pub fades: Option<Instant>,
    /// When it is silent.
    pub ends: Option<Instant>,
    /// What becomes of its meet.
    pub meeting: Option<Meeting>,
}

/// Everything but flight, on the clock; indices as in the show.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// Blocks.
    pub blocks: Vec<SpokenBlock>,
    /// Tracks.
    pub tracks: Vec<PlayedTrack>,
    /// Calls.
    pub calls: Vec<CueTime>,
    /// Silences: from, until.
    pub silences: Vec<(CueTime, CueTime)>,
}

impl CueTime {
    /// The instant, if there is one.
    pub fn instant(self) -> Option<Instant> {
        match self {
            CueTime::At(at) => Some(at),
            _ => None,
        }
    }

    pub(super) fn map(self, f: impl FnOnce(Instant) -> Instant) -> CueTime {
        match self {
            CueTime::At(at) => CueTime::At(f(at)),
            other => other,
        }
    }
}

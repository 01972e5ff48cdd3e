//! Everything but flight, on one clock: what a laying is made from and what it gives.

use super::meet::{Meeting, Way};
use crate::script::Reading;
use crate::sound::Course;
use crate::units::{Instant, Share, Span};

pub use crate::script::Version;

/// What is known of words and files before anything is laid; one for each block and track of the show.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// How long each block takes: full, short.
    pub readings: Vec<(Reading, Option<Reading>)>,
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
    /// It is to be said, if it is not left out.
    #[default]
    Ahead,
    /// Its time has come: somebody is about to begin it.
    Due,
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

/// What is in the way of a block.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// It has to be over by then.
    EndsBy,
    /// A figure too loud to talk over, by index in the moments of flight.
    Hush(usize),
    /// It begins, or goes on, while that figure is too loud.
    InHush(usize),
    /// A silence, by index.
    Silence(usize),
    /// It begins, or goes on, in that silence.
    InSilence(usize),
    /// A block that begins, by index.
    Block(usize),
    /// A block that would not fit any more, by index.
    RoomFor(usize),
    /// It would have less to spare than its own spread.
    Tight,
}

/// A block on the clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpokenBlock {
    /// When it is begun.
    pub starts: CueTime,
    /// Which words.
    pub version: Version,
    /// When its last word is out, if it is said and that is known.
    pub ends: Option<Instant>,
    /// When its last word must be out by the document.
    pub ends_by: Option<Instant>,
    /// What is left before it must stop: `ends_by`, a hush, a silence or the next block; `None` if nothing follows.
    pub slack: Option<Span>,
    /// The chance that it is over before that: normal, with the narrator's own spread and that of the times it
    /// hangs on; `None` if nothing follows.
    pub chance: Option<Share>,
    /// What made a shorter version necessary, or what this one runs into.
    pub because: Option<Cause>,
}

impl SpokenBlock {
    /// Whether any words of it are to be said.
    pub fn is_said(&self) -> bool {
        self.version != Version::LeftOut
    }
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
    /// When its fade out begins, if it has one or something ends it before its own end.
    pub fades: Option<Instant>,
    /// When it is silent.
    pub ends: Option<Instant>,
    /// When the document ends it; its own end may come before.
    pub asked_end: Option<Instant>,
    /// What becomes of its meet.
    pub meeting: Option<Meeting>,
}

/// Everything but flight, on the clock; indices as in the show.
#[derive(Debug, Clone, Default)]
pub struct Layout {
    /// Blocks.
    pub blocks: Vec<SpokenBlock>,
    /// For each block, its words between waits from first to last, as far as is known when they come.
    pub pieces: Vec<Vec<(Instant, Instant)>>,
    /// For each block, when what its words wait for comes.
    pub waits: Vec<Vec<CueTime>>,
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

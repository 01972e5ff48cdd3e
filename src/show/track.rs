//! The music of a show: tracks, the parts of them that go round, and what they meet.

use std::ops::Range;

use super::{Name, TimeExpression};
use crate::units::{Gain, Loudness, Share, Span};

/// Who starts a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Go {
    /// The program, at its time.
    Auto,
    /// A key.
    Hand,
}

/// A piece of music.
#[derive(Debug, Clone)]
pub struct Track {
    /// What the show calls it.
    pub id: Name,
    /// Its file, as the document names it: in the folder `media` beside the document's own folder,
    /// or beside the document.
    pub file: String,
    /// Who is told of when it has been played.
    pub credits: Credits,
    /// Who starts it.
    pub go: Go,
    /// The loudness it is brought to; `None`: as it is.
    pub level: Option<Loudness>,
    /// On top of the level asked.
    pub trim: Gain,
    /// How long it takes to come in.
    pub fade_in: Span,
    /// How long it takes to go out.
    pub fade_out: Span,
    /// The instants in the track that matter, by name, in order of time.
    pub hits: Vec<(Name, Span)>,
    /// Where in the track it may begin; never empty, the first is preferred.
    pub entries: Vec<Span>,
    /// Where its bars are, as the document says; what gauging finds may stand in before planning.
    pub bars: Option<Bars>,
    /// The part that can go round.
    pub vamp: Option<Vamp>,
    /// The part that goes round until the track ends.
    pub looped: Option<Passage>,
    /// Parts that are not played, in order.
    pub cuts: Vec<Passage>,
    /// The most it may be bent, each way.
    pub stretch: Share,
    /// When it starts, if no meet says so.
    pub starts: Option<TimeExpression>,
    /// When it is faded out; `None`: at its own end.
    pub ends: Option<TimeExpression>,
    /// The hit that must be met.
    pub meets: Option<Meet>,
    /// How far it goes down while words are spoken.
    pub duck: Gain,
    /// Whether it may sound together with another track.
    pub under: bool,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// A stretch of a track.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Passage {
    /// Where it begins.
    pub from: Span,
    /// Where it is over; later than `from`.
    pub to: Span,
}

impl Passage {
    /// Whether a place of the track is in it.
    pub fn holds(&self, place: Span) -> bool {
        self.from <= place && place < self.to
    }

    /// Whether any of what lies between two places is in it.
    pub fn overlaps(&self, from: Span, to: Span) -> bool {
        self.from < to && from < self.to
    }
}

/// What returns to rights societies name; nothing of it is needed to play a track.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Credits {
    /// What the piece is called.
    pub title: Option<String>,
    /// Who wrote it.
    pub composer: Option<String>,
    /// Who publishes it.
    pub publisher: Option<String>,
}

/// The part of a track that can go round.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vamp {
    /// Where it begins, in the track.
    pub from: Span,
    /// Where it ends.
    pub to: Span,
    /// What it goes round by.
    pub step: VampStep,
    /// How many steps are played again when all is on time: what can be left out for an early aircraft.
    pub planned: u32,
}

/// Where the bars of a track are, each as long as the next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bars {
    /// How long one is.
    pub length: Span,
    /// Where one begins, in the track.
    pub first: Span,
    /// How long a beat of it is, if the document says.
    pub beat: Option<Span>,
}

/// What a vamp goes round by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum VampStep {
    /// One bar of the music.
    Bar,
    /// A stated length.
    Of(Span),
}

/// What is done with a meet that cannot be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IfMissed {
    /// Play from the preferred entry and be late.
    Late,
    /// Whatever misses by least.
    Nearest,
    /// Do not play; fade if playing.
    Fade,
}

/// A hit that must fall on an instant of flight.
#[derive(Debug, Clone)]
pub struct Meet {
    /// Which hit of the track.
    pub hit: Name,
    /// Where the hit is, in the track.
    pub hit_at: Span,
    /// The instant it must fall on.
    pub on: TimeExpression,
    /// How far off still counts as met.
    pub within: Span,
    /// What is done when it cannot be met.
    pub if_missed: IfMissed,
}

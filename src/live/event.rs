//! What happens to a running show, and what a running show does.

use serde::{Deserialize, Serialize};

use crate::show::{Name, PointName};
use crate::sound::Course;
use crate::units::{Gain, Instant, Span};

/// Something that happened, in the leader's order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Event {
    /// When, on the show clock; never before the event before it.
    #[serde(rename = "at_us")]
    pub at: Instant,
    /// What.
    #[serde(flatten)]
    pub what: What,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum What {
    /// Time passed.
    Tick,
    /// Somebody keyed what they saw.
    Mark(Mark),
    /// A position feed told where an aircraft is.
    Position(Position),
    /// Something is wrong with a position feed, or no longer.
    Feed {
        /// What, for people.
        says: String,
    },
    /// The last mark was a mistake.
    UndoMark,
    /// The last mark was keyed too late or too early.
    ShiftMark {
        /// How much later it should be.
        #[serde(rename = "by_us")]
        by: Span,
    },
    /// The question about a mark needs no answer.
    Dismiss,
    /// The show is held up after the present figure.
    Delay,
    /// The show goes on.
    Resume,
    /// A figure is not flown, or broken off if it is being flown.
    Drop {
        /// The entry.
        key: Name,
    },
    /// A dropped figure is flown after all.
    Reinstate {
        /// The entry.
        key: Name,
    },
    /// A figure is flown once more, after the present one.
    Repeat {
        /// The figure.
        figure: Name,
    },
    /// A figure of the show is flown that is not in the programme.
    Insert {
        /// The figure.
        figure: Name,
        /// The entry it goes before; at the end without one.
        before: Option<Name>,
    },
    /// Two figures not yet flown change places.
    Swap {
        /// One entry.
        first: Name,
        /// The other.
        second: Name,
    },
    /// A figure not yet flown is flown from the other side.
    Mirror {
        /// The entry.
        key: Name,
    },
    /// Another profile from the next unflown figure on.
    Profile {
        /// Its name.
        name: Name,
    },
    /// The aircraft can be talked over again.
    Audible,
    /// The narrator begins a block.
    BeginBlock {
        /// Which.
        block: Name,
    },
    /// The narrator has finished the block being said.
    EndBlock,
    /// The narrator begins a phrase of the block being said.
    Read {
        /// Which, from 0.
        phrase: usize,
    },
    /// A block has other words from now on.
    Reword {
        /// Which.
        block: Name,
        /// Whether it is its short text.
        #[serde(default)]
        short: bool,
        /// All of the text, brackets included.
        text: String,
    },
    /// A block is not said.
    SkipBlock {
        /// Which.
        block: Name,
    },
    /// Music is ducked until said otherwise, or no longer.
    Duck {
        /// Whether it is.
        latched: bool,
    },
    /// A track is started by hand.
    StartTrack {
        /// Which.
        track: Name,
    },
    /// A track is faded out by hand.
    FadeTrack {
        /// Which.
        track: Name,
    },
    /// A track's level is moved.
    Level {
        /// Which.
        track: Name,
        /// On top of its planned level.
        gain_db: f64,
    },
    /// Automatic starts are armed or disarmed, all together.
    Arm {
        /// Whether they are armed.
        armed: bool,
    },
    /// A time hack was taken.
    Hack {
        /// How far the machine's clock is behind it.
        #[serde(rename = "by_us")]
        by: Span,
        /// Whether what hangs on the clock or on show zero goes by it: the show follows the machine's clock.
        #[serde(default)]
        moves: bool,
    },
    /// Everything fades; the prepared words come up.
    KnockItOff,
    /// Music fades, the show is held up and the prepared words for this come up.
    Halt {
        /// Why.
        why: Halt,
    },
    /// Everything is silent; only the approved statement is shown.
    Accident,
    /// Leaves the prepared words, the show still held up; an accident takes two.
    Release,
}

impl What {
    /// Whether it takes sound away and nothing else: that waits for no disk.
    pub(super) fn is_silencing(&self) -> bool {
        matches!(
            self,
            What::FadeTrack { .. } | What::KnockItOff | What::Halt { .. } | What::Accident
        )
    }
}

impl Act {
    /// Whether it takes sound away: that waits for no disk.
    pub(super) fn is_silencing(&self) -> bool {
        matches!(self, Act::Fade { .. } | Act::FadeAll { .. })
    }
}

/// Why the show is halted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Halt {
    /// The weather is waited for.
    WeatherHold,
    /// Something is put right.
    TechnicalDelay,
    /// Nothing more will be flown.
    EndedEarly,
}

/// An instant somebody observed and keyed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// What was seen.
    pub kind: MarkKind,
    /// When it was seen.
    #[serde(rename = "observed_us")]
    pub observed: Instant,
    /// Which point it is, if the person said so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub point: Option<PointOf>,
}

/// Where a position feed has an aircraft, in the site's frame.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Position {
    /// When it was there.
    #[serde(rename = "observed_us")]
    pub observed: Instant,
    /// Which.
    pub aircraft: Name,
    /// Along the display line from crowd centre, positive to the crowd's right.
    pub along_m: f64,
    /// From the crowd line, positive away from the crowd.
    pub across_m: f64,
    /// Its speed over the ground along the line, positive to the crowd's right, if it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub along_mps: Option<f64>,
}

/// What a mark is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MarkKind {
    /// Left the hold towards centre.
    Inbound,
    /// Passed a gate of the run-in.
    Gate,
    /// Seen at crowd centre, from the stand.
    Abeam,
}

impl MarkKind {
    /// The kind of mark that `point` takes; `None` if it takes none.
    pub fn of(point: &PointName) -> Option<MarkKind> {
        match point {
            PointName::Inbound => Some(MarkKind::Inbound),
            PointName::Gate(_) => Some(MarkKind::Gate),
            PointName::Abeam(_) => Some(MarkKind::Abeam),
            _ => None,
        }
    }

    /// Whether a mark of this kind can be of `point`.
    pub fn is_of(self, point: &PointName) -> bool {
        MarkKind::of(point) == Some(self)
    }

    /// The word for it.
    pub fn word(self) -> &'static str {
        match self {
            MarkKind::Inbound => "inbound",
            MarkKind::Gate => "gate",
            MarkKind::Abeam => "abeam",
        }
    }
}

/// A point of one flying of a figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PointOf {
    /// The entry.
    pub key: Name,
    /// The point.
    #[serde(with = "point_text")]
    pub point: PointName,
}

mod point_text {
    //! A point as the document writes it.

    use serde::{Deserialize, Deserializer, Serializer};

    use crate::show::PointName;

    pub fn serialize<S: Serializer>(point: &PointName, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(point)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<PointName, D::Error> {
        Ok(PointName::read(&String::deserialize(from)?))
    }
}

/// Something the show does outside the session. Ids count from 1 in the order of the fold, so that a replay
/// gives the same effect the same id and none is sent twice.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Its number.
    pub id: u64,
    /// When it takes effect; may be a little ahead of the event that caused it.
    pub at: Instant,
    /// What is done.
    pub act: Act,
}

/// What is done.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// A track sounds from `entry` on.
    Start {
        /// Index in the show's tracks.
        track: usize,
        /// Where in the track.
        entry: Span,
        /// How long it takes to come in.
        fade_in: Span,
        /// How it is played through from there.
        course: Course,
    },
    /// A track that sounds, or is fixed to, is played through another way from then on.
    Turn {
        /// Index in the show's tracks.
        track: usize,
        /// All of its way, from its start.
        course: Course,
    },
    /// A track goes out.
    Fade {
        /// Index in the show's tracks.
        track: usize,
        /// How long it takes.
        over: Span,
    },
    /// Everything goes out.
    FadeAll {
        /// How long it takes.
        over: Span,
    },
    /// A track's level moves.
    Level {
        /// Index in the show's tracks.
        track: usize,
        /// On top of its planned level.
        gain: Gain,
    },
    /// Music goes down under words, or comes up again.
    Duck {
        /// Whether it is down.
        down: bool,
    },
    /// A person is to be told.
    Call {
        /// Index in the show's calls.
        call: usize,
    },
}

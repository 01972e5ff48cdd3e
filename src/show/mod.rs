//! The show document: what is planned.
//!
//! * [`document`]: the whole show as data: site, day, profiles, words. [`track`]: its music.
//! * [`figure`]: figures. [`leg`]: the legs they are made of. [`ends`]: what ends a leg. [`needs`]: what must
//!   be so where one begins.
//! * [`named`]: figures flown by name. `mirror`: a figure from the other side.
//! * [`noise`]: how loud an aircraft is.
//! * [`expression`]: time expressions, `memorial.abeam - 10 s`.
//! * [`sides`]: the side of the crowd a figure comes from, in words.
//! * [`narration`]: words as somebody says them, and who does.
//! * [`fault`]: what is wrong with a show, and where in the document.
//! * [`load()`]: reads and checks a document.
//! * [`report`]: shows faults to people.
//! * [`edit`]: changes a document and keeps its comments and layout. [`aside`]: files that are never there in part.

pub mod aside;
pub mod document;
pub mod edit;
pub mod ends;
pub mod expression;
pub mod fault;
pub mod figure;
mod hangs;
pub mod leg;
mod mirror;
pub mod load;
pub mod named;
pub mod narration;
pub mod needs;
pub mod noise;
pub mod report;
pub mod sides;
mod times;
pub mod track;

pub use document::{
    Aircraft, Block, Call, ClimbPower, Day, DelayMusic, HaltWords, Induced, Keep, Metar, Profile,
    Show, Silence, Site, StandPlace, WindAt,
};
pub use ends::{CoastUntil, PullUntil, RunUntil, TurnUntil};
pub use expression::{Anchor, OwnPoint, PointName, TimeExpression};
pub use fault::{Fault, Severity, Source};
pub use figure::{Figure, FlownWhere, Manner, Part, Place, Side};
pub use leg::{
    HARDEST, Leg, LegSpeed, Motion, PilotsSide, PivotAbout, PullBy, TurnBy, TurnTowards,
    count_passes, is_pass,
};
pub use load::{LoadError, Loaded, load};
pub use narration::{Aside, Narrator, Pauses, Pronunciation, Rest, Wording};
pub use needs::{Limits, Needs};
pub use noise::{LevelAt, Noise};
pub use sides::with_sides;
pub use track::{Bars, Credits, Go, IfMissed, Meet, Passage, Track, Vamp, VampStep};

use std::fmt;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

/// The name by which a show calls one of its things: a figure, a block, a track. Cheap to clone.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub struct Name(Arc<str>);

impl Name {
    /// The name as written.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for Name {
    fn from(text: &str) -> Self {
        Name(text.into())
    }
}

impl From<String> for Name {
    fn from(text: String) -> Self {
        Name(text.into())
    }
}

impl From<Name> for String {
    fn from(name: Name) -> String {
        name.as_str().to_owned()
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl PartialEq<str> for Name {
    fn eq(&self, other: &str) -> bool {
        &*self.0 == other
    }
}

impl PartialEq<&str> for Name {
    fn eq(&self, other: &&str) -> bool {
        &*self.0 == *other
    }
}

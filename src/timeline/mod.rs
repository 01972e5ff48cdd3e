//! Timeline: flight, script and sound on one clock.
//!
//! * [`moments`]: when each point of each figure is expected.
//! * [`clock`]: times of day on the show clock.
//! * [`chain`]: figures put one behind the other, aircraft by aircraft.
//! * [`prior`]: how sharply those are known before anything is seen.
//! * [`spread`]: how sharply a time that hangs on them is known.
//! * [`lay`]: blocks, tracks, calls and silences laid on those moments, which gives a [`layout`]; the versions
//!   of all blocks are chosen together, and [`why()`] says what made a shorter one necessary.
//! * [`course`]: how a track is played through by its document, its cuts and loops.
//! * [`meet`]: how a track is started and played through so that its hit falls on an instant of flight.
//! * [`clash`] and [`slot`]: what does not fit.
//! * [`plan`]: all of it, as planned; it never changes while a show runs.

pub mod chain;
pub mod clash;
pub mod clock;
pub mod course;
mod fitting;
pub mod lay;
pub mod layout;
mod limits;
pub mod meet;
pub mod moments;
pub mod plan;
pub mod prior;
pub mod slot;
pub mod spread;
mod starts;
mod table;
mod unheard;
pub mod why;

pub use layout::{
    Begun, Cause, CueTime, Facts, Layout, PlayedTrack, Rounds, Said, SpokenBlock, Version,
};
pub use meet::{Meeting, Way};
pub use moments::{Expected, FigureTimes, Moments};
pub use plan::Plan;
pub use spread::spread_of;
pub use why::why;

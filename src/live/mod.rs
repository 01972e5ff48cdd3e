//! The running show.
//!
//! * [`event`]: what happens to it and what it does.
//! * [`session`]: the pure state machine between the two.

pub mod estimate; // when each point of a chain will be, given what was seen
pub mod event;
pub mod playout; // what leaves the machine as sound
pub mod session;

pub use event::{Act, Effect, Event, Mark, MarkKind, PointOf, What};
pub use session::{CueState, Mode, Session};

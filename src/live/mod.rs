//! The running show.
//!
//! * [`event`]: what happens to it and what it does.
//! * [`session`]: the pure state machine between the two.

pub mod estimate;
pub mod event;
pub mod session;

pub use event::{Act, Effect, Event, Mark, MarkKind, PointOf, What};
pub use session::{CueState, Mode, Session};

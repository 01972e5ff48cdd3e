//! The running show.
//!
//! * [`event`]: what happens to it and what it does.
//! * [`session`]: the pure state machine between the two.
//! * [`estimate`]: when each point of a chain will be, given what was seen.
//! * [`clock`]: which instant of the show it is.
//! * [`journal`]: every event on disk, and the show found again after a kill.
//! * [`playout`]: what leaves the machine as sound.
//! * [`offline`]: the same sound without a device, as planned.
//! * [`positions`]: a feed of positions while a show runs, and what of it is believed.
//! * [`stage`]: all of these together, at the edge: clock and devices on one side, the session on the other.

pub mod clock;
pub mod estimate;
pub mod event;
pub mod journal;
pub mod offline;
pub mod playout;
pub mod positions;
pub mod session;
pub mod stage;

pub use event::{Act, Effect, Event, Mark, MarkKind, PointOf, What};
pub use session::{CueState, Mode, Session};
pub use stage::Stage;

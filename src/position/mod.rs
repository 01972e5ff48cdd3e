//! What a position log or a position feed says: where an aircraft was, and when it passed crowd centre.
//!
//! * [`fix`]: a place and the instant an aircraft was there. [`doubt`]: what of a log cannot be relied on.
//! * [`log`]: reads a log, whatever its format: [`nmea`] (joined to fixes by [`epoch`]), [`gpx`], [`csv`].
//! * [`watch`]: refuses fixes no aircraft can have flown.
//! * [`ground`]: from latitude and longitude to the site: along the display line, away from the crowd.
//! * [`mod@line`]: the path between fixes. [`passes()`]: when an aircraft was abeam of crowd centre, how fast,
//!   how near; where the log has gaps.

pub mod calendar;
pub mod csv;
pub mod doubt;
pub mod epoch;
pub mod fix;
pub mod gpx;
pub mod ground;
pub mod line;
pub mod log;
pub mod nmea;
mod order;
pub mod passes;
pub mod watch;

pub use doubt::{Doubt, DoubtKind, Doubts};
pub use fix::{Fix, Log, Place, Track};
pub use ground::{Ground, Spot};
pub use line::{Line, Look};
pub use log::{LogError, open, read};
pub use passes::{Gap, LONGEST_GAP, Pass, Passes, passes, passes_on};
pub use watch::{Lie, Watch};

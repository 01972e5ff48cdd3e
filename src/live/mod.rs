//! The running show.
//!
//! * [`estimate`]: when each point of a chain will be, or was, given what has been seen.

pub mod estimate;

//! The running show.

pub mod estimate; // when each point of a chain will be, given what was seen
pub mod playout; // what leaves the machine as sound

//! The running show.

pub mod playout;

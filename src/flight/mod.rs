//! Flight: where the aircraft is and when.

mod flown;

pub use flown::{Entry, Flight, FlownFigure, FlownPoint, PathSample, Step};

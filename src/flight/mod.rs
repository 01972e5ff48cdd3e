//! Flight: where the aircraft is and when.

mod flown;

pub use flown::{Entry, Flight, FlownFigure, FlownPoint, PathSample, Step};

use crate::show::{Day, Name, Show};
pub fn fly(_show: &Show, _day: &Day, _entries: &[Entry]) -> Flight {
    Flight {
        figures: vec![],
        faults: vec![],
    }
}
pub fn entries(_show: &Show, _profile: &Name) -> Vec<Entry> {
    vec![]
}
pub fn entry_key(figure: &Name, flown_before: usize) -> Name {
    if flown_before == 0 {
        figure.clone()
    } else {
        format!("{figure}#{}", flown_before + 1).into()
    }
}

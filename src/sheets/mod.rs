//! Sheets: a plan on paper, each sheet for one reader. HTML that needs nothing but itself and prints on A4.
//!
//! * `planned`: what the sheets tell of, and in which words.
//! * `page`: what every sheet has: heading, cautions, what is wrong, a foot on each page.
//! * `stand`: the narrator's script, of `words`. `desk`: the technician's cue list. `team`: figures and calls, with
//!   `arrivals`: from hold and gates to abeam in other winds. `stopwatch`: for when every computer is dead.
//!
//! No rule of the show is decided here. Nothing is told by colour alone: what is printed in black reads the same.

mod arrivals;
mod desk;
mod page;
mod planned;
mod stand;
mod stopwatch;
mod team;
mod words;

use crate::show::{Fault, Show};
use crate::timeline::Plan;
use planned::Planned;

/// How every sheet begins: a file that does not is somebody else's.
pub const MARK: &str = "<!DOCTYPE html><!-- A sheet by abeam -->";

/// Who reads a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reader {
    /// The narrator at the stand.
    Stand,
    /// The audio technician at the desk.
    Desk,
    /// The display team.
    Team,
    /// Whoever starts the music by a stop-watch when every computer is dead.
    Stopwatch,
}

/// The sheet of a plan for a reader. `faults` is everything wrong with the show; the errors among them are
/// printed on the sheet. The same plan gives the same bytes.
pub fn sheet(reader: Reader, show: &Show, plan: &Plan, faults: &[Fault]) -> String {
    let planned = Planned::of(show, plan);
    let body = match reader {
        Reader::Stand => stand::script(&planned),
        Reader::Desk => desk::cue_list(&planned),
        Reader::Team => team::figures_and_calls(&planned),
        Reader::Stopwatch => stopwatch::card(&planned),
    };
    page::page(reader, &planned, faults, &body)
}

//! Practice: a show that nobody flies, flown by chance.
//!
//! * [`errors`]: what may differ from the plan, drawn from a seed.
//! * [`flown`]: when every point is really passed.
//! * [`keying`]: the marks somebody at the stand would key.
//! * [`narrator`]: how long words take. [`player`]: a simulated narrator, who keys, begins words and ends them.
//! * [`run`](mod@run): one whole show folded through a session, and [`outcome`]: what came of it.
//! * [`sketch`]: the same in outline, quickly.
//! * [`odds`](mod@odds): many of them, and how often each meet is made and each block fits.
//! * [`sky`]: what is really flown while somebody practises, by what was keyed (`waits`); [`surprise`]: what the day may bring.
//! * [`rehearsal`]: a show being practised.
//! * [`hindsight`]: a run folded once more, as it was keyed or otherwise; [`account`]: what came of it, in figures;
//!   [`report`](mod@report): in words.

pub mod account;
pub mod errors;
pub mod flown;
pub mod hindsight;
pub mod keying;
pub mod narrator;
pub mod odds;
pub mod outcome;
pub mod player;
pub mod rehearsal;
pub mod report;
pub mod run;
pub mod sketch;
pub mod sky;
pub mod surprise;
mod waits;

pub use errors::{Errors, HeldUp, WindError};
pub use flown::{Flown, Walk};
pub use narrator::Narrator;
pub use outcome::{BlockOutcome, MeetOutcome, Outcome};
pub use run::{Run, run};
pub use sky::{Craft, Seen, Sky};

//! Practice: a show that nobody flies, flown by chance.
//!
//! * [`errors`]: what may differ from the plan, drawn from a seed.
//! * [`flown`]: when every point is really passed.
//! * [`keying`]: the marks somebody at the stand would key.
//! * [`narrator`]: when words are begun and how long they take.
//! * [`run`]: one whole show folded through a session, and [`outcome`]: what came of it.
//! * [`odds`]: many of them, and how often each meet is made and each block fits.

pub mod errors;
pub mod flown;
pub mod keying;
pub mod narrator;
pub mod odds;
pub mod outcome;
pub mod run;

pub use errors::{Errors, HeldUp, WindError};
pub use flown::{Flown, Walk};
pub use narrator::Narrator;
pub use outcome::{BlockOutcome, MeetOutcome, Outcome};
pub use run::{Run, run};

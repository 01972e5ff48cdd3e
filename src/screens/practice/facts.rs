//! What the Practice screen draws from, apart from the scene of any show: what the simulated aircraft really do.

use crate::flight::PathSample;
use crate::practice::sky::{Craft, Seen};
use crate::units::Instant;

/// A practice beside its session.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct PracticeFacts {
    /// Show seconds in a second; `None` while it is paused.
    pub pace: Option<f64>,
    /// Whether the simulator keys what a narrator would.
    pub simulated_narrator: bool,
    /// Who is in the air, as it really is.
    pub aloft: Vec<Craft>,
    /// What each has flown of its present figure and the one before, and when.
    pub trails: Vec<Vec<(Instant, PathSample)>>,
    /// What could have been keyed so far, oldest first.
    pub seen: Vec<Seen>,
    /// The latest thing said over the radio, and when.
    pub radio: Option<(Instant, String)>,
    /// What came of the run, once it is over: its lines.
    pub report: Option<Vec<String>>,
}

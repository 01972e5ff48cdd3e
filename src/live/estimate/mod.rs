//! The estimate: when each point of a chain will be, or was, given what has been seen of it.
//!
//! A chain is one aircraft's points in time. Its state at a point and how a step takes it to the next are
//! those of [`timeline::prior`](crate::timeline::prior). All is Gaussian and linear, so [`believe`] is
//! exact: the Kalman filter forward, the fixed-interval smoother back.
//!
//! * [`Chain`], [`Sighting`]: what is planned, what was seen; [`believe`] gives a [`Belief`], [`Kept`] keeps it up.
//! * [`assign()`]: which point a mark belongs to.
//! * [`run_in`]: when an aircraft seen on its run-in will be abeam.

mod assign;
mod filter;
mod kept;
mod overdue;
pub mod run_in;

pub use assign::{Assignment, Candidate, assign, mark_spread};
pub use kept::Kept;

pub use crate::timeline::prior::{PACE_SPREAD, WIND_SPREAD};

use crate::flight::Step;
use crate::units::{Instant, Share, Span, Speed};

/// The points of one aircraft or section, in the order they are flown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Chain {
    /// When the first point is planned.
    pub starts: Instant,
    /// One standard deviation of that.
    pub start_spread: Span,
    /// How each point is come by from the one before it; the first is the start, its step unused.
    pub steps: Vec<Step>,
    /// For each point, whether it slips while it is overdue and unseen; a missing one does not.
    pub awaited: Vec<bool>,
}

/// Something seen of one point of a chain. Several of one point fuse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sighting {
    /// Which point, counted from 0; one beyond the chain is passed over.
    pub point: usize,
    /// When, corrected for any bias of whoever saw it.
    pub at: Instant,
    /// One standard deviation of that.
    pub spread: Span,
    /// Whether the chain ran on to it.
    pub kind: SightingKind,
}

/// What a sighting says about the points before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SightingKind {
    /// The chain ran on to this point: the sighting tells of the points before it too.
    Seen,
    /// Positions show that the chain is on its way to this point, beyond the one before it, and when it
    /// will be there.
    Foreseen,
    /// The chain's time starts afresh at this point (a time hack, resuming after a delay): it says
    /// nothing of the times before it. Pace and wind stay as they are known.
    Restart,
}

/// What is believed of a chain.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    /// Each point of the chain.
    pub points: Vec<Expected>,
    /// How much longer than planned paced steps take, as a share: positive is slow.
    pub pace: Share,
    /// One standard deviation of the pace.
    pub pace_spread: Share,
    /// Wind along the line beyond what was planned with, positive towards the crowd's right.
    pub wind: Speed,
    /// One standard deviation of that wind.
    pub wind_spread: Speed,
}

/// When one point is expected to be, or to have been.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// The best estimate, never earlier than that of the point before it.
    pub at: Instant,
    /// One standard deviation.
    pub spread: Span,
    late_s: f64,
    spread_s: f64,
}

impl Expected {
    /// Lateness on the chain's plan and its spread, in seconds, before the points are held in
    /// order and rounded to the microsecond: what a reference solution is compared with.
    pub fn exact_s(&self) -> (f64, f64) {
        (self.late_s, self.spread_s)
    }
}

/// When each point of `chain` was or will be, given the sightings (in any order) and that the first
/// awaited point after the last one seen has not come by `now`.
///
/// The mean and spread of every point, the pace and the wind are those of the exact joint Gaussian;
/// for an overdue point those of the Gaussian cut off at `now`, which are exact moments too. A
/// chain with no point gives only the pace and wind known beforehand.
pub fn believe(chain: &Chain, sightings: &[Sighting], now: Instant) -> Belief {
    let mut kept = Kept::new(chain);
    for sighting in sightings {
        kept.see(sighting);
    }
    kept.belief(now)
}

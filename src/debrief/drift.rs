//! Drift: how late the show was after each figure, and how much of that the figure brought.

use super::fold::Folded;
use super::seen::{Flown, How};
use crate::show::{Name, PointName};
use crate::units::{Instant, Span};

/// What a figure did to the time.
#[derive(Debug, Clone, PartialEq)]
pub struct Drift {
    /// The entry.
    pub key: Name,
    /// How much later than planned it began, and ended; negative: earlier.
    pub late: [Span; 2],
    /// One standard deviation of that at its end.
    pub spread: Span,
    /// Whether anything of it was seen.
    pub seen: bool,
}

impl Drift {
    /// How much later the show was for it.
    pub fn gained(&self) -> Span {
        self.late[1] - self.late[0]
    }
}

/// Every figure that the plan has and that was flown to its end, in the order flown.
pub fn drift(folded: &Folded, points: &[Flown]) -> Vec<Drift> {
    let figures = &folded.session.moments().figures;
    let drift = figures.iter().filter_map(|times| {
        let of = |point: &PointName| {
            let found = points
                .iter()
                .find(|flown| flown.key == times.key && flown.point == *point)?;
            Some((found.late()?, found.spread))
        };
        let (begun, _) = of(&PointName::Start)?;
        let (ended, spread) = of(&PointName::End)?;
        let seen = |flown: &Flown| {
            flown.key == times.key && matches!(flown.how, How::Marked | How::Logged)
        };
        Some(Drift {
            key: times.key.clone(),
            late: [begun, ended],
            spread,
            seen: points.iter().any(seen),
        })
    });
    drift.collect()
}

/// Lateness at everything seen of the flight, in order of time.
pub fn course(points: &[Flown]) -> Vec<(Instant, Span)> {
    let seen = points
        .iter()
        .filter(|flown| matches!(flown.how, How::Marked | How::Logged));
    seen.filter_map(|flown| Some((flown.at, flown.late()?)))
        .collect()
}

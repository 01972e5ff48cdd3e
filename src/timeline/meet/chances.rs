//! Which arrivals a meet can make.

use super::{COMMIT, Means, Way, playing, start};
use crate::units::{Instant, Span};

/// Arrivals this much earlier or later than planned are looked at,
const AROUND: Span = Span::from_ms(5_000);
/// at this distance from one another.
const APART: Span = Span::from_ms(50);

/// Shares of the arrivals within 5 s of the plan that a meet makes, 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chances {
    /// When they become known as the track is about to start.
    pub before: f64,
    /// When they become known as it has just started.
    pub playing: f64,
}

/// The chances of a meet that is planned to be made `way`, at `wanted`.
pub fn chances(means: &Means<'_>, way: &Way, wanted: Instant) -> Chances {
    let steps = AROUND.us() / APART.us();
    let arrivals: Vec<Instant> = (-steps..=steps)
        .map(|step| wanted + Span::from_us(step * APART.us()))
        .collect();
    let share = |made: &dyn Fn(Instant) -> bool| {
        let made = arrivals.iter().filter(|at| made(**at)).count();
        made as f64 / arrivals.len() as f64
    };
    Chances {
        before: share(&|at| start::solve(means, at, way.start).1.met),
        playing: share(&|at| {
            let turned = playing::solve(means, way, at, way.start + COMMIT);
            means
                .meeting(&turned.unwrap_or_else(|| way.clone()), at)
                .met
        }),
    }
}

//! The Kalman filter of a chain and its smoother.
//!
//! The first component of the state is the point's lateness on the plan, in seconds, not its time:
//! planned times add up in whole microseconds, and hours into a show nothing is lost to rounding.
//! The smoother is Rauch–Tung–Striebel's result in the modified Bryson–Frazier form (Bierman,
//! Factorization Methods for Discrete Sequential Estimation, 1977), which inverts no covariance: a
//! chain whose start is known exactly has a singular one.

use super::{Chain, Sighting, SightingKind};
use crate::flight::Step;
use crate::timeline::prior::{Growth, Symmetric, precision};
use crate::units::{Instant, Span};

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// What one sighting, or several fused, tell of a point's lateness: how the variance `v` it had before
/// becomes `v * kept`.
#[derive(Debug, Clone, Copy)]
struct Correction {
    /// Change of the mean, over `v`.
    pull: f64,
    /// `(1 - kept) / v`.
    tighten: f64,
    /// Share of the variance that is left.
    kept: f64,
}

impl Correction {
    const NONE: Correction = Correction {
        pull: 0.0,
        tighten: 0.0,
        kept: 1.0,
    };
}

/// Mean and covariance at one point.
#[derive(Debug, Clone, Copy)]
pub(super) struct State {
    pub(super) late: f64,
    pub(super) pace: f64,
    pub(super) wind: f64,
    pub(super) cov: Symmetric,
}

impl State {
    pub(super) fn before_anything_is_seen(start_spread: Span) -> Self {
        State {
            late: 0.0,
            pace: 0.0,
            wind: 0.0,
            cov: Symmetric::at_start(start_spread),
        }
    }

    fn advance(&mut self, growth: Growth) {
        self.late += growth.by_pace * self.pace + growth.by_wind * self.wind;
        self.cov.advance(growth);
    }

    fn restart(&mut self, late: f64, variance: f64) {
        self.late = late;
        self.cov.restart(variance);
    }

    fn correct(&mut self, by: Correction) {
        let Correction {
            pull,
            tighten,
            kept,
        } = by;
        let p = &mut self.cov;
        self.late += p.tt * pull;
        self.pace += p.tc * pull;
        self.wind += p.tw * pull;
        p.cc = (p.cc - p.tc * p.tc * tighten).max(0.0);
        p.cw -= p.tc * p.tw * tighten;
        p.ww = (p.ww - p.tw * p.tw * tighten).max(0.0);
        p.tt *= kept;
        p.tc *= kept;
        p.tw *= kept;
    }
}

/// One point of the chain, and what the filter made of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Node {
    pub(super) planned: Instant,
    /// Sum of one over the variance of each sighting of it, and that times the lateness each saw.
    precision: f64,
    weighted: f64,
    restarts: bool,
    growth: Growth,
    /// What is known at it from all up to it, and how it got there.
    pub(super) after: State,
    gain: [f64; 3],
    correction: Correction,
}

/// The points of a chain as planned, nothing seen.
pub(super) fn planned(chain: &Chain) -> Vec<Node> {
    let mut planned = chain.starts;
    let nodes = chain.steps.iter().enumerate().map(|(point, step)| {
        let step = if point == 0 { &Step::default() } else { step };
        planned += step.takes;
        Node {
            planned,
            precision: 0.0,
            weighted: 0.0,
            restarts: false,
            growth: Growth::of(step),
            after: State::before_anything_is_seen(chain.start_spread),
            gain: [0.0; 3],
            correction: Correction::NONE,
        }
    });
    nodes.collect()
}

impl Node {
    /// Fuses a sighting with the others of its point.
    pub(super) fn note(&mut self, sighting: &Sighting) {
        let precision = precision(sighting.spread);
        self.precision += precision;
        self.weighted += precision * (sighting.at - self.planned).s();
        self.restarts |= sighting.kind == SightingKind::Restart;
    }

    /// Forgets what was seen of it.
    pub(super) fn forget(&mut self) {
        (self.precision, self.weighted, self.restarts) = (0.0, 0.0, false);
    }

    /// Whether nothing at all was seen of it.
    pub(super) fn is_unseen(&self) -> bool {
        self.precision == 0.0
    }

    /// Takes the state at the point before it on to it.
    fn filter(&mut self, before: State) -> State {
        let mut state = before;
        state.advance(self.growth);
        self.correction = Correction::NONE;
        if self.restarts {
            state.restart(self.weighted / self.precision, self.precision.recip());
        } else if self.precision > 0.0 {
            let innovation = state.cov.tt + self.precision.recip();
            self.correction = Correction {
                pull: (self.weighted / self.precision - state.late) / innovation,
                tighten: innovation.recip(),
                kept: (self.precision * innovation).recip(),
            };
        }
        let tighten = self.correction.tighten;
        self.gain = state.cov.first_row().map(|covariance| covariance * tighten);
        state.correct(self.correction);
        self.after = state;
        state
    }
}

/// Filters from the point `from` to the last.
pub(super) fn filter(nodes: &mut [Node], start: State, from: usize) {
    let before = from.checked_sub(1).and_then(|before| nodes.get(before));
    let mut state = before.map_or(start, |before| before.after);
    for node in nodes.iter_mut().skip(from) {
        state = node.filter(state);
    }
}

/// The lateness of each point with what was seen after it taken into account, s: the adjoint holds what later
/// points say, a gradient by which an earlier state is corrected.
pub(super) fn smooth(nodes: &[Node], smoothed: &mut [f64]) {
    let mut gradient = [0.0; 3];
    for (node, late) in nodes.iter().zip(smoothed).rev() {
        *late = node.after.late - dot(node.after.cov.first_row(), gradient);
        gradient[0] = dot(node.left(), gradient) - node.correction.pull;
        node.take_back(&mut gradient);
    }
}

/// The variance of each, s²: the adjoint's matrix.
pub(super) fn smooth_variances(nodes: &[Node], smoothed: &mut [f64]) {
    let mut later = Symmetric::default();
    for (node, variance) in nodes.iter().zip(smoothed).rev() {
        let row = node.after.cov.first_row();
        *variance = (row[0] - dot(row, later.times(row))).max(0.0);
        node.take_back_matrix(&mut later);
    }
}

/// How far each point moves with one that nothing was seen of, and nothing that tells of the times after it:
/// its covariance with that one over `variance`, that of the one. Gives the same for pace and wind at the last.
pub(super) fn moved_with(
    nodes: &[Node],
    point: usize,
    variance: f64,
    moved: &mut [f64],
) -> [f64; 2] {
    let mut gradient = [variance.recip(), 0.0, 0.0];
    for (node, moved) in nodes.iter().zip(moved.iter_mut()).take(point + 1).rev() {
        *moved = dot(node.after.cov.first_row(), gradient);
        gradient[0] = dot(node.left(), gradient);
        node.take_back(&mut gradient);
    }
    let [mut late, pace, wind] = nodes.get(point).map_or([0.0; 3], |node| {
        node.after
            .cov
            .first_row()
            .map(|covariance| covariance / variance)
    });
    for (node, moved) in nodes.iter().zip(moved).skip(point + 1) {
        late += node.growth.by_pace * pace + node.growth.by_wind * wind;
        if node.restarts {
            late = 0.0;
        }
        *moved = late;
    }
    [pace, wind]
}

impl Node {
    /// What the correction of it leaves of what is said after it, for each component of the state before.
    fn left(&self) -> [f64; 3] {
        [self.correction.kept, -self.gain[1], -self.gain[2]]
    }

    /// What a gradient at it says of the state at the point before it.
    fn take_back(&self, gradient: &mut [f64; 3]) {
        if self.restarts {
            gradient[0] = 0.0;
        }
        gradient[1] += self.growth.by_pace * gradient[0];
        gradient[2] += self.growth.by_wind * gradient[0];
    }

    /// The same of a matrix, the correction of it included.
    fn take_back_matrix(&self, m: &mut Symmetric) {
        let left = self.left();
        let through = m.times(left);
        m.tt = dot(left, through) + self.correction.tighten;
        (m.tc, m.tw) = (through[1], through[2]);
        if self.restarts {
            (m.tt, m.tc, m.tw) = (0.0, 0.0, 0.0);
            return;
        }
        let (a, g) = (self.growth.by_pace, self.growth.by_wind);
        let tc = m.tc + a * m.tt;
        let tw = m.tw + g * m.tt;
        m.cc += a * (m.tc + tc);
        m.cw += a * tw + g * m.tc;
        m.ww += g * (m.tw + tw);
        (m.tc, m.tw) = (tc, tw);
    }
}

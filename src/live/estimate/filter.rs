//! The Kalman filter of a chain and its smoother.
//!
//! The first component of the state is the point's lateness on the plan, in seconds, not its time:
//! planned times add up in whole microseconds, and hours into a show nothing is lost to rounding.
//! The smoother is Rauch–Tung–Striebel's result in the modified Bryson–Frazier form (Bierman,
//! Factorization Methods for Discrete Sequential Estimation, 1977), which inverts no covariance: a
//! chain whose start is known exactly has a singular one.

use super::overdue::Truncated;
use super::{Chain, Expected, Sighting, SightingKind};
use crate::flight::Step;
use crate::timeline::prior::{FINEST, Growth, Symmetric, precision};
use crate::units::{Instant, Span};

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// What one sighting, several fused, or having waited in vain tells of a point's lateness: how the
/// variance `v` it had before becomes `v * kept`.
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
    late: f64,
    pub(super) pace: f64,
    pub(super) wind: f64,
    pub(super) cov: Symmetric,
}

impl State {
    fn before_anything_is_seen(start_spread: Span) -> Self {
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

/// One point of the chain on its way through the filter.
#[derive(Debug, Clone, Copy)]
struct Node {
    planned: Instant,
    /// Sum of one over the variance of each sighting of it, and that times the lateness each saw.
    precision: f64,
    weighted: f64,
    restarts: bool,
    growth: Growth,
    /// What the filter left: lateness, the covariances of it, and how it got there.
    late: f64,
    row: [f64; 3],
    gain: [f64; 3],
    correction: Correction,
}

/// The chain's points with what was seen of them, then with what the filter made of it.
pub(super) struct Points {
    nodes: Vec<Node>,
}

impl Points {
    /// The points as planned, nothing seen.
    pub(super) fn planned(chain: &Chain) -> Self {
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
                late: 0.0,
                row: [0.0; 3],
                gain: [0.0; 3],
                correction: Correction::NONE,
            }
        });
        Points {
            nodes: nodes.collect(),
        }
    }

    pub(super) fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Fuses a sighting with the others of its point.
    pub(super) fn note(&mut self, sighting: &Sighting) {
        let Some(node) = self.nodes.get_mut(sighting.point) else {
            return;
        };
        let precision = precision(sighting.spread);
        node.precision += precision;
        node.weighted += precision * (sighting.at - node.planned).s();
        node.restarts |= sighting.kind == SightingKind::Restart;
    }

    /// Filters from the first point to the last; `awaited` has not come by `now`. Gives the state at
    /// the last point, and `awaited` again if that could matter.
    pub(super) fn filter(
        &mut self,
        chain: &Chain,
        awaited: Option<usize>,
        now: Instant,
    ) -> (State, Option<usize>) {
        let mut state = State::before_anything_is_seen(chain.start_spread);
        let mut overdue = None;
        for (point, node) in self.nodes.iter_mut().enumerate() {
            state.advance(node.growth);
            let mut exactly = None;
            if node.restarts {
                state.restart(node.weighted / node.precision, node.precision.recip());
            } else if node.precision > 0.0 {
                let innovation = state.cov.tt + node.precision.recip();
                node.correction = Correction {
                    pull: (node.weighted / node.precision - state.late) / innovation,
                    tighten: innovation.recip(),
                    kept: (node.precision * innovation).recip(),
                };
            } else if awaited == Some(point) {
                state.cov.tt = state.cov.tt.max(FINEST.s().powi(2));
                let (variance, passed) = (state.cov.tt, (now - node.planned).s());
                if let Some(cut) = Truncated::after(passed, state.late, variance.sqrt()) {
                    overdue = awaited;
                    exactly = Some(cut.mean);
                    node.correction = Correction {
                        pull: (cut.mean - state.late) / variance,
                        tighten: cut.lost / variance,
                        kept: cut.kept,
                    };
                }
            }
            node.gain = state
                .cov
                .first_row()
                .map(|covariance| covariance * node.correction.tighten);
            state.correct(node.correction);
            state.late = exactly.unwrap_or(state.late);
            node.late = state.late;
            node.row = state.cov.first_row();
        }
        (state, overdue)
    }

    /// Each point with what was seen after it taken into account. The adjoint holds what later
    /// points say: a gradient and a matrix by which an earlier state is corrected.
    pub(super) fn smoothed(&self) -> Vec<Expected> {
        let mut points = vec![
            Expected {
                at: Instant::ZERO,
                spread: Span::ZERO,
                late_s: 0.0,
                spread_s: 0.0,
            };
            self.nodes.len()
        ];
        let mut later = Adjoint::default();
        for (node, point) in self.nodes.iter().zip(&mut points).rev() {
            let late_s = node.late - dot(node.row, later.gradient);
            let variance = node.row[0] - dot(node.row, later.matrix.times(node.row));
            let spread_s = variance.max(0.0).sqrt();
            *point = Expected {
                at: node.planned + Span::from_s(late_s),
                spread: Span::from_s(spread_s),
                late_s,
                spread_s,
            };
            later.before_correction(node);
            later.before_step(node);
        }
        points
    }
}

#[derive(Default)]
struct Adjoint {
    gradient: [f64; 3],
    matrix: Symmetric,
}

impl Adjoint {
    fn before_correction(&mut self, node: &Node) {
        let Correction {
            pull,
            tighten,
            kept,
        } = node.correction;
        let left = [kept, -node.gain[1], -node.gain[2]];
        let through = self.matrix.times(left);
        self.gradient[0] = dot(left, self.gradient) - pull;
        self.matrix.tt = dot(left, through) + tighten;
        self.matrix.tc = through[1];
        self.matrix.tw = through[2];
    }

    fn before_step(&mut self, node: &Node) {
        let m = &mut self.matrix;
        if node.restarts {
            self.gradient[0] = 0.0;
            (m.tt, m.tc, m.tw) = (0.0, 0.0, 0.0);
            return;
        }
        let (a, g) = (node.growth.by_pace, node.growth.by_wind);
        self.gradient[1] += a * self.gradient[0];
        self.gradient[2] += g * self.gradient[0];
        let tc = m.tc + a * m.tt;
        let tw = m.tw + g * m.tt;
        m.cc += a * (m.tc + tc);
        m.cw += a * tw + g * m.tc;
        m.ww += g * (m.tw + tw);
        (m.tc, m.tw) = (tc, tw);
    }
}

//! A chain's estimate, kept from one look to the next.

use super::filter::{self, Node, State};
use super::overdue::Truncated;
use super::{Belief, Chain, Expected, Sighting, SightingKind};
use crate::timeline::prior::FINEST;
use crate::units::{Instant, Share, Span, Speed};

/// The estimate of one chain. A sighting runs the filter on from its point only, and all points move with an
/// overdue one in proportion, so that another look at the clock runs no filter at all. But for [`Kept::new`] and
/// [`Kept::belief`] it allocates nothing.
#[derive(Debug, Clone)]
pub struct Kept {
    start: State,
    nodes: Vec<Node>,
    awaited: Vec<bool>,
    /// The last point known to have come, whatever the time is.
    seen: Option<usize>,
    /// Points at which time starts afresh, and when, the earliest of each.
    restarts: Vec<(usize, Instant)>,
    /// The first point at which something is new.
    stale: usize,
    /// How late each point is if nothing is overdue, s, and the variance of that, as long as it is known, s².
    late: Vec<f64>,
    variances: Vec<f64>,
    varied: bool,
    /// How far each point moves with the one that was overdue last, and that one.
    moved: Vec<f64>,
    moved_with: Option<usize>,
    /// The same of pace and wind at the last point.
    moved_end: [f64; 2],
    /// What waiting in vain for a point has told by the last look.
    overdue: Option<Overdue>,
    at: Vec<Instant>,
}

/// A point that should have come.
#[derive(Debug, Clone, Copy)]
struct Overdue {
    point: usize,
    /// How much later it is expected than if nobody had waited, s, and its lateness.
    by: f64,
    late: f64,
    /// Its variance before, s², and what share of it is left and lost.
    variance: f64,
    kept: f64,
    lost: f64,
}

impl Kept {
    /// The chain as planned, nothing seen of it.
    pub fn new(chain: &Chain) -> Kept {
        let nodes = filter::planned(chain);
        let count = nodes.len();
        let awaited = (0..count).map(|point| chain.awaited.get(point) == Some(&true));
        Kept {
            start: State::before_anything_is_seen(chain.start_spread),
            awaited: awaited.collect(),
            seen: None,
            restarts: Vec::with_capacity(count),
            stale: 0,
            late: vec![0.0; count],
            variances: vec![0.0; count],
            varied: false,
            moved: vec![0.0; count],
            moved_with: None,
            moved_end: [0.0; 2],
            overdue: None,
            at: vec![Instant::ZERO; count],
            nodes,
        }
    }

    /// Forgets everything that was seen.
    pub fn forget(&mut self) {
        for (point, node) in self.nodes.iter_mut().enumerate() {
            if !node.is_unseen() {
                node.forget();
                self.stale = self.stale.min(point);
            }
        }
        self.seen = None;
        self.restarts.clear();
    }

    /// Takes a sighting; it fuses with others of its point. One beyond the chain is passed over.
    pub fn see(&mut self, sighting: &Sighting) {
        let Some(node) = self.nodes.get_mut(sighting.point) else {
            return;
        };
        node.note(sighting);
        self.stale = self.stale.min(sighting.point);
        let come = match sighting.kind {
            SightingKind::Seen => Some(sighting.point),
            SightingKind::Foreseen => sighting.point.checked_sub(1),
            SightingKind::Restart => {
                self.restart_at(sighting.point, sighting.at);
                None
            }
        };
        self.seen = self.seen.max(come);
    }

    fn restart_at(&mut self, point: usize, at: Instant) {
        let known = self.restarts.iter_mut().find(|(known, _)| *known == point);
        match known {
            Some((_, known)) => *known = at.min(*known),
            None => self.restarts.push((point, at)),
        }
    }

    /// Puts a time, and its spread, at which a point starts afresh in the place of whatever was seen of it; or
    /// takes that away.
    pub fn restart(&mut self, point: usize, start: Option<(Instant, Span)>) {
        let Some(node) = self.nodes.get_mut(point) else {
            return;
        };
        node.forget();
        self.stale = self.stale.min(point);
        self.restarts.retain(|(other, _)| *other != point);
        if let Some((at, spread)) = start {
            self.see(&Sighting {
                point,
                at,
                spread,
                kind: SightingKind::Restart,
            });
        }
    }

    /// The last point that has come by `now`. A start that waits for a time still to come says nothing of what
    /// is before it.
    fn last_seen(&self, now: Instant) -> Option<usize> {
        let begun = self.restarts.iter().filter(|(_, at)| *at <= now);
        self.seen.max(begun.map(|(point, _)| *point).max())
    }

    /// When each point was or will be, given that the first awaited one after the last one seen has not come by
    /// `now`.
    pub fn look(&mut self, now: Instant) -> &[Instant] {
        self.catch_up();
        let last_seen = self.last_seen(now);
        self.overdue = self.overdue_by(last_seen, now);
        match self.overdue {
            Some(overdue) => self.slip(overdue, now),
            None => self.lay(last_seen),
        }
        &self.at
    }

    /// When each point would be if nothing were overdue: somebody may only have forgotten to key one.
    pub fn unslipped(&mut self) -> &[Instant] {
        self.catch_up();
        self.overdue = None;
        self.lay(self.seen);
        &self.at
    }

    /// One standard deviation of a point as of the last look.
    pub fn spread(&mut self, point: usize) -> Span {
        Span::from_s(self.spread_s(point))
    }

    /// No less than the spread of a point: what is known of it without all that was seen after it.
    pub fn spread_at_most(&self, point: usize) -> Span {
        let variance = self.nodes.get(point).map_or(0.0, |node| node.after.cov.tt);
        Span::from_s(variance.sqrt()).max(FINEST)
    }

    /// What `now` of a look is the first at which a point may be overdue by more than `spreads` from its mean;
    /// `None` where none is awaited.
    pub fn moves_from(&mut self, now: Instant, spreads: f64) -> Option<Instant> {
        self.catch_up();
        let point = self.awaits(self.last_seen(now))?;
        // Nothing that tells of it was seen after it.
        let node = self.nodes.get(point)?;
        Some(node.planned + to_us(node.after.late + spreads * node.after.cov.tt.sqrt()))
    }

    /// All that is believed, as of a look at `now`.
    pub fn belief(&mut self, now: Instant) -> Belief {
        self.look(now);
        let mut points = Vec::with_capacity(self.nodes.len());
        for point in 0..self.nodes.len() {
            let spread_s = self.spread_s(point);
            points.push(Expected {
                at: self.at[point],
                spread: Span::from_s(spread_s),
                late_s: self.late_s(point),
                spread_s,
            });
        }
        let mut end = self.nodes.last().map_or(self.start, |node| node.after);
        if let Some(Overdue {
            by, variance, lost, ..
        }) = self.overdue
        {
            let [pace, wind] = self.moved_end;
            end.pace += pace * by;
            end.wind += wind * by;
            end.cov.cc = (end.cov.cc - pace * pace * variance * lost).max(0.0);
            end.cov.ww = (end.cov.ww - wind * wind * variance * lost).max(0.0);
        }
        Belief {
            points,
            pace: Share::from_whole(end.pace),
            pace_spread: Share::from_whole(end.cov.cc.sqrt()),
            wind: Speed::from_mps(end.wind),
            wind_spread: Speed::from_mps(end.cov.ww.sqrt()),
        }
    }

    /// Filters what is new, and smooths.
    fn catch_up(&mut self) {
        if self.stale < self.nodes.len() {
            filter::filter(&mut self.nodes, self.start, self.stale);
            filter::smooth(&self.nodes, &mut self.late);
            self.varied = false;
            self.moved_with = None;
            self.stale = self.nodes.len();
        }
    }

    /// The variance of a point if nothing is overdue. Beyond the last one seen the filter knows it already.
    fn variance(&mut self, point: usize) -> f64 {
        if self.seen.is_none_or(|seen| point > seen) {
            return self.nodes.get(point).map_or(0.0, |node| node.after.cov.tt);
        }
        if !self.varied {
            filter::smooth_variances(&self.nodes, &mut self.variances);
            self.varied = true;
        }
        self.variances.get(point).copied().unwrap_or_default()
    }

    fn awaits(&self, last_seen: Option<usize>) -> Option<usize> {
        let next = last_seen.map_or(0, |seen| seen + 1);
        let awaited = self
            .awaited
            .iter()
            .skip(next)
            .position(|awaited| *awaited)?;
        Some(next + awaited)
    }

    /// What having waited until `now` tells of the point awaited; `None` if nothing.
    fn overdue_by(&mut self, last_seen: Option<usize>, now: Instant) -> Option<Overdue> {
        let point = self.awaits(last_seen)?;
        let node = self.nodes.get(point).filter(|node| node.is_unseen())?;
        let before = node.after;
        let variance = before.cov.tt.max(FINEST.s().powi(2));
        let passed = (now - node.planned).s();
        let cut = Truncated::after(passed, before.late, variance.sqrt())?;
        if self.moved_with != Some(point) {
            self.moved_end = filter::moved_with(&self.nodes, point, variance, &mut self.moved);
            self.moved_with = Some(point);
        }
        Some(Overdue {
            point,
            by: cut.mean - before.late,
            late: cut.mean,
            variance,
            kept: cut.kept,
            lost: cut.lost,
        })
    }

    fn late_s(&self, point: usize) -> f64 {
        let late = self.late[point];
        match self.overdue {
            Some(overdue) if overdue.point == point => overdue.late,
            Some(overdue) => late + self.moved[point] * overdue.by,
            None => late,
        }
    }

    fn spread_s(&mut self, point: usize) -> f64 {
        let moved = self.moved.get(point).copied().unwrap_or_default();
        let variance = match self.overdue {
            Some(overdue) if overdue.point == point => overdue.variance * overdue.kept,
            Some(overdue) => {
                let with = moved * moved * overdue.variance;
                (self.variance(point) - with).max(0.0) + with * overdue.kept
            }
            None => self.variance(point),
        };
        variance.max(0.0).sqrt()
    }

    /// Puts the points on the clock, nothing being overdue.
    fn lay(&mut self, last_seen: Option<usize>) {
        for (at, (node, late)) in self.at.iter_mut().zip(self.nodes.iter().zip(&self.late)) {
            *at = node.planned + to_us(*late);
        }
        hold_in_order(&mut self.at, last_seen.unwrap_or(0));
    }

    /// Puts the points on the clock, one of them being overdue at `now`.
    fn slip(&mut self, overdue: Overdue, now: Instant) {
        let points = self.nodes.iter().zip(self.late.iter().zip(&self.moved));
        for (at, (node, (late, moved))) in self.at.iter_mut().zip(points) {
            *at = node.planned + to_us(late + moved * overdue.by);
        }
        if let (Some(at), Some(node)) = (
            self.at.get_mut(overdue.point),
            self.nodes.get(overdue.point),
        ) {
            *at = (node.planned + Span::from_s(overdue.late)).max(now + FINEST);
        }
        hold_in_order(&mut self.at, overdue.point);
    }
}

/// A span to the nearest microsecond, as [`Span::from_s`], but for spans a machine can round at once.
fn to_us(s: f64) -> Span {
    const AT_ONCE: f64 = (1_u64 << 50) as f64;
    let us = s * 1e6;
    if us.abs() < AT_ONCE {
        Span::from_us((us + 0.5_f64.copysign(us)) as i64)
    } else {
        Span::from_s(s)
    }
}

/// Lets no point be shown before the one it follows. Points up to `surest` (the last seen, or the overdue one)
/// give way to those after them, points beyond it to those before them.
fn hold_in_order(points: &mut [Instant], surest: usize) {
    let (before, after) = points.split_at_mut(surest.min(points.len()));
    let mut latest = after.first().map_or(Instant::NEVER, |point| *point);
    for point in before.iter_mut().rev() {
        *point = (*point).min(latest);
        latest = *point;
    }
    let mut earliest = after.first().map_or(Instant::ZERO, |point| *point);
    for point in after {
        *point = (*point).max(earliest);
        earliest = *point;
    }
}

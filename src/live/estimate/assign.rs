//! Which point a mark belongs to.

use crate::show::PointName;
use crate::timeline::prior::FINEST;
use crate::units::{Instant, Span};

/// A mark further than this many spreads from a point is not taken for it.
const WITHIN_SPREADS: f64 = 4.0;
/// How many points are offered when a mark fits none.
const OFFERED: usize = 3;

/// One standard deviation of a mark of such a point, unless the show sets it (common practice, no
/// published source): what passes a place is seen, what a crew begins is told.
pub const fn mark_spread(point: &PointName) -> Span {
    match point {
        PointName::Abeam(_) | PointName::Gate(_) | PointName::Cross => Span::from_ms(250),
        _ => Span::from_ms(2_000),
    }
}

/// A point that a mark may belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Candidate {
    /// Which point of the chain.
    pub point: usize,
    /// When it is expected, or believed to have been.
    pub expected: Instant,
    /// One standard deviation of that.
    pub spread: Span,
    /// Whether it has been marked already.
    pub marked: bool,
}

/// Where a mark goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Assignment {
    /// To this point, unmarked until now.
    To(usize),
    /// To this point, marked before: the two fuse.
    Fuses(usize),
    /// To none without asking; these are nearest in time, the nearest first.
    Ask(Vec<usize>),
}

/// The point for which a mark `observed` then, with its own spread, is likeliest, if it is within
/// four spreads of it. Marked points take part, so that a second mark of one never goes to the next.
pub fn assign(candidates: &[Candidate], observed: Instant, mark_spread: Span) -> Assignment {
    let likeliest = candidates
        .iter()
        .filter_map(|candidate| {
            log_likelihood(candidate, observed, mark_spread).map(|log| (log, candidate))
        })
        .max_by(|(a, first), (b, second)| a.total_cmp(b).then(second.point.cmp(&first.point)));
    match likeliest {
        Some((_, candidate)) if candidate.marked => Assignment::Fuses(candidate.point),
        Some((_, candidate)) => Assignment::To(candidate.point),
        None => Assignment::Ask(nearest(candidates, observed)),
    }
}

impl Candidate {
    /// Whether a mark `observed` then, with its own spread, may be of this point at all.
    pub fn may_be(&self, observed: Instant, mark_spread: Span) -> bool {
        log_likelihood(self, observed, mark_spread).is_some()
    }
}

/// Logarithm of the density of the mark for this point, up to a constant; `None` beyond four spreads.
fn log_likelihood(candidate: &Candidate, observed: Instant, mark_spread: Span) -> Option<f64> {
    let spread = candidate.spread.s().hypot(mark_spread.s()).max(FINEST.s());
    let spreads_off = (observed - candidate.expected).s() / spread;
    (spreads_off.abs() <= WITHIN_SPREADS).then(|| -0.5 * spreads_off.powi(2) - spread.ln())
}

fn nearest(candidates: &[Candidate], observed: Instant) -> Vec<usize> {
    let mut by_distance: Vec<(Span, usize)> = candidates
        .iter()
        .map(|candidate| ((observed - candidate.expected).abs(), candidate.point))
        .collect();
    by_distance.sort_unstable();
    by_distance
        .into_iter()
        .take(OFFERED)
        .map(|(_, point)| point)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn candidate(point: usize, expected_s: f64, spread_s: f64, marked: bool) -> Candidate {
        Candidate {
            point,
            expected: Instant::from_s(expected_s),
            spread: Span::from_s(spread_s),
            marked,
        }
    }

    fn keyed_abeam(candidates: &[Candidate], at_s: f64) -> Assignment {
        let spread = mark_spread(&PointName::Abeam(1));
        assign(candidates, Instant::from_s(at_s), spread)
    }

    #[test]
    fn a_mark_goes_to_the_likeliest_point_not_the_nearest() {
        // 3 s from a sharp point (12 spreads), 5 s from a wide one (2.5 spreads).
        let points = [
            candidate(1, 100.0, 0.05, false),
            candidate(2, 108.0, 2.0, false),
        ];
        assert_eq!(keyed_abeam(&points, 103.0), Assignment::To(2));
        assert_eq!(keyed_abeam(&points, 100.1), Assignment::To(1));
    }

    #[test]
    fn a_second_mark_of_a_point_fuses_and_never_eats_the_next_figure() {
        let points = [
            candidate(4, 100.0, 0.24, true),
            candidate(9, 104.0, 3.0, false),
        ];
        assert_eq!(keyed_abeam(&points, 100.6), Assignment::Fuses(4));
        assert_eq!(keyed_abeam(&points, 103.5), Assignment::To(9));
    }

    #[test]
    fn a_mark_beyond_four_spreads_of_everything_asks_offering_the_nearest() {
        let points = [
            candidate(1, 10.0, 0.2, true),
            candidate(2, 60.0, 1.0, false),
            candidate(3, 90.0, 1.0, false),
            candidate(4, 150.0, 1.0, false),
        ];
        assert_eq!(keyed_abeam(&points, 70.0), Assignment::Ask(vec![2, 3, 1]));
        // Spread 1.0 with the mark's 0.25: four of them are 4.123 s.
        assert_eq!(keyed_abeam(&points, 64.12), Assignment::To(2));
        assert_eq!(keyed_abeam(&points, 64.13), Assignment::Ask(vec![2, 3, 1]));
        assert_eq!(keyed_abeam(&[], 70.0), Assignment::Ask(vec![]));
    }

    #[test]
    fn points_known_exactly_take_only_marks_on_them() {
        let points = [candidate(1, 10.0, 0.0, false)];
        let at = |us| assign(&points, Instant::from_us(us), Span::ZERO);
        assert_eq!(at(10_000_000), Assignment::To(1));
        assert_eq!(at(10_000_010), Assignment::Ask(vec![1]));
    }
}

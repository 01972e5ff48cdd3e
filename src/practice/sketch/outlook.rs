//! When everything that flies is expected, by the marks so far: the estimates of all chains, and what they wait
//! for among each other.

use super::hooks::{Hook, Place, Time};
use super::score::{Score, Waiting};
use crate::live::Mark;
use crate::live::estimate::{Assignment, Candidate, Kept, Sighting, SightingKind, assign};
use crate::live::session::GRID;
use crate::units::{Instant, Span};

/// So many spreads before it is expected, nothing moves yet because a point has not come: by 10⁻⁵ of a spread.
const STILL: f64 = 4.25;
/// A start that waits for another chain is put elsewhere when that moves by more.
const MOVES: Span = Span::from_us(20);
/// Rounds in which chains that wait for one another settle.
const ROUNDS: usize = 4;

#[derive(Debug, Clone)]
pub(super) struct Outlook<'s> {
    score: &'s Score<'s>,
    /// Each chain's own estimate.
    kept: Vec<Kept>,
    /// For each start that may wait, until when it does.
    waits: Vec<Option<(Instant, Span)>>,
    /// Every point, as of the last look.
    pub(super) at: Vec<Instant>,
    marked: Vec<bool>,
    /// When that look was.
    pub(super) looked: Instant,
    /// Until then no other look would show anything else.
    pub(super) still_until: Instant,
    candidates: Vec<Candidate>,
}

impl<'s> Outlook<'s> {
    pub(super) fn new(score: &'s Score<'s>) -> Self {
        Outlook {
            kept: score
                .chains
                .iter()
                .map(|chain| Kept::new(&chain.model))
                .collect(),
            waits: vec![None; score.waiting.len()],
            at: vec![Instant::ZERO; score.points.len()],
            marked: vec![false; score.points.len()],
            looked: Instant::ZERO,
            still_until: Instant::NEVER,
            candidates: Vec::new(),
            score,
        }
    }

    /// Before anything is seen.
    pub(super) fn begin(&mut self, now: Instant) {
        self.kept.iter_mut().for_each(Kept::forget);
        self.waits.fill(None);
        self.marked.fill(false);
        self.look(now);
    }

    /// Looks at the clock.
    pub(super) fn look(&mut self, now: Instant) {
        (0..self.kept.len()).for_each(|chain| self.look_at(chain, now));
        for _ in 0..ROUNDS {
            let mut moved = 0_u64;
            let score = self.score;
            for (i, waiting) in score.waiting.iter().enumerate() {
                let waits = self.until(waiting, self.waits[i].is_some());
                if differ(waits, self.waits[i]) {
                    self.waits[i] = waits;
                    self.kept[waiting.chain].restart(waiting.point, waits);
                    moved |= 1 << waiting.chain.min(63);
                }
            }
            if moved == 0 {
                break;
            }
            for chain in 0..self.kept.len() {
                if moved & (1 << chain.min(63)) != 0 {
                    self.look_at(chain, now);
                }
            }
        }
        self.looked = now;
        let moves = |kept: &mut Kept| kept.moves_from(now + GRID, -STILL);
        let first = self.kept.iter_mut().filter_map(moves).min();
        self.still_until = first.map_or(Instant::NEVER, |first| first - GRID);
    }

    fn look_at(&mut self, chain: usize, now: Instant) {
        // What is awaited lies beyond the next look.
        let at = self.kept[chain].look(now + GRID);
        for (&point, at) in self.score.chains[chain].points.iter().zip(at) {
            self.at[point] = *at;
        }
    }

    /// Until when a start waits for another chain or a stated time, if that is later than its own chain.
    fn until(&mut self, waiting: &Waiting, waits: bool) -> Option<(Instant, Span)> {
        let known = |time: &Time| Some((self.instant(time)?, time.hook));
        let others = waiting.others.iter().filter_map(known);
        let (latest, of) = others.max_by_key(|(at, _)| *at)?;
        let own = waiting.own.map(|end| self.at[end]);
        let later = own.is_none_or(|own| latest > own || waits && latest >= own);
        later.then(|| (latest, self.spread(of)))
    }

    /// When a time of flight or of the clock comes, as of the last look.
    fn instant(&self, time: &Time) -> Option<Instant> {
        match time.hook {
            Hook::At(at) => Some(at + time.offset),
            Hook::Flown(place) => Some(place.instant(&self.at) + time.offset),
            _ => None,
        }
    }

    /// One standard deviation of such a time: between two points by their variances.
    fn spread(&mut self, hook: Hook) -> Span {
        let mut of_point = |point: usize| {
            let (chain, i) = self.score.place_of[point];
            self.kept[chain].spread(i)
        };
        match hook {
            Hook::Flown(Place::Beyond(point, _)) => of_point(point),
            Hook::Flown(Place::Between(point, share)) => {
                let [from, to] = [point, point + 1].map(|point| of_point(point).s().powi(2));
                Span::from_s((from + (to - from) * share).sqrt())
            }
            _ => Span::ZERO,
        }
    }

    /// Gives a mark to the point that it is likeliest of, or, where somebody would have to be asked, to `meant`.
    pub(super) fn mark(&mut self, mark: &Mark, meant: impl FnOnce() -> Option<usize>) {
        self.candidates.clear();
        self.add_candidates(mark);
        // What is expected if a point was not missed but only not keyed.
        for (kept, chain) in self.kept.iter_mut().zip(&self.score.chains) {
            for (&point, at) in chain.points.iter().zip(kept.unslipped()) {
                self.at[point] = *at;
            }
        }
        self.add_candidates(mark);
        let spread = self.score.mark_spread(mark.kind);
        let point = match assign(&self.candidates, mark.observed, spread) {
            Assignment::To(point) | Assignment::Fuses(point) => point,
            Assignment::Ask(_) => match meant() {
                Some(point) => point,
                None => return,
            },
        };
        let (chain, i) = self.score.place_of[point];
        self.marked[point] = true;
        self.kept[chain].see(&Sighting {
            point: i,
            at: mark.observed - self.score.points[point].parallax,
            spread: self.score.points[point].spread,
            kind: SightingKind::Seen,
        });
    }

    /// The points that a mark may be of. How sharply one is known takes smoothing: that is done only where the mark
    /// is near it.
    fn add_candidates(&mut self, mark: &Mark) {
        let spread = self.score.mark_spread(mark.kind);
        for &point in &self.score.kinds[mark.kind as usize] {
            let (chain, i) = self.score.place_of[point];
            let kept = &mut self.kept[chain];
            let widest = Candidate {
                point,
                expected: self.at[point] + self.score.points[point].parallax,
                spread: kept.spread_at_most(i),
                marked: self.marked[point],
            };
            if widest.may_be(mark.observed, spread) {
                let spread = kept.spread(i);
                self.candidates.push(Candidate { spread, ..widest });
            }
        }
    }
}

fn differ(one: Option<(Instant, Span)>, other: Option<(Instant, Span)>) -> bool {
    match (one, other) {
        (Some((one, spread)), Some((other, before))) => {
            (one - other).abs() > MOVES || (spread - before).abs() > MOVES
        }
        (None, None) => false,
        _ => true,
    }
}

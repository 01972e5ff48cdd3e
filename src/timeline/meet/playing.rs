//! A meet whose track plays: what may still be changed so that the hit falls where it is wanted now.

use super::{Means, RAMP, Round, Way, course};
use crate::show::{IfMissed, Track};
use crate::sound::{Bend, Course};
use crate::units::{Instant, Span};

/// A join must be this far beyond what is settled to be made or unmade: it is cross-faded, and the stretcher is
/// fed a little ahead.
pub const GUARD: Span = Span::from_ms(150);
/// A miss that is none: a microsecond, which is what a span is made of.
const EXACT: f64 = 2e-6;

/// The way to go on from `commit`, everything before it being settled, so that the hit falls on `wanted`.
/// `None` when nothing can be changed any more.
pub fn solve(means: &Means<'_>, way: &Way, wanted: Instant, commit: Instant) -> Option<Way> {
    let rest = Rest::of(means, way, wanted, commit)?;
    let (choice, left_out) = rest.choose(means.meet.if_missed);
    Some(Way {
        start: way.start,
        course: rest.course(&choice),
        left_out,
    })
}

/// The course of a track that goes round once more when it comes to the end of its vamp; `None` where it has
/// gone on past it.
pub fn once_more(round: &Round, way: &Way, commit: Instant) -> Option<Way> {
    let mut course = way.course.clone();
    let now = course.unrolled_at(commit - way.start);
    let open = course.last_pass(round.to)? >= now + GUARD;
    let until = course.joins.iter().rposition(|join| join.at <= round.to);
    let later = course.joins.split_off(until.map_or(0, |last| last + 1));
    course.joins.extend(round.joins(round.most));
    course.joins.extend(later);
    open.then_some(Way {
        course,
        ..way.clone()
    })
}

/// The course of a track from `commit` on without what it was to play again.
pub fn straight_on(track: &Track, way: &Way, commit: Instant) -> Way {
    let settled = way.course.until(commit + GUARD - way.start);
    Way {
        course: course::going_on(track, settled, &[]),
        ..way.clone()
    }
}

/// What is left of a track that plays, from the moment at which it can be changed.
struct Rest<'a> {
    means: &'a Means<'a>,
    /// What is settled.
    course: Course,
    /// That moment, after the start.
    after: Span,
    /// Music from there to the hit, seconds.
    music: f64,
    /// Time from there to when the hit is wanted, seconds.
    time: f64,
    /// The rate there.
    rate: f64,
    /// How long the rate takes to change, seconds.
    ramp: f64,
    /// The vamp, if it is still ahead.
    open: Option<Round>,
}

/// So many bars more, at a rate.
#[derive(Debug, Clone, Copy)]
struct Choice {
    bars: u32,
    rate: f64,
    /// How much too late the hit falls, seconds.
    miss: f64,
}

impl<'a> Rest<'a> {
    fn of(means: &'a Means<'a>, way: &Way, wanted: Instant, commit: Instant) -> Option<Rest<'a>> {
        let after = (commit - way.start).max(Span::ZERO);
        let time = (wanted - way.start - after).s();
        let course = way.course.until(after + GUARD);
        let here = course.unrolled_at(after);
        let straight_on = course::going_on(means.track, course.clone(), &[]);
        let music = (straight_on.last_pass(means.meet.hit_at)? - here).s();
        let is_ahead = |round: &Round| {
            let end = straight_on.last_pass(round.to);
            end.is_some_and(|end| end >= here + GUARD)
        };
        let open = means.round.filter(is_ahead);
        (time > 0.0 && music > 0.0).then(|| Rest {
            means,
            rate: course.pace().rate_at(after.s()),
            open,
            ramp: RAMP.s().min(time),
            course,
            after,
            music,
            time,
        })
    }

    fn choose(&self, if_missed: IfMissed) -> (Choice, bool) {
        let (slowest, fastest) = self.means.rates();
        let bent: Vec<Choice> = self
            .bars()
            .map(|bars| self.bent(bars, slowest, fastest))
            .collect();
        let nearest = || self.least(&bent, |choice| choice.miss.abs());
        let exact: Vec<Choice> = bent
            .iter()
            .copied()
            .filter(|choice| choice.miss.abs() < EXACT)
            .collect();
        if !exact.is_empty() {
            return (
                self.least(&exact, |choice| (choice.rate - 1.0).abs()),
                false,
            );
        }
        if nearest().miss.abs() <= self.means.meet.within.s() {
            return (nearest(), false);
        }
        let late = || {
            let unbent = self.bars().map(|bars| self.bent(bars, 1.0, 1.0));
            unbent
                .filter(|choice| choice.miss >= 0.0)
                .min_by(|a, b| a.miss.total_cmp(&b.miss))
        };
        match if_missed {
            IfMissed::Late => (late().unwrap_or_else(nearest), false),
            IfMissed::Nearest => (nearest(), false),
            IfMissed::Fade => (nearest(), true),
        }
    }

    /// Every number of bars that may be worth while: between the one that is too few at the slowest rate and the
    /// one that is too many at the fastest.
    fn bars(&self) -> impl Iterator<Item = u32> + use<'_> {
        let (slowest, fastest) = self.means.rates();
        self.open.map_or(0..=0, |round| {
            let fitting = |rate: f64| (rate * self.time - self.music) / round.bar.s();
            let few = (fitting(slowest) - 2.0).max(0.0) as u32;
            few..=(fitting(fastest) + 2.0).max(0.0) as u32
        })
    }

    /// So many bars at the rate that makes the meet, or the nearest from `slowest` to `fastest`.
    fn bent(&self, bars: u32, slowest: f64, fastest: f64) -> Choice {
        let round = self.open.map_or(Span::ZERO, |round| round.length(bars));
        let music = self.music + round.s();
        let made = (music - self.rate * self.ramp / 2.0) / (self.time - self.ramp / 2.0);
        let rate = made.clamp(slowest, fastest);
        let falls = if music >= (self.rate + rate) * self.ramp / 2.0 {
            self.ramp + (music - (self.rate + rate) * self.ramp / 2.0) / rate
        } else {
            music / self.rate
        };
        Choice {
            bars,
            rate,
            miss: falls - self.time,
        }
    }

    /// The choice that costs least by `cost`, and of those the one nearest to the bars planned.
    fn least(&self, choices: &[Choice], cost: impl Fn(&Choice) -> f64) -> Choice {
        let planned = self.open.map_or(0, |round| round.planned);
        let off_plan = |choice: &Choice| (self.course.bars() + choice.bars).abs_diff(planned);
        let least = choices.iter().copied().min_by(|a, b| {
            // Costs closer than a microsecond in an hour are the same.
            let (x, y) = (cost(a), cost(b));
            let order = if (x - y).abs() < 1e-9 {
                std::cmp::Ordering::Equal
            } else {
                x.total_cmp(&y)
            };
            order.then(off_plan(a).cmp(&off_plan(b)))
        });
        least.unwrap_or(Choice {
            bars: 0,
            rate: 1.0,
            miss: 0.0,
        })
    }

    fn course(&self, choice: &Choice) -> Course {
        let again = course::again(self.open, choice.bars);
        let mut course = course::going_on(self.means.track, self.course.clone(), &again);
        let settled = course.last_rate();
        let steady = (settled - self.rate).abs() < 1e-12;
        if !(steady && (choice.rate - settled).abs() < 1e-9) {
            course.bends.push(Bend {
                after: self.after,
                rate: choice.rate,
                over: Span::from_s(self.ramp),
            });
        }
        course
    }
}

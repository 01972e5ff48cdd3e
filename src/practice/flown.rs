//! When every point is really passed, in a show that differs from its plan.
//!
//! The chains, and how each step takes its time, are those the estimate believes in
//! ([`timeline::prior`](crate::timeline::prior)): `T' = T + d (1 + s c) + (∂d/∂w) w + e`. For a path to go with
//! it, fly the entries on [`other_day`](super::errors::other_day) and walk that flight with no wind error left.

use super::errors::{Draws, Errors, Source};
use crate::flight::{self, Flight, Step, part_of};
use crate::show::{Anchor, Name, PointName, Show, TimeExpression};
use crate::timeline::chain;
use crate::timeline::clock::clock_instant;
use crate::timeline::prior::{Growth, PACE_SPREAD, START_SPREAD};
use crate::timeline::{Expected, FigureTimes, Moments, Plan};
use crate::units::{Instant, Span};

/// When every point of a flight is really passed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Flown {
    /// For each figure of the flight, in its order, each of its points.
    pub figures: Vec<FlownFigure>,
}

/// When the points of one figure are really passed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FlownFigure {
    /// The entry.
    pub key: Name,
    /// Its points, in order: start first, end last.
    pub points: Vec<(PointName, Instant)>,
}

impl Flown {
    /// When a point of an entry is passed; `None` where there is none.
    pub fn at(&self, key: &Name, point: &PointName) -> Option<Instant> {
        let figure = self.figures.iter().find(|figure| figure.key == *key)?;
        let (_, at) = figure.points.iter().find(|(name, _)| name == point)?;
        Some(*at)
    }

    /// When an entry begins.
    pub fn start(&self, key: &Name) -> Option<Instant> {
        self.at(key, &PointName::Start)
    }

    /// When the last figure has ended; `None` when nothing is flown.
    pub fn end(&self) -> Option<Instant> {
        let ends = self
            .figures
            .iter()
            .filter_map(|figure| figure.points.last());
        ends.map(|(_, at)| *at).max()
    }

    /// The moments of `flight`, the one that was walked, all of them certain.
    pub fn moments(&self, flight: &Flight) -> Moments {
        let certain = |(_, at): &(PointName, Instant)| Expected {
            at: *at,
            spread: Span::ZERO,
        };
        let figures = flight.figures.iter().zip(&self.figures);
        Moments {
            figures: figures
                .map(|(flown, figure)| {
                    let points: Vec<Expected> = figure.points.iter().map(certain).collect();
                    FigureTimes::new(flown, &points, false)
                })
                .collect(),
            zero: Instant::ZERO,
        }
    }
}

/// A flight ready to be walked through, many times.
#[derive(Debug, Clone)]
pub struct Walk {
    legs: Vec<Leg>,
    /// The steps of all figures, one behind the other.
    steps: Vec<Step>,
    /// How many chains there are.
    chains: usize,
    names: Vec<(Name, Vec<PointName>)>,
}

/// One figure of a walk.
#[derive(Debug, Clone)]
struct Leg {
    /// Its first point among all, and how many it has.
    first: usize,
    count: usize,
    chain: usize,
    /// Figures whose ends it waits for.
    behind: Vec<usize>,
    stated: Option<Stated>,
    /// Where nothing is before it: when it is planned to start.
    opens: Instant,
}

/// A start the document states.
#[derive(Debug, Clone, Copy)]
enum Stated {
    At(Instant),
    /// So long after one of all points, or after a share of the way from it to the next.
    After {
        point: usize,
        share: f64,
        later: Span,
    },
}

impl Walk {
    /// The walk of `flight`, which has the entries of the plan or some of them, in the planned day or another.
    pub fn of(show: &Show, plan: &Plan, flight: &Flight) -> Walk {
        let places = chain::places(show, &flight.figures);
        let firsts: Vec<usize> = flight
            .figures
            .iter()
            .scan(0, |next, figure| {
                let first = *next;
                *next += figure.points.len();
                Some(first)
            })
            .collect();
        let mut chains: Vec<&Name> = Vec::new();
        let opens = plan.moments.figures.first();
        let legs = flight.figures.iter().zip(&places).enumerate();
        let legs = legs.map(|(i, (figure, place))| {
            let chain = chains.iter().position(|name| **name == place.chain);
            let chain = chain.unwrap_or_else(|| {
                chains.push(&place.chain);
                chains.len() - 1
            });
            let own = places[..i]
                .iter()
                .rposition(|before| before.chain == place.chain);
            let stated = show.figure(&figure.id).and_then(|f| f.starts.as_ref());
            Leg {
                first: firsts[i],
                count: figure.points.len(),
                chain,
                behind: place.behind.iter().copied().chain(own).collect(),
                stated: stated.and_then(|time| stated_in(show, flight, &firsts, time)),
                opens: opens.map_or(Instant::ZERO, FigureTimes::start),
            }
        });
        let legs = legs.collect();
        let steps = flight.figures.iter().flat_map(|figure| {
            let start = |(i, step)| if i == 0 { Step::default() } else { step };
            let steps = figure.points.iter().map(|point| point.step);
            steps.enumerate().map(start)
        });
        let names = |figure: &flight::FlownFigure| {
            let points = figure.points.iter().map(|point| point.point.clone());
            (figure.key.clone(), points.collect())
        };
        Walk {
            legs,
            steps: steps.collect(),
            chains: chains.len(),
            names: flight.figures.iter().map(names).collect(),
        }
    }

    /// A show that differs from its plan by `errors`.
    pub fn fly(&self, errors: &Errors) -> Flown {
        let mut all = self.passed(errors).into_iter().map(Instant::from_s);
        let figures = self.names.iter().map(|(key, points)| FlownFigure {
            key: key.clone(),
            points: points.iter().cloned().zip(all.by_ref()).collect(),
        });
        Flown {
            figures: figures.collect(),
        }
    }

    /// When each point is passed, s of the show, through all figures.
    fn passed(&self, errors: &Errors) -> Vec<f64> {
        let Drawn { takes, held } = self.draw(errors);
        let mut passed = vec![0.0; self.steps.len()];
        // A stated time may name a later figure: go round until nothing moves.
        for _ in 0..=self.legs.len() {
            let mut moved = false;
            for (i, leg) in self.legs.iter().enumerate() {
                let starts = self.starts(leg, &passed) + held[i];
                moved |= starts != passed.get(leg.first).copied().unwrap_or(starts);
                let mut at = starts;
                for point in leg.first..leg.first + leg.count {
                    at += takes[point];
                    passed[point] = at;
                }
            }
            if !moved {
                break;
            }
        }
        passed
    }

    fn draw(&self, errors: &Errors) -> Drawn {
        let mut draws = Draws::of(errors.seed, Source::Pilot);
        let mut drawn = || if errors.pilot { draws.normal() } else { 0.0 };
        let wind = errors.along().mps();
        let opens = START_SPREAD.s() * drawn();
        let paces: Vec<f64> = (0..self.chains)
            .map(|_| PACE_SPREAD.whole() * drawn())
            .collect();
        let (mut takes, mut waits) = (Vec::new(), Vec::new());
        for (leg, (key, _)) in self.legs.iter().zip(&self.names) {
            let late = errors.late.iter().find(|(late, _)| late == key);
            let mut late = late.map_or(0.0, |(_, by)| by.s());
            let pace = paces[leg.chain];
            for step in &self.steps[leg.first..leg.first + leg.count] {
                let growth = Growth::of(step);
                let own = step.spread.s() * drawn();
                let differs = growth.by_pace * pace + growth.by_wind * wind + own;
                let late = if step.waits {
                    std::mem::take(&mut late)
                } else {
                    0.0
                };
                takes.push((step.takes.s() + differs).max(0.0) + late);
            }
            let held = errors.held_up.as_ref().filter(|held| held.before == *key);
            let held = held.map_or(0.0, |held| held.lasts.s());
            let opening = leg.behind.is_empty() && leg.stated.is_none();
            waits.push(held + if opening { opens } else { 0.0 });
        }
        Drawn { takes, held: waits }
    }

    /// When a figure can begin, all it waits for being over.
    fn starts(&self, leg: &Leg, at: &[f64]) -> f64 {
        let ends = leg.behind.iter().map(|&before| {
            let before = &self.legs[before];
            at[(before.first + before.count).saturating_sub(1)]
        });
        let stated = leg.stated.map(|stated| match stated {
            Stated::At(at) => at.s(),
            Stated::After {
                point,
                share,
                later,
            } => {
                let next = at.get(point + 1).unwrap_or(&at[point]);
                at[point] + share * (next - at[point]) + later.s()
            }
        });
        ends.chain(stated).reduce(f64::max).unwrap_or(leg.opens.s())
    }
}

/// What is drawn for one show.
struct Drawn {
    /// How long every step takes, s.
    takes: Vec<f64>,
    /// What holds each figure up, s.
    held: Vec<f64>,
}

/// A stated start by the point it hangs on; `None` where that is not flown.
fn stated_in(
    show: &Show,
    flight: &Flight,
    firsts: &[usize],
    time: &TimeExpression,
) -> Option<Stated> {
    let (of, point) = match &time.anchor {
        Anchor::Show => return Some(Stated::At(Instant::ZERO + time.offset)),
        Anchor::Clock(clock) => {
            return Some(Stated::At(clock_instant(show, *clock)? + time.offset));
        }
        Anchor::Point { of, point } => (of, point),
    };
    let figure = flight.figures.iter().position(|figure| figure.id == *of)?;
    let flown = &flight.figures[figure];
    let (i, share, later) = match point {
        PointName::Heard(n) => {
            let after = flown.heard_after.get(usize::from(*n).checked_sub(1)?)?;
            (place_of(flown, &PointName::Abeam(*n))?, 0.0, *after)
        }
        PointName::Own(aircraft, point) => {
            let (after, heard_after) = part_of(&flown.parts, aircraft)?.own(*point)?;
            let (i, share) = between(flown, after)?;
            (i, share, heard_after)
        }
        other => (place_of(flown, other)?, 0.0, Span::ZERO),
    };
    Some(Stated::After {
        point: firsts[figure] + i,
        share,
        later: later + time.offset,
    })
}

/// Which of its points that is.
fn place_of(flown: &flight::FlownFigure, point: &PointName) -> Option<usize> {
    flown.points.iter().position(|flown| flown.point == *point)
}

/// The last point not after a place on the path, and what share of the way to the next it is.
fn between(flown: &flight::FlownFigure, after: Span) -> Option<(usize, f64)> {
    let i = flown
        .points
        .iter()
        .rposition(|point| point.after <= after)?;
    let begun = flown.points.get(i)?.after;
    let share = flown
        .points
        .get(i + 1)
        .map_or(0.0, |next| (after - begun).s() / (next.after - begun).s());
    Some((i, share))
}

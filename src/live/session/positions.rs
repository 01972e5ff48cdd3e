//! Positions: an aircraft seen on a run-in tells when it will be abeam. They sharpen an estimate; what
//! somebody keyed always wins.

use super::{GRID, Mode, Session};
use crate::flight::{FlownFigure, PathSample};
use crate::live::estimate::run_in::{Look, RunIn};
use crate::live::estimate::{Sighting, SightingKind};
use crate::live::event::{MarkKind, PointOf, Position};
use crate::show::PointName;
use crate::units::{Instant, Span};

/// One standard deviation of a place along the line, in metres, what its time is off by included, and of
/// a speed, in metres a second (common practice, no published source).
const PLACE_SPREAD: f64 = 15.0;
const SPEED_SPREAD: f64 = 0.7;
/// How far aside of its planned path an aircraft on its run-in may be, in metres, and for each metre out.
const ASIDE: f64 = 400.0;
const ASIDE_SHARE: f64 = 0.1;
/// Speeds over the planned one that can be those of the run-in.
const LIKELY_RATES: std::ops::RangeInclusive<f64> = 0.4..=2.5;
/// Beyond centre by this many metres a run-in is over.
const BEYOND: f64 = 1_000.0;
/// A run-in must fit the estimate within so many spreads, as a mark must, and this.
const WITHIN_SPREADS: f64 = 4.0;
const WITHIN: Span = Span::from_ms(5_000);
/// An arrival that moves by less makes nothing new.
const MOVES: Span = Span::from_ms(100);
/// Seen to pass by positions: half of what passes between two of them is not known.
const PASSED_SPREAD: Span = Span::from_ms(500);
/// A run-in nothing was seen of for so long after it should have passed is forgotten.
const FORGOTTEN: Span = Span::from_ms(5_000);

/// A run-in that positions follow.
#[derive(Debug, Clone)]
pub(super) struct Followed {
    /// The pass it leads to.
    target: PointOf,
    run_in: RunIn,
    /// When it was last seen.
    last: Instant,
    /// When it is abeam, as last made known.
    told: Instant,
}

/// The planned way to one pass.
struct Way {
    target: PointOf,
    /// The path to it, in order of time; it comes nearer throughout.
    path: Vec<PathSample>,
}

/// Where on a planned way an aircraft is.
struct OnWay {
    to_go: Span,
    /// Planned speed along the line, in metres a second.
    along: f64,
}

impl Session {
    pub(super) fn take_position(&mut self, position: &Position) {
        if matches!(self.mode, Mode::Accident { .. }) {
            return;
        }
        let observed = position.observed.min(self.now);
        if self
            .followed
            .as_ref()
            .is_some_and(|followed| observed <= followed.last)
        {
            return;
        }
        let found = self
            .ways(position)
            .into_iter()
            .filter_map(|way| Some((self.look(&way, position, observed)?, way)))
            .find(|(look, way)| self.fits(look, way));
        let Some((look, way)) = found else {
            self.say_if_astray(position, observed);
            return;
        };
        match &mut self.followed {
            Some(followed) if followed.target == way.target => {
                followed.run_in.look(&look);
                followed.last = observed;
            }
            _ => {
                let run_in = RunIn::new(&look);
                self.astray = None;
                let text = format!(
                    "Positions: {} is on its run-in to {} {}",
                    position.aircraft, way.target.key, way.target.point
                );
                self.followed = Some(Followed {
                    told: run_in.abeam().0,
                    target: way.target,
                    run_in,
                    last: observed,
                });
                self.happened += 1;
                self.notice(text);
            }
        }
        self.make_known();
        self.expect();
    }

    /// Counts an arrival that has moved as something that happened.
    fn make_known(&mut self) {
        let Some(followed) = &mut self.followed else {
            return;
        };
        let abeam = followed.run_in.abeam().0;
        if (abeam - followed.told).abs() >= MOVES {
            followed.told = abeam;
            self.happened += 1;
        }
    }

    /// What somebody keyed of a figure puts aside what positions said of it: they have to fit anew.
    pub(super) fn put_positions_aside(&mut self, keyed: &PointOf) {
        if self
            .followed
            .as_ref()
            .is_some_and(|followed| followed.target.key == keyed.key)
        {
            self.followed = None;
        }
    }

    /// What positions say of a chain of these figures.
    pub(super) fn position_sighting(&self, figures: &[usize]) -> Option<Sighting> {
        let followed = self.followed.as_ref()?;
        let flown = |figure: usize| &self.flight.figures[figure];
        let place = figures
            .iter()
            .position(|&figure| flown(figure).key == followed.target.key)?;
        if self.is_marked(&followed.target) {
            return None;
        }
        let first: usize = figures[..place]
            .iter()
            .map(|&figure| flown(figure).points.len())
            .sum();
        let flown = flown(figures[place]);
        let point = flown
            .points
            .iter()
            .position(|p| p.point == followed.target.point)?;
        let (at, spread) = followed.run_in.abeam();
        let point = first + point;
        if followed.run_in.has_passed() {
            return Some(Sighting {
                point,
                at,
                spread: PASSED_SPREAD,
                kind: SightingKind::Seen,
            });
        }
        // Nobody has seen it pass: it lies beyond the next look, as anything awaited does.
        let soonest = self.now + GRID + spread * 0.5;
        (self.now <= at.max(followed.last) + FORGOTTEN).then(|| Sighting {
            point,
            at: at.max(soonest),
            spread,
            kind: SightingKind::Foreseen,
        })
    }

    fn is_marked(&self, point: &PointOf) -> bool {
        self.marks.iter().any(|mark| mark.point == *point)
    }

    /// The ways to every pass of this aircraft that is to come: the one it is on first.
    fn ways(&self, position: &Position) -> Vec<Way> {
        let mut ways = Vec::new();
        for (times, flown) in self.moments.figures.iter().zip(&self.flight.figures) {
            if times.held || self.is_left_behind(flown) {
                continue;
            }
            let path = flown.path_of(&position.aircraft);
            for point in &flown.points {
                let target = PointOf {
                    key: flown.key.clone(),
                    point: point.point.clone(),
                };
                if MarkKind::of(&point.point) == Some(MarkKind::Abeam) && !self.is_marked(&target) {
                    let path = approach(path, point.after);
                    ways.push(Way { target, path });
                }
            }
        }
        if let Some(followed) = &self.followed {
            ways.sort_by_key(|way| way.target != followed.target);
        }
        ways
    }

    /// Whether something later in its figure, or a later figure of its aircraft, was marked already.
    fn is_left_behind(&self, flown: &FlownFigure) -> bool {
        let marked = |figure: &FlownFigure| {
            self.marks.iter().any(|mark| {
                mark.point.key == figure.key && matches!(mark.point.point, PointName::Abeam(_))
            })
        };
        let figures = &self.flight.figures;
        let place = figures.iter().position(|figure| figure.key == flown.key);
        figures
            .iter()
            .skip(place.map_or(0, |place| place + 1))
            .any(|later| {
                later
                    .aircraft
                    .iter()
                    .any(|who| flown.aircraft.contains(who))
                    && marked(later)
            })
    }

    /// What a position says on a way; `None` if it is not on it.
    fn look(&self, way: &Way, position: &Position, observed: Instant) -> Option<Look> {
        let follows = self
            .followed
            .as_ref()
            .is_some_and(|followed| followed.target == way.target);
        let on = way.at(position, follows)?;
        let rate = position.along_mps.map(|speed| speed / on.along);
        if rate.is_some_and(|rate| !LIKELY_RATES.contains(&rate)) {
            return None;
        }
        let planned = on.along.abs();
        Some(Look {
            at: observed,
            to_go: on.to_go,
            to_go_spread: Span::from_s(PLACE_SPREAD / planned),
            rate,
            rate_spread: SPEED_SPREAD / planned,
        })
    }

    /// Whether the pass a look leads to is the one expected about then.
    fn fits(&self, look: &Look, way: &Way) -> bool {
        if self
            .followed
            .as_ref()
            .is_some_and(|followed| followed.target == way.target)
        {
            return true;
        }
        let figure = self
            .moments
            .figures
            .iter()
            .find(|figure| figure.key == way.target.key);
        let Some(expected) = figure.and_then(|figure| figure.expected(&way.target.point)) else {
            return false;
        };
        let (abeam, spread) = RunIn::new(look).abeam();
        let spread = Span::from_s(spread.s().hypot(expected.spread.s()));
        let off = (abeam - expected.at).abs();
        look.to_go > Span::ZERO && off <= spread * WITHIN_SPREADS + WITHIN
    }

    /// Says once for each run-in that the positions are not those of it.
    fn say_if_astray(&mut self, position: &Position, observed: Instant) {
        let on_run_in = self.followed.as_ref().filter(|followed| {
            !followed.run_in.has_passed()
                && !self.is_marked(&followed.target)
                && observed < followed.run_in.abeam().0
        });
        let Some(target) = on_run_in.map(|followed| followed.target.clone()) else {
            return;
        };
        self.followed = None;
        if self.astray.as_ref() != Some(&target) {
            let text = format!(
                "Positions: {} is not on its run-in to {} {} any more: they are not used",
                position.aircraft, target.key, target.point
            );
            self.astray = Some(target);
            self.notice(text);
        }
        self.expect();
    }
}

/// The end of a path, up to the pass `abeam` after its start, on which it comes nearer throughout.
fn approach(path: &[PathSample], abeam: Span) -> Vec<PathSample> {
    let until = path.partition_point(|sample| sample.after <= abeam);
    let mut nearest = 0.0;
    let mut side = 0.0;
    let mut samples: Vec<PathSample> = Vec::new();
    for sample in path[..until].iter().rev() {
        let x = sample.x.m();
        // Within a metre of centre it is the pass itself.
        if x.abs() < 1.0 {
            continue;
        }
        if side == 0.0 {
            side = x.signum();
        }
        if x * side <= nearest || sample.ground_speed.mps() <= 0.0 {
            break;
        }
        nearest = x * side;
        samples.push(PathSample {
            after: abeam - sample.after,
            ..*sample
        });
    }
    samples
}

impl Way {
    /// Where on it a position is; beyond centre only where it was followed until there.
    fn at(&self, position: &Position, follows: bool) -> Option<OnWay> {
        let (x, y) = (position.along_m, position.across_m);
        let nearest = self.path.first()?;
        let side = nearest.x.m().signum();
        let out = x * side;
        // The samples lie further and further out; centre itself is no time from the pass.
        let next = self
            .path
            .partition_point(|sample| sample.x.m() * side < out);
        let outer = self.path.get(next.max(1))?;
        let inner = self.path.get(next.max(1) - 1)?;
        let (inner_m, outer_m) = (inner.x.m() * side, outer.x.m() * side);
        let speed = (outer_m - inner_m) / (outer.after - inner.after).s();
        if !(follows && out > -BEYOND || out > 0.0) || !speed.is_finite() || speed < 1.0 {
            return None;
        }
        let share = (out - inner_m) / (outer_m - inner_m);
        let planned_y = inner.y.m() + (outer.y.m() - inner.y.m()) * share.clamp(0.0, 1.0);
        if (y - planned_y).abs() > ASIDE + ASIDE_SHARE * out.abs() {
            return None;
        }
        Some(OnWay {
            to_go: inner.after + Span::from_s((out - inner_m) / speed),
            along: -side * speed,
        })
    }
}

//! When each point of each figure is expected.

use std::sync::Arc;

use crate::flight::{FlownFigure, FlownPart, PathSample, part_of};
use crate::show::{Name, OwnPoint, PointName};
use crate::units::{Instant, Span};

/// An expected instant and its spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Expected {
    /// When.
    pub at: Instant,
    /// One standard deviation.
    pub spread: Span,
}

/// When one flying of a figure is expected, point by point.
#[derive(Debug, Clone)]
pub struct FigureTimes {
    /// The entry's key.
    pub key: Name,
    /// The figure's id.
    pub id: Name,
    /// Its flown points, in order: `Start` first, `End` last.
    pub points: Vec<(PointName, Expected)>,
    /// The same points as flown in the model, from the figure's start.
    after: Vec<Span>,
    /// For each pass, when its sound arrives.
    heard: Vec<Instant>,
    /// What its aircraft fly, in the model.
    parts: Arc<[FlownPart]>,
    /// When it is too loud at crowd centre to talk over.
    pub hush: Vec<(Instant, Instant)>,
    /// Whether the show is held up before it: its times mean nothing yet.
    pub held: bool,
    /// When it was broken off: what would come after that does not.
    broken: Option<Instant>,
}

/// When everything that flies is expected.
#[derive(Debug, Clone, Default)]
pub struct Moments {
    /// In the order of the programme; dropped figures left out.
    pub figures: Vec<FigureTimes>,
    /// Show zero: the instant that is, but for a time hack.
    pub zero: Instant,
}

impl FigureTimes {
    /// A flown figure whose points fall at `points` (one for each of its own).
    pub fn new(flown: &FlownFigure, points: &[Expected], held: bool) -> Self {
        let mut times = FigureTimes {
            key: flown.key.clone(),
            id: flown.id.clone(),
            points: flown
                .points
                .iter()
                .zip(points)
                .map(|(flown, expected)| (flown.point.clone(), *expected))
                .collect(),
            after: flown.points.iter().map(|point| point.after).collect(),
            heard: Vec::new(),
            parts: Arc::clone(&flown.parts),
            hush: Vec::new(),
            held,
            broken: None,
        };
        let abeams = times
            .points
            .iter()
            .filter(|(point, _)| matches!(point, PointName::Abeam(_)));
        times.heard = abeams
            .zip(&flown.heard_after)
            .map(|((_, abeam), after)| abeam.at + *after)
            .collect();
        times.hush = flown
            .hush
            .iter()
            .map(|&(from, until)| (times.instant_of(from), times.instant_of(until)))
            .collect();
        times
    }

    /// When `point` is expected; `None` if the figure has no such point.
    pub fn expected(&self, point: &PointName) -> Option<Expected> {
        match point {
            PointName::Heard(n) => {
                let abeam = self.expected(&PointName::Abeam(*n))?;
                let at = *self.heard.get(usize::from(*n).checked_sub(1)?)?;
                Some(Expected { at, ..abeam })
            }
            PointName::Own(aircraft, point) => self.own(aircraft, *point),
            _ => self
                .points
                .iter()
                .find(|(name, _)| name == point)
                .map(|&(_, expected)| expected)
                .filter(|expected| self.comes(expected.at)),
        }
    }

    /// When one of its aircraft comes to a point of its own. It moves with the points of the figure around it.
    fn own(&self, aircraft: &Name, point: OwnPoint) -> Option<Expected> {
        let (after, heard_after) = part_of(&self.parts, aircraft)?.own(point)?;
        let at = self.instant_of(after);
        self.comes(at).then(|| Expected {
            at: at + heard_after,
            spread: self.spread_of(after),
        })
    }

    /// Whether the figure is not broken off before an instant.
    fn comes(&self, at: Instant) -> bool {
        self.broken.is_none_or(|broken| at < broken)
    }

    /// Breaks the figure off: it ends at `at`, and no point of it comes after that.
    pub fn break_off(&mut self, at: Instant) {
        self.broken = Some(at);
        self.end_hushes(|from, until| (*from..*until).contains(&at).then_some(at));
        self.hush.retain(|(from, _)| *from <= at);
    }

    /// Ends the hush at the instants somebody said the aircraft could be talked over again.
    pub fn make_audible(&mut self, instants: &[Instant]) {
        self.end_hushes(|from, until| {
            let within = |at: &&Instant| (*from..*until).contains(*at);
            instants.iter().find(within).copied()
        });
    }

    fn end_hushes(&mut self, end: impl Fn(&Instant, &Instant) -> Option<Instant>) {
        for (from, until) in &mut self.hush {
            if let Some(at) = end(from, until) {
                *until = at;
            }
        }
    }

    /// How sharply an instant of it is known: as the last point before it, or the first.
    pub fn spread_at(&self, at: Instant) -> Span {
        let passed = self.points.partition_point(|(_, point)| point.at <= at);
        let point = self.points.get(passed.saturating_sub(1));
        point.map_or(Span::ZERO, |(_, point)| point.spread)
    }

    /// When it starts.
    pub fn start(&self) -> Instant {
        self.points.first().map_or(Instant::ZERO, |(_, e)| e.at)
    }

    /// When it ends.
    pub fn end(&self) -> Instant {
        let end = self.points.last().map_or(Instant::ZERO, |(_, e)| e.at);
        self.broken.map_or(end, |broken| broken.min(end))
    }

    /// The expected instant of a place on the modelled path: between two points in proportion, beyond the
    /// first and last at the model's own pace.
    pub fn instant_of(&self, after: Span) -> Instant {
        Instant::from_s(interpolated(self.knots(), after.s()))
    }

    /// How sharply the instant of a place on the modelled path is known: between two points by their variances.
    fn spread_of(&self, after: Span) -> Span {
        let (Some(first), Some(last)) = (self.after.first(), self.after.last()) else {
            return Span::ZERO;
        };
        let variance = |(_, expected): &(PointName, Expected)| expected.spread.s().powi(2);
        let variances = self.points.iter().map(variance);
        let knots = self.after.iter().map(|after| after.s()).zip(variances);
        let within = after.clamp(*first, *last);
        Span::from_s(interpolated(knots, within.s()).max(0.0).sqrt())
    }

    /// Where on the modelled path the aircraft is at `at`: the inverse of [`Self::instant_of`].
    pub fn after_at(&self, at: Instant) -> Span {
        let knots = self.knots().map(|(model, expected)| (expected, model));
        Span::from_s(interpolated(knots, at.s()))
    }

    /// Each point as flown in the model and as expected, s.
    fn knots(&self) -> impl Iterator<Item = (f64, f64)> {
        let expected = self.points.iter().map(|(_, expected)| expected.at.s());
        self.after.iter().map(|after| after.s()).zip(expected)
    }
}

/// The path sample at `after` from the figure's start, between two samples in proportion.
pub fn sample_at(path: &[PathSample], after: Span) -> Option<PathSample> {
    let next = path.partition_point(|sample| sample.after < after);
    let (Some(before), Some(later)) = (
        next.checked_sub(1).and_then(|i| path.get(i)),
        path.get(next),
    ) else {
        return if next == 0 { path.first() } else { path.last() }.copied();
    };
    let span = (later.after - before.after).s();
    let share = if span > 0.0 {
        (after - before.after).s() / span
    } else {
        1.0
    };
    Some(PathSample {
        after,
        x: before.x + (later.x - before.x) * share,
        y: before.y + (later.y - before.y) * share,
        z: before.z + (later.z - before.z) * share,
        ground_speed: before.ground_speed + (later.ground_speed - before.ground_speed) * share,
        true_airspeed: before.true_airspeed + (later.true_airspeed - before.true_airspeed) * share,
        climb: before.climb + (later.climb - before.climb) * share,
        nose_off_path: before.nose_off_path + (later.nose_off_path - before.nose_off_path) * share,
    })
}

/// The piecewise linear map through `knots`, with slope 1 outside them; what is mapped from never decreases.
fn interpolated(knots: impl Iterator<Item = (f64, f64)>, value: f64) -> f64 {
    let mut before: Option<(f64, f64)> = None;
    for (from, to) in knots {
        if from <= value {
            before = Some((from, to));
            continue;
        }
        return match before {
            Some((start, mapped)) => mapped + (value - start) / (from - start) * (to - mapped),
            None => to + (value - from),
        };
    }
    before.map_or(value, |(from, to)| to + (value - from))
}

impl Moments {
    /// The `round`th flying (from 0) of the figure called `id`.
    pub fn figure(&self, id: &Name, round: usize) -> Option<&FigureTimes> {
        self.figures
            .iter()
            .filter(|figure| figure.id == *id)
            .nth(round)
    }

    /// Every hush, in order of time.
    pub fn hushes(&self) -> Vec<(Instant, Instant)> {
        let mut hushes: Vec<_> = self
            .figures
            .iter()
            .filter(|figure| !figure.held)
            .flat_map(|figure| figure.hush.iter().copied())
            .collect();
        hushes.sort();
        hushes
    }

    /// When the display begins: at show zero, or with its first figure where that is earlier.
    pub fn begin(&self) -> Instant {
        let first = self.figures.iter().map(FigureTimes::start).min();
        first.unwrap_or(Instant::ZERO).min(Instant::ZERO)
    }

    /// When the last figure ends; `None` when nothing is flown.
    pub fn end(&self) -> Option<Instant> {
        self.figures.iter().map(FigureTimes::end).max()
    }
}

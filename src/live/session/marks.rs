//! Marks: which point each belongs to, undone, shifted.

use super::ask::Ask;
use super::expect::is_awaited;
use super::{Mode, Session};
use crate::live::estimate::{Assignment, Candidate, assign, mark_spread};
use crate::live::event::{Event, Mark, MarkKind, PointOf, What};
use crate::show::PointName;
use crate::timeline::Moments;
use crate::units::{Instant, Length, Span, Speed};

/// A mark that has been given to a point.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TakenMark {
    /// What was seen.
    pub kind: MarkKind,
    /// When it was keyed as seen.
    pub observed: Instant,
    /// The point it was given to.
    pub point: PointOf,
}

/// A point that a mark could be of, as it is expected to be seen from the stand.
struct Possible {
    point: PointOf,
    candidate: Candidate,
}

impl Session {
    pub(super) fn take_mark(&mut self, mark: &Mark) {
        if matches!(self.mode, Mode::Accident { .. }) {
            return;
        }
        let observed = mark.observed.min(self.now);
        if let Some(point) = &mark.point {
            if self.has_point(point) {
                self.keep_mark(mark.kind, observed, point.clone());
            }
            return;
        }
        let possible = self.possible_points(mark.kind);
        let spread = possible
            .first()
            .map_or(Span::ZERO, |first| mark_spread(&first.point.point));
        let candidates: Vec<Candidate> = possible.iter().map(|point| point.candidate).collect();
        match assign(&candidates, observed, spread) {
            Assignment::To(i) | Assignment::Fuses(i) => {
                self.keep_mark(mark.kind, observed, possible[i].point.clone());
            }
            Assignment::Ask(nearest) => {
                let mut offered: Vec<PointOf> = Vec::new();
                for point in nearest.iter().map(|&i| &possible[i].point) {
                    if !offered.contains(point) {
                        offered.push(point.clone());
                    }
                }
                self.ask = Some(Ask {
                    kind: mark.kind,
                    observed,
                    offered,
                });
            }
        }
    }

    fn keep_mark(&mut self, kind: MarkKind, observed: Instant, point: PointOf) {
        let expected = self.expected_point(&point);
        let seen = observed - self.parallax_of(&point);
        if let Some(expected) = expected {
            let late = seen - expected;
            let word = if late < Span::ZERO { "early" } else { "late" };
            self.notice(format!(
                "{} {} marked, {:.1} s {word} on the estimate",
                point.key,
                point.point,
                late.abs().s()
            ));
        }
        self.put_positions_aside(&point);
        self.marks.push(TakenMark {
            kind,
            observed,
            point,
        });
        self.ask = None;
        self.expect();
    }

    pub(super) fn undo_mark(&mut self) {
        // A mark still being asked about is the last one.
        if self.ask.take().is_some() {
            return;
        }
        if let Some(mark) = self.marks.pop() {
            self.notice(format!(
                "Mark of {} {} undone",
                mark.point.key, mark.point.point
            ));
            self.expect();
        }
    }

    pub(super) fn shift_mark(&mut self, by: Span) {
        let now = self.now;
        // A mark still being asked about is the last one.
        if let Some(ask) = &mut self.ask {
            ask.observed = (ask.observed + by).min(now);
            return;
        }
        let Some(mark) = self.marks.last_mut() else {
            return;
        };
        mark.observed = (mark.observed + by).min(now);
        let text = format!(
            "Mark of {} {} shifted by {by}",
            mark.point.key, mark.point.point
        );
        self.notice(text);
        self.expect();
    }

    /// When a marked point really was, as the mark says: the stand's parallax taken off.
    pub fn seen_at(&self, mark: &TakenMark) -> Instant {
        mark.observed - self.parallax_of(&mark.point)
    }

    /// The marks a stand would have keyed by `until`, had everything gone as planned.
    pub fn planned_marks(&self, until: Instant) -> Vec<Event> {
        let mut events = Vec::new();
        for (times, flown) in self
            .plan
            .moments
            .figures
            .iter()
            .zip(&self.plan.flight.figures)
        {
            for point in flown.points.iter().filter(|point| is_awaited(point)) {
                let point_of = PointOf {
                    key: times.key.clone(),
                    point: point.point.clone(),
                };
                let (Some(kind), Some(expected)) =
                    (MarkKind::of(&point.point), times.expected(&point.point))
                else {
                    continue;
                };
                let observed = expected.at + self.parallax_of(&point_of);
                let what = What::Mark(Mark {
                    kind,
                    observed,
                    point: Some(point_of),
                });
                events.push(Event { at: observed, what });
            }
        }
        events.retain(|event| event.at <= until);
        events.sort_by_key(|event| event.at);
        events
    }

    fn has_point(&self, point: &PointOf) -> bool {
        self.expected_point(point).is_some()
    }

    fn expected_point(&self, point: &PointOf) -> Option<Instant> {
        let figure = self.moments.figures.iter().find(|f| f.key == point.key)?;
        Some(figure.expected(&point.point)?.at)
    }

    /// Every point a mark of this kind could be of: where it is expected, and where it would be if
    /// an earlier point was not missed but only not keyed.
    fn possible_points(&self, kind: MarkKind) -> Vec<Possible> {
        let mut possible = Vec::new();
        self.add_possible(kind, &self.moments, &mut possible);
        self.add_possible(kind, &self.unslipped(), &mut possible);
        possible
    }

    fn add_possible(&self, kind: MarkKind, moments: &Moments, possible: &mut Vec<Possible>) {
        for (figure, flown) in moments.figures.iter().zip(&self.flight.figures) {
            if figure.held {
                continue;
            }
            for (name, _) in &figure.points {
                // What comes after a figure was broken off is no point of it any more.
                let Some(expected) = figure.expected(name) else {
                    continue;
                };
                if !kind.is_of(name) {
                    continue;
                }
                let point = PointOf {
                    key: figure.key.clone(),
                    point: name.clone(),
                };
                let along = flown
                    .points
                    .iter()
                    .find(|point| point.point == *name)
                    .map_or(Speed::ZERO, |point| point.along);
                let parallax = parallax(name, self.show.site.stand.0, along);
                let candidate = Candidate {
                    point: possible.len(),
                    expected: expected.at + parallax,
                    spread: expected.spread,
                    marked: self.marks.iter().any(|mark| mark.point == point),
                };
                possible.push(Possible { point, candidate });
            }
        }
    }

    fn parallax_of(&self, point: &PointOf) -> Span {
        let along = self
            .flight
            .figures
            .iter()
            .find(|figure| figure.key == point.key)
            .and_then(|figure| figure.points.iter().find(|p| p.point == point.point))
            .map_or(Speed::ZERO, |point| point.along);
        parallax(&point.point, self.show.site.stand.0, along)
    }
}

/// How much later than at crowd centre an aircraft is abeam of a stand at `stand` along the crowd line.
/// Only what is seen passing the stand has any; zero where the speed along the line is not known.
pub(crate) fn parallax(point: &PointName, stand: Length, along: Speed) -> Span {
    let seen_passing = matches!(point, PointName::Abeam(_));
    if !seen_passing || along.mps().abs() < 1.0 {
        return Span::ZERO;
    }
    Span::from_s(stand.m() / along.mps())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stand_the_aircraft_reaches_first_sees_it_early() {
        let abeam = PointName::Abeam(1);
        let left = Length::from_m(-40.0);
        assert_eq!(
            parallax(&abeam, left, Speed::from_mps(80.0)),
            Span::from_s(-0.5)
        );
        assert_eq!(
            parallax(&abeam, left, Speed::from_mps(-80.0)),
            Span::from_s(0.5)
        );
        assert_eq!(
            parallax(&PointName::Gate(1), left, Speed::from_mps(80.0)),
            Span::ZERO
        );
        assert_eq!(parallax(&abeam, left, Speed::ZERO), Span::ZERO);
    }
}

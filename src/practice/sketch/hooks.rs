//! What times hang on, found once for all shows.

use crate::flight::{FlownFigure, part_of};
use crate::show::{Anchor, Name, PointName, Show, TimeExpression};
use crate::timeline::clock::clock_instant;
use crate::units::{Instant, Span};

/// A time of the document: so long after what it hangs on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Time {
    pub(super) hook: Hook,
    pub(super) offset: Span,
}

/// What a time hangs on; figures by their points among all that are flown, all else by index in the show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Hook {
    /// Nothing that comes.
    Nothing,
    At(Instant),
    Flown(Place),
    BlockStart(usize),
    BlockEnd(usize),
    TrackStart(usize),
    TrackEnd(usize),
    /// A place in a track.
    Hit(usize, Span),
}

/// When something comes, as things stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Due {
    At(Instant),
    /// Nobody knows yet.
    Held,
    Never,
}

impl Due {
    pub(super) fn instant(self) -> Option<Instant> {
        match self {
            Due::At(at) => Some(at),
            Due::Held | Due::Never => None,
        }
    }

    pub(super) fn later(self, by: Span) -> Due {
        match self {
            Due::At(at) => Due::At(at + by),
            other => other,
        }
    }
}

/// Where a place of a modelled path is on the clock: a share of the way from one point to the next, or so long
/// after a point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Place {
    Between(usize, f64),
    Beyond(usize, Span),
}

impl Place {
    /// `after` the start of a figure whose first point is `first` among all.
    pub(super) fn of(figure: &FlownFigure, first: usize, after: Span) -> Place {
        let passed = figure.points.partition_point(|point| point.after <= after);
        let at = |i: usize| figure.points[i].after;
        match (passed.checked_sub(1), passed < figure.points.len()) {
            (Some(before), true) => {
                let share = (after - at(before)).s() / (at(passed) - at(before)).s();
                Place::Between(first + before, share)
            }
            (Some(last), false) => Place::Beyond(first + last, after - at(last)),
            (None, true) => Place::Beyond(first, after - at(0)),
            (None, false) => Place::Beyond(first, after),
        }
    }

    pub(super) fn instant(self, points: &[Instant]) -> Instant {
        match self {
            Place::Between(before, share) => {
                let (from, to) = (points[before], points[before + 1]);
                from + (to - from) * share
            }
            Place::Beyond(point, by) => points[point] + by,
        }
    }
}

/// Finds what times hang on.
pub(super) struct Finder<'a> {
    pub(super) show: &'a Show,
    pub(super) figures: &'a [FlownFigure],
    /// The first point of each figure among all.
    pub(super) firsts: &'a [usize],
}

impl Finder<'_> {
    /// A time that serves the `round`th flying (from 0) of the figure it names.
    pub(super) fn time(&self, time: &TimeExpression, round: usize) -> Time {
        let (hook, later) = match &time.anchor {
            Anchor::Point { of, point } => match self.flyings(of).nth(round) {
                Some(figure) => self
                    .point(figure, point)
                    .map_or((Hook::Nothing, Span::ZERO), |(place, later)| {
                        (Hook::Flown(place), later)
                    }),
                None => (self.cue_point(of, point), Span::ZERO),
            },
            Anchor::Show => (Hook::At(Instant::ZERO), Span::ZERO),
            Anchor::Clock(clock) => {
                let at = clock_instant(self.show, *clock);
                (at.map_or(Hook::Nothing, Hook::At), Span::ZERO)
            }
        };
        Time {
            hook,
            offset: time.offset + later,
        }
    }

    /// How often what hangs on a time comes: with every flying of the figure it names.
    pub(super) fn rounds(&self, time: Option<&TimeExpression>) -> usize {
        match time.map(|time| &time.anchor) {
            Some(Anchor::Point { of, .. }) => self.flyings(of).count().max(1),
            _ => 1,
        }
    }

    fn flyings(&self, id: &Name) -> impl Iterator<Item = usize> {
        let figures = self.figures.iter().enumerate();
        figures.filter_map(move |(i, figure)| (figure.id == *id).then_some(i))
    }

    /// Where a point of a figure is, and how much later than there it is heard, if it is a sound.
    fn point(&self, figure: usize, point: &PointName) -> Option<(Place, Span)> {
        let (flown, first) = (&self.figures[figure], self.firsts[figure]);
        let place = |name: &PointName| {
            let i = flown.points.iter().position(|point| point.point == *name);
            i.map(|i| Place::Beyond(first + i, Span::ZERO))
        };
        match point {
            PointName::Heard(n) => {
                let pass = usize::from(*n).checked_sub(1)?;
                Some((place(&PointName::Abeam(*n))?, *flown.heard_after.get(pass)?))
            }
            PointName::Own(aircraft, point) => {
                let (after, heard_after) = part_of(&flown.parts, aircraft)?.own(*point)?;
                Some((Place::of(flown, first, after), heard_after))
            }
            other => Some((place(other)?, Span::ZERO)),
        }
    }

    /// A point of a block or a track.
    fn cue_point(&self, of: &Name, point: &PointName) -> Hook {
        if let Some(block) = self.show.blocks.iter().position(|block| block.id == *of) {
            return match point {
                PointName::End => Hook::BlockEnd(block),
                _ => Hook::BlockStart(block),
            };
        }
        let track = self.show.tracks.iter().position(|track| track.id == *of);
        track.map_or(Hook::Nothing, |track| self.track_point(track, point))
    }

    fn track_point(&self, track: usize, point: &PointName) -> Hook {
        match point {
            PointName::End => Hook::TrackEnd(track),
            PointName::Hit(name) => {
                let mut hits = self.show.tracks[track].hits.iter();
                let hit = hits.find(|(hit, _)| hit == name);
                hit.map_or(Hook::Nothing, |(_, at)| Hook::Hit(track, *at))
            }
            _ => Hook::TrackStart(track),
        }
    }
}

//! What flying a list of figures gives: for each figure its points in time, its path, its hush.

use std::sync::Arc;

use crate::show::{Fault, Name, OwnPoint, PointName};
use crate::units::{Angle, Length, Span, Speed};

/// One figure to be flown. A figure flown twice is two entries with different keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// What this flying of it is called: the figure's id, then `id#2`, `id#3`.
    pub key: Name,
    /// Which figure.
    pub figure: Name,
    /// The profile whose version of it is flown.
    pub profile: Name,
    /// Whether it is flown from the other side than the document says.
    pub mirrored: bool,
}

impl Entry {
    /// The key of the `nth` flying (from 0) of a figure.
    pub fn key_of(figure: &Name, nth: usize) -> Name {
        match nth {
            0 => figure.clone(),
            _ => format!("{figure}#{}", nth + 1).into(),
        }
    }
}

/// A list of figures, flown.
#[derive(Debug, Clone)]
pub struct Flight {
    /// In the order of the entries.
    pub figures: Vec<FlownFigure>,
    /// What cannot be flown, on its line of the document.
    pub faults: Vec<Fault>,
}

/// One figure, flown in the planned weather. All times are from its own start.
#[derive(Debug, Clone)]
pub struct FlownFigure {
    /// The entry's key.
    pub key: Name,
    /// The figure's id.
    pub id: Name,
    /// Who flies it.
    pub aircraft: Vec<Name>,
    /// Its points, in order of time: `Start` first, `End` last; inbound, gates and abeams between.
    pub points: Vec<FlownPoint>,
    /// For each pass, how long after abeam its sound (from abeam) arrives at crowd centre.
    pub heard_after: Vec<Span>,
    /// When it is too loud at crowd centre to talk over.
    pub hush: Vec<(Span, Span)>,
    /// What its aircraft fly: one for those that fly as one, the first that of its first aircraft; never empty.
    pub parts: Arc<[FlownPart]>,
    /// How much longer it takes because of a reposition put before it; `None` where none is.
    pub reposition: Option<Span>,
}

/// What some of a figure's aircraft flew as one. All times are from the figure's start.
#[derive(Debug, Clone)]
pub struct FlownPart {
    /// Which.
    pub aircraft: Vec<Name>,
    /// When they passed crowd centre.
    pub abeams: Vec<Span>,
    /// For each pass, how long after it its sound arrives at crowd centre.
    pub heard_after: Vec<Span>,
    /// When they had flown it.
    pub ends: Span,
    /// Where they were, in order of time; empty for a timed figure.
    pub path: Vec<PathSample>,
}

impl FlownFigure {
    /// Where its first aircraft is, in order of time; empty for a timed figure.
    pub fn path(&self) -> &[PathSample] {
        self.parts.first().map_or(&[], |part| &part.path)
    }

    /// Where one of its aircraft is, in order of time; empty for a timed figure, or none of its own.
    pub fn path_of(&self, aircraft: &Name) -> &[PathSample] {
        part_of(&self.parts, aircraft).map_or(&[], |part| &part.path)
    }

    /// The own points of its aircraft that fly apart from the first, each with when it is on the path: every
    /// pass, and when they have flown what is theirs.
    pub fn own_points(&self) -> impl Iterator<Item = (PointName, Span)> {
        self.parts.iter().skip(1).flat_map(|part| {
            let passes = (1..=u8::MAX).map(OwnPoint::Abeam).zip(part.abeams.clone());
            let points = passes.chain([(OwnPoint::End, part.ends)]);
            let first = part.aircraft.first();
            points.filter_map(move |(point, after)| {
                Some((PointName::Own(first?.clone(), point), after))
            })
        })
    }
}

/// The part of a figure that an aircraft flies.
pub fn part_of<'a>(parts: &'a [FlownPart], aircraft: &Name) -> Option<&'a FlownPart> {
    parts.iter().find(|part| part.aircraft.contains(aircraft))
}

impl FlownPart {
    /// Where on the path a point of it is, and how long after that it is heard; no time for one that is seen.
    pub fn own(&self, point: OwnPoint) -> Option<(Span, Span)> {
        let nth = |times: &[Span], n: u8| times.get(usize::from(n).checked_sub(1)?).copied();
        match point {
            OwnPoint::Abeam(n) => Some((nth(&self.abeams, n)?, Span::ZERO)),
            OwnPoint::Heard(n) => Some((nth(&self.abeams, n)?, nth(&self.heard_after, n)?)),
            OwnPoint::End => Some((self.ends, Span::ZERO)),
        }
    }
}

/// One point of a flown figure.
#[derive(Debug, Clone, PartialEq)]
pub struct FlownPoint {
    /// Which.
    pub point: PointName,
    /// When, from the figure's start.
    pub after: Span,
    /// How it is come by from the point before it (for `Start`: all zero).
    pub step: Step,
    /// Speed along the display line there, positive to the crowd's right; zero for timed figures.
    pub along: Speed,
}

/// The way from one point of a chain to the next, as the estimate sees it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Step {
    /// How long it takes as planned.
    pub takes: Span,
    /// How much longer, in seconds, for each metre a second of wind more towards the crowd's right.
    pub seconds_per_mps: f64,
    /// Whether the crew's pace (fast or slow throughout) acts on it; not on holds.
    pub paced: bool,
    /// One standard deviation of it, apart from pace and the mean wind; gusts are in it.
    pub spread: Span,
    /// Whether it ends only when somebody decides so: the end of a hold.
    pub waits: bool,
}

/// The aircraft at one instant, in the site frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathSample {
    /// From the figure's start.
    pub after: Span,
    /// Along the display line, positive to the crowd's right of crowd centre.
    pub x: Length,
    /// Away from the crowd line.
    pub y: Length,
    /// Above the site.
    pub z: Length,
    /// Speed over the ground, along it and upwards.
    pub ground_speed: Speed,
    /// Speed through the air; zero in a hold.
    pub true_airspeed: Speed,
    /// The angle at which the path climbs through the air; negative downwards.
    pub climb: Angle,
    /// The angle between its nose and its path through the air; zero except where it falls.
    pub nose_off_path: Angle,
}

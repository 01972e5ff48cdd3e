//! Which points a thing has, for the expressions that name them.

use std::ops::Range;

use crate::show::{Figure, Leg, Manner, Name, PointName, Show};

/// What an id can stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Figure,
    Block,
    Call,
    Track,
}

/// An id, and where it is written.
pub(super) struct Declared {
    pub(super) kind: Kind,
    pub(super) id: Name,
    pub(super) at: Range<usize>,
    /// Whether what it stands for was read without faults.
    pub(super) sound: bool,
}

impl Kind {
    pub(super) const fn noun(self) -> &'static str {
        match self {
            Kind::Figure => "figure",
            Kind::Block => "block",
            Kind::Call => "call",
            Kind::Track => "track",
        }
    }
}

/// Every point of the thing called `id`, as written after the dot.
pub(super) fn points_of(show: &Show, kind: Kind, id: &Name) -> Vec<PointName> {
    match kind {
        Kind::Figure => show.figure(id).map(points_of_figure).unwrap_or_default(),
        Kind::Block => vec![PointName::Start, PointName::End],
        Kind::Call => Vec::new(),
        Kind::Track => {
            let hits = show.track(id).map(|track| track.hits.as_slice());
            let hits = hits.unwrap_or_default().iter();
            [PointName::Start, PointName::End]
                .into_iter()
                .chain(hits.map(|(hit, _)| PointName::Hit(hit.clone())))
                .collect()
        }
    }
}

fn points_of_figure(figure: &Figure) -> Vec<PointName> {
    let manners =
        || std::iter::once(&figure.manner).chain(figure.versions.iter().map(|(_, manner)| manner));
    let count = |n: usize| u8::try_from(n).unwrap_or(u8::MAX);
    let passes = count(manners().map(passes).max().unwrap_or(0));
    let mut points = vec![PointName::Start];
    if manners().any(holds) {
        points.push(PointName::Inbound);
    }
    points.extend((1..=count(figure.gates.len())).map(PointName::Gate));
    points.extend((1..=passes).map(PointName::Abeam));
    points.extend((1..=passes).map(PointName::Heard));
    if figure.aircraft.len() > 1 {
        points.push(PointName::Cross);
    }
    points.push(PointName::End);
    points
}

fn passes(manner: &Manner) -> usize {
    match manner {
        Manner::Timed { passes, .. } => passes.len(),
        Manner::Flown(legs) => legs
            .iter()
            .filter(|leg| matches!(leg, Leg::Run { pass: true, .. }))
            .count(),
    }
}

fn holds(manner: &Manner) -> bool {
    match manner {
        Manner::Timed { .. } => false,
        Manner::Flown(legs) => legs.iter().any(|leg| matches!(leg, Leg::Hold { .. })),
    }
}

//! Which points a thing has, for the expressions that name them.

use std::collections::HashMap;
use std::ops::Range;

use crate::show::{
    Block, Figure, Leg, Manner, Motion, Name, OwnPoint, PointName, Show, Track, count_passes,
};

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

/// What an id stands for, read.
#[derive(Clone, Copy)]
pub(super) enum Thing<'s> {
    Figure(&'s Figure),
    Block(&'s Block),
    Call,
    Track(&'s Track),
}

/// Everything that has an id of its own, by its id.
pub(super) fn things(show: &Show) -> HashMap<&str, Thing<'_>> {
    let figures = show
        .figures
        .iter()
        .map(|figure| (figure.id.as_str(), Thing::Figure(figure)));
    let blocks = show
        .blocks
        .iter()
        .map(|block| (block.id.as_str(), Thing::Block(block)));
    let calls = show
        .calls
        .iter()
        .map(|call| (call.id.as_str(), Thing::Call));
    let tracks = show
        .tracks
        .iter()
        .map(|track| (track.id.as_str(), Thing::Track(track)));
    let mut things = HashMap::new();
    let mut doubled = Vec::new();
    for (id, thing) in figures.chain(blocks).chain(calls).chain(tracks) {
        if things.insert(id, thing).is_some() {
            doubled.push(id);
        }
    }
    for id in doubled {
        things.remove(id);
    }
    things
}

impl Thing<'_> {
    /// Its points, as written after the dot.
    pub(super) fn points(self) -> Vec<PointName> {
        match self {
            Thing::Figure(figure) => points_of_figure(figure),
            Thing::Block(_) => vec![PointName::Start, PointName::End],
            Thing::Call => Vec::new(),
            Thing::Track(track) => [PointName::Start, PointName::End]
                .into_iter()
                .chain(
                    track
                        .hits
                        .iter()
                        .map(|(hit, _)| PointName::Hit(hit.clone())),
                )
                .collect(),
        }
    }

    /// Whether the plan gives it a time: fillers and tracks that only a key starts have none.
    pub(super) const fn is_planned(self) -> bool {
        match self {
            Thing::Figure(_) | Thing::Call => true,
            Thing::Block(block) => block.starts.is_some(),
            Thing::Track(track) => track.starts.is_some() || track.meets.is_some(),
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
    if manners().any(|manner| crosses(figure, manner)) {
        points.push(PointName::Cross);
    }
    points.push(PointName::End);
    if manners().any(|manner| matches!(manner, Manner::Apart(_))) {
        for aircraft in &figure.aircraft {
            let passes = manners().map(|manner| passes_of(manner, aircraft));
            let passes = count(passes.max().unwrap_or(0));
            let abeams = (1..=passes).map(OwnPoint::Abeam);
            let heard = (1..=passes).map(OwnPoint::Heard);
            let own = abeams.chain(heard).chain([OwnPoint::End]);
            points.extend(own.map(|point| PointName::Own(aircraft.clone(), point)));
        }
    }
    points
}

/// The passes of its first part: those are the figure's.
fn passes(manner: &Manner) -> usize {
    match manner {
        Manner::Timed { passes, .. } => passes.len(),
        flown => flown.parts().first().map_or(0, |legs| count_passes(legs)),
    }
}

/// The passes of one of its aircraft.
fn passes_of(manner: &Manner, aircraft: &Name) -> usize {
    let Manner::Apart(parts) = manner else {
        return passes(manner);
    };
    let mut own = parts.iter().filter(|part| part.aircraft.contains(aircraft));
    own.next().map_or(0, |part| count_passes(&part.legs))
}

fn holds(manner: &Manner) -> bool {
    first_part(manner).any(|leg| matches!(leg.motion, Motion::Hold { .. }))
}

/// Whether aircraft cross in it; of a figure that is only timed the first pass of several is where they do.
fn crosses(figure: &Figure, manner: &Manner) -> bool {
    match manner {
        Manner::Timed { passes, .. } => figure.aircraft.len() > 1 && !passes.is_empty(),
        flown => flown.legs().any(|leg| leg.cross),
    }
}

fn first_part(manner: &Manner) -> impl Iterator<Item = &Leg> {
    manner.parts().into_iter().take(1).flatten()
}

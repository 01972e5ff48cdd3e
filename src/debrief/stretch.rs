//! Stretches: from one thing seen of an aircraft to the next, how much longer than planned; and which part of which
//! figure that is put down to.
//!
//! What a stretch takes longer is shared among the figures it goes through by the variance each is stated to have:
//! the likeliest way to share it, all of them Gaussian.

use super::fold::Folded;
use super::seen::{Flown, How, LOG_SPREAD};
use crate::flight::FlownFigure;
use crate::live::estimate::{PACE_SPREAD, WIND_SPREAD, mark_spread};
use crate::show::{Name, PointName};
use crate::timeline::chain::{Place, places};
use crate::units::{Instant, Share};

/// A part of a figure that takes its own time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PartOf {
    /// Its hold, until inbound.
    Hold,
    /// What is flown, or timed.
    Flight,
}

impl PartOf {
    /// What people call this part of a figure.
    pub fn name(self, figure: &Name) -> String {
        match self {
            PartOf::Flight => figure.to_string(),
            PartOf::Hold => format!("{figure} hold"),
        }
    }
}

/// How much longer than planned a part of a figure took, once.
#[derive(Debug, Clone, PartialEq)]
pub struct Took {
    /// The figure.
    pub figure: Name,
    /// The profile whose own version of it was flown; `None`: the figure's own.
    pub version: Option<Name>,
    /// Which part of it.
    pub part: PartOf,
    /// By how much, s.
    pub longer: f64,
    /// The variance it is stated to have of its own, s².
    pub own: f64,
    /// The variance that pace, wind and whoever looked bring to it, s².
    pub other: f64,
}

/// A part of a figure of which a smaller share lies between things that were seen says nothing of all of it.
pub const ENOUGH: Share = Share::from_whole(0.3);

/// What each figure's parts took, as far as they lie between things that were seen.
pub fn took(folded: &Folded, points: &[Flown]) -> Vec<Took> {
    let figures = folded.session.figures();
    let mut shares: Vec<Portion> = Vec::new();
    for chain in chains(&places(folded.session.show(), figures)) {
        for stretch in stretches(folded, points, &chain) {
            shares.extend(share_out(&stretch));
        }
    }
    together(folded, &shares)
}

/// Every part of every figure of which something was flown.
pub fn flown_parts(folded: &Folded, points: &[Flown]) -> Vec<(Name, PartOf)> {
    let figures = folded.session.figures().iter().enumerate();
    let begun = figures.filter(|(_, flown)| points.iter().any(|point| point.key == flown.key));
    let parts = begun.flat_map(|(index, flown)| {
        [PartOf::Hold, PartOf::Flight]
            .into_iter()
            .filter(move |part| lasts(index, flown, *part) > 0.0)
            .map(|part| (flown.id.clone(), part))
    });
    parts.collect()
}

/// How long a part of a figure is planned to take, s.
fn lasts(index: usize, flown: &FlownFigure, part: PartOf) -> f64 {
    let legs = flown.points.iter().filter_map(|point| leg(index, point));
    legs.filter(|leg| leg.part == part)
        .map(|leg| leg.takes)
        .sum()
}

/// One step of a chain.
#[derive(Clone, Copy)]
struct Leg {
    figure: usize,
    part: PartOf,
    takes: f64,
    own: f64,
    by_pace: f64,
    by_wind: f64,
}

/// From one thing seen to the next.
struct Stretch {
    legs: Vec<Leg>,
    longer: f64,
    /// The variance of the two sightings.
    sightings: f64,
}

/// What a stretch puts down to a part of a figure.
struct Portion {
    figure: usize,
    part: PartOf,
    takes: f64,
    longer: f64,
    own: f64,
    other: f64,
}

/// The figures of each chain, in order.
fn chains(places: &[Place]) -> Vec<Vec<usize>> {
    let mut chains: Vec<(&Name, Vec<usize>)> = Vec::new();
    for (figure, place) in places.iter().enumerate() {
        match chains.iter_mut().find(|(name, _)| **name == place.chain) {
            Some((_, chain)) => chain.push(figure),
            None => chains.push((&place.chain, vec![figure])),
        }
    }
    chains.into_iter().map(|(_, chain)| chain).collect()
}

/// Every stretch of a chain that nothing broke: nobody held the show up, and no figure waited for a stated time or
/// another aircraft. One that did begins a stretch of its own when that came, as sharply as that is known.
fn stretches(folded: &Folded, points: &[Flown], chain: &[usize]) -> Vec<Stretch> {
    let mut stretches = Vec::new();
    let mut last: Option<(Instant, f64)> = None;
    let mut legs: Vec<Leg> = Vec::new();
    for &figure in chain {
        let Some(flown) = folded.session.figures().get(figure) else {
            continue;
        };
        if let Some(begins) = folded.session.waited_for(figure) {
            legs.clear();
            last = Some((begins.at, begins.spread.s().powi(2)));
        } else if is_restarted(folded, flown) {
            last = None;
        }
        for point in &flown.points {
            legs.extend(leg(figure, point));
            let Some((at, variance)) = sighting(points, flown, &point.point) else {
                continue;
            };
            if let Some((from, before)) = last {
                let planned: f64 = legs.iter().map(|leg| leg.takes).sum();
                stretches.push(Stretch {
                    legs: std::mem::take(&mut legs),
                    longer: (at - from).s() - planned,
                    sightings: before + variance,
                });
            }
            legs.clear();
            last = Some((at, variance));
        }
        if is_broken(folded, flown) {
            last = None;
        }
    }
    stretches
}

/// Whether somebody said when a figure began, after the show was held up.
fn is_restarted(folded: &Folded, flown: &FlownFigure) -> bool {
    let mut programme = folded.session.programme().iter();
    programme.any(|flying| flying.entry.key == flown.key && flying.restart.is_some())
}

fn is_broken(folded: &Folded, flown: &FlownFigure) -> bool {
    let mut programme = folded.session.programme().iter();
    let flying = programme.find(|flying| flying.entry.key == flown.key);
    flying.is_none_or(|flying| flying.broken.is_some() || flying.held)
}

/// The step to a point; none to a figure's first.
fn leg(figure: usize, point: &crate::flight::FlownPoint) -> Option<Leg> {
    let step = &point.step;
    (point.point != PointName::Start).then(|| Leg {
        figure,
        part: if step.waits {
            PartOf::Hold
        } else {
            PartOf::Flight
        },
        takes: step.takes.s(),
        own: step.spread.s().powi(2),
        by_pace: if step.paced { step.takes.s() } else { 0.0 },
        by_wind: step.seconds_per_mps,
    })
}

/// When a point was seen, and the variance of that.
fn sighting(points: &[Flown], flown: &FlownFigure, point: &PointName) -> Option<(Instant, f64)> {
    let seen = points
        .iter()
        .find(|seen| seen.key == flown.key && seen.point == *point)?;
    let spread = match seen.how {
        How::Marked => mark_spread(point),
        How::Logged => LOG_SPREAD,
        How::Estimated | How::Assumed | How::Sent => return None,
    };
    Some((seen.at, spread.s().powi(2)))
}

fn share_out(stretch: &Stretch) -> Vec<Portion> {
    let sum = |of: fn(&Leg) -> f64| stretch.legs.iter().map(of).sum::<f64>();
    let own = sum(|leg| leg.own);
    if own <= 0.0 {
        return Vec::new();
    }
    let pace = sum(|leg| leg.by_pace) * PACE_SPREAD.whole();
    let wind = sum(|leg| leg.by_wind) * WIND_SPREAD.mps();
    let other = pace.powi(2) + wind.powi(2) + stretch.sightings;
    let portion = |leg: &Leg| {
        let part = leg.own / own;
        Portion {
            figure: leg.figure,
            part: leg.part,
            takes: leg.takes,
            longer: stretch.longer * part,
            own: leg.own,
            other: other * part.powi(2),
        }
    };
    stretch.legs.iter().map(portion).collect()
}

/// All shares of each part of each figure, as of the whole part.
fn together(folded: &Folded, shares: &[Portion]) -> Vec<Took> {
    let mut took = Vec::new();
    for (index, flown) in folded.session.figures().iter().enumerate() {
        for part in [PartOf::Hold, PartOf::Flight] {
            let of: Vec<&Portion> = shares
                .iter()
                .filter(|share| share.figure == index && share.part == part)
                .collect();
            let sum =
                |of_share: fn(&Portion) -> f64| of.iter().map(|share| of_share(share)).sum::<f64>();
            let whole = lasts(index, flown, part);
            let covered = if whole > 0.0 {
                sum(|share| share.takes) / whole
            } else {
                0.0
            };
            if covered < ENOUGH.whole() {
                continue;
            }
            took.push(Took {
                figure: flown.id.clone(),
                version: version(folded, flown),
                part,
                longer: sum(|share| share.longer) / covered,
                own: sum(|share| share.own) / covered,
                other: sum(|share| share.other) / covered.powi(2),
            });
        }
    }
    took
}

/// The profile whose version of a figure was flown, where it has one.
fn version(folded: &Folded, flown: &FlownFigure) -> Option<Name> {
    let mut programme = folded.session.programme().iter();
    let flying = programme.find(|flying| flying.entry.key == flown.key)?;
    let profile = &flying.entry.profile;
    let figure = folded.session.show().figure(&flown.id)?;
    let mut versions = figure.versions.iter();
    versions
        .any(|(name, _)| name == profile)
        .then(|| profile.clone())
}

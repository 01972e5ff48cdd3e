//! Passes in position logs, each put to the pass of the programme it is.

use super::fold::Folded;
use super::seen::{self, Flown, Logged};
use crate::live::clock::ShowClock;
use crate::position::{Look, Pass, Passes};
use crate::show::{Name, PointName, Show};
use crate::units::{Instant, Span};

/// A pass of a log is that of the programme if it is no further from when that was thought to be.
const NEAR: Span = Span::from_ms(30_000);

/// One aircraft's log.
#[derive(Debug, Clone)]
pub struct Log {
    /// The aircraft, as the show calls it.
    pub aircraft: Name,
    /// Its passes, and its gaps.
    pub passes: Passes,
    /// Each of its fixes.
    pub looks: Vec<Look>,
}

/// A pass of the programme that a log shows.
#[derive(Debug, Clone)]
pub struct Passed {
    /// The aircraft.
    pub aircraft: Name,
    /// The entry.
    pub key: Name,
    /// Which pass of it.
    pub point: PointName,
    /// When it was abeam, on the show clock.
    pub at: Instant,
    /// When it was planned.
    pub planned: Option<Instant>,
    /// What the log says of it.
    pub pass: Pass,
}

/// A pass of the programme, and when it is thought to have been.
struct Thought {
    key: Name,
    point: PointName,
    planned: Option<Instant>,
    /// As it was seen or is estimated; and as it would be were nothing overdue, since a pass nobody keyed may have
    /// come all the same.
    at: Vec<Instant>,
}

/// The passes of the programme in the logs: each pass of an aircraft's figures with the pass of its log that is
/// nearest to when it was, half a minute at the most; none twice.
pub fn passed(show: &Show, folded: &Folded, clock: &ShowClock, logs: &[Log]) -> Vec<Passed> {
    let thought = thought(folded);
    let mut found: Vec<Passed> = logs
        .iter()
        .flat_map(|log| {
            let own = thought
                .iter()
                .filter(|one| flies(show, folded, &one.key, &log.aircraft));
            of_log(&own.collect::<Vec<_>>(), clock, log)
        })
        .collect();
    found.sort_by_key(|passed| passed.at);
    found
}

/// Every pass of the programme.
fn thought(folded: &Folded) -> Vec<Thought> {
    let session = &folded.session;
    let (points, unslipped) = (seen::points(folded, &[]), session.unslipped());
    let figures = session.moments().figures.iter();
    let passes = figures.filter(|times| !times.held).flat_map(|times| {
        let points = times.points.iter().map(|(point, _)| point);
        let passes = points.filter(|point| matches!(point, PointName::Abeam(_)));
        passes.map(|point| (&times.key, point))
    });
    passes
        .map(|(key, point)| {
            let seen = |flown: &&Flown| flown.key == *key && flown.point == *point;
            let seen = points.iter().find(seen).map(|flown| flown.at);
            let times = unslipped.figures.iter().find(|times| times.key == *key);
            let were = times.and_then(|times| times.expected(point));
            Thought {
                key: key.clone(),
                point: point.clone(),
                planned: session.planned_point(key, point),
                at: seen.into_iter().chain(were.map(|were| were.at)).collect(),
            }
        })
        .collect()
}

fn of_log(own: &[&Thought], clock: &ShowClock, log: &Log) -> Vec<Passed> {
    let mut pairs: Vec<(Span, usize, usize)> = Vec::new();
    for (i, thought) in own.iter().enumerate() {
        for (j, pass) in log.passes.passes.iter().enumerate() {
            let passed = clock.at_wall(pass.abeam.as_microsecond());
            let off = thought.at.iter().map(|at| (passed - *at).abs()).min();
            pairs.extend(off.filter(|off| *off <= NEAR).map(|off| (off, i, j)));
        }
    }
    pairs.sort();
    let (mut points, mut taken) = (vec![false; own.len()], vec![false; log.passes.passes.len()]);
    let mut found = Vec::new();
    for (_, i, j) in pairs {
        if points[i] || taken[j] {
            continue;
        }
        (points[i], taken[j]) = (true, true);
        let (thought, pass) = (own[i], &log.passes.passes[j]);
        found.push(Passed {
            aircraft: log.aircraft.clone(),
            key: thought.key.clone(),
            point: thought.point.clone(),
            at: clock.at_wall(pass.abeam.as_microsecond()),
            planned: thought.planned,
            pass: pass.clone(),
        });
    }
    found
}

/// Whether an aircraft flies an entry.
pub(super) fn flies(show: &Show, folded: &Folded, key: &Name, aircraft: &Name) -> bool {
    let mut programme = folded.session.programme().iter();
    let entry = programme.find(|flying| flying.entry.key == *key);
    let figure = entry.and_then(|flying| show.figure(&flying.entry.figure));
    figure.is_some_and(|figure| figure.aircraft.contains(aircraft))
}

/// What the logs say of points, as the debrief takes it: of several aircraft of one figure, the first's; a pass
/// guessed across a gap says nothing.
pub fn logged(passed: &[Passed]) -> Vec<Logged> {
    let mut logged: Vec<Logged> = Vec::new();
    for one in passed.iter().filter(|one| one.pass.in_gap.is_none()) {
        let same = |other: &Logged| other.key == one.key && other.point == one.point;
        if !logged.iter().any(same) {
            logged.push(Logged {
                key: one.key.clone(),
                point: one.point.clone(),
                at: one.at,
            });
        }
    }
    logged
}

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

/// The passes of the programme in the logs: each pass of an aircraft's figures with the pass of its log that is
/// nearest to when it was, half a minute at the most; none twice.
pub fn passed(show: &Show, folded: &Folded, clock: &ShowClock, logs: &[Log]) -> Vec<Passed> {
    let points = seen::points(folded, &[]);
    let mut found: Vec<Passed> = logs
        .iter()
        .flat_map(|log| of_log(show, (folded, &points), clock, log))
        .collect();
    found.sort_by_key(|passed| passed.at);
    found
}

fn of_log(
    show: &Show,
    (folded, points): (&Folded, &[Flown]),
    clock: &ShowClock,
    log: &Log,
) -> Vec<Passed> {
    let own: Vec<&Flown> = points
        .iter()
        .filter(|flown| matches!(flown.point, PointName::Abeam(_)))
        .filter(|flown| flies(show, folded, &flown.key, &log.aircraft))
        .collect();
    let mut pairs: Vec<(Span, usize, usize)> = Vec::new();
    for (i, flown) in own.iter().enumerate() {
        for (j, pass) in log.passes.passes.iter().enumerate() {
            let off = (clock.at_wall(pass.abeam.as_microsecond()) - flown.at).abs();
            if off <= NEAR {
                pairs.push((off, i, j));
            }
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
        let (flown, pass) = (own[i], &log.passes.passes[j]);
        found.push(Passed {
            aircraft: log.aircraft.clone(),
            key: flown.key.clone(),
            point: flown.point.clone(),
            at: clock.at_wall(pass.abeam.as_microsecond()),
            planned: flown.planned,
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

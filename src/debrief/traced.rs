//! What position logs say of a show.

use super::fold::Folded;
use super::passed::{Log, Passed, flies, logged, passed};
use super::seen::{self, Flown};
use super::trail::{Trail, trails};
use crate::live::clock::ShowClock;
use crate::show::{Name, PointName, Show};
use crate::units::{Instant, Span};

/// All that logs say of a show.
#[derive(Debug, Clone, Default)]
pub struct Traced {
    /// The passes of the programme found in them.
    pub passed: Vec<Passed>,
    /// The passes of aircraft with a log that are not in it.
    pub unlogged: Vec<Unlogged>,
    /// Gaps while the show was on.
    pub gaps: Vec<Missing>,
    /// The way each figure was flown.
    pub trails: Vec<Trail>,
}

/// A pass of an aircraft that has a log, which does not show it.
#[derive(Debug, Clone, PartialEq)]
pub struct Unlogged {
    /// The aircraft.
    pub aircraft: Name,
    /// The entry.
    pub key: Name,
    /// Which pass of it.
    pub point: PointName,
}

/// When a log has nothing.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// Whose log.
    pub aircraft: Name,
    /// Its last fix before.
    pub from: Instant,
    /// Its first after.
    pub until: Instant,
}

impl Missing {
    /// For how long.
    pub fn lasts(&self) -> Span {
        self.until - self.from
    }
}

impl Traced {
    /// What `logs` say of a show opened with `clock`.
    pub fn of(show: &Show, folded: &Folded, clock: &ShowClock, logs: &[Log]) -> Traced {
        let passed = passed(show, folded, clock, logs);
        let points = seen::points(folded, &logged(&passed));
        Traced {
            unlogged: unlogged(show, folded, &points, &passed, logs),
            gaps: gaps(folded, clock, logs),
            trails: trails(show, folded, &points, clock, logs),
            passed,
        }
    }
}

fn unlogged(
    show: &Show,
    folded: &Folded,
    points: &[Flown],
    passed: &[Passed],
    logs: &[Log],
) -> Vec<Unlogged> {
    let mut aircraft: Vec<&Name> = logs.iter().map(|log| &log.aircraft).collect();
    aircraft.dedup();
    let passes = points
        .iter()
        .filter(|flown| matches!(flown.point, PointName::Abeam(_)));
    let each = passes.flat_map(|flown| aircraft.iter().map(move |aircraft| (flown, *aircraft)));
    let missing = each.filter(|(flown, aircraft)| {
        let found = |one: &Passed| {
            one.aircraft == **aircraft && one.key == flown.key && one.point == flown.point
        };
        flies(show, folded, &flown.key, aircraft) && !passed.iter().any(found)
    });
    missing
        .map(|(flown, aircraft)| Unlogged {
            aircraft: aircraft.clone(),
            key: flown.key.clone(),
            point: flown.point.clone(),
        })
        .collect()
}

/// The gaps of the logs between the first and the last thing flown.
fn gaps(folded: &Folded, clock: &ShowClock, logs: &[Log]) -> Vec<Missing> {
    let figures = &folded.session.moments().figures;
    let begins = figures.iter().map(|times| times.start()).min();
    let each = logs.iter().flat_map(|log| {
        log.passes.gaps.iter().map(|gap| Missing {
            aircraft: log.aircraft.clone(),
            from: clock.at_wall(gap.from.as_microsecond()),
            until: clock.at_wall(gap.to.as_microsecond()),
        })
    });
    let while_on =
        |gap: &Missing| begins.is_some_and(|begins| gap.until > begins) && gap.from < folded.end;
    each.filter(while_on).collect()
}

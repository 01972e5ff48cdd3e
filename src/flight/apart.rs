//! Figures whose aircraft part: each part's own legs, and the runs lengthened so that all cross at one instant.

use std::borrow::Cow;

use super::path::FlownLegs;
use super::track::State;
use crate::show::{Fault, Figure, Leg, Motion, Name, RunUntil};
use crate::units::{Length, Span};

/// Instants nearer than this are one, s.
const AT_ONCE: f64 = 1e-5;
/// No run is made longer than this, in metres or seconds.
const LONGEST: f64 = 500_000.0;
/// Faster than any display is flown: metres a second that a first guess goes by.
const QUICK: f64 = 100.0;
/// Steps of root finding; it needs fewer than ten.
const MOST_STEPS: usize = 60;

/// Those of a figure's aircraft that fly as one, and what they fly.
#[derive(Debug, Clone)]
pub(super) struct Course<'a> {
    pub aircraft: &'a [Name],
    /// Those of the document, unless a run is longer.
    pub legs: Cow<'a, [Leg]>,
}

impl Course<'_> {
    fn is_to_cross(&self) -> bool {
        self.legs.iter().any(|leg| leg.cross)
    }

    /// When it crosses, flown so; `None` where it has no crossing or does not come to it.
    pub fn crosses(&self, flown: &FlownLegs) -> Option<State> {
        let leg = self.legs.iter().position(|leg| leg.cross)?;
        let track = &flown.legs.get(leg)?.track;
        track.when_at_x(0.0).map(|t| track.at(t))
    }

    /// The run that is lengthened if it would cross too early.
    fn spare(&self) -> Option<usize> {
        let crossing = self.legs.iter().position(|leg| leg.cross)?;
        let marked = self.legs.iter().position(|leg| leg.lengthen);
        let can_be = |leg: &Leg| {
            matches!(
                leg.motion,
                Motion::Run {
                    until: RunUntil::Distance(_) | RunUntil::Time(_),
                    ..
                }
            )
        };
        marked
            .or_else(|| self.legs.iter().position(can_be))
            .filter(|&run| run < crossing)
    }

    /// The same with its `run`th leg longer by so many metres or seconds.
    fn with_longer(&self, run: usize, by: f64) -> Self {
        let mut longer = self.clone();
        if let Some(leg) = longer.legs.to_mut().get_mut(run)
            && let Motion::Run { until, .. } = &mut leg.motion
        {
            *until = match *until {
                RunUntil::Distance(far) => RunUntil::Distance(far + Length::from_m(by)),
                RunUntil::Time(time) => RunUntil::Time(time + Span::from_s(by)),
                other => other,
            };
        }
        longer
    }
}

/// Lengthens a run of each course that would cross before the latest, so that all cross with it. `fly` flies a
/// course, told which of them it is.
///
/// # Errors
/// When a course that is early has no run to lengthen, or lengthening it does not help.
pub(super) fn meet(
    figure: &Figure,
    courses: &mut [Course<'_>],
    fly: impl Fn(usize, &Course<'_>) -> FlownLegs,
) -> Result<(), Fault> {
    if courses.iter().filter(|course| course.is_to_cross()).count() < 2 {
        return Ok(());
    }
    let when = |nth: usize, course: &Course<'_>| Some(course.crosses(&fly(nth, course))?.t);
    let each = courses.iter().enumerate();
    let crossings: Vec<Option<f64>> = each.map(|(nth, course)| when(nth, course)).collect();
    let Some(latest) = crossings.iter().flatten().copied().reduce(f64::max) else {
        return Ok(());
    };
    for (nth, (course, crosses)) in courses.iter_mut().zip(crossings).enumerate() {
        let Some(early) = crosses.map(|t| latest - t).filter(|early| *early > AT_ONCE) else {
            continue;
        };
        let cannot = |why: String, help: &str| {
            let crossing = course.legs.iter().find(|leg| leg.cross);
            let at = crossing.map_or(figure.at.clone(), |leg| leg.at.clone());
            let who: Vec<&str> = course.aircraft.iter().map(Name::as_str).collect();
            let message = format!(
                "the crossing of \"{}\" cannot be made: \"{}\" is {early:.1} s early, and {why}",
                figure.id,
                who.join("\", \""),
            );
            Err(Fault::error(at, message).help(help))
        };
        let Some(run) = course.spare() else {
            return cannot(
                "has no run for a distance or a time to lengthen".into(),
                "give it one before the crossing: { run = \"for 1 nmi\", lengthen = true }",
            );
        };
        let late = |by: f64| Some(when(nth, &course.with_longer(run, by))? - latest);
        let Some(by) = length_for(late, early) else {
            return cannot(
                "lengthening its run does not change that".into(),
                "write lengthen = true on a run away from crowd centre, before it turns back",
            );
        };
        *course = course.with_longer(run, by);
    }
    Ok(())
}

/// By how much to lengthen for `late` to vanish, which is `-early` for none: bracketed by doubling, then
/// found by the Illinois form of the false position.
fn length_for(late: impl Fn(f64) -> Option<f64>, early: f64) -> Option<f64> {
    let (mut short, mut too_early) = (0.0, -early);
    let mut long = early * QUICK;
    let mut too_late = late(long)?;
    while too_late < 0.0 {
        (short, too_early) = (long, too_late);
        long *= 2.0;
        if long > LONGEST {
            return None;
        }
        too_late = late(long)?;
    }
    for _ in 0..MOST_STEPS {
        let by = (short * too_late - long * too_early) / (too_late - too_early);
        let miss = late(by)?;
        if miss.abs() < AT_ONCE {
            return Some(by);
        }
        if miss < 0.0 {
            (short, too_early) = (by, miss);
            too_late *= 0.5;
        } else {
            (long, too_late) = (by, miss);
            too_early *= 0.5;
        }
    }
    None
}

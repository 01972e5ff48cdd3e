//! The points of a flown figure: what its legs meet on the way, in order of time.

use super::apart::Course;
use super::path::{FlownLeg, FlownLegs, LegKind};
use super::track::{State, Track};
use crate::show::{Fault, Figure, PointName};
use crate::units::Span;

/// Nearer to crowd centre than this is at it, m.
const AT_CENTRE: f64 = 1e-3;

/// Further than this from the line a way was begun on is the far side of a turn, m.
const FAR_SIDE: f64 = 100.0;

/// A point met.
#[derive(Debug, Clone)]
pub(super) struct Met {
    pub point: PointName,
    pub state: State,
    /// How the way to it from the point before counts.
    pub way: Way,
}

/// How the way to a point counts in the estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Way {
    /// Flown.
    Flown,
    /// Waited for, with this spread.
    Held(Span),
}

/// How much of a figure was flown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Extent {
    /// All of it: a pass that does not pass can be told from one not flown.
    Whole,
    /// As far as it could be flown.
    Part,
    /// In another wind than it is planned for: a gate it then begins inside is taken to be as far before as it
    /// would have been.
    OtherWind,
}

/// All points of a figure whose aircraft fly these courses: those of the first, the instant at which they
/// cross, and the end of the last.
pub(super) fn of_parts(
    figure: &Figure,
    courses: &[Course<'_>],
    flown: &[FlownLegs],
    extent: Extent,
    faults: &mut Vec<Fault>,
) -> Vec<Met> {
    let first = flown.first().map_or(&[][..], |flown| &flown.legs);
    let mut met = points(figure, first, extent, faults);
    let crossings: Vec<State> = courses
        .iter()
        .zip(flown)
        .filter_map(|(course, flown)| course.crosses(flown))
        .collect();
    if let [state, _, ..] = crossings[..] {
        let t = crossings.iter().map(|state| state.t).sum::<f64>() / crossings.len() as f64;
        let cross = Met {
            point: PointName::Cross,
            state: State { t, ..state },
            way: Way::Flown,
        };
        let after = met.partition_point(|met| met.state.t <= t && met.point != PointName::End);
        met.insert(after, cross);
    }
    let ends = flown.iter().map(FlownLegs::ends).fold(0.0, f64::max);
    if let Some(end) = met.last_mut() {
        end.state.t = ends;
    }
    met
}

/// The passes of one part of a figure, told of by nobody if they do not pass.
pub(super) fn passes_of(figure: &Figure, legs: &[FlownLeg]) -> Vec<Met> {
    let passes = passes(figure, legs, &mut Vec::new());
    abeams(&passes).collect()
}

/// All points of the flown `legs`, `Start` first and `End` last.
fn points(figure: &Figure, legs: &[FlownLeg], extent: Extent, faults: &mut Vec<Fault>) -> Vec<Met> {
    let end = |point, state: &State| Met {
        point,
        state: *state,
        way: Way::Flown,
    };
    let (Some(first), Some(last)) = (legs.first(), legs.last()) else {
        let nowhere = State::default();
        return vec![
            end(PointName::Start, &nowhere),
            end(PointName::End, &nowhere),
        ];
    };
    let passes = passes(figure, legs, faults);
    let run_in = passes.first().map(|pass| run_in(legs, pass.leg));
    let mut met: Vec<Met> = Vec::new();
    met.extend(inbound(legs, run_in));
    if let (Some(run_in), Some(pass)) = (run_in, passes.first()) {
        met.extend(gates(figure, legs, run_in, pass, extent, faults));
    } else if extent == Extent::Whole && !figure.gates.is_empty() {
        let message = format!("\"{}\" has gates but no pass", figure.id);
        let help = "give the leg that crosses crowd centre pass = true, or leave the gates out";
        faults.push(Fault::error(figure.at.clone(), message).help(help));
    }
    met.extend(abeams(&passes));
    met.sort_by(|a, b| a.state.t.total_cmp(&b.state.t));
    met.insert(0, end(PointName::Start, first.track.start()));
    met.push(end(PointName::End, last.track.end()));
    met
}

/// A crossing of crowd centre on a leg that passes.
struct Pass {
    leg: usize,
    state: State,
}

fn abeams(passes: &[Pass]) -> impl Iterator<Item = Met> {
    (1..=u8::MAX).zip(passes).map(|(n, pass)| Met {
        point: PointName::Abeam(n),
        state: pass.state,
        way: Way::Flown,
    })
}

fn passes(figure: &Figure, legs: &[FlownLeg], faults: &mut Vec<Fault>) -> Vec<Pass> {
    let mut passes: Vec<Pass> = Vec::new();
    for (i, leg) in legs.iter().enumerate().filter(|(_, leg)| leg.pass) {
        let (start, end) = (leg.track.start(), leg.track.end());
        let at_centre = |state: &State| state.x().abs() <= AT_CENTRE;
        let at_end = || at_centre(end).then_some(end.t);
        // The leg before may have run to centre, and passed there.
        let passed = passes.last().is_some_and(|pass| pass.state.t == start.t);
        let crossing = if !at_centre(start) {
            leg.track.when_at_x(0.0).or_else(at_end)
        } else if !passed {
            Some(start.t)
        } else {
            again(&leg.track).or_else(at_end)
        };
        match crossing {
            Some(t) => passes.push(Pass {
                leg: i,
                state: leg.track.at(t),
            }),
            None => faults.push(never_crosses(figure, leg, passed)),
        }
    }
    passes
}

/// When it crosses crowd centre again on a way begun there: where it is nearest to that way's line, for on the far side
/// of a turn it crosses it too.
fn again(track: &Track) -> Option<f64> {
    let line = track.start().y();
    let off = |state: &State| (state.y() - line).abs();
    let back = track.back_at_x(0.0, AT_CENTRE);
    let near = back.filter(|state| off(state) < FAR_SIDE);
    let nearest = near.min_by(|a, b| off(a).total_cmp(&off(b)));
    nearest.map(|state| state.t)
}

fn never_crosses(figure: &Figure, leg: &FlownLeg, passed: bool) -> Fault {
    if passed {
        let message = format!(
            "a pass of \"{}\" does not cross crowd centre again: it begins there, where the leg before has passed, and ends {}",
            figure.id,
            place(leg.track.end().x()),
        );
        let help = "leave pass = true out of one of the two, or lead this one round to centre";
        return Fault::error(leg.at.clone(), message).help(help);
    }
    let message = format!(
        "a pass of \"{}\" does not cross crowd centre: it begins {} and ends {}",
        figure.id,
        place(leg.track.start().x()),
        place(leg.track.end().x()),
    );
    Fault::error(leg.at.clone(), message).help("run to centre or further, or leave pass = true out")
}

/// A place on the display line, in words.
fn place(x: f64) -> String {
    let side = if x < 0.0 { "left" } else { "right" };
    format!("{:.0} m {side} of it", x.abs())
}

/// The first leg of the unbroken straight legs that lead to a pass, and the leg that passes.
fn run_in(legs: &[FlownLeg], pass: usize) -> (usize, usize) {
    let runs_before = legs
        .iter()
        .take(pass)
        .rev()
        .take_while(|leg| leg.kind == LegKind::Straight)
        .count();
    (pass - runs_before, pass)
}

/// The end of the hold, or where there is none the start of the run-in.
fn inbound(legs: &[FlownLeg], run_in: Option<(usize, usize)>) -> Option<Met> {
    let hold = legs.iter().enumerate().find_map(|(i, leg)| match leg.kind {
        LegKind::Hold { spread } => Some((i, spread)),
        _ => None,
    });
    let (leg, way) = match (hold, run_in) {
        (Some((i, spread)), _) => (i, Way::Held(spread)),
        (None, Some((first, _))) => (first, Way::Flown),
        (None, None) => return None,
    };
    let flown = legs.get(leg)?;
    let state = match way {
        Way::Flown => *flown.track.start(),
        // Its speed there is that of the leg it leaves on.
        Way::Held(_) => match legs.get(leg + 1) {
            Some(next) => *next.track.start(),
            None => *flown.track.end(),
        },
    };
    let point = PointName::Inbound;
    Some(Met { point, state, way })
}

/// Where the run-in to the first pass meets the gates.
fn gates(
    figure: &Figure,
    legs: &[FlownLeg],
    (first, last): (usize, usize),
    pass: &Pass,
    extent: Extent,
    faults: &mut Vec<Fault>,
) -> Vec<Met> {
    let run_in = legs.get(first..=last).unwrap_or_default();
    let way = pass.state.ground[0].signum();
    let mut met = Vec::new();
    for (n, out) in (1..=u8::MAX).zip(&figure.gates) {
        let x = -way * out.m();
        let crossing = run_in.iter().find_map(|leg| {
            let t = leg.track.when_at_x(x)?;
            (t <= pass.state.t).then(|| leg.track.at(t))
        });
        let before = run_in
            .first()
            .filter(|_| extent == Extent::OtherWind)
            .and_then(|leg| back_to(x, leg.track.start()));
        match crossing.or(before) {
            Some(state) => met.push(Met {
                point: PointName::Gate(n),
                state,
                way: Way::Flown,
            }),
            None => {
                let begins = run_in.first().map_or(0.0, |leg| leg.track.start().x());
                let message = format!(
                    "gate {n} of \"{}\", {} out, is not on its run-in: that begins {:.0} m out",
                    figure.id,
                    out.as_written(),
                    -way * begins,
                );
                let help = "write a gate nearer to crowd centre, or begin the run-in further out";
                faults.push(Fault::error(figure.at.clone(), message).help(help));
            }
        }
    }
    met
}

/// Where one that goes on as here was at `x` along the display line.
fn back_to(x: f64, here: &State) -> Option<State> {
    let t = here.t - (here.x() - x) / here.ground[0];
    t.is_finite().then_some(State { t, ..*here })
}

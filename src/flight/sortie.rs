//! A figure as it was flown, and what is told of it: its points with their steps, its path, its hush.

use std::sync::Arc;

use super::alike::Alike;
use super::apart::Course;
use super::parted::{self, Part};
use super::path::{FlownLegs, Pilot};
use super::points::{self, Met, Way};
use super::reposition::{self, Reposition, Repositioned};
use super::skies::{Skies, WIND_CHANGE};
use super::track::State;
use super::world::World;
use super::{Entry, FlownFigure, FlownPart, FlownPoint, Step, hush, samples};
use crate::show::{Fault, Figure, PointName};
use crate::units::{Span, Speed};

/// A figure flown in the day's wind.
pub(super) struct Sortie<'a> {
    pub entry: &'a Entry,
    pub figure: &'a Figure,
    /// What the document asks of each of its courses ...
    pub asked: Vec<Course<'a>>,
    /// ... and what was flown, so that they cross.
    pub courses: Vec<Course<'a>>,
    pub flown: Vec<FlownLegs>,
    /// What was put before each.
    pub repositions: Vec<Option<Reposition>>,
    pub met: Vec<Met>,
    pub faults: Vec<Fault>,
}

impl Sortie<'_> {
    /// Flies one course of a figure in a world of these skies.
    pub fn fly(
        skies: &Skies<'_>,
        world: &World,
        entry: &Entry,
        figure: &Figure,
        course: &Course<'_>,
        pilot: Pilot,
        alike: Option<Alike<'_>>,
    ) -> Repositioned {
        let world = skies.with_craft(world, course.aircraft.first());
        reposition::fly_from(&world, figure, &course.legs, entry.mirrored, pilot, alike)
    }

    /// What is told of it, with the points it has in other winds.
    pub fn told(self, skies: &Skies<'_>, in_other_winds: &[Vec<Met>]) -> (FlownFigure, Vec<Fault>) {
        let Sortie {
            entry,
            figure,
            courses,
            flown,
            repositions,
            met,
            mut faults,
            ..
        } = self;
        let mut longer = repositions.iter().flatten().filter(|put| put.lengthens());
        let reposition = longer.next().map(|put| put.by);
        let mut points = flown_points(&met, in_other_winds, figure.spread);
        lengthen(&mut points, figure.late);
        skies.gusts.widen(&mut points, &met);
        let abeam: Vec<&Met> = met.iter().filter(|met| is_abeam(met)).collect();
        let heard_after = |met: &Met| Span::from_s(hush::delay(&skies.world.air, &met.state));
        let first_abeam = abeam.first().map(|met| Span::from_s(met.state.t));
        let parts = courses.iter().zip(&flown);
        let told = FlownFigure {
            key: entry.key.clone(),
            id: figure.id.clone(),
            aircraft: figure.aircraft.clone(),
            heard_after: abeam.iter().map(|met| heard_after(met)).collect(),
            hush: hush_of(skies, figure, first_abeam, &courses, &flown, &mut faults),
            parts: parts
                .map(|(course, flown)| {
                    let passes = points::passes_of(figure, &flown.legs);
                    FlownPart {
                        aircraft: course.aircraft.to_vec(),
                        abeams: passes.iter().map(|met| Span::from_s(met.state.t)).collect(),
                        heard_after: passes.iter().map(heard_after).collect(),
                        ends: Span::from_s(flown.ends()),
                        path: samples::path(&flown.legs),
                    }
                })
                .collect(),
            reposition,
            points,
        };
        (told, faults)
    }
}

/// A figure that is only timed, as long as it was timed.
pub(super) fn timed(
    skies: &Skies<'_>,
    entry: &Entry,
    figure: &Figure,
    takes: Span,
    passes: &[Span],
) -> (FlownFigure, Vec<Fault>) {
    let mut faults = Vec::new();
    let outside = |pass: &Span| *pass < Span::ZERO || *pass > takes;
    if takes < Span::ZERO || passes.iter().any(outside) {
        let message = format!(
            "a time of \"{}\" is below zero, or after the {takes} it takes",
            figure.id
        );
        faults.push(
            Fault::error(figure.at.clone(), message).help("write its passes within its time"),
        );
    }
    if figure.hush.is_none() && !passes.is_empty() && !skies.show.blocks.is_empty() {
        let message = format!(
            "\"{}\" is only timed, and nothing says when it is too loud to talk over",
            figure.id
        );
        faults.push(Fault::advice(figure.at.clone(), message).help(
            "write its hush about its first pass, hush = { from = \"-4 s\", until = \"10 s\" }, or give it legs",
        ));
    }
    let takes = takes.max(Span::ZERO);
    let mut times: Vec<Span> = passes
        .iter()
        .map(|pass| (*pass).clamp(Span::ZERO, takes))
        .collect();
    times.sort();
    let place = State {
        place: [0.0, skies.world.line, 0.0],
        ..State::default()
    };
    let met = |point, t: Span| Met {
        point,
        state: State { t: t.s(), ..place },
        way: Way::Flown,
    };
    let mut points = vec![met(PointName::Start, Span::ZERO)];
    points.extend(
        (1..=u8::MAX)
            .zip(&times)
            .map(|(n, t)| met(PointName::Abeam(n), *t)),
    );
    if let (Some(first), true) = (times.first(), figure.aircraft.len() > 1) {
        points.insert(2, met(PointName::Cross, *first));
    }
    points.push(met(PointName::End, takes));
    let heard = Span::from_s(hush::delay(&skies.world.air, &place));
    let heard_after = vec![heard; times.len().min(usize::from(u8::MAX))];
    let first_abeam = times.first().copied();
    let mut told = flown_points(&points, &[], figure.spread);
    lengthen(&mut told, figure.late);
    let flown = FlownFigure {
        key: entry.key.clone(),
        id: figure.id.clone(),
        aircraft: figure.aircraft.clone(),
        hush: hush_of(skies, figure, first_abeam, &[], &[], &mut faults),
        heard_after: heard_after.clone(),
        parts: Arc::new([FlownPart {
            aircraft: figure.aircraft.clone(),
            abeams: times,
            heard_after,
            ends: takes,
            path: Vec::new(),
        }]),
        reposition: None,
        points: told,
    };
    (flown, faults)
}

/// The hush the figure states, around its first pass; else from its path.
fn hush_of(
    skies: &Skies<'_>,
    figure: &Figure,
    first_abeam: Option<Span>,
    courses: &[Course<'_>],
    flown: &[FlownLegs],
    faults: &mut Vec<Fault>,
) -> Vec<(Span, Span)> {
    match (figure.hush, first_abeam) {
        (Some((from, until)), Some(abeam)) => vec![(abeam + from, abeam + until)],
        (Some(_), None) => {
            let message = format!("\"{}\" states a hush, but has no pass", figure.id);
            faults.push(
                Fault::error(figure.at.clone(), message)
                    .help("give it a pass, or leave the hush out"),
            );
            Vec::new()
        }
        (None, _) => {
            let parts = courses.iter().zip(flown).map(|(course, flown)| Part {
                aircraft: course.aircraft,
                tracks: flown.legs.iter().map(|leg| &leg.track).collect(),
            });
            let parts: Vec<Part<'_>> = parts.collect();
            parted::hush_of(&skies.world.air, skies.show, &figure.aircraft, &parts)
        }
    }
}

fn is_abeam(met: &Met) -> bool {
    matches!(met.point, PointName::Abeam(_))
}

/// Steps that are flown take `late` longer in all than the model says, each by its share of the time flown;
/// none takes less than no time. Where the points are on the path stays as modelled.
fn lengthen(points: &mut [FlownPoint], late: Span) {
    let is_flown = |point: &FlownPoint| point.step.paced;
    let flown: f64 = points
        .iter()
        .filter(|point| is_flown(point))
        .map(|point| point.step.takes.s())
        .sum();
    if flown <= 0.0 {
        return;
    }
    let longer = (1.0 + late.s() / flown).max(0.0);
    for point in points.iter_mut().filter(|point| is_flown(point)) {
        point.step.takes = point.step.takes * longer;
    }
}

/// The points with the steps between them, given the same points met in a metre a second more wind
/// towards the crowd's left and in one more towards its right.
fn flown_points(met: &[Met], other_winds: &[Vec<Met>], spread: Span) -> Vec<FlownPoint> {
    let takes = |met: &[Met], i: usize| {
        let before = met.get(i.checked_sub(1)?)?;
        let here = met.get(i)?;
        Some(here.state.t - before.state.t)
    };
    let flown: f64 = (1..met.len())
        .filter(|&i| met.get(i).is_some_and(|met| met.way == Way::Flown))
        .filter_map(|i| takes(met, i))
        .sum();
    let wind_effect = |i: usize| {
        let [left, right] = other_winds else {
            return None;
        };
        // A wind in which the figure cannot be flown says nothing of the wind it is planned for.
        (left.len() == met.len() && right.len() == met.len()).then_some(())?;
        let [before, here] = [met.get(i.checked_sub(1)?)?, met.get(i)?];
        let later = |point| Some(when(right, point)? - when(left, point)?);
        Some((later(&here.point)? - later(&before.point)?) / (2.0 * WIND_CHANGE.mps()))
    };
    met.iter()
        .enumerate()
        .map(|(i, here)| {
            let planned = takes(met, i).unwrap_or(0.0);
            let step = match here.way {
                _ if i == 0 => Step::default(),
                Way::Held(spread) => Step {
                    takes: Span::from_s(planned),
                    spread,
                    waits: true,
                    ..Step::default()
                },
                Way::Flown => Step {
                    takes: Span::from_s(planned),
                    seconds_per_mps: wind_effect(i).unwrap_or(0.0),
                    paced: true,
                    spread: if flown > 0.0 {
                        spread * (planned / flown).sqrt()
                    } else {
                        Span::ZERO
                    },
                    waits: false,
                },
            };
            let [along, ..] = here.state.ground;
            FlownPoint {
                point: here.point.clone(),
                after: Span::from_s(here.state.t),
                step,
                along: Speed::from_mps(along),
            }
        })
        .collect()
}

/// When a point is met, s.
fn when(met: &[Met], point: &PointName) -> Option<f64> {
    let met = met.iter().find(|met| met.point == *point)?;
    Some(met.state.t)
}

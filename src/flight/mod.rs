//! Flight: where the aircraft is and when.
//!
//! * [`air`]: the atmosphere and the speeds in it. [`wind`]: the wind in the site frame. [`metar`]: both from a report.
//! * `legs`: flying one leg, by `integrate` (a `step`, its `ending`), to a `track`. `speed`, `craft`, `attitude`: what it flies with. `cannot`: why it cannot.
//! * `path`: a figure's legs in order. `begins`: what is said of their beginnings. `reposition`: the way to where one begins.
//! * `alike`: the same in another wind. `points`: what the legs meet. `advice`: what is said of where they lead.
//! * `hush`: what is heard. `gusts`: what they do to times.
//! * [`arrival`]: from a place and a speed to crowd centre, and backwards.
//! * [`entries`]: what a profile flies, in order. [`fly`]: such a list, flown.
//!
//! The site frame: x along the display line, positive to the crowd's right of crowd centre; y away from
//! the crowd from the crowd line; z above the site.
//!
//! Where a figure begins: at its hold; without one, where the aircraft's figure before it ended, or after a
//! `reposition` where its run-in cannot begin there; after a
//! figure that is only timed, or first of all, at its outermost gate, headed for centre. Flown mirrored,
//! the sides of the crowd change, and so do the pilot's left and right. A figure without a hold is inbound
//! from the start of the runs that lead to its first pass.
//!
//! What is simple in the model, for now: legs are level, and a leg's height is there from its start;
//! an aircraft rolls into and out of turns at once. A run to centre or to a place goes along the display
//! line, the way it is headed, and closes on the line if a turn has left it; so does a run for a distance
//! or a time that is headed within 30 degrees of the line, and any other goes straight on. A figure that
//! several aircraft fly is flown as one, except where its legs part them: from where the first of them is, whoever is there
//! early waiting for the last; how the others come to it is not flown, and told where they are far from it. The acceleration of wind shear is neglected.

mod advice;
pub mod air;
mod alike;
mod apart;
pub mod arrival;
mod attitude;
mod begins;
mod cannot;
mod craft;
mod ending;
mod flown;
mod gusts;
mod hush;
mod integrate;
mod legs;
pub mod metar;
mod path;
mod points;
mod reposition;
mod samples;
mod sequence;
mod speed;
mod step;
mod track;
mod vector;
pub mod wind;
mod world;

use std::collections::HashMap;

pub use cannot::{CannotFly, Stop, Unflyable};
pub use flown::{Entry, Flight, FlownFigure, FlownPart, FlownPoint, PathSample, Step};
pub use sequence::{entries, left_out};

use crate::show::{Day, Fault, Figure, Manner, Name, Part, PointName, Show};
use crate::units::{Span, Speed};
use air::Air;
use alike::Alike;
use apart::Course;
use craft::Craft;
use gusts::Gusts;
use path::{FlownLegs, Pilot};
use points::{Met, Way};
use reposition::Repositioned;
use track::{State, Track};
use wind::Wind;
use world::World;

/// The wind change the sensitivity to wind is measured with, each way.
const WIND_CHANGE: Speed = Speed::from_mps(1.0);
/// How many times less exactly figures are flown in these other winds: only the difference counts.
const ROUGHNESS: f64 = 30.0;

/// Flies the entries in order, in the day's air and wind, its report read into them. Every entry of a known figure gives a flown
/// figure, as far as it could be flown; what could not be is in the faults.
pub fn fly(show: &Show, day: &Day, entries: &[Entry]) -> Flight {
    let (day, unread) = match metar::observed(day) {
        Ok(observed) => (observed, None),
        Err(fault) => (day.clone(), Some(fault)),
    };
    let mut crew = Crew {
        show,
        world: World {
            air: Air::over(&show.site, &day),
            wind: Wind::over(&show.site, &day),
            line: show.site.line_distance.m(),
            craft: Craft::of(None),
            roughness: 1.0,
        },
        gusts: Gusts::on(&day),
        pilots: HashMap::new(),
        faults: unread.into_iter().collect(),
    };
    let figures = entries
        .iter()
        .filter_map(|entry| {
            let figure = show.figure(&entry.figure)?;
            Some(match figure.manner_in(&entry.profile) {
                Manner::Flown(legs) => {
                    let aircraft = figure.aircraft.clone();
                    let legs = legs.clone();
                    crew.fly(entry, figure, vec![Course { aircraft, legs }])
                }
                Manner::Apart(parts) => {
                    let course = |part: &Part| Course {
                        aircraft: part.aircraft.clone(),
                        legs: part.legs.clone(),
                    };
                    crew.fly(entry, figure, parts.iter().map(course).collect())
                }
                Manner::Timed { takes, passes } => crew.time(entry, figure, *takes, passes),
            })
        })
        .collect();
    Flight {
        figures,
        faults: crew.faults,
    }
}

/// The aircraft of a show, each where its last figure left it.
struct Crew<'a> {
    show: &'a Show,
    world: World,
    gusts: Gusts,
    pilots: HashMap<Name, Pilot>,
    faults: Vec<Fault>,
}

impl Crew<'_> {
    /// Flies a figure leg by leg: each of its courses, which cross at one instant if they cross.
    fn fly(&mut self, entry: &Entry, figure: &Figure, mut courses: Vec<Course>) -> FlownFigure {
        self.advise_apart(figure, &courses);
        let (show, pilots) = (self.show, self.pilots.clone());
        let fly_in = |world: &World, course: &Course, alike: Option<Alike<'_>>| {
            let first = course.aircraft.first();
            let pilot = first.and_then(|id| pilots.get(id)).copied();
            let world = World {
                craft: craft(show, first),
                ..world.clone()
            };
            let pilot = pilot.unwrap_or(Pilot::NEW);
            reposition::fly_from(&world, figure, &course.legs, entry.mirrored, pilot, alike)
        };
        let crossing = apart::meet(figure, &mut courses, |course| {
            fly_in(&self.world, course, None).flown
        });
        self.faults.extend(crossing.err());
        let mut repositioned = None;
        let mut flown: Vec<FlownLegs> = Vec::new();
        for course in &courses {
            let Repositioned {
                flown: mut legs,
                reposition,
            } = fly_in(&self.world, course, None);
            if let Some(reposition) = reposition {
                self.faults.push(reposition.advice(figure));
                repositioned = repositioned.or(Some(reposition.by));
            }
            self.faults.append(&mut legs.remarks);
            flown.push(legs);
        }
        let whole = flown.iter().all(|flown| flown.fault.is_none());
        for (course, flown) in courses.iter().zip(&mut flown) {
            self.faults.extend(flown.fault.take());
            self.leave(&course.aircraft, flown.pilot);
        }
        let met = points::of_parts(figure, &courses, &flown, whole, &mut self.faults);
        let by_part: Vec<Vec<Met>> = flown
            .iter()
            .map(|flown| points::passes_of(figure, &flown.legs))
            .collect();
        self.advise(figure, entry.mirrored, &courses, &by_part, &flown);

        let in_wind = |change: Speed| {
            let world = World {
                wind: self.world.wind.with_more_along(change),
                roughness: ROUGHNESS,
                ..self.world.clone()
            };
            let in_it = |(course, flown): (&Course, &FlownLegs)| {
                let alike = Alike {
                    legs: &flown.legs,
                    more: change.mps(),
                };
                fly_in(&world, course, Some(alike)).flown
            };
            let flown: Vec<FlownLegs> = courses.iter().zip(&flown).map(in_it).collect();
            points::of_parts(figure, &courses, &flown, false, &mut Vec::new())
        };
        let slower_and_faster = [in_wind(-WIND_CHANGE), in_wind(WIND_CHANGE)];
        let mut points = flown_points(&met, &slower_and_faster, figure.spread);
        lengthen(&mut points, figure.late);
        self.gusts.widen(&mut points, &met);
        let abeam: Vec<&Met> = met.iter().filter(|met| is_abeam(met)).collect();
        let heard_after = abeam
            .iter()
            .map(|met| Span::from_s(hush::delay(&self.world.air, &met.state)))
            .collect();
        let first_abeam = abeam.first().map(|met| Span::from_s(met.state.t));
        let parts = courses.iter().zip(&flown).zip(&by_part);
        FlownFigure {
            key: entry.key.clone(),
            id: figure.id.clone(),
            aircraft: figure.aircraft.clone(),
            heard_after,
            hush: self.hush(figure, first_abeam, &flown),
            parts: parts
                .map(|((course, flown), passes)| FlownPart {
                    aircraft: course.aircraft.clone(),
                    abeams: passes.iter().map(|met| Span::from_s(met.state.t)).collect(),
                    ends: Span::from_s(flown.ends()),
                    path: samples::path(&flown.legs),
                })
                .collect(),
            reposition: repositioned,
            points,
        }
    }

    /// Takes a timed figure as long as it was timed.
    fn time(
        &mut self,
        entry: &Entry,
        figure: &Figure,
        takes: Span,
        passes: &[Span],
    ) -> FlownFigure {
        if takes < Span::ZERO
            || passes
                .iter()
                .any(|pass| *pass < Span::ZERO || *pass > takes)
        {
            let message = format!(
                "a time of \"{}\" is below zero, or after the {takes} it takes",
                figure.id
            );
            self.faults.push(
                Fault::error(figure.at.clone(), message).help("write its passes within its time"),
            );
        }
        self.leave(&figure.aircraft, Pilot::NEW);
        let takes = takes.max(Span::ZERO);
        let mut times: Vec<Span> = passes
            .iter()
            .map(|pass| (*pass).clamp(Span::ZERO, takes))
            .collect();
        times.sort();
        let place = State {
            place: [0.0, self.world.line, 0.0],
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
        let heard = Span::from_s(hush::delay(&self.world.air, &place));
        FlownFigure {
            key: entry.key.clone(),
            id: figure.id.clone(),
            aircraft: figure.aircraft.clone(),
            hush: self.hush(figure, times.first().copied(), &[]),
            heard_after: vec![heard; times.len().min(usize::from(u8::MAX))],
            parts: vec![FlownPart {
                aircraft: figure.aircraft.clone(),
                abeams: times,
                ends: takes,
                path: Vec::new(),
            }],
            reposition: None,
            points: flown_points(&points, &[], figure.spread),
        }
    }

    /// Leaves these aircraft where they ended.
    fn leave(&mut self, aircraft: &[Name], pilot: Pilot) {
        for id in aircraft {
            self.pilots.insert(id.clone(), pilot);
        }
    }

    /// The hush the figure states, around its first pass; else from its path.
    fn hush(
        &mut self,
        figure: &Figure,
        first_abeam: Option<Span>,
        flown: &[FlownLegs],
    ) -> Vec<(Span, Span)> {
        match (figure.hush, first_abeam) {
            (Some((from, until)), Some(abeam)) => vec![(abeam + from, abeam + until)],
            (Some(_), None) => {
                let message = format!("\"{}\" states a hush, but has no pass", figure.id);
                self.faults.push(
                    Fault::error(figure.at.clone(), message)
                        .help("give it a pass, or leave the hush out"),
                );
                Vec::new()
            }
            (None, _) => {
                // Parted aircraft are each taken to be as loud as all together: where they cross, they are.
                let too_loud = hush::TooLoud::of(self.show, &figure.aircraft);
                let hushes = flown.iter().flat_map(|flown| {
                    let tracks: Vec<&Track> = flown.legs.iter().map(|leg| &leg.track).collect();
                    hush::hush(&self.world.air, &tracks, &too_loud)
                });
                hush::together(hushes.collect())
            }
        }
    }
}

/// What an aircraft of the show can do.
fn craft(show: &Show, id: Option<&Name>) -> Craft {
    let mut aircraft = show.aircraft.iter();
    Craft::of(aircraft.find(|craft| id == Some(&craft.id)))
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
        Some((takes(right, i)? - takes(left, i)?) / (2.0 * WIND_CHANGE.mps()))
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

//! Flight: where the aircraft is and when.
//!
//! * [`air`]: the atmosphere and the speeds in it. [`wind`]: the wind in the site frame. [`metar`]: both from a report.
//! * `legs`: flying one leg, by `integrate` (a `step`, its `ending`), to a `track`. `speed`, `craft`, `attitude`: what it flies with. `cannot`: why it cannot.
//! * `path`: a figure's legs in order. `begins`: what is said of their beginnings. `reposition`: the way to where one begins.
//! * `alike`: the same in another wind. `points`: what the legs meet. `hush`: what is heard. `gusts`: what they do to times.
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
//! several aircraft fly is flown as one. The acceleration of wind shear is neglected.

pub mod air;
mod alike;
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
pub use flown::{Entry, Flight, FlownFigure, FlownPoint, PathSample, Step};
pub use sequence::{entries, left_out};

use crate::show::{Day, Fault, Figure, FlownWhere, Leg, Manner, Name, PointName, Show};
use crate::units::{Span, Speed};
use air::Air;
use alike::Alike;
use craft::Craft;
use gusts::Gusts;
use path::{FlownLeg, Pilot};
use points::{Met, Way};
use reposition::Repositioned;
use track::{State, Track};
use wind::Wind;
use world::World;

/// A pass further off the display line than this is worth a word, m.
const OFF_LINE: f64 = 30.0;
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
                Manner::Flown(legs) => crew.fly(entry, figure, legs),
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
    /// Flies a figure leg by leg.
    fn fly(&mut self, entry: &Entry, figure: &Figure, legs: &[Leg]) -> FlownFigure {
        let pilot = figure
            .aircraft
            .first()
            .and_then(|id| self.pilots.get(id))
            .copied()
            .unwrap_or(Pilot::NEW);
        self.world.craft = self.craft(figure);
        let fly_in = |world: &World, alike: Option<Alike<'_>>| {
            reposition::fly_from(world, figure, legs, entry.mirrored, pilot, alike)
        };
        let Repositioned { flown, reposition } = fly_in(&self.world, None);
        self.faults
            .extend(reposition.map(|reposition| reposition.advice(figure)));
        let whole = flown.fault.is_none();
        self.faults.extend(flown.remarks);
        self.faults.extend(flown.fault);
        self.leave(figure, flown.pilot);
        let met = points::points(figure, &flown.legs, whole, &mut self.faults);
        self.advise(figure, entry.mirrored, &met, &flown.legs);

        let in_wind = |change: Speed| {
            let world = World {
                wind: self.world.wind.with_more_along(change),
                roughness: ROUGHNESS,
                ..self.world.clone()
            };
            let alike = Alike {
                legs: &flown.legs,
                more: change.mps(),
            };
            let legs = fly_in(&world, Some(alike)).flown.legs;
            points::points(figure, &legs, false, &mut Vec::new())
        };
        let slower_and_faster = [in_wind(-WIND_CHANGE), in_wind(WIND_CHANGE)];
        let mut points = flown_points(&met, &slower_and_faster, figure.spread);
        self.gusts.widen(&mut points, &met);
        let abeam: Vec<&Met> = met.iter().filter(|met| is_abeam(met)).collect();
        let heard_after = abeam
            .iter()
            .map(|met| Span::from_s(hush::delay(&self.world.air, &met.state)))
            .collect();
        let first_abeam = abeam.first().map(|met| Span::from_s(met.state.t));
        FlownFigure {
            key: entry.key.clone(),
            id: figure.id.clone(),
            aircraft: figure.aircraft.clone(),
            heard_after,
            hush: self.hush(figure, first_abeam, &flown.legs),
            path: samples::path(&flown.legs),
            reposition: reposition.map(|reposition| reposition.by),
            points,
        }
    }

    /// What the aircraft can do that a figure is flown with: the first that flies it.
    fn craft(&self, figure: &Figure) -> Craft {
        let first = figure.aircraft.first();
        let mut aircraft = self.show.aircraft.iter();
        Craft::of(aircraft.find(|craft| first == Some(&craft.id)))
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
        self.leave(figure, Pilot::NEW);
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
        points.push(met(PointName::End, takes));
        let heard = Span::from_s(hush::delay(&self.world.air, &place));
        FlownFigure {
            key: entry.key.clone(),
            id: figure.id.clone(),
            aircraft: figure.aircraft.clone(),
            heard_after: vec![heard; times.len().min(usize::from(u8::MAX))],
            hush: self.hush(figure, times.first().copied(), &[]),
            path: Vec::new(),
            reposition: None,
            points: flown_points(&points, &[], figure.spread),
        }
    }

    /// Leaves all the figure's aircraft where it ends.
    fn leave(&mut self, figure: &Figure, pilot: Pilot) {
        for id in &figure.aircraft {
            self.pilots.insert(id.clone(), pilot);
        }
    }

    /// The hush the figure states, around its first pass; else from its path.
    fn hush(
        &mut self,
        figure: &Figure,
        first_abeam: Option<Span>,
        legs: &[FlownLeg],
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
                let too_loud = hush::TooLoud::of(self.show, &figure.aircraft);
                let tracks: Vec<&Track> = legs.iter().map(|leg| &leg.track).collect();
                hush::hush(&self.world.air, &tracks, &too_loud)
            }
        }
    }

    /// Advises where a figure comes from the other side than it says, passes off the display line, or
    /// goes behind the crowd line without saying so.
    fn advise(&mut self, figure: &Figure, mirrored: bool, met: &[Met], legs: &[FlownLeg]) {
        let first_pass = legs
            .iter()
            .find(|leg| leg.pass)
            .zip(met.iter().find(|met| is_abeam(met)));
        let from = if mirrored {
            figure.from.mirrored()
        } else {
            figure.from
        };
        if let Some((leg, pass)) = first_pass
            && pass.state.ground[0] * from.sign() > 0.0
        {
            let message = format!(
                "the first pass of \"{}\" comes from the other side than the figure says",
                figure.id
            );
            let help = "change its from, or what is flown before it";
            self.faults
                .push(Fault::advice(leg.at.clone(), message).help(help));
        }
        for pass in met.iter().filter(|met| is_abeam(met)) {
            let off = (pass.state.y() - self.world.line).abs();
            if off > OFF_LINE {
                let point = &pass.point;
                let message = format!("{}.{point} is {off:.0} m off the display line", figure.id);
                let help = "begin the run-in further out, or turn tighter before it";
                self.faults
                    .push(Fault::advice(figure.at.clone(), message).help(help));
            }
        }
        let over = |leg: &&FlownLeg| leg.track.every(samples::STEP).any(|state| state.y() < 0.0);
        if figure.flown == FlownWhere::Before
            && let Some(leg) = legs.iter().find(over)
        {
            let message = format!("a leg of \"{}\" goes behind the crowd line", figure.id);
            let help = "turn away from the crowd; or, if it is meant, write flown = \"behind crowd\" or \"overhead\", which the site must permit";
            self.faults
                .push(Fault::advice(leg.at.clone(), message).help(help));
        }
    }
}

fn is_abeam(met: &Met) -> bool {
    matches!(met.point, PointName::Abeam(_))
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

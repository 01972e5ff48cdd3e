//! Flying a figure: its legs one after the other, from where the aircraft is.

use std::ops::Range;

use super::air::Air;
use super::legs::{Flown, Run, RunEnd, Turn};
use super::speed::{CannotFly, Conditions, SpeedLaw, ensure};
use super::track::{State, Track};
use super::wind::Wind;
use crate::show::{
    Fault, Figure, Leg, LegSpeed, Motion, Place, RunUntil, Side, TurnTowards, TurnUntil,
};
use crate::units::{Airspeed, Length, Span};

/// Headed nearer than this to the display line, a run takes to it (cosine of 30 degrees).
const ALONG_LINE: f64 = 0.866;
/// A run to a place takes to it even when headed further off, to here (cosine of 60 degrees).
const TO_A_PLACE: f64 = 0.5;
/// Nearer across the line than this a turn towards the crowd has no side (cosine of 80 degrees).
const ACROSS_LINE: f64 = 0.17;

/// What every figure of the day is flown in.
#[derive(Debug, Clone)]
pub(super) struct World {
    pub air: Air,
    pub wind: Wind,
    /// The display line, m from the crowd line.
    pub line: f64,
}

/// What an aircraft takes from one figure to the next.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pilot {
    pub whereabouts: Whereabouts,
    pub speed: Option<Airspeed>,
    pub height: Option<Length>,
}

/// Where an aircraft is when a figure begins.
#[derive(Debug, Clone, Copy)]
pub(super) enum Whereabouts {
    /// Where the figure before left it.
    Known(State),
    /// Nothing says: there is no figure before, or it is only timed.
    Unknown,
    /// The figure before could not be flown, and says so.
    Lost,
}

/// A leg that was flown.
#[derive(Debug, Clone)]
pub(super) struct FlownLeg {
    pub kind: LegKind,
    pub track: Track,
    pub at: Range<usize>,
}

/// What sort of leg it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum LegKind {
    Hold { spread: Span },
    Run { way: f64, pass: bool },
    Turn,
}

/// A figure's legs as far as they could be flown.
#[derive(Debug, Clone)]
pub(super) struct FlownLegs {
    pub legs: Vec<FlownLeg>,
    pub pilot: Pilot,
    pub fault: Option<Fault>,
}

impl Pilot {
    /// An aircraft of which nothing is known yet.
    pub const NEW: Pilot = Pilot {
        whereabouts: Whereabouts::Unknown,
        speed: None,
        height: None,
    };
}

/// A figure being flown.
struct Flying<'a> {
    world: &'a World,
    figure: &'a Figure,
    mirrored: bool,
    pilot: Pilot,
    flown: Vec<FlownLeg>,
}

/// Flies `legs` of `figure` as far as they go.
pub(super) fn fly_legs(
    world: &World,
    figure: &Figure,
    legs: &[Leg],
    mirrored: bool,
    pilot: Pilot,
) -> FlownLegs {
    let mut flying = Flying {
        world,
        figure,
        mirrored,
        pilot,
        flown: Vec::new(),
    };
    let fault = flying.fly(legs).err();
    let mut pilot = flying.pilot;
    if let Some(last) = flying.flown.last() {
        let end = State {
            t: 0.0,
            ..*last.track.end()
        };
        pilot.whereabouts = Whereabouts::Known(end);
    }
    if fault.is_some() {
        pilot.whereabouts = Whereabouts::Lost;
    }
    FlownLegs {
        legs: flying.flown,
        pilot,
        // What follows a figure that could not be flown has no fault of its own.
        fault: fault.flatten(),
    }
}

impl Flying<'_> {
    /// Flies the legs; the error is the fault to report, if there is one.
    fn fly(&mut self, legs: &[Leg]) -> Result<(), Option<Fault>> {
        if legs.is_empty() {
            let fault = Fault::error(
                self.figure.at.clone(),
                format!("\"{}\" has no legs", self.figure.id),
            );
            return Err(Some(fault.help("give it legs, or say how long it takes")));
        }
        let mut here = self.begin(legs)?;
        for leg in legs {
            let flown = match leg.motion {
                Motion::Hold {
                    place,
                    expect,
                    spread,
                } => self.hold(here.t, place, expect, spread, first_height(legs), &leg.at)?,
                _ => self
                    .move_on(&here, leg)
                    .map_err(|why| Some(self.fault(&leg.at, why)))?,
            };
            here = *flown.track.end();
            self.flown.push(flown);
        }
        Ok(())
    }

    /// Where the first leg begins: at its hold; else where the figure before ended; else at the
    /// outermost gate, headed for centre.
    fn begin(&self, legs: &[Leg]) -> Result<State, Option<Fault>> {
        let outermost = self
            .figure
            .gates
            .iter()
            .copied()
            .reduce(|a, b| if b.m() > a.m() { b } else { a });
        let first = legs.first().map(|leg| &leg.motion);
        let place = match (first, self.pilot.whereabouts, outermost) {
            (Some(Motion::Hold { place, .. }), _, _) => *place,
            (_, Whereabouts::Known(state), _) => return Ok(state),
            (_, _, Some(out)) => Place { out, side: None },
            (_, Whereabouts::Lost, None) => return Err(None),
            (_, Whereabouts::Unknown, None) => {
                let fault = Fault::error(
                    self.figure.at.clone(),
                    format!("nothing says where \"{}\" begins", self.figure.id),
                );
                return Err(Some(fault.help(
                    "begin it with { hold = \"3 nmi\", expect = \"90 s\", spread = \"15 s\" }, give it gates = [\"2 nmi\"], or put a figure with legs before it",
                )));
            }
        };
        Ok(self.headed_inbound(0.0, place, first_height(legs)))
    }

    /// At a place on the display line, headed for centre, its speed still to come.
    fn headed_inbound(&self, t: f64, place: Place, height: Option<Length>) -> State {
        let side = self.side(place.side);
        let height = height.or(self.pilot.height).unwrap_or_default();
        State {
            t,
            place: [side.sign() * place.out.m(), self.world.line, height.m()],
            ground: [0.0; 3],
            air: [-side.sign(), 0.0, 0.0],
        }
    }

    /// The side meant, as it is flown today.
    fn side(&self, side: Option<Side>) -> Side {
        let side = side.unwrap_or(self.figure.from);
        if self.mirrored { side.mirrored() } else { side }
    }

    fn hold(
        &self,
        t: f64,
        place: Place,
        expect: Span,
        spread: Span,
        height: Option<Length>,
        at: &Range<usize>,
    ) -> Result<FlownLeg, Option<Fault>> {
        let fault = |message: &str, help: &str| {
            let message = format!("a hold of \"{}\" {message}", self.figure.id);
            Err(Some(Fault::error(at.clone(), message).help(help)))
        };
        let sensible = expect >= Span::ZERO && spread >= Span::ZERO && place.out.m() >= 0.0;
        if !sensible {
            return fault(
                "has a place, a time or a spread below zero",
                "write it as { hold = \"3 nmi\", expect = \"90 s\", spread = \"15 s\" }",
            );
        }
        let held_before = |leg: &FlownLeg| matches!(leg.kind, LegKind::Hold { .. });
        if self.flown.iter().any(held_before) {
            return fault(
                "is its second",
                "a figure has one hold; make two figures of it",
            );
        }
        let begun = self.headed_inbound(t, place, height);
        let mut track = Track::at_rest(begun);
        track.push(State {
            t: t + expect.s(),
            ..begun
        });
        Ok(FlownLeg {
            kind: LegKind::Hold { spread },
            track,
            at: at.clone(),
        })
    }

    /// Flies a leg that moves.
    fn move_on(&mut self, here: &State, leg: &Leg) -> Result<FlownLeg, CannotFly> {
        let height = leg
            .height
            .or(self.pilot.height)
            .ok_or(CannotFly::NoHeight)?;
        ensure(height.m() >= 0.0, CannotFly::HeightBelowSite)?;
        let conditions = Conditions {
            parcel: self.world.air.at(height),
            wind: self.world.wind.at(height),
        };
        let (kind, flown) = match leg.motion {
            Motion::Run { until, pitch: None } => {
                let on_line = along_line(here, until)?;
                let course = on_line.map_or_else(|| straight_on(here), |way| [way, 0.0]);
                let run = Run {
                    conditions,
                    speed: self.speed(&conditions, leg.speed, Some(course))?,
                    course,
                    line: on_line.map(|_| self.world.line),
                    height: height.m(),
                };
                let end = self.run_end(here, course, until)?;
                let way = course[0].signum();
                (
                    LegKind::Run {
                        way,
                        pass: leg.pass,
                    },
                    run.fly(here, end)?,
                )
            }
            Motion::Turn {
                until: TurnUntil::Angle(angle),
                towards,
                by,
            } => {
                let turn = Turn {
                    conditions,
                    speed: self.speed(&conditions, leg.speed, None)?,
                    angle: angle.rad(),
                    sense: self.sense(here, towards)?,
                    by,
                    height: height.m(),
                };
                (LegKind::Turn, turn.fly(here)?)
            }
            _ => return Err(CannotFly::NotYet),
        };
        let Flown { track, speed } = flown;
        self.pilot.speed = Some(speed);
        self.pilot.height = Some(height);
        let at = leg.at.clone();
        Ok(FlownLeg { kind, track, at })
    }

    fn speed(
        &self,
        conditions: &Conditions,
        plan: Option<LegSpeed>,
        course: Option<[f64; 2]>,
    ) -> Result<SpeedLaw, CannotFly> {
        SpeedLaw::new(conditions, plan, self.pilot.speed, course)
    }

    fn run_end(
        &self,
        here: &State,
        course: [f64; 2],
        until: RunUntil,
    ) -> Result<RunEnd, CannotFly> {
        let to = |x: f64| RunEnd::Along((x - here.x()) * course[0]);
        Ok(match until {
            RunUntil::Centre => to(0.0),
            RunUntil::Place(place) => to(self.side(place.side).sign() * place.out.m()),
            RunUntil::Distance(far) if far.m() >= 0.0 => RunEnd::Along(far.m()),
            RunUntil::Distance(_) => return Err(CannotFly::NegativeLength),
            RunUntil::Time(span) => RunEnd::After(span.s()),
            RunUntil::Height(_) | RunUntil::Speed(_) => return Err(CannotFly::NotYet),
        })
    }

    /// 1 for a turn to the pilot's left, −1 to the right.
    fn sense(&self, here: &State, towards: TurnTowards) -> Result<f64, CannotFly> {
        let mirror = if self.mirrored { -1.0 } else { 1.0 };
        let along = share_along(here);
        match towards {
            TurnTowards::PilotsLeft => Ok(mirror),
            TurnTowards::PilotsRight => Ok(-mirror),
            _ if along.abs() < ACROSS_LINE => Err(CannotFly::TurnWay),
            TurnTowards::Crowd => Ok(-along.signum()),
            TurnTowards::Away => Ok(along.signum()),
        }
    }

    fn fault(&self, at: &Range<usize>, why: CannotFly) -> Fault {
        let message = format!("a leg of \"{}\" {}", self.figure.id, why.what());
        Fault::error(at.clone(), message).help(why.help())
    }
}

/// The first height any leg gives.
fn first_height(legs: &[Leg]) -> Option<Length> {
    legs.iter().find_map(|leg| leg.height)
}

/// The cosine between the heading and the display line towards the crowd's right.
fn share_along(here: &State) -> f64 {
    let [x, y, _] = here.air;
    x / x.hypot(y)
}

/// The way along the display line, 1 or −1, that a run takes; `None` where it goes straight on instead.
fn along_line(here: &State, until: RunUntil) -> Result<Option<f64>, CannotFly> {
    let along = share_along(here);
    match until {
        RunUntil::Centre | RunUntil::Place(_) => {
            ensure(along.abs() >= TO_A_PLACE, CannotFly::OffLine)?;
            Ok(Some(along.signum()))
        }
        _ => Ok((along.abs() >= ALONG_LINE).then_some(along.signum())),
    }
}

/// The course over the ground, as a unit vector.
fn straight_on(here: &State) -> [f64; 2] {
    let [x, y, _] = here.ground;
    let speed = x.hypot(y);
    [x / speed, y / speed]
}

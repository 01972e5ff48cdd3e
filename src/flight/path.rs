//! Flying a figure: its legs one after the other, from where the aircraft is.

use std::ops::Range;

use super::alike::{Alike, Taken};
use super::attitude::Attitude;
use super::begins;
use super::cannot::CannotFly;
use super::ends::Ended;
use super::legs::{Begin, Flown};
use super::power;
use super::track::{State, Track};
use super::vector::UP;
use super::world::World;
use crate::show::{Fault, Figure, Leg, Motion, Place, Side, is_pass};
use crate::units::{Airspeed, Length, Span};

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
    Known(Here),
    /// Nothing says: there is no figure before, or it is only timed.
    Unknown,
    /// The figure before could not be flown, and says so.
    Lost,
}

/// A leg that was flown.
#[derive(Debug, Clone)]
pub(super) struct FlownLeg {
    pub kind: LegKind,
    /// Whether it is a pass.
    pub pass: bool,
    pub track: Track,
    pub at: Range<usize>,
    /// How it was taken on and handed on; `None` for a hold.
    pub taken: Option<Taken>,
}

/// What sort of leg it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum LegKind {
    Hold {
        spread: Span,
    },
    /// A run, or a roll that goes straight on.
    Straight,
    Other,
}

/// A figure's legs as far as they could be flown.
#[derive(Debug, Clone)]
pub(super) struct FlownLegs {
    pub legs: Vec<FlownLeg>,
    pub pilot: Pilot,
    /// What could not be flown.
    pub fault: Option<Fault>,
    /// What does not begin as it should, or not as it might be thought.
    pub remarks: Vec<Fault>,
}

impl FlownLegs {
    /// When the last of them ends, s; 0 if there is none.
    pub fn ends(&self) -> f64 {
        self.legs.last().map_or(0.0, |leg| leg.track.end().t)
    }
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
    alike: Option<Alike<'a>>,
    flown: Vec<FlownLeg>,
    remarks: Vec<Fault>,
    /// Which way the last turn went.
    turned: Option<f64>,
}

/// Where an aircraft is between two legs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Here {
    pub state: State,
    pub attitude: Attitude,
    /// Whether it moves; if not, only the direction of its velocity counts.
    pub moves: bool,
    /// Whether anything says how high it is.
    has_height: bool,
}

/// Flies `legs` of `figure` as far as they go. What goes the same way through the air as in another wind is
/// taken from there.
pub(super) fn fly_legs(
    world: &World,
    figure: &Figure,
    legs: &[Leg],
    mirrored: bool,
    pilot: Pilot,
    alike: Option<Alike<'_>>,
) -> FlownLegs {
    let mut flying = Flying {
        world,
        figure,
        mirrored,
        pilot,
        alike,
        flown: Vec::new(),
        remarks: Vec::new(),
        turned: None,
    };
    let ended = flying.fly(legs);
    let mut pilot = flying.pilot;
    pilot.whereabouts = match &ended {
        Ok(here) => {
            let end = State {
                t: 0.0,
                ..here.state
            };
            Whereabouts::Known(Here {
                state: end,
                ..*here
            })
        }
        Err(_) => Whereabouts::Lost,
    };
    FlownLegs {
        legs: flying.flown,
        pilot,
        // What follows a figure that could not be flown has no fault of its own.
        fault: ended.err().flatten(),
        remarks: flying.remarks,
    }
}

impl Flying<'_> {
    /// Flies the legs to where they end; the error is the fault to report, if there is one.
    fn fly(&mut self, legs: &[Leg]) -> Result<Here, Option<Fault>> {
        if legs.is_empty() {
            let fault = Fault::error(
                self.figure.at.clone(),
                format!("\"{}\" has no legs", self.figure.id),
            );
            return Err(Some(fault.help("give it legs, or say how long it takes")));
        }
        let mut here = self.begin(legs)?;
        let mut begun = false;
        for (i, leg) in legs.iter().enumerate() {
            if let Motion::Hold {
                place,
                expect,
                spread,
            } = leg.motion
            {
                let height = first_height(legs.get(i..).unwrap_or_default());
                here = self.hold(
                    here.state.t,
                    place,
                    expect,
                    spread,
                    height.or(first_height(legs)),
                    &leg.at,
                )?;
                continue;
            }
            here = self.move_on(&here, leg, !begun, is_pass(legs, i))?;
            begun = true;
        }
        Ok(here)
    }

    /// Where the first leg begins: at its hold; else where the figure before ended; else at the
    /// outermost gate, headed for centre.
    fn begin(&self, legs: &[Leg]) -> Result<Here, Option<Fault>> {
        let outermost = self
            .figure
            .gates
            .iter()
            .copied()
            .reduce(|a, b| if b.m() > a.m() { b } else { a });
        let first = legs.first().map(|leg| &leg.motion);
        let place = match (first, self.pilot.whereabouts, outermost) {
            (Some(Motion::Hold { place, .. }), _, _) => *place,
            (_, Whereabouts::Known(here), _) => return Ok(here),
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
    fn headed_inbound(&self, t: f64, place: Place, height: Option<Length>) -> Here {
        let side = self.side(place.side);
        let height = height.or(self.pilot.height);
        let ahead = [-side.sign(), 0.0, 0.0];
        Here {
            state: State {
                t,
                place: [
                    side.sign() * place.out.m(),
                    self.world.line,
                    height.unwrap_or_default().m(),
                ],
                air: ahead,
                ..State::default()
            },
            attitude: Attitude::upright(ahead, UP),
            moves: false,
            has_height: height.is_some(),
        }
    }

    /// The side meant, as it is flown today.
    fn side(&self, side: Option<Side>) -> Side {
        let side = side.unwrap_or(self.figure.from);
        if self.mirrored { side.mirrored() } else { side }
    }

    fn hold(
        &mut self,
        t: f64,
        place: Place,
        expect: Span,
        spread: Span,
        height: Option<Length>,
        at: &Range<usize>,
    ) -> Result<Here, Option<Fault>> {
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
        let mut track = Track::at_rest(begun.state);
        let state = State {
            t: t + expect.s(),
            ..begun.state
        };
        track.push(state);
        self.flown.push(FlownLeg {
            kind: LegKind::Hold { spread },
            pass: false,
            track,
            at: at.clone(),
            taken: None,
        });
        Ok(Here { state, ..begun })
    }

    /// Flies a leg that moves; `first` of its figure; a `pass` of its own.
    fn move_on(
        &mut self,
        here: &Here,
        leg: &Leg,
        first: bool,
        pass: bool,
    ) -> Result<Here, Option<Fault>> {
        let begin = Begin {
            world: self.world,
            state: here.state,
            attitude: here.attitude,
            moves: here.moves,
            speed: self.pilot.speed,
            has_height: here.has_height,
            from: self.figure.from,
            mirrored: self.mirrored,
            turned: self.turned,
        };
        if let Motion::Turn { towards, .. } | Motion::Roll { towards, .. } = leg.motion {
            self.turned = begin.turns(towards);
        }
        let most_thrust = self.world.craft.most_thrust;
        self.remarks
            .extend(begins::thrust(self.figure, leg, most_thrust));
        let Flown {
            track,
            speed,
            attitude,
        } = match self
            .alike
            .and_then(|alike| alike.take(self.flown.len(), here, self.pilot.speed, leg))
        {
            Some(flown) => flown,
            None => begin.fly(leg).map_err(|why| Some(self.fault(leg, why)))?,
        };
        let begun = begins::Begun {
            figure: self.figure,
            leg,
            air: &self.world.air,
            // Before its first leg nothing but that leg says how fast it is.
            state: if here.moves {
                &here.state
            } else {
                track.start()
            },
        };
        self.remarks.extend(begun.needs(first));
        if here.moves {
            self.remarks.extend(begun.jump_of_speed(track.start()));
            self.remarks.extend(begun.jump_of_heading(track.start()));
        }
        let from_speed = self.pilot.speed.replace(speed);
        if !self.world.is_rough() {
            self.remarks
                .extend(power::too_little(self.figure, leg, self.world, &track));
        }
        let state = *track.end();
        let ended = Ended {
            figure: self.figure,
            leg,
            state: &state,
        };
        self.remarks.extend(ended.short_of_height());
        self.pilot.height = Some(Length::from_m(state.place[2]));
        let kind = match leg.motion.goes_straight_on() {
            true => LegKind::Straight,
            false => LegKind::Other,
        };
        self.flown.push(FlownLeg {
            kind,
            pass,
            track,
            at: leg.at.clone(),
            taken: Some(Taken {
                from: *here,
                from_speed,
                speed,
                attitude,
            }),
        });
        Ok(Here {
            state,
            attitude,
            moves: true,
            has_height: true,
        })
    }

    fn fault(&self, leg: &Leg, why: CannotFly) -> Fault {
        let which = begins::subject(self.figure, leg);
        let craft = self.figure.aircraft.first();
        let table = format!("[aircraft.{}]", craft.map_or("…", |craft| craft.as_str()));
        let help = why.help_on(leg).replace("[aircraft.…]", &table);
        Fault::error(leg.at.clone(), format!("{which} {}", why.what())).help(help)
    }
}

/// The first height any leg gives.
pub(super) fn first_height(legs: &[Leg]) -> Option<Length> {
    legs.iter().find_map(|leg| leg.height)
}

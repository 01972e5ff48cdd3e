//! The way from where a figure ended to where the next one's run-in can begin.
//!
//! A display as written may bring each figure to where the next begins; one from which a figure was
//! dropped, or of which two were swapped, need not. Where a run-in cannot begin at the place the aircraft is
//! (on the wrong side, headed away, or nearer than the outermost gate), a reposition is put before it: a
//! level turn away from the crowd until it is headed out, along a line further from the crowd past where the
//! run-in is to begin, and a level turn back onto the display line, all at the speed and height the figure
//! before ended with. To a hold it is flown too, on the way out to the height of the hold, within what that is
//! expected to last.

use super::alike::Alike;
use super::legs::straight::{CLOSING, CLOSING_SHARE};
use super::legs::{Climb, UNWRITTEN};
use super::path::{FlownLeg, FlownLegs, Pilot, Whereabouts, first_height, fly_legs};
use super::track::State;
use super::world::World;
use crate::show::{Fault, Figure, Leg, Motion, RunUntil, Side, TurnBy, TurnTowards, TurnUntil};
use crate::units::{Angle, Length, Span};

/// Where a run-in without gates begins after a reposition (common practice, no published source).
const RUN_IN: Length = Length::from_m(1_852.0);
/// A reposition ends so much further out than where it leads, m: what is there is passed, not begun at.
const BEYOND: f64 = 50.0;
/// Nearer than this to a place is at it, m.
const NEAR: f64 = 1.0;
/// The most a run-in may be headed off the display line, and the most a way out, as cosines: 60 and 30 degrees.
const INBOUND: f64 = 0.5;
const OUTBOUND: f64 = 0.866;
/// A run that closes on its line is on it when it is this near, m.
const CLOSED: f64 = 5.0;

/// A figure flown, and the reposition before it.
pub(super) struct Repositioned {
    pub flown: FlownLegs,
    pub reposition: Option<Reposition>,
}

/// A reposition put before a figure.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reposition {
    /// How much longer it makes the figure.
    pub by: Span,
    to: Target,
}

impl Reposition {
    /// Whether the figure is any longer by it: a hold may allow for all of it.
    pub fn lengthens(&self) -> bool {
        self.by > Span::ZERO
    }

    /// What is said of it.
    pub fn advice(&self, figure: &Figure) -> Fault {
        let (id, by) = (&figure.id, self.by.s().ceil());
        let (message, help) = if self.to.hold {
            (
                format!(
                    "the way to the hold of \"{id}\" takes {by} s longer than the hold is expected to last"
                ),
                format!(
                    "expect it to last {by} s longer, or bring the aircraft nearer to it before"
                ),
            )
        } else {
            (
                format!(
                    "\"{id}\" cannot begin where the figure before it ended: a reposition of {by} s is put before it"
                ),
                format!(
                    "end the figure before it further out on the {}, headed for centre, or begin \"{id}\" with a hold",
                    self.to.side.word()
                ),
            )
        };
        Fault::advice(figure.at.clone(), message).help(help)
    }
}

/// Flies `legs` of `figure` from where its aircraft is, after a reposition where it takes one that can be
/// flown. `alike`: the same in another wind, which then is repositioned too or neither.
pub(super) fn fly_from(
    world: &World,
    figure: &Figure,
    legs: &[Leg],
    mirrored: bool,
    pilot: Pilot,
    alike: Option<Alike<'_>>,
) -> Repositioned {
    let reposition = Target::of(figure, legs, mirrored)
        .filter(|target| match &alike {
            Some(alike) => alike.repositioned,
            None => target.is_called_for(&pilot),
        })
        .and_then(|target| Some((target, Way::fly(world, figure, target, pilot)?)));
    let Some((to, way)) = reposition else {
        return Repositioned {
            flown: fly_legs(world, figure, legs, mirrored, pilot, alike),
            reposition: None,
        };
    };
    let takes = Span::from_s(way.t);
    let (legs, allowed) = within_hold(legs, takes);
    let alike = alike.map(|alike| Alike {
        legs: alike.legs.get(way.flown.len()..).unwrap_or_default(),
        ..alike
    });
    let mut flown = fly_legs(world, figure, &legs, mirrored, way.pilot, alike);
    for leg in &mut flown.legs {
        leg.track.later_by(way.t);
    }
    flown.legs.splice(0..0, way.flown);
    Repositioned {
        flown,
        reposition: Some(Reposition {
            by: (takes - allowed).max(Span::ZERO),
            to,
        }),
    }
}

/// The legs with what is left of a hold they begin with after a way of `takes` to it, and how much of that
/// the hold allowed for.
fn within_hold(legs: &[Leg], takes: Span) -> (Vec<Leg>, Span) {
    let mut legs = legs.to_vec();
    let Some(Motion::Hold { expect, .. }) = legs.first_mut().map(|leg| &mut leg.motion) else {
        return (legs, Span::ZERO);
    };
    let allowed = *expect;
    *expect = (allowed - takes).max(Span::ZERO);
    (legs, allowed)
}

/// Where a figure begins, as it is flown today.
#[derive(Debug, Clone, Copy)]
struct Target {
    side: Side,
    /// How far out, m.
    out: f64,
    /// Whether nothing nearer will do: the figure says how far out it is.
    at_least: bool,
    /// Whether it is a hold.
    hold: bool,
    /// How high that is, if anything says.
    height: Option<Length>,
}

impl Target {
    /// The hold a figure begins with, or the outermost gate of a run-in; `None` for one that begins with
    /// neither: it begins where the aircraft is.
    fn of(figure: &Figure, legs: &[Leg], mirrored: bool) -> Option<Target> {
        let flown = |side: Option<Side>| {
            let side = side.unwrap_or(figure.from);
            if mirrored { side.mirrored() } else { side }
        };
        if let Motion::Hold { place, .. } = legs.first()?.motion {
            return Some(Target {
                side: flown(place.side),
                out: place.out.m(),
                at_least: true,
                hold: true,
                height: first_height(legs),
            });
        }
        let mut runs = legs.iter().take_while(|leg| leg.motion.goes_straight_on());
        runs.any(|leg| leg.pass).then_some(())?;
        let outermost = figure.gates.iter().map(|gate| gate.m()).reduce(f64::max);
        Some(Target {
            side: flown(None),
            out: outermost.unwrap_or(RUN_IN.m()),
            at_least: outermost.is_some(),
            hold: false,
            height: None,
        })
    }

    /// Whether a figure that begins there cannot begin where the aircraft is.
    fn is_called_for(&self, pilot: &Pilot) -> bool {
        let Some(here) = whereabouts(pilot) else {
            return false;
        };
        let out = here.x() * self.side.sign();
        let inbound = -share_along(&here) * self.side.sign();
        inbound < INBOUND || out < -NEAR || self.at_least && out < self.out - NEAR
    }
}

/// Where the aircraft is, if anything says.
fn whereabouts(pilot: &Pilot) -> Option<State> {
    match pilot.whereabouts {
        Whereabouts::Known(here) => Some(here.state),
        Whereabouts::Unknown | Whereabouts::Lost => None,
    }
}

/// The cosine between the heading and the display line towards the crowd's right.
fn share_along(here: &State) -> f64 {
    let [x, y, _] = here.air;
    let level = x.hypot(y);
    if level > 0.0 { x / level } else { 0.0 }
}

/// A reposition being flown.
struct Way<'a> {
    world: &'a World,
    /// The figure it is before, as far as flying takes notice of it.
    figure: Figure,
    pilot: Pilot,
    here: State,
    /// Since its start, s.
    t: f64,
    flown: Vec<FlownLeg>,
}

impl<'a> Way<'a> {
    /// The way to `target`; `None` where it cannot be flown.
    fn fly(world: &'a World, figure: &Figure, target: Target, pilot: Pilot) -> Option<Way<'a>> {
        let mut way = Way {
            world,
            figure: Figure {
                gates: Vec::new(),
                versions: Vec::new(),
                ..figure.clone()
            },
            here: whereabouts(&pilot)?,
            pilot,
            t: 0.0,
            flown: Vec::new(),
        };
        way.head_out(target.side)?;
        let [back_x, back_y] = way.turn_back_moves(target.side)?;
        let side = target.side.sign();
        // A hold is begun where it is.
        let passed = if target.hold { 0.0 } else { BEYOND };
        let beyond = target.out + passed - back_x * side;
        way.run_out(beyond, world.line - back_y, target)?;
        way.turn_back()?;
        Some(way)
    }

    /// Turns until it is headed out to the side; away from the crowd where it was headed in.
    fn head_out(&mut self, side: Side) -> Option<()> {
        let out = share_along(&self.here) * side.sign();
        if out >= OUTBOUND {
            return Some(());
        }
        let [x, y, _] = self.here.air;
        // How far round to the pilot's left, in one circle.
        let wanted = if side == Side::Right {
            0.0
        } else {
            std::f64::consts::PI
        };
        let left = (wanted - y.atan2(x)).rem_euclid(std::f64::consts::TAU);
        let away_is_left = x > 0.0;
        let nearer_is_left = left <= std::f64::consts::PI;
        let turn_left = if out <= -INBOUND {
            away_is_left
        } else {
            nearer_is_left
        };
        if turn_left {
            self.turn(left, TurnTowards::PilotsLeft)
        } else {
            self.turn(std::f64::consts::TAU - left, TurnTowards::PilotsRight)
        }
    }

    /// How far the turn back onto the line moves the aircraft, x and y: tried out from here.
    fn turn_back_moves(&self, side: Side) -> Option<[f64; 2]> {
        let mut trial = Way {
            figure: self.figure.clone(),
            flown: Vec::new(),
            ..*self
        };
        // Headed as on the line it will be flown from.
        trial.run(NEAR, self.here.y(), None)?;
        let before = trial.here;
        trial.turn_back()?;
        let moved = [trial.here.x() - before.x(), trial.here.y() - before.y()];
        (share_along(&trial.here) * side.sign() < 0.0).then_some(moved)
    }

    /// Runs out along `line` until it is `beyond` metres out on the side, on the line, and at its height.
    fn run_out(&mut self, beyond: f64, line: f64, target: Target) -> Option<()> {
        let to_go = beyond - self.here.x() * target.side.sign();
        let [x, y, _] = self.here.ground;
        let speed = x.hypot(y);
        let scale = CLOSING * CLOSING_SHARE * speed;
        let off = (line - self.here.y()).abs().max(CLOSED);
        let closing = CLOSING * ((off / scale).sinh() / (CLOSED / scale).sinh()).ln();
        let from = self.here.place[2];
        let climb = Climb::new(from, target.height.map(|height| height.m()));
        let climbing = climb.takes(from, speed, NEAR).unwrap_or(0.0);
        let far = to_go.max(speed * closing.max(climbing));
        if far > NEAR {
            self.run(far, line, target.height)
        } else {
            Some(())
        }
    }

    /// Turns round towards the crowd until it is headed back along the line it is on, off it by as much on
    /// the other side of the wind.
    fn turn_back(&mut self) -> Option<()> {
        let [x, y, _] = self.here.air;
        let off = y.atan2(x.abs());
        self.turn(std::f64::consts::PI + 2.0 * off, TurnTowards::Crowd)
    }

    fn run(&mut self, far: f64, line: f64, height: Option<Length>) -> Option<()> {
        let until = RunUntil::Distance(Length::from_m(far));
        self.go(line, Motion::Run { until, pitch: None }, height)
    }

    fn turn(&mut self, angle: f64, towards: TurnTowards) -> Option<()> {
        let motion = Motion::Turn {
            until: TurnUntil::Angle(Angle::from_rad(angle)),
            towards,
            by: TurnBy::Load(UNWRITTEN),
        };
        self.go(self.world.line, motion, None)
    }

    /// Flies one leg, to a height if there is one, as if the display line were `line` metres from the crowd line.
    fn go(&mut self, line: f64, motion: Motion, height: Option<Length>) -> Option<()> {
        let world = World {
            line,
            ..self.world.clone()
        };
        let leg = Leg {
            height,
            ..Leg::new(motion, self.figure.at.clone())
        };
        let flown = fly_legs(&world, &self.figure, &[leg], false, self.pilot, None);
        flown.fault.is_none().then_some(())?;
        self.pilot = flown.pilot;
        self.here = whereabouts(&self.pilot)?;
        for mut leg in flown.legs {
            leg.track.later_by(self.t);
            self.t = leg.track.end().t;
            self.flown.push(leg);
        }
        Some(())
    }
}

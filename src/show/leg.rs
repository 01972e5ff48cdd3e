//! The legs figures are made of.

use std::ops::Range;

use super::{CoastUntil, Needs, Place, PullUntil, RunUntil, TurnUntil};
use crate::units::{Acceleration, Airspeed, Angle, Length, Span, Speed};

/// The highest load factor an aircraft is flown with, either way (no aircraft is stressed for more; from memory).
pub const HARDEST: f64 = 15.0;

/// One leg.
#[derive(Debug, Clone)]
pub struct Leg {
    /// What it is.
    pub motion: Motion,
    /// How fast; `None`: level runs and turns hold the speed they begin at, any other leg follows energy.
    pub speed: Option<LegSpeed>,
    /// The share of the excess power at 1 g that is used while speed follows energy, −1 to 1 (below zero:
    /// idle and air brake); `None`: all of it.
    pub power: Option<f64>,
    /// Height above the site that a run or a turn goes to; `None`: a level leg keeps the height it begins at.
    pub height: Option<Length>,
    /// What must be so where it begins.
    pub needs: Option<Needs>,
    /// Whether crossing crowd centre on it counts as a pass.
    pub pass: bool,
    /// Whether it crosses crowd centre at one instant with another aircraft of the figure.
    pub cross: bool,
    /// Whether it is this run that is lengthened where its aircraft would cross too early; if no leg says
    /// so it is the first run for a distance or a time.
    pub lengthen: bool,
    /// Which part of a named figure it is: "second quarter of the loop".
    pub part: Option<String>,
    /// Bytes of the document that state it.
    pub at: Range<usize>,
}

/// What a leg is.
#[derive(Debug, Clone, PartialEq)]
pub enum Motion {
    /// Wait at a place until inbound.
    Hold {
        /// Where.
        place: Place,
        /// For how long, as planned.
        expect: Span,
        /// One standard deviation of that.
        spread: Span,
    },
    /// Straight.
    Run {
        /// How far.
        until: RunUntil,
        /// The angle of the path through the air, negative downwards; `None`: level, or to the leg's height.
        pitch: Option<Angle>,
    },
    /// A turn at one height, or to one.
    Turn {
        /// How far.
        until: TurnUntil,
        /// Which way.
        towards: TurnTowards,
        /// How hard.
        by: TurnBy,
    },
    /// Round in the plane of the lift, towards the canopy.
    Pull {
        /// How far.
        until: PullUntil,
        /// How hard.
        by: PullBy,
    },
    /// Round in the plane of the lift, towards the belly.
    Push {
        /// How far.
        until: PullUntil,
        /// How hard.
        by: PullBy,
    },
    /// Round the path.
    Roll {
        /// How far, positive.
        angle: Angle,
        /// How far in a second; `None`: the aircraft's own.
        rate: Option<Angle>,
        /// Which way.
        towards: TurnTowards,
        /// The load factor kept while rolling; `None`: the path goes straight on.
        load: Option<f64>,
    },
    /// Power off and without lift or drag.
    Coast {
        /// How far.
        until: CoastUntil,
    },
    /// The nose turns round, the path falls.
    Pivot {
        /// How far, positive.
        angle: Angle,
        /// How far in a second.
        rate: Angle,
        /// About which axis.
        about: PivotAbout,
        /// The speed at which it falls flat.
        sink: Speed,
        /// Thrust along the nose while it turns, as a share of weight.
        thrust: f64,
        /// Flies out, power on, until the path has come to the nose and this speed is reached; `None`: the
        /// leg ends when the nose has turned.
        out: Option<Airspeed>,
    },
}

/// How fast a leg is flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LegSpeed {
    /// Held from the beginning of the leg.
    Held(Airspeed),
    /// Changed to from the speed before.
    Changed {
        /// The speed then held.
        to: Airspeed,
        /// At this rate of the speed as named; its sign is the direction's.
        gain: Acceleration,
    },
    /// It follows energy: what power, climb and the load factor leave.
    Energy,
    /// It follows height alone: with just the power that keeps the energy height, as far as there is so much.
    SameEnergy,
}

/// Which way a turn or a roll goes, as the pilot turns; towards the crowd or away from it by the heading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TurnTowards {
    /// To the pilot's left.
    PilotsLeft,
    /// To the pilot's right.
    PilotsRight,
    /// Towards the crowd.
    Crowd,
    /// Away from the crowd.
    Away,
    /// The other way than the turn or roll before it.
    Back,
}

/// A side as the pilot sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PilotsSide {
    /// The left wing's.
    Left,
    /// The right wing's.
    Right,
}

/// How hard a turn is flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurnBy {
    /// Bank.
    Bank(Angle),
    /// Load factor, above 1.
    Load(f64),
    /// As tight as the aircraft's stall, its most g and, where it holds its speed, its power allow.
    Tightest,
}

/// How hard a pull or a push is flown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PullBy {
    /// The load factor felt; negative towards the belly.
    Load(f64),
    /// The radius of the path through the air.
    Radius(Length),
}

/// What a pivot turns about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PivotAbout {
    /// The wings: nose up.
    Pitch,
    /// The vertical axis: nose to this side of the pilot's.
    Yaw(PilotsSide),
}

impl Leg {
    /// A leg of which nothing but what it is is said.
    pub const fn new(motion: Motion, at: Range<usize>) -> Self {
        Leg {
            motion,
            speed: None,
            power: None,
            height: None,
            needs: None,
            pass: false,
            cross: false,
            lengthen: false,
            part: None,
            at,
        }
    }
}

/// Whether one of a figure's legs is a pass of its own: a run to centre and what goes straight on from there pass it
/// once, be both marked.
pub fn is_pass(legs: &[Leg], nth: usize) -> bool {
    let Some(leg) = legs.get(nth).filter(|leg| leg.pass) else {
        return false;
    };
    let before = nth.checked_sub(1).and_then(|before| legs.get(before));
    let passed_there = before.is_some_and(|leg| leg.pass && leg.motion.is_to_centre());
    !(passed_there && leg.motion.goes_straight_on())
}

/// How many passes a figure's legs are.
pub fn count_passes(legs: &[Leg]) -> usize {
    (0..legs.len()).filter(|&nth| is_pass(legs, nth)).count()
}

impl PilotsSide {
    /// The other side.
    pub const fn other(self) -> PilotsSide {
        match self {
            PilotsSide::Left => PilotsSide::Right,
            PilotsSide::Right => PilotsSide::Left,
        }
    }
}

impl Motion {
    /// Whether it goes straight on: a run, or a roll on the way.
    pub const fn goes_straight_on(&self) -> bool {
        matches!(self, Motion::Run { .. } | Motion::Roll { load: None, .. })
    }

    const fn is_to_centre(&self) -> bool {
        matches!(
            self,
            Motion::Run {
                until: RunUntil::Centre,
                ..
            }
        )
    }

    /// Whether it goes the same way through the air whatever the wind along it: no place and no distance over
    /// the ground ends it, and it keeps to no track.
    pub(crate) const fn goes_by_the_air(&self) -> bool {
        match self {
            Motion::Hold { .. } | Motion::Run { pitch: None, .. } => false,
            Motion::Run { until, .. } => matches!(
                until,
                RunUntil::Time(_) | RunUntil::Height(_) | RunUntil::Speed(_)
            ),
            _ => true,
        }
    }

    /// What such a leg is called, without an article: "run".
    pub const fn noun(&self) -> &'static str {
        match self {
            Motion::Hold { .. } => "hold",
            Motion::Run { .. } => "run",
            Motion::Turn { .. } => "turn",
            Motion::Pull { .. } => "pull",
            Motion::Push { .. } => "push",
            Motion::Roll { .. } => "roll",
            Motion::Coast { .. } => "coast",
            Motion::Pivot { .. } => "pivot",
        }
    }
}

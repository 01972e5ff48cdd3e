//! Writes a leg in a few words.

use crate::show::{
    CoastUntil, Leg, LegSpeed, Motion, Needs, PivotAbout, PullBy, PullUntil, RunUntil, TurnBy,
    TurnTowards, TurnUntil,
};
use crate::units::{Airspeed, Angle, Length, Span, Speed};

/// A level run.
pub(super) fn run(until: RunUntil) -> Leg {
    leg(Motion::Run { until, pitch: None })
}

/// A run straight on through the air.
pub(super) fn climb(until: RunUntil, pitch: Angle) -> Leg {
    let pitch = Some(pitch);
    leg(Motion::Run { until, pitch })
}

/// A level turn.
pub(super) fn turn(deg: f64, towards: TurnTowards, by: TurnBy) -> Leg {
    turn_until(TurnUntil::Angle(Angle::from_deg(deg)), towards, by)
}

pub(super) fn turn_until(until: TurnUntil, towards: TurnTowards, by: TurnBy) -> Leg {
    leg(Motion::Turn { until, towards, by })
}

pub(super) fn pull(until: PullUntil, by: PullBy) -> Leg {
    leg(Motion::Pull { until, by })
}

pub(super) fn push(until: PullUntil, load: f64) -> Leg {
    let by = PullBy::Load(load);
    leg(Motion::Push { until, by })
}

/// A roll on which the path goes straight on.
pub(super) fn roll(angle: Angle, rate: Option<Angle>, towards: TurnTowards) -> Leg {
    leg(Motion::Roll {
        angle,
        rate,
        towards,
        load: None,
    })
}

/// A roll round which the lift goes with the wings.
pub(super) fn loaded_roll(angle: Angle, rate: Angle, towards: TurnTowards, load: f64) -> Leg {
    leg(Motion::Roll {
        angle,
        rate: Some(rate),
        towards,
        load: Some(load),
    })
}

pub(super) fn coast(until: CoastUntil) -> Leg {
    leg(Motion::Coast { until })
}

/// What a pivot has besides how far it turns.
#[derive(Clone, Copy)]
pub(super) struct Falling {
    pub rate: Angle,
    pub sink: Speed,
    pub thrust: f64,
    pub out: Airspeed,
}

/// A pivot, flown out of.
pub(super) fn pivot(angle: Angle, about: PivotAbout, falling: Falling) -> Leg {
    let Falling {
        rate,
        sink,
        thrust,
        out,
    } = falling;
    leg(Motion::Pivot {
        angle,
        rate,
        about,
        sink,
        thrust,
        out: Some(out),
    })
}

fn leg(motion: Motion) -> Leg {
    Leg::new(motion, 0..0)
}

pub(super) const fn deg(deg: f64) -> Angle {
    Angle::from_deg(deg)
}

/// The next time it is level.
pub(super) const TO_LEVEL: PullUntil = PullUntil::Climb(Angle::ZERO);

/// So far over the ground.
pub(super) const fn run_for(distance: Length) -> RunUntil {
    RunUntil::Distance(distance)
}

/// So long.
pub(super) const fn run_a_while(time: Span) -> RunUntil {
    RunUntil::Time(time)
}

/// The other way on the same heading; back stays back.
pub(super) const fn other_way(towards: TurnTowards) -> TurnTowards {
    match towards {
        TurnTowards::PilotsLeft => TurnTowards::PilotsRight,
        TurnTowards::PilotsRight => TurnTowards::PilotsLeft,
        TurnTowards::Crowd => TurnTowards::Away,
        TurnTowards::Away => TurnTowards::Crowd,
        TurnTowards::Back => TurnTowards::Back,
    }
}

impl Leg {
    /// The same, called a part of its figure.
    pub(super) fn part(mut self, part: &str) -> Leg {
        self.part = Some(part.to_owned());
        self
    }

    /// The same at a speed, if there is one.
    pub(super) fn at_speed(mut self, speed: Option<LegSpeed>) -> Leg {
        self.speed = speed;
        self
    }

    /// The same with its speed following energy.
    pub(super) fn with_power(mut self, power: f64) -> Leg {
        self.speed = Some(LegSpeed::Energy);
        self.power = Some(power);
        self
    }

    /// The same with this power; unless it is given, with what keeps its energy.
    pub(super) fn with_power_or_same(mut self, power: Option<f64>) -> Leg {
        self.speed = Some(match power {
            Some(_) => LegSpeed::Energy,
            None => LegSpeed::SameEnergy,
        });
        self.power = power;
        self
    }

    /// The same with just the power that keeps its speed in level flight.
    pub(super) fn steady(self) -> Leg {
        self.with_power(0.0)
    }

    /// The same, to a height if there is one.
    pub(super) fn at_height(mut self, height: Option<Length>) -> Leg {
        self.height = height;
        self
    }

    /// The same, crossing crowd centre as a pass.
    pub(super) fn passing(mut self) -> Leg {
        self.pass = true;
        self
    }

    /// The same, crossing crowd centre together with another aircraft.
    pub(super) fn crossing(mut self) -> Leg {
        self.cross = true;
        self.passing()
    }

    /// The same, lengthened if its aircraft would cross too early.
    pub(super) fn lengthened(mut self) -> Leg {
        self.lengthen = true;
        self
    }

    /// The same, with what must be so where it begins.
    pub(super) fn needing(mut self, needs: Needs) -> Leg {
        self.needs = Some(needs);
        self
    }
}

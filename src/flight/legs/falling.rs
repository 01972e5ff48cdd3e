//! Falling: coasts, on which nothing but weight acts, and pivots, on which the nose turns apart from the path.

use crate::flight::air::GRAVITY;
use crate::flight::attitude::Attitude;
use crate::flight::cannot::CannotFly;
use crate::flight::craft::Effort;
use crate::flight::integrate::Law;
use crate::flight::track::State;
use crate::flight::vector::{UP, Vector, across, cross, dot, length, plus, times, unit};
use crate::flight::world::World;
use crate::show::PilotsSide;
use crate::show::PivotAbout;
use crate::units::Airspeed;

/// The longest step, s.
const STEP: f64 = 2.0;
/// The most the nose turns in one step, rad.
const STEP_ROUND: f64 = 0.4;
/// Flown out, the path has come as near to the nose as this (cosine of 20 degrees).
const TO_THE_NOSE: f64 = 0.939_692_620_785_908_4;

/// What acts besides weight.
#[derive(Debug, Clone, Copy)]
pub(super) enum Acting {
    /// Nothing; the nose stays where it is.
    Nothing { nose: Vector },
    /// Air, braking all that moves, and thrust along a nose that turns.
    Turning {
        swing: Swing,
        sink: f64,
        thrust: f64,
    },
    /// Air, braking what moves across the nose, and all excess thrust along it.
    Out { nose: Vector, sink: f64 },
}

/// A nose that turns.
#[derive(Debug, Clone, Copy)]
pub(super) struct Swing {
    pub begun: Attitude,
    pub about: PivotAbout,
    /// rad/s.
    pub rate: f64,
}

/// What ends it.
#[derive(Debug, Clone, Copy)]
pub(super) enum End {
    /// So many seconds gone.
    After(f64),
    /// No longer climbing.
    Top,
    /// This height passed, m.
    Height(f64),
    /// This speed reached.
    Speed(Airspeed),
    /// The path has come to the nose and this speed is reached.
    FlownOut(Airspeed),
}

/// The law. Numbers: place, m; velocity through the air, m/s.
pub(super) struct Falling<'a> {
    pub world: &'a World,
    pub start: State,
    pub acting: Acting,
    pub end: End,
    /// 1 where the height or speed that ends it lies above where it begins, −1 where below.
    sense: f64,
}

impl Swing {
    /// How the aircraft lies `t` seconds into it.
    pub fn at(&self, t: f64) -> Attitude {
        let Attitude { lift, nose } = self.begun;
        let (sin, cos) = (self.rate * t).sin_cos();
        let right = cross(nose, lift);
        match self.about {
            PivotAbout::Pitch => Attitude {
                nose: plus(times(nose, cos), sin, lift),
                lift: plus(times(lift, cos), -sin, nose),
            },
            PivotAbout::Yaw(PilotsSide::Right) => Attitude {
                nose: plus(times(nose, cos), sin, right),
                lift,
            },
            PivotAbout::Yaw(PilotsSide::Left) => Attitude {
                nose: plus(times(nose, cos), -sin, right),
                lift,
            },
        }
    }
}

impl<'a> Falling<'a> {
    pub fn new(world: &'a World, start: State, acting: Acting, end: End) -> Falling<'a> {
        let mut law = Falling {
            world,
            start,
            acting,
            end,
            sense: 1.0,
        };
        if matches!(end, End::Height(_) | End::Speed(_)) {
            law.sense = law.rest(0.0, &law.begin()).signum();
        }
        law
    }

    /// The numbers at its start.
    pub fn begin(&self) -> [f64; 6] {
        let ([x, y, z], [vx, vy, vz]) = (self.start.place, self.start.air);
        [x, y, z, vx, vy, vz]
    }

    fn nose(&self, t: f64) -> Vector {
        match self.acting {
            Acting::Nothing { nose } | Acting::Out { nose, .. } => nose,
            Acting::Turning { swing, .. } => swing.at(t).nose,
        }
    }

    /// What is between it and its end.
    fn rest(&self, t: f64, y: &[f64; 6]) -> f64 {
        let v = [y[3], y[4], y[5]];
        let faster = |named| {
            let wanted = self.world.at(y[2]).true_airspeed(named);
            wanted.unwrap_or(f64::NAN) - length(v)
        };
        match self.end {
            End::After(s) => s - t,
            End::Top => y[5],
            End::Height(height) => height - y[2],
            End::Speed(named) => faster(named),
            End::FlownOut(named) => {
                let off = match (self.acting, unit(v)) {
                    (Acting::Out { nose, .. }, Some(along)) => TO_THE_NOSE - dot(along, nose),
                    _ => TO_THE_NOSE,
                };
                // Both must be come to; a metre a second weighs as much as a hundredth of the cosine.
                off.max(0.01 * faster(named))
            }
        }
    }
}

impl Law<6> for Falling<'_> {
    fn world(&self) -> &World {
        self.world
    }

    fn tolerance(&self) -> [f64; 6] {
        [1e-3; 6]
    }

    fn rate(&self, t: f64, y: &[f64; 6]) -> Result<[f64; 6], CannotFly> {
        let v = [y[3], y[4], y[5]];
        let weight = times(UP, -GRAVITY);
        let braked = |v: Vector, sink: f64| times(v, -GRAVITY * length(v) / (sink * sink));
        let [ax, ay, az] = match self.acting {
            Acting::Nothing { .. } => weight,
            Acting::Turning {
                swing,
                sink,
                thrust,
            } => {
                let pushed = plus(weight, GRAVITY * thrust, swing.at(t).nose);
                plus(pushed, 1.0, braked(v, sink))
            }
            Acting::Out { nose, sink } => {
                let World { air, craft, .. } = self.world;
                let push = craft.push(air, y[2], length(v), 1.0, Effort::Share(1.0));
                let pushed = plus(weight, push, nose);
                plus(pushed, 1.0, braked(across(v, nose), sink))
            }
        };
        let [gx, gy, gz] = self.world.over_ground(y[2], v);
        Ok([gx, gy, gz, ax, ay, az])
    }

    fn longest_step(&self, t: f64, _: &[f64; 6], _: &[f64; 6]) -> Result<f64, CannotFly> {
        let step = match self.acting {
            Acting::Turning { swing, .. } => STEP.min(STEP_ROUND / swing.rate.abs()),
            _ => STEP,
        };
        Ok(match self.end {
            End::After(s) => step.min(s - t),
            _ => step,
        })
    }

    fn left(&self, t: f64, y: &[f64; 6]) -> f64 {
        self.sense * self.rest(t, y) - 1e-9
    }

    fn ends_briefly(&self) -> bool {
        !matches!(self.end, End::After(_))
    }

    fn stretch(&self, _: f64, y: &[f64; 6]) -> usize {
        match self.acting {
            Acting::Out { .. } => {
                let World { air, craft, .. } = self.world;
                craft.stretch(
                    air,
                    y[2],
                    length([y[3], y[4], y[5]]),
                    1.0,
                    Effort::Share(1.0),
                )
            }
            Acting::Nothing { .. } | Acting::Turning { .. } => 0,
        }
    }

    fn load(&self, _: &[f64; 6], _: &State) -> Option<f64> {
        None
    }

    fn state(&self, t: f64, y: &[f64; 6]) -> Result<State, CannotFly> {
        let air = [y[3], y[4], y[5]];
        Ok(State {
            t: self.start.t + t,
            place: [y[0], y[1], y[2]],
            ground: self.world.over_ground(y[2], air),
            air,
            nose_off: unit(air).map_or(0.0, |along| {
                dot(along, self.nose(t)).clamp(-1.0, 1.0).acos()
            }),
        })
    }
}

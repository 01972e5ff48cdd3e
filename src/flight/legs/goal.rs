//! How hard an aircraft goes round in the plane of its lift, and what ends that.

use crate::flight::air::GRAVITY;
use crate::flight::vector::{Vector, climb};

/// A path within this of the climb it should end at is on it and must leave it first, rad (a hundredth of
/// a degree).
const ON_IT: f64 = 1.745_329_251_994_329_6e-4;

/// How hard.
#[derive(Debug, Clone, Copy)]
pub(super) enum By {
    /// A load factor.
    Load(f64),
    /// A radius, m; negative towards the belly.
    Radius(f64),
}

/// What ends it.
#[derive(Debug, Clone, Copy)]
pub(super) enum End {
    /// So far round the path, rad.
    Round(f64),
    /// The path climbs at this angle, rad.
    Climb(f64),
    /// The path is vertical; in a plane that is not quite, as near to it as it comes.
    Vertical,
    /// The path is headed the other way than along this, a unit vector.
    Back([f64; 2]),
    /// So many seconds gone.
    After(f64),
}

/// An end on the way to it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Goal {
    pub end: End,
    /// On which side of it the path is, 1 or −1, once it is off it.
    side: Option<f64>,
}

impl By {
    /// The load factor at a speed, m/s, where the lift points so much upwards: as said, or what the radius asks of it.
    pub fn load(self, speed: f64, lift_up: f64) -> f64 {
        match self {
            By::Load(load) => load,
            By::Radius(radius) => speed * speed / (GRAVITY * radius) + lift_up,
        }
    }
}

impl Goal {
    pub fn new(end: End) -> Goal {
        Goal { end, side: None }
    }

    /// Notes on which side of its end the path is, which leads along this and has the lift point so much upwards.
    pub fn look(&mut self, along: Vector, lift_up: f64) {
        match self.end {
            End::Back(ahead) if self.side.is_none() => {
                let aside = turned(ahead, along).1;
                self.side = (aside.abs() > ON_IT).then(|| aside.signum());
            }
            End::Climb(angle) if self.side.is_none() => {
                let off = climb(along) - angle;
                self.side = (off.abs() > ON_IT).then(|| off.signum());
            }
            End::Vertical if self.side.is_none() => {
                self.side = (along[2].abs() < ON_IT.cos()).then(|| lift_up.signum());
            }
            _ => {}
        }
    }

    /// Above zero until it is there: `t` seconds gone, so far round, rad, and leading along that.
    pub fn left(&self, t: f64, round: f64, along: impl Fn() -> Vector, lift_up: f64) -> f64 {
        match (self.end, self.side) {
            (End::Round(angle), _) => angle - round,
            (End::After(s), _) => s - t - 1e-9,
            (End::Climb(angle), Some(side)) => side * (along()[2] - angle.sin()),
            (End::Back(ahead), Some(side)) => match turned(ahead, along()) {
                (back, aside) if back < 0.0 => side * aside,
                _ => 1.0,
            },
            (End::Vertical, Some(side)) => side * lift_up,
            _ => 1.0,
        }
    }

    /// How long it is until then at most, s.
    pub fn within(&self, t: f64) -> f64 {
        match self.end {
            End::After(s) => s - t,
            _ => f64::INFINITY,
        }
    }

    /// Whether it may be there for a short while only.
    pub fn is_brief(&self) -> bool {
        matches!(self.end, End::Climb(_))
    }
}

/// How much of a direction is along a level one, and to the left of it, of what is level in it.
fn turned([ax, ay]: [f64; 2], [x, y, _]: Vector) -> (f64, f64) {
    let level = x.hypot(y).max(f64::MIN_POSITIVE);
    ((ax * x + ay * y) / level, (ax * y - ay * x) / level)
}

//! Whether an aircraft can have flown from one fix to the next.
//!
//! The bounds are wide (common practice, no published source): they refuse what no aircraft of a display
//! does, not what this one should not.

use std::fmt;

use super::Fix;
use crate::units::quantity::KNOT;

/// Metres a second no aircraft of a display flies at.
const MOST_SPEED: f64 = 700.0;
/// Metres a second squared no path bends or stretches with: twelve g.
const MOST_ACCELERATION: f64 = 120.0;
/// Metres a second squared with which no speed along a path changes.
const MOST_GAIN: f64 = 20.0;
/// Metres that fixes scatter by at most.
const SCATTER: f64 = 60.0;
/// Metres a second by which a stated speed may differ from the way flown.
const SPEED_SCATTER: f64 = 15.0;
/// Beyond so many seconds nothing is known of how it went on.
const REMEMBERED: f64 = 5.0;
/// So many fixes in a row that fit each other are believed against the one before them.
const CONVINCING: usize = 5;
/// Metres in a radian of a great circle: the earth's mean radius, near enough for these bounds.
const EARTH_RADIUS: f64 = 6_371_000.0;

/// Why a fix is refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lie {
    /// Its time is before that of the last one.
    Backwards,
    /// Its time is that of the last one.
    Twice,
    /// Getting there takes an impossible speed, in metres a second.
    Speed(f64),
    /// Getting there takes an impossible turn or gain.
    Acceleration,
    /// The speed it states, in metres a second, is not that of the way flown.
    Stated(f64),
}

impl fmt::Display for Lie {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Lie::Backwards => f.write_str("its time runs backwards"),
            Lie::Twice => f.write_str("its time stands still"),
            Lie::Speed(mps) => write!(f, "it jumps, as if at {:.0} kt", mps / KNOT),
            Lie::Acceleration => f.write_str("it jumps off its path"),
            Lie::Stated(mps) => write!(
                f,
                "the speed it states, {:.0} kt, is not that of its way",
                mps / KNOT
            ),
        }
    }
}

/// Watches the fixes of one aircraft.
#[derive(Debug, Clone, Default)]
pub struct Watch {
    believed: Option<Way>,
    /// Fixes that fit each other but not what is believed, and how many.
    other: Option<(Way, usize)>,
}

/// The last fix and how it was come by.
#[derive(Debug, Clone, Copy)]
struct Way {
    fix: Fix,
    /// East and north, metres a second, and how long before the fix that was measured from.
    velocity: Option<([f64; 2], f64)>,
}

impl Watch {
    /// Takes a fix, or says why not. When several refused ones in a row fit each other, the last is taken:
    /// then it was the fix before them that was wrong.
    pub fn take(&mut self, fix: &Fix) -> Result<(), Lie> {
        let Some(believed) = &self.believed else {
            self.believed = Some(Way::from(fix));
            return Ok(());
        };
        let lie = match believed.on_to(fix) {
            Ok(way) => {
                self.believed = Some(way);
                self.other = None;
                return Ok(());
            }
            Err(Lie::Twice) => return Err(Lie::Twice),
            Err(lie) => lie,
        };
        let (way, count) = match self.other.take() {
            Some((other, count)) => match other.on_to(fix) {
                Ok(way) => (way, count + 1),
                Err(_) => (Way::from(fix), 1),
            },
            None => (Way::from(fix), 1),
        };
        if count >= CONVINCING {
            self.believed = Some(way);
            return Ok(());
        }
        self.other = Some((way, count));
        Err(lie)
    }
}

impl Way {
    fn from(fix: &Fix) -> Way {
        Way {
            fix: *fix,
            velocity: None,
        }
    }

    fn on_to(&self, fix: &Fix) -> Result<Way, Lie> {
        let dt = fix.at.duration_since(self.fix.at).as_secs_f64();
        if dt < 0.0 {
            return Err(Lie::Backwards);
        }
        if dt == 0.0 {
            return Err(Lie::Twice);
        }
        let [east, north] = self.moved(fix);
        let moved = east.hypot(north);
        if moved > MOST_SPEED * dt + SCATTER {
            return Err(Lie::Speed(moved / dt));
        }
        if let Some(([to_east, to_north], before)) = self.velocity
            && dt <= REMEMBERED
            && before <= REMEMBERED
        {
            let off = (east - to_east * dt).hypot(north - to_north * dt);
            if off > MOST_ACCELERATION * dt * (dt + before) / 2.0 + SCATTER {
                return Err(Lie::Acceleration);
            }
        }
        if let Some(stated) = fix.ground_speed.map(|speed| speed.mps()) {
            let scatter = SPEED_SCATTER + MOST_GAIN * dt + SCATTER / 4.0 / dt.max(0.5);
            if stated > MOST_SPEED || dt <= REMEMBERED && (stated - moved / dt).abs() > scatter {
                return Err(Lie::Stated(stated));
            }
        }
        Ok(Way {
            fix: *fix,
            velocity: Some(([east / dt, north / dt], dt)),
        })
    }

    /// East and north from the last fix to this one, in metres.
    fn moved(&self, fix: &Fix) -> [f64; 2] {
        let (from, to) = (self.fix.place, fix.place);
        let east_deg = to.lon().deg() - from.lon().deg();
        // Over the date line it is the short way.
        let east = (east_deg - 360.0 * (east_deg / 360.0).round()).to_radians();
        let north = to.lat().rad() - from.lat().rad();
        let mean_lat = (from.lat().rad() + to.lat().rad()) / 2.0;
        [east * mean_lat.cos() * EARTH_RADIUS, north * EARTH_RADIUS]
    }
}

//! From a place and a speed to crowd centre: how long it takes, and when to leave for a wanted time.
//!
//! The run-in tracks straight along the display line, crabbing against the wind.

use jiff::SignedDuration;
use jiff::civil;

use super::air::Air;
use super::cannot::{CannotFly, ensure};
use super::craft::Craft;
use super::hush::sound_from;
use super::integrate;
use super::legs::Climb;
use super::legs::straight::{End, Keeps, Straight};
use super::speed::{Pace, SpeedLaw};
use super::track::State;
use super::wind::{Wind, WindVector};
use super::world::World;
use crate::show::LegSpeed;
use crate::units::{Acceleration, Airspeed, Angle, Length, Span, Speed};

/// An aircraft on its way to crowd centre.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunIn {
    /// How far it is from crowd centre, along the display line.
    pub distance: Length,
    /// Its speed there.
    pub speed: Airspeed,
    /// The speed it changes to on the way, and the gain of that speed as named.
    pub change: Option<(Airspeed, Acceleration)>,
    /// Its height above the site.
    pub height: Length,
    /// The wind; its x is along the track, positive from behind.
    pub wind: WindVector,
}

/// How it arrives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arrival {
    /// Speeds and drift at the place it comes from.
    pub there: OnTrack,
    /// Speeds and drift abeam.
    pub abeam: OnTrack,
    /// From there to abeam.
    pub takes: Span,
    /// From abeam to the arrival of its sound from abeam at crowd centre.
    pub heard_after: Span,
}

/// The wind triangle's solution at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnTrack {
    /// Through the air.
    pub true_airspeed: Speed,
    /// Over the ground.
    pub ground_speed: Speed,
    /// Track minus heading: positive where the wind drifts it to its right.
    pub drift: Angle,
}

impl RunIn {
    /// Flies it, to crowd centre on a display line `line_distance` from the crowd line. An error says
    /// why there is no arrival.
    pub fn arrive(&self, air: &Air, line_distance: Length) -> Result<Arrival, CannotFly> {
        let lengths = [self.distance, line_distance];
        ensure(
            lengths.iter().all(|length| length.m() >= 0.0),
            CannotFly::NegativeLength,
        )?;
        ensure(self.height.m() >= 0.0, CannotFly::HeightBelowSite)?;
        let line = line_distance.m();
        let world = World {
            air: *air,
            wind: Wind::even(self.wind),
            line,
            craft: Craft::of(None),
            roughness: 1.0,
        };
        let plan = self.change.map(|(to, gain)| LegSpeed::Changed { to, gain });
        let course = [1.0, 0.0];
        let height = self.height.m();
        let here = world.at(height);
        let start = State {
            place: [-self.distance.m(), line, height],
            air: [1.0, 0.0, 0.0],
            ..State::default()
        };
        let mut law = Straight::new(
            &world,
            start,
            course,
            Keeps::Course { line: None },
            Climb::new(height, None),
            Pace::Set(SpeedLaw::new(&here, plan, Some(self.speed), Some(course))?),
            End::Along(self.distance.m()),
        );
        let begun = law.begin(0.0)?;
        let track = integrate::fly(&mut law, begun)?.track;
        let sound = sound_from(air, self.height).mps();
        Ok(Arrival {
            there: OnTrack::of(track.start()),
            abeam: OnTrack::of(track.end()),
            takes: Span::from_s(track.end().t),
            heard_after: Span::from_s(line.hypot(height) / sound),
        })
    }
}

impl OnTrack {
    fn of(state: &State) -> Self {
        let [x, y, _] = state.air;
        OnTrack {
            true_airspeed: Speed::from_mps(x.hypot(y)),
            ground_speed: Speed::from_mps(state.ground_speed()),
            // The track is along x; y is to its left, so a heading left of it is drift to the right.
            drift: Angle::from_rad(y.atan2(x)),
        }
    }
}

impl Arrival {
    /// The clock time to leave for being abeam at `abeam`, to the millisecond. It may fall on the day
    /// before.
    pub fn leave_at(&self, abeam: civil::Time) -> civil::Time {
        let ms = (self.takes.s() * 1e3).round() as i64;
        abeam.wrapping_sub(SignedDuration::from_millis(ms))
    }
}

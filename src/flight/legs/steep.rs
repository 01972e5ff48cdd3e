//! Legs that go up and down as they will: pulls, pushes, rolls, coasts and pivots.

use super::falling::{self, Acting, Falling, Swing};
use super::goal::{self, By};
use super::lifted::Lifted;
use super::looped::Looped;
use super::straight::End;
use super::{Begin, Flown, round};
use crate::flight::air::GRAVITY;
use crate::flight::attitude::Attitude;
use crate::flight::cannot::{CannotFly, ensure};
use crate::flight::integrate;
use crate::flight::speed::Pace;
use crate::flight::track::{State, Track};
use crate::flight::vector::{UP, climb, cross, dot, length, unit};
use crate::show::{CoastUntil, Leg, Motion, PivotAbout, PullBy, PullUntil, TurnTowards};
use crate::units::{Airspeed, Angle, Length};

/// Pulled or pushed by less than this beyond what straight flight needs it does not go round, g.
const HARDLY: f64 = 0.01;
/// Past a climb by less than this it is at it, rad (half a degree).
const AT_IT: f64 = 8.7e-3;
/// In a plane tilted further than this the path is never vertical (sine of 10 degrees).
const TILTED: f64 = 0.174;

/// An error where an upright path is pulled up, or pushed down, to less than it is at: it would go nearly all the way round.
fn not_past(angle: f64, attitude: &Attitude, sense: f64) -> Result<(), CannotFly> {
    let climbs = climb(attitude.nose);
    let upright = dot(UP, attitude.lift) > 0.0;
    let past = upright && sense * angle > 0.0 && sense * (climbs - angle) > AT_IT;
    ensure(!past, CannotFly::PastIt(climbs.to_degrees()))
}

/// As far below straight flight as a pull is above it, but no lighter than nothing.
fn let_go(by: PullBy) -> PullBy {
    match by {
        PullBy::Load(load) => PullBy::Load((2.0 - load).max(0.0)),
        by_radius => by_radius,
    }
}

impl Attitude {
    /// Whether the plane of the lift is no vertical one.
    fn is_tilted(&self) -> bool {
        let [.., tilt] = cross(self.nose, self.lift);
        tilt.abs() > TILTED
    }
}

impl Begin<'_> {
    /// Round towards the canopy (`sense` 1) or the belly (−1).
    pub(super) fn pull(
        &self,
        leg: &Leg,
        until: PullUntil,
        by: PullBy,
        sense: f64,
    ) -> Result<Flown, CannotFly> {
        let attitude = self.begun_attitude()?.levelled();
        if until == PullUntil::Out {
            return self.pull_out(leg, by, attitude);
        }
        let by = match by {
            PullBy::Load(load) => {
                let beyond = sense * (load - dot(UP, attitude.lift));
                let soft = if sense > 0.0 {
                    CannotFly::PullTooSoft
                } else {
                    CannotFly::PushTooSoft
                };
                ensure(beyond > HARDLY, soft)?;
                By::Load(load)
            }
            PullBy::Radius(radius) => {
                ensure(radius.m() > 0.0, CannotFly::NoRate)?;
                By::Radius(sense * radius.m())
            }
        };
        let end = match until {
            PullUntil::Round(angle) => goal::End::Round(round(angle)?),
            PullUntil::Climb(angle) => {
                not_past(angle.rad(), &attitude, sense)?;
                goal::End::Climb(angle.rad())
            }
            PullUntil::Vertical => {
                ensure(!attitude.is_tilted(), CannotFly::NeverThere)?;
                goal::End::Vertical
            }
            // Straight up and over, that is level on its back.
            PullUntil::Back if !attitude.is_tilted() => goal::End::Climb(0.0),
            PullUntil::Back => goal::End::Back(self.heading(attitude.nose)),
            PullUntil::Out => goal::End::Climb(0.0),
        };
        self.lifted(leg, attitude, by, sense, 0.0, end)
    }

    /// To level the nearest way: upright out of a climb by letting go, else by pulling. Wings that are not level are
    /// taken there at once, as out of a turn.
    fn pull_out(&self, leg: &Leg, by: PullBy, attitude: Attitude) -> Result<Flown, CannotFly> {
        let is_upright = dot(UP, attitude.lift) > 0.0;
        let attitude = match is_upright {
            true => Attitude::upright(attitude.nose, UP),
            false => attitude,
        };
        let climbs = climb(attitude.nose);
        if climbs.abs() < AT_IT {
            return Ok(Flown {
                track: Track::at_rest(self.state),
                speed: self.as_before(&self.state),
                attitude,
            });
        }
        let level = PullUntil::Climb(Angle::ZERO);
        let begun = Begin { attitude, ..*self };
        if climbs > 0.0 && is_upright {
            return begun.pull(leg, level, let_go(by), -1.0);
        }
        begun.pull(leg, level, by, 1.0)
    }

    pub(super) fn roll(
        &self,
        leg: &Leg,
        angle: Angle,
        rate: Option<Angle>,
        towards: TurnTowards,
        load: Option<f64>,
    ) -> Result<Flown, CannotFly> {
        let rate = rate
            .or(self.world.craft.roll_rate)
            .ok_or(CannotFly::NoRollRate)?
            .rad();
        ensure(rate > 0.0 && rate.is_finite(), CannotFly::NoRate)?;
        let angle = round(angle)?;
        let way = self.roll_way(towards)?;
        let takes = angle / rate;
        let attitude = self.begun_attitude()?;
        let Some(load) = load else {
            let end = (None, End::After(takes));
            let flown = self.straight_through_the_air(leg, attitude.nose, end)?;
            return Ok(Flown {
                attitude: attitude.rolled(way * angle),
                ..flown
            });
        };
        let end = goal::End::After(takes);
        self.lifted(leg, attitude, By::Load(load), 1.0, way * rate, end)
    }

    fn lifted(
        &self,
        leg: &Leg,
        attitude: Attitude,
        by: By,
        sense: f64,
        roll: f64,
        end: goal::End,
    ) -> Result<Flown, CannotFly> {
        let (pace, speed) = self.pace(leg, false, None)?;
        let vertical = (roll == 0.0)
            .then(|| Looped::new(self.world, self.state, &attitude, pace, by, sense, end));
        let (track, takes, lift) = match vertical.flatten() {
            Some(mut law) => {
                let begun = law.begin(speed);
                let led = integrate::fly(&mut law, begun)?;
                (led.track, led.t, law.lift(led.y[4]))
            }
            None => {
                let mut law = Lifted::new(self.world, self.state, pace, by, sense, roll, end);
                let begun = law.begin(attitude.nose, speed, attitude.lift);
                let led = integrate::fly(&mut law, begun)?;
                let [_, _, _, _, _, _, lx, ly, lz, _] = led.y;
                (led.track, led.t, [lx, ly, lz])
            }
        };
        let end = track.end();
        let nose = unit(end.air).ok_or(CannotFly::SpeedNotPositive)?;
        let speed = match pace {
            Pace::Set(set) => self.named_at_end(set.at(takes), end),
            Pace::Energy(_) => self.as_before(end),
        };
        Ok(Flown {
            speed,
            attitude: Attitude { lift, nose },
            track,
        })
    }

    pub(super) fn coast(&self, until: CoastUntil) -> Result<Flown, CannotFly> {
        ensure(self.moves, CannotFly::NoSpeedBefore)?;
        let top = self.state.place[2] + self.state.air[2].max(0.0).powi(2) / (2.0 * GRAVITY);
        let end = match until {
            CoastUntil::Top => {
                ensure(self.state.air[2] > 0.0, CannotFly::NeverThere)?;
                falling::End::Top
            }
            CoastUntil::Speed(speed) => {
                self.coasts_so_slowly(speed, top)?;
                falling::End::Speed(speed)
            }
            CoastUntil::Height(height) => {
                ensure(height.m() <= top, CannotFly::NoHigher(Length::from_m(top)))?;
                falling::End::Height(height.m())
            }
            CoastUntil::Time(span) => falling::End::After(span.s()),
        };
        let acting = Acting::Nothing {
            nose: self.attitude.nose,
        };
        let mut law = Falling::new(self.world, self.state, acting, end);
        let y = law.begin();
        let led = integrate::fly(&mut law, y)?;
        Ok(Flown {
            speed: self.as_before(led.track.end()),
            // The nose stays where it is; the next leg takes the wings to its path.
            attitude: self.attitude,
            track: led.track,
        })
    }

    /// An error where a coast whose top is there never is so slow, and does not begin slower.
    fn coasts_so_slowly(&self, speed: Airspeed, top: f64) -> Result<(), CannotFly> {
        let wanted = |height: f64| self.world.at(height).true_airspeed(speed);
        let [x, y, z] = self.state.air;
        let slowest = x.hypot(y);
        let begins_faster = length([x, y, z]) > wanted(self.state.place[2])?;
        let (_, named) = self.world.named(top, slowest);
        let never = begins_faster && (z <= 0.0 || slowest > wanted(top)?);
        ensure(!never, CannotFly::NoSlower(named))
    }

    pub(super) fn pivot(&self, motion: &Motion) -> Result<Flown, CannotFly> {
        let &Motion::Pivot {
            angle,
            rate,
            about,
            sink,
            thrust,
            out,
        } = motion
        else {
            return Err(CannotFly::NegativeLength);
        };
        ensure(self.moves, CannotFly::NoSpeedBefore)?;
        let (rate, sink) = (rate.rad(), sink.mps());
        let sane = rate > 0.0 && rate.is_finite() && sink > 0.0 && thrust.is_finite();
        ensure(sane, CannotFly::NoRate)?;
        let takes = round(angle)? / rate;
        let craft = &self.world.craft;
        let powered = out.is_none() || craft.power.is_some();
        ensure(powered, CannotFly::NoClimbPower)?;
        let about = match about {
            PivotAbout::Yaw(side) if self.mirrored => PivotAbout::Yaw(side.other()),
            about => about,
        };
        let swing = Swing {
            begun: self.attitude,
            about,
            rate,
        };
        let acting = Acting::Turning {
            swing,
            sink,
            thrust: thrust.min(craft.most_thrust),
        };
        let fall = |start: State, acting, end| {
            let mut law = Falling::new(self.world, start, acting, end);
            let y = law.begin();
            integrate::fly(&mut law, y)
        };
        let mut track = fall(self.state, acting, falling::End::After(takes))?.track;
        let attitude = swing.at(takes);
        if let Some(speed) = out {
            let acting = Acting::Out {
                nose: attitude.nose,
                sink,
            };
            let out = fall(*track.end(), acting, falling::End::FlownOut(speed))?;
            track = track.joined(out.track);
        }
        Ok(Flown {
            speed: self.as_before(track.end()),
            attitude,
            track,
        })
    }

    /// How it lies on its path where the leg begins.
    fn begun_attitude(&self) -> Result<Attitude, CannotFly> {
        let along = self.along()?;
        Ok(self.attitude.carried(self.attitude.nose, along))
    }

    /// 1 for a roll to the pilot's right, −1 to the left, as it is flown today.
    fn roll_way(&self, towards: TurnTowards) -> Result<f64, CannotFly> {
        let along = self.along()?;
        let of_heading = matches!(towards, TurnTowards::Crowd | TurnTowards::Away);
        let steep = along[0].hypot(along[1]) < TILTED;
        ensure(!(of_heading && steep), CannotFly::RollWay)?;
        let sense = self.sense(along, towards).map_err(|why| match why {
            CannotFly::TurnWay => CannotFly::RollWay,
            other => other,
        })?;
        Ok(-sense)
    }
}

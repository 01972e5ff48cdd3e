//! Flying a law of motion until it is over: in adaptive steps, the end and any limit found by root finding
//! on the step.

use super::cannot::{CannotFly, Stop, ensure};
use super::ending::cut;
use super::step::Step;
use super::track::{State, Track};
use super::vector::length;
use super::world::World;

/// No leg lasts longer, s.
pub(super) const LONGEST: f64 = 3_600.0;
/// No leg takes more steps.
const MOST_STEPS: usize = 20_000;
/// No step is shorter, s.
const SHORTEST_STEP: f64 = 1e-7;

/// How an aircraft moves on a leg. `N` numbers say where it is and how it moves there; the third is its
/// height. Times count from the start of the leg.
pub(super) trait Law<const N: usize> {
    /// What it flies in.
    fn world(&self) -> &World;
    /// What each number may be off by after a step.
    fn tolerance(&self) -> [f64; N];
    /// The rates of change.
    fn rate(&self, t: f64, y: &[f64; N]) -> Result<[f64; N], CannotFly>;
    /// Whether the rates stay what they are as far as the longest step from there.
    fn is_steady(&self, _t: f64) -> bool {
        false
    }
    /// The longest step from here, s: to where the law changes, or as far as the path stays plain.
    fn longest_step(&self, t: f64, y: &[f64; N], rate: &[f64; N]) -> Result<f64, CannotFly>;
    /// Above zero until the leg is over.
    fn left(&self, t: f64, y: &[f64; N]) -> f64;
    /// Whether `left` may come to zero for a short while only.
    fn ends_briefly(&self) -> bool {
        false
    }
    /// Whether nothing says that it comes to its end.
    fn may_never_end(&self) -> bool {
        self.ends_briefly()
    }
    /// Which smooth stretch of the law it is on.
    fn stretch(&self, _t: f64, _y: &[f64; N]) -> usize {
        0
    }
    /// The load factor the wings give where the numbers make that state; `None` where they need not give any.
    fn load(&self, y: &[f64; N], state: &State) -> Option<f64>;
    /// The numbers as a state of the track.
    fn state(&self, t: f64, y: &[f64; N]) -> Result<State, CannotFly>;
    /// After a step, and at the end of the leg: takes rounding off the numbers, notes how far it has got.
    /// Whether the law goes on otherwise from here.
    fn settle(&mut self, _y: &mut [f64; N], _over: bool) -> bool {
        false
    }
}

/// Where a law led.
pub(super) struct Led<const N: usize> {
    pub track: Track,
    /// How long it took.
    pub t: f64,
    pub y: [f64; N],
}

/// Flies `law` from `y` until it is over.
pub(super) fn fly<const N: usize>(
    law: &mut impl Law<N>,
    mut y: [f64; N],
) -> Result<Led<N>, CannotFly> {
    let mut t = 0.0;
    let mut track = Track::at_rest(check(law, t, &y)?);
    if law.left(t, &y) <= 0.0 {
        law.settle(&mut y, true);
        return Ok(Led { track, t, y });
    }
    let mut rate = law.rate(t, &y)?;
    let mut wanted = f64::INFINITY;
    let mut stretch = law.stretch(t, &y);
    for _ in 0..MOST_STEPS {
        let longest = law.longest_step(t, &y, &rate)?;
        let step = match law.is_steady(t) {
            true => Step::straight(&y, &rate, longest),
            false => adapted(law, t, &y, &rate, longest.min(wanted))?,
        };
        if step.error > 0.0 || step.h < longest {
            wanted = step.h * growth(step.error);
        }
        let (step, goes_on) = cut(law, t, &y, &rate, step, stretch)?;
        let mut looked = Looked::at_its_start(track.end());
        if step.bends {
            track.push(looked.on(law, t, &step, 0.5, &step.at(0.5))?);
        }
        y = step.to;
        let otherwise = law.settle(&mut y, goes_on.is_none());
        // What rounding was taken off may have been all that was left.
        let goes_on = goes_on.filter(|_| !otherwise || law.left(t + step.h, &y) > 0.0);
        track.push(looked.on(law, t, &step, 1.0, &y)?);
        t += step.h;
        ensure(t <= LONGEST, too_long(law, &track))?;
        let Some(on) = goes_on else {
            return Ok(Led { track, t, y });
        };
        stretch = on;
        rate = if otherwise {
            law.rate(t, &y)?
        } else {
            step.end_rate()
        };
    }
    Err(too_long(law, &track))
}

/// Why a leg that has led so far for so long is given up.
fn too_long<const N: usize>(law: &impl Law<N>, track: &Track) -> CannotFly {
    let state = track.end();
    let (height, speed) = law.world().named(state.place[2], length(state.air));
    match law.may_never_end() {
        true => CannotFly::NotThere(height, speed),
        false => CannotFly::TooLong,
    }
}

/// The state, if it can fly so: above the site, slower than sound, no slower than its lift and no harder
/// than it may.
pub(super) fn check<const N: usize>(
    law: &impl Law<N>,
    t: f64,
    y: &[f64; N],
) -> Result<State, CannotFly> {
    let state = law.state(t, y)?;
    let (height, speed) = (state.place[2], length(state.air));
    let world = law.world();
    match world
        .craft
        .limit(&world.air, height, speed, law.load(y, &state))
    {
        None => Ok(state),
        Some(why) => {
            let (height, speed) = world.named(height, speed);
            Err(CannotFly::Stops(Stop {
                why,
                after: t,
                height,
                speed,
            }))
        }
    }
}

/// How far on a step it was seen to fly as it can.
struct Looked {
    /// The share of the step ...
    share: f64,
    /// ... and how fast it climbs there.
    climb: f64,
}

impl Looked {
    fn at_its_start(state: &State) -> Looked {
        let (share, climb) = (0.0, state.ground[2]);
        Looked { share, climb }
    }

    /// On to a later share of the step, where the numbers are `y`: the state, if it can fly so there and at the
    /// lowest place on the way.
    fn on<const N: usize>(
        &mut self,
        law: &impl Law<N>,
        t: f64,
        step: &Step<N>,
        share: f64,
        y: &[f64; N],
    ) -> Result<State, CannotFly> {
        let broken = |at| first_broken(law, t, step, self.share, at);
        let state = check(law, t + share * step.h, y).map_err(|_| broken(share))?;
        let climb = state.ground[2];
        if self.climb < 0.0 && climb > 0.0 {
            let lowest = self.share + (share - self.share) * self.climb / (self.climb - climb);
            check(law, t + lowest * step.h, &step.at(lowest)).map_err(|_| broken(lowest))?;
        }
        *self = Looked { share, climb };
        Ok(state)
    }
}

/// The first instant of a step, between two shares of it, at which it cannot fly.
fn first_broken<const N: usize>(
    law: &impl Law<N>,
    t: f64,
    step: &Step<N>,
    mut whole: f64,
    mut broken: f64,
) -> CannotFly {
    for _ in 0..30 {
        let middle = 0.5 * (whole + broken);
        match check(law, t + middle * step.h, &step.at(middle)) {
            Ok(_) => whole = middle,
            Err(_) => broken = middle,
        }
    }
    let found = check(law, t + broken * step.h, &step.at(broken));
    found.err().unwrap_or(CannotFly::TooLong)
}

/// A step of at most `h` that is as exact as it must be.
fn adapted<const N: usize>(
    law: &impl Law<N>,
    t: f64,
    y: &[f64; N],
    rate: &[f64; N],
    mut h: f64,
) -> Result<Step<N>, CannotFly> {
    loop {
        ensure(h.is_finite(), CannotFly::TooLong)?;
        let taken = Step::take(law, t, y, rate, h);
        match taken {
            Ok(step) if step.error <= 1.0 => return Ok(step),
            // Where the law does not hold the step may have been too far ahead.
            Err(why) if h <= SHORTEST_STEP => return Err(why),
            Ok(_) if h <= SHORTEST_STEP => return Err(CannotFly::TooLong),
            Ok(step) => h *= growth(step.error).min(0.9),
            Err(_) => h *= 0.25,
        }
        h = h.max(SHORTEST_STEP);
    }
}

/// How much longer a step may be than one with this error.
fn growth(error: f64) -> f64 {
    if error.is_nan() {
        return 0.2;
    }
    (0.9 * error.powf(-0.2)).clamp(0.2, 5.0)
}

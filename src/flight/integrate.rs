//! Flying a law of motion until it is over: adaptive Dormand–Prince steps of order 5(4), the end and any
//! limit found by root finding on the step.
//!
//! J. R. Dormand and P. J. Prince, J. Comp. Appl. Math. 6 (1980); the dense output is that of Hairer,
//! Nørsett and Wanner, Solving Ordinary Differential Equations I, section II.6 (coefficients from memory,
//! held by the closed forms in the tests).

use super::cannot::{CannotFly, Stop, ensure};
use super::track::{State, Track};
use super::vector::length;
use super::world::World;
use crate::units::{Length, Speed};

/// No leg lasts longer, s.
pub(super) const LONGEST: f64 = 3_600.0;
/// No leg takes more steps.
const MOST_STEPS: usize = 20_000;
/// No step is shorter, s.
const SHORTEST_STEP: f64 = 1e-7;
/// As near as the end of a leg is found, in shares of a step.
const NEAR: f64 = 1e-12;

/// How an aircraft moves on a leg. `N` numbers say where it is and how it moves there; the third is its
/// height. Times count from the start of the leg.
pub(super) trait Law<const N: usize> {
    /// What it flies in.
    fn world(&self) -> &World;
    /// What each number may be off by after a step.
    fn tolerance(&self) -> [f64; N];
    /// The rates of change.
    fn rate(&self, t: f64, y: &[f64; N]) -> Result<[f64; N], CannotFly>;
    /// The longest step from here, s: to where the law changes, or as far as the path stays plain.
    fn longest_step(&self, t: f64, y: &[f64; N], rate: &[f64; N]) -> Result<f64, CannotFly>;
    /// Above zero until the leg is over.
    fn left(&self, t: f64, y: &[f64; N]) -> f64;
    /// The load factor the wings give; `None` where they need not give any.
    fn load(&self, t: f64, y: &[f64; N]) -> Option<f64>;
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
    let mut track = Track::at_rest(law.state(t, &y)?);
    check(law, t, &y)?;
    if law.left(t, &y) <= 0.0 {
        law.settle(&mut y, true);
        return Ok(Led { track, t, y });
    }
    let mut rate = law.rate(t, &y)?;
    let mut wanted = f64::INFINITY;
    for _ in 0..MOST_STEPS {
        let longest = law.longest_step(t, &y, &rate)?;
        let mut step = adapted(law, t, &y, &rate, longest.min(wanted))?;
        if step.error > 0.0 || step.h < longest {
            wanted = step.h * growth(step.error);
        }
        let over = law.left(t + step.h, &step.to) <= 0.0;
        if over {
            let share = root(|share| law.left(t + share * step.h, &step.at(share)));
            step = Step::take(law, t, &y, &rate, share * step.h)?;
        }
        if check(law, t + step.h, &step.to).is_err() {
            return Err(first_broken(law, t, &step));
        }
        let middle = step.at(0.5);
        let bends = step.bends();
        let started = t;
        t += step.h;
        ensure(t <= LONGEST, CannotFly::TooLong)?;
        y = step.to;
        let otherwise = law.settle(&mut y, over);
        if bends {
            track.push(law.state(started + 0.5 * step.h, &middle)?);
        }
        track.push(law.state(t, &y)?);
        if over {
            return Ok(Led { track, t, y });
        }
        rate = if otherwise {
            law.rate(t, &y)?
        } else {
            step.end_rate()
        };
    }
    Err(CannotFly::TooLong)
}

/// Whether it can fly so: above the site, slower than sound, no slower than its lift and no harder than it
/// may.
fn check<const N: usize>(law: &impl Law<N>, t: f64, y: &[f64; N]) -> Result<(), CannotFly> {
    let state = law.state(t, y)?;
    let (height, speed) = (state.place[2], length(state.air));
    let world = law.world();
    match world.craft.limit(&world.air, height, speed, law.load(t, y)) {
        None => Ok(()),
        Some(why) => Err(CannotFly::Stops(Stop {
            why,
            after: t,
            height: Length::from_m(height),
            speed: world
                .air
                .at(Length::from_m(height))
                .calibrated_of(Speed::from_mps(speed)),
        })),
    }
}

/// The first instant of a step at which it cannot fly.
fn first_broken<const N: usize>(law: &impl Law<N>, t: f64, step: &Step<N>) -> CannotFly {
    let (mut whole, mut broken) = (0.0, 1.0);
    for _ in 0..30 {
        let middle = 0.5 * (whole + broken);
        match check(law, t + middle * step.h, &step.at(middle)) {
            Ok(()) => whole = middle,
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

/// One step.
struct Step<const N: usize> {
    h: f64,
    from: [f64; N],
    to: [f64; N],
    rates: [[f64; N]; 7],
    /// Its error, as a share of what it may be.
    error: f64,
}

impl<const N: usize> Step<N> {
    fn take(
        law: &impl Law<N>,
        t: f64,
        y: &[f64; N],
        k1: &[f64; N],
        h: f64,
    ) -> Result<Self, CannotFly> {
        let k1 = *k1;
        let reached = |parts: &[(f64, &[f64; N])]| -> [f64; N] {
            std::array::from_fn(|i| {
                y[i] + h * parts.iter().map(|(share, k)| share * k[i]).sum::<f64>()
            })
        };
        let at = |share: f64, parts: &[(f64, &[f64; N])]| law.rate(t + share * h, &reached(parts));
        let k2 = at(1.0 / 5.0, &[(1.0 / 5.0, &k1)])?;
        let k3 = at(3.0 / 10.0, &[(3.0 / 40.0, &k1), (9.0 / 40.0, &k2)])?;
        let k4 = at(
            4.0 / 5.0,
            &[(44.0 / 45.0, &k1), (-56.0 / 15.0, &k2), (32.0 / 9.0, &k3)],
        )?;
        let k5 = at(
            8.0 / 9.0,
            &[
                (19_372.0 / 6_561.0, &k1),
                (-25_360.0 / 2_187.0, &k2),
                (64_448.0 / 6_561.0, &k3),
                (-212.0 / 729.0, &k4),
            ],
        )?;
        let k6 = at(
            1.0,
            &[
                (9_017.0 / 3_168.0, &k1),
                (-355.0 / 33.0, &k2),
                (46_732.0 / 5_247.0, &k3),
                (49.0 / 176.0, &k4),
                (-5_103.0 / 18_656.0, &k5),
            ],
        )?;
        let to = reached(&[
            (35.0 / 384.0, &k1),
            (500.0 / 1_113.0, &k3),
            (125.0 / 192.0, &k4),
            (-2_187.0 / 6_784.0, &k5),
            (11.0 / 84.0, &k6),
        ]);
        let k7 = law.rate(t + h, &to)?;
        let tolerance = law.tolerance();
        let error = |i: usize| {
            let off = 71.0 / 57_600.0 * k1[i] - 71.0 / 16_695.0 * k3[i] + 71.0 / 1_920.0 * k4[i]
                - 17_253.0 / 339_200.0 * k5[i]
                + 22.0 / 525.0 * k6[i]
                - 1.0 / 40.0 * k7[i];
            (h * off).abs() / tolerance[i]
        };
        // A number that is none makes the sum none, and the step is not taken.
        let sum = (0..N).map(error).map(|error| error * error).sum::<f64>();
        Ok(Step {
            h,
            from: *y,
            to,
            rates: [k1, k2, k3, k4, k5, k6, k7],
            error: sum.sqrt(),
        })
    }

    fn end_rate(&self) -> [f64; N] {
        self.rates[6]
    }

    /// Whether the rates change on it.
    fn bends(&self) -> bool {
        self.rates[0] != self.rates[6]
    }

    /// The numbers at a share of the step.
    fn at(&self, share: f64) -> [f64; N] {
        let [k1, _, k3, k4, k5, k6, k7] = &self.rates;
        let (s, rest) = (share, 1.0 - share);
        std::array::from_fn(|i| {
            let change = self.to[i] - self.from[i];
            let bend = self.h * k1[i] - change;
            let twist = change - self.h * k7[i] - bend;
            let last = self.h
                * (-12_715_105_075.0 / 11_282_082_432.0 * k1[i]
                    + 87_487_479_700.0 / 32_700_410_799.0 * k3[i]
                    - 10_690_763_975.0 / 1_880_347_072.0 * k4[i]
                    + 701_980_252_875.0 / 199_316_789_632.0 * k5[i]
                    - 1_453_857_185.0 / 822_651_844.0 * k6[i]
                    + 69_997_945.0 / 29_380_423.0 * k7[i]);
            self.from[i] + s * (change + rest * (bend + s * (twist + rest * last)))
        })
    }
}

/// Where in 0 to 1 `f`, above zero at 0 and not at 1, comes to zero: false position that halves the weight
/// of an end that stays (Illinois), and halves the stretch where that is slow.
fn root(f: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    let (mut f_low, mut f_high) = (f(low), f(high));
    for round in 0..60 {
        if high - low < NEAR || f_high == 0.0 {
            break;
        }
        let straight = low + (high - low) * f_low / (f_low - f_high);
        let middle = if round % 4 == 3 || !straight.is_finite() {
            0.5 * (low + high)
        } else {
            // Next to an end that is the root already, the other end comes there at once.
            straight.clamp(low + 0.5 * NEAR, high - 0.5 * NEAR)
        };
        let f_middle = f(middle);
        if f_middle > 0.0 {
            if round > 0 {
                f_high *= 0.5;
            }
            (low, f_low) = (middle, f_middle);
        } else {
            if round > 0 {
                f_low *= 0.5;
            }
            (high, f_high) = (middle, f_middle);
        }
    }
    high
}

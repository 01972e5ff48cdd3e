//! One Dormand–Prince step of order 5(4), with its error and what is between its ends.
//!
//! J. R. Dormand and P. J. Prince, J. Comp. Appl. Math. 6 (1980); the dense output is that of Hairer,
//! Nørsett and Wanner, Solving Ordinary Differential Equations I, section II.6. All coefficients are those of
//! scipy's `RK45`: its `A`, `B` and `E`, and its `P` in another form.

use super::cannot::CannotFly;
use super::integrate::Law;

/// What is taken of each rate before it, for the places at which the second to sixth are asked for ...
const SECOND: [f64; 1] = [1.0 / 5.0];
const THIRD: [f64; 2] = [3.0 / 40.0, 9.0 / 40.0];
const FOURTH: [f64; 3] = [44.0 / 45.0, -56.0 / 15.0, 32.0 / 9.0];
const FIFTH: [f64; 4] = [
    19_372.0 / 6_561.0,
    -25_360.0 / 2_187.0,
    64_448.0 / 6_561.0,
    -212.0 / 729.0,
];
const SIXTH: [f64; 5] = [
    9_017.0 / 3_168.0,
    -355.0 / 33.0,
    46_732.0 / 5_247.0,
    49.0 / 176.0,
    -5_103.0 / 18_656.0,
];
/// ... and for the end.
const END: [f64; 6] = [
    35.0 / 384.0,
    0.0,
    500.0 / 1_113.0,
    125.0 / 192.0,
    -2_187.0 / 6_784.0,
    11.0 / 84.0,
];
/// The end less that of order 4.
const ERROR: [f64; 7] = [
    71.0 / 57_600.0,
    0.0,
    -71.0 / 16_695.0,
    71.0 / 1_920.0,
    -17_253.0 / 339_200.0,
    22.0 / 525.0,
    -1.0 / 40.0,
];
/// What is taken of each rate for the dense output.
const DENSE: [f64; 7] = [
    -12_715_105_075.0 / 11_282_082_432.0,
    0.0,
    87_487_479_700.0 / 32_700_410_799.0,
    -10_690_763_975.0 / 1_880_347_072.0,
    701_980_252_875.0 / 199_316_789_632.0,
    -1_453_857_185.0 / 822_651_844.0,
    69_997_945.0 / 29_380_423.0,
];

/// A step from an instant.
pub(super) struct Step<const N: usize> {
    /// How long it is.
    pub h: f64,
    pub to: [f64; N],
    end_rate: [f64; N],
    /// Whether the rates change on it.
    pub bends: bool,
    /// Its error, as a share of what it may be.
    pub error: f64,
    way: Way<N>,
}

/// What is between the ends of a step that was taken.
struct Way<const N: usize> {
    /// How much of it the step is: hardly more or less than all.
    share: f64,
    from: [f64; N],
    change: [f64; N],
    bend: [f64; N],
    twist: [f64; N],
    dense: [f64; N],
}

/// So much of each rate, together.
fn together<const N: usize, const K: usize>(shares: &[f64; K], rates: &[[f64; N]; 7]) -> [f64; N] {
    let mut sum = [0.0; N];
    for (share, rate) in shares.iter().zip(rates) {
        for (sum, rate) in sum.iter_mut().zip(rate) {
            *sum += share * rate;
        }
    }
    sum
}

impl<const N: usize> Step<N> {
    /// A step of `h` seconds from `y` at `t`, where the rates are `rate`.
    pub fn take(
        law: &impl Law<N>,
        t: f64,
        y: &[f64; N],
        rate: &[f64; N],
        h: f64,
    ) -> Result<Self, CannotFly> {
        let after = |sum: [f64; N]| -> [f64; N] { std::array::from_fn(|i| y[i] + h * sum[i]) };
        let mut k = [[0.0; N]; 7];
        k[0] = *rate;
        k[1] = law.rate(t + h / 5.0, &after(together(&SECOND, &k)))?;
        k[2] = law.rate(t + h * 0.3, &after(together(&THIRD, &k)))?;
        k[3] = law.rate(t + h * 0.8, &after(together(&FOURTH, &k)))?;
        k[4] = law.rate(t + h * (8.0 / 9.0), &after(together(&FIFTH, &k)))?;
        k[5] = law.rate(t + h, &after(together(&SIXTH, &k)))?;
        let to = after(together(&END, &k));
        k[6] = law.rate(t + h, &to)?;
        // A number that is none makes the sum none, and the step is not taken.
        let off = together(&ERROR, &k);
        let shares = off.iter().zip(law.tolerance());
        let sum: f64 = shares.map(|(off, most)| (h * off / most).powi(2)).sum();
        let change: [f64; N] = std::array::from_fn(|i| to[i] - y[i]);
        let bend: [f64; N] = std::array::from_fn(|i| h * rate[i] - change[i]);
        let dense = together(&DENSE, &k);
        Ok(Step {
            h,
            to,
            end_rate: k[6],
            bends: *rate != k[6],
            error: sum.sqrt() / law.world().roughness,
            way: Way {
                share: 1.0,
                from: *y,
                twist: std::array::from_fn(|i| change[i] - h * k[6][i] - bend[i]),
                dense: dense.map(|dense| h * dense),
                change,
                bend,
            },
        })
    }

    /// A step on which the rates stay as they are.
    pub fn straight(y: &[f64; N], rate: &[f64; N], h: f64) -> Self {
        let change = rate.map(|rate| h * rate);
        Step {
            h,
            to: std::array::from_fn(|i| y[i] + change[i]),
            end_rate: *rate,
            bends: false,
            error: 0.0,
            way: Way {
                share: 1.0,
                from: *y,
                change,
                bend: [0.0; N],
                twist: [0.0; N],
                dense: [0.0; N],
            },
        }
    }

    pub fn end_rate(&self) -> [f64; N] {
        self.end_rate
    }

    /// The step up to a share of it, hardly more or less than 1, at which the leg is over.
    pub fn until(mut self, share: f64) -> Self {
        self.to = self.at(share);
        self.h *= share;
        self.way.share *= share;
        self
    }

    /// The numbers at a share of the step, which may be hardly more than 1.
    pub fn at(&self, share: f64) -> [f64; N] {
        if share == 1.0 {
            return self.to;
        }
        let way = &self.way;
        let share = share * way.share;
        let rest = 1.0 - share;
        std::array::from_fn(|i| {
            let bent = way.bend[i] + share * (way.twist[i] + rest * way.dense[i]);
            way.from[i] + share * (way.change[i] + rest * bent)
        })
    }
}

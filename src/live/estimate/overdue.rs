//! A Gaussian of which it is known that it lies beyond a bound.

use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

/// The moments of a Gaussian cut off below a bound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Truncated {
    /// Its mean, beyond the bound.
    pub(super) mean: f64,
    /// Share of the variance that is left.
    pub(super) kept: f64,
    /// One less that.
    pub(super) lost: f64,
}

impl Truncated {
    /// So many spreads short of the mean a bound changes no digit of it.
    const FAR_SHORT: f64 = -9.0;

    /// The Gaussian of `mean` and `spread` (above zero), known to be beyond `bound`; `None` if that
    /// says nothing.
    pub(super) fn after(bound: f64, mean: f64, spread: f64) -> Option<Truncated> {
        let beta = (bound - mean) / spread;
        if beta < Self::FAR_SHORT {
            return None;
        }
        let hazard = Hazard::at(beta);
        Some(Truncated {
            mean: bound + spread * hazard.excess,
            kept: hazard.kept,
            lost: 1.0 - hazard.kept,
        })
    }
}

/// Of the standard Gaussian beyond `β`: `excess`, its mean less `β`, and `kept`, its variance.
struct Hazard {
    excess: f64,
    kept: f64,
}

impl Hazard {
    /// Above this the continued fraction converges fast, below it the error function loses nothing.
    const TAIL: f64 = 2.0;
    /// So many levels of the continued fraction, over β², are enough for every digit from `TAIL` on.
    const LEVELS: f64 = 400.0;

    fn at(beta: f64) -> Hazard {
        if beta < Self::TAIL {
            let density = (-0.5 * beta * beta).exp() * FRAC_1_SQRT_2 / PI.sqrt();
            let mean = 2.0 * density / libm::erfc(beta / SQRT_2);
            Hazard {
                excess: mean - beta,
                kept: 1.0 - mean * (mean - beta),
            }
        } else {
            // Laplace's continued fraction of the inverse Mills ratio (Abramowitz and Stegun
            // 26.2.14, number from memory), β + 1/(β + 2/(β + 3/…)), taken without its leading β:
            // nothing cancels.
            let levels = (Self::LEVELS / (beta * beta)) as u32 + 10;
            let second = (2..=levels)
                .rev()
                .fold(0.0, |rest, level| f64::from(level) / (beta + rest));
            let excess = (beta + second).recip();
            Hazard {
                excess,
                kept: excess * (second - excess),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_ways_of_taking_the_tail_agree_where_they_meet() {
        let below = Hazard::at(Hazard::TAIL.next_down());
        let above = Hazard::at(Hazard::TAIL);
        assert!((below.excess - above.excess).abs() < 1e-13);
        assert!((below.kept - above.kept).abs() < 1e-13);
    }

    #[test]
    fn half_a_gaussian_has_its_known_moments() {
        // Half-normal distribution: mean √(2/π), variance 1 − 2/π.
        let half = Hazard::at(0.0);
        assert!((half.excess - (2.0 / PI).sqrt()).abs() < 1e-15);
        assert!((half.kept - (1.0 - 2.0 / PI)).abs() < 1e-15);
    }
}

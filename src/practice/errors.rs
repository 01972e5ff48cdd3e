//! What may differ from the plan in one show. The same seed gives the same differences on every machine, and
//! taking one kind of them away leaves the others as they are.

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

use crate::show::{Day, Name, Site, WindAt};
use crate::timeline::prior::WIND_SPREAD;
use crate::units::{Angle, Share, Span, Speed};

/// What differs from the plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Errors {
    /// What everything drawn is drawn from.
    pub seed: u64,
    /// How the mean wind along the line differs.
    pub wind: WindError,
    /// Whether the crew's pace, the lengths of holds, the figures' own times and the start of the display are
    /// drawn; otherwise they are as planned.
    pub pilot: bool,
    /// Whether marks are keyed a little early or late; otherwise each at its instant.
    pub marks: bool,
    /// Whether the narrator is faster or slower than the plan reads.
    pub words: bool,
    /// The share of marks that nobody keys.
    pub missed: Share,
    /// Entries whose hold is left so much later than it would be.
    pub late: Vec<(Name, Span)>,
    /// Entries that are not flown; said so as the figure before them begins.
    pub dropped: Vec<Name>,
    /// The show is held up once.
    pub held_up: Option<HeldUp>,
}

/// A wait for weather.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldUp {
    /// The entry that waits.
    pub before: Name,
    /// How long.
    pub lasts: Span,
}

/// How the mean wind along the display line differs from the forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WindError {
    /// Not at all.
    None,
    /// By chance, as the estimate takes it: normal, 3 kt.
    Drawn,
    /// By so much, positive towards the crowd's right.
    Stated(Speed),
}

impl Errors {
    /// A show flown exactly as planned.
    pub fn none() -> Errors {
        Errors {
            seed: 0,
            wind: WindError::None,
            pilot: false,
            marks: false,
            words: false,
            missed: Share::ZERO,
            late: Vec::new(),
            dropped: Vec::new(),
            held_up: None,
        }
    }

    /// Everything that varies by itself, drawn; nothing missed, dropped or held up.
    pub fn drawn(seed: u64) -> Errors {
        Errors {
            seed,
            wind: WindError::Drawn,
            pilot: true,
            marks: true,
            words: true,
            ..Errors::none()
        }
    }

    /// How much more wind blows along the line than was forecast, positive towards the crowd's right.
    pub fn along(&self) -> Speed {
        match self.wind {
            WindError::None => Speed::ZERO,
            WindError::Stated(along) => along,
            WindError::Drawn => WIND_SPREAD * Draws::of(self.seed, Source::Wind).normal(),
        }
    }
}

/// The seed of the `run`th show of many.
pub fn seed_of(seed: u64, run: u64) -> u64 {
    let mut runs = Pcg64Mcg::seed_from_u64(seed);
    runs.next_u64() ^ run.wrapping_mul(0x9e37_79b9_7f4a_7c15)
}

/// A day whose wind differs by `along`, positive towards the crowd's right, at every height.
pub fn other_day(day: &Day, site: &Site, along: Speed) -> Day {
    let changed = |wind: &WindAt| {
        let off = wind.from.rad() - site.line_bearing.rad();
        let x = -wind.speed.mps() * off.cos() + along.mps();
        let y = wind.speed.mps() * off.sin();
        WindAt {
            from: Angle::from_rad(site.line_bearing.rad() + y.atan2(-x)),
            speed: Speed::from_mps(x.hypot(y)),
            ..*wind
        }
    };
    Day {
        wind: day.wind.iter().map(changed).collect(),
        ..day.clone()
    }
}

/// Where a difference comes from; each has draws of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Source {
    Wind = 1,
    Pilot,
    Marks,
    Missed,
    Words,
}

/// Standard normal and uniform numbers.
pub(super) struct Draws {
    from: Pcg64Mcg,
    /// The second of a pair of normal ones.
    spare: Option<f64>,
}

impl Draws {
    pub(super) fn of(seed: u64, source: Source) -> Draws {
        let own = seed.rotate_left(8) ^ (source as u64);
        Draws {
            from: Pcg64Mcg::seed_from_u64(own),
            spare: None,
        }
    }

    /// Above 0, at most 1.
    pub(super) fn uniform(&mut self) -> f64 {
        const STEPS: f64 = (1u64 << 53) as f64;
        ((self.from.next_u64() >> 11) as f64 + 1.0) / STEPS
    }

    /// By Box and Muller's transformation, with the library's own functions, which are alike on every machine.
    pub(super) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        let far = libm::sqrt(-2.0 * libm::log(self.uniform()));
        let (sin, cos) = libm::sincos(std::f64::consts::TAU * self.uniform());
        self.spare = Some(far * sin);
        far * cos
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of the standard normal: mean 0, variance 1, fourth moment 3; 0.6827 within one.
    #[test]
    fn draws_are_standard_normal() {
        let mut draws = Draws::of(7, Source::Pilot);
        let all: Vec<f64> = (0..200_000).map(|_| draws.normal()).collect();
        let mean_of = |f: &dyn Fn(f64) -> f64| all.iter().map(|x| f(*x)).sum::<f64>() / 2e5;
        assert!(mean_of(&|x| x).abs() < 0.01);
        assert!((mean_of(&|x| x * x) - 1.0).abs() < 0.015);
        assert!((mean_of(&|x| x.powi(4)) - 3.0).abs() < 0.15);
        assert!((mean_of(&|x| f64::from(x.abs() < 1.0)) - 0.6827).abs() < 0.005);
    }

    #[test]
    fn kinds_and_shows_are_drawn_apart() {
        let first = |seed, source| Draws::of(seed, source).uniform();
        assert_ne!(first(1, Source::Wind), first(1, Source::Pilot));
        assert_ne!(
            first(seed_of(1, 0), Source::Wind),
            first(seed_of(1, 1), Source::Wind)
        );
        let pairs = 50_000;
        let together: f64 = (0..pairs)
            .map(|run| {
                let seed = seed_of(3, run);
                let next = seed_of(3, run + 1);
                let of = |seed, source| Draws::of(seed, source).normal();
                of(seed, Source::Wind) * of(seed, Source::Pilot)
                    + of(seed, Source::Wind) * of(next, Source::Wind)
            })
            .sum();
        assert!((together / pairs as f64).abs() < 0.03);
    }
}

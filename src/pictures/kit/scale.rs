//! Values along an axis, and the round ones to mark on it.

/// A straight map from values to pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    from: f64,
    pixel: f64,
    pixels_per: f64,
}

impl Scale {
    /// Puts the first value at the first pixel and the last at the last.
    pub fn new(values: [f64; 2], pixels: [f64; 2]) -> Scale {
        let span = values[1] - values[0];
        let pixels_per = if span == 0.0 {
            0.0
        } else {
            (pixels[1] - pixels[0]) / span
        };
        Scale {
            from: values[0],
            pixel: pixels[0],
            pixels_per,
        }
    }

    /// Where a value is.
    pub fn at(&self, value: f64) -> f64 {
        self.pixel + (value - self.from) * self.pixels_per
    }

    /// Pixels for each unit of value.
    pub fn pixels_per(&self) -> f64 {
        self.pixels_per
    }
}

/// The least step of 1, 2 or 5 times a power of ten that is not below `least`.
pub fn round_step(least: f64) -> f64 {
    if !(least > 0.0 && least.is_finite()) {
        return 1.0;
    }
    let power = 10_f64.powf(least.log10().floor());
    let of = [1.0, 2.0, 5.0].map(|part| part * power);
    // A hair more than the step is still the step.
    let enough = |step: &f64| *step >= least * (1.0 - 1e-9);
    of.into_iter().find(enough).unwrap_or(10.0 * power)
}

/// The least step of seconds people count in that is not below `least`.
pub fn time_step(least: f64) -> f64 {
    const STEPS: [f64; 11] = [
        1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0,
    ];
    let found = STEPS.into_iter().find(|step| *step >= least);
    found.unwrap_or_else(|| (least / 1800.0).ceil().max(1.0) * 1800.0)
}

/// The multiples of `step`, moved by `offset`, between two values, both included.
pub fn multiples(from: f64, to: f64, step: f64, offset: f64) -> Vec<f64> {
    let first = ((from - offset) / step - 1e-9).ceil();
    let last = ((to - offset) / step + 1e-9).floor();
    let count = (last - first + 1.0).max(0.0) as usize;
    if count > 10_000 {
        return Vec::new(); // more than any picture can mark
    }
    (0..count)
        .map(|i| offset + (first + i as f64) * step)
        .collect()
}

/// A number as it stands at a tick: at most two decimals, none of them needless.
pub fn trimmed(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn steps_are_round() {
        for (least, step) in [
            (0.3, 0.5),
            (1.0, 1.0),
            (1.1, 2.0),
            (30.0, 50.0),
            (700.0, 1000.0),
        ] {
            assert!((round_step(least) / step - 1.0).abs() < 1e-12, "{least}");
        }
        assert_eq!(round_step(0.0), 1.0);
        assert_eq!(
            [0.5, 11.0, 61.0, 901.0, 4000.0].map(time_step),
            [1.0, 15.0, 120.0, 1800.0, 5400.0]
        );
    }

    #[test]
    fn multiples_include_both_ends() {
        assert_eq!(
            multiples(-10.0, 10.0, 5.0, 0.0),
            [-10.0, -5.0, 0.0, 5.0, 10.0]
        );
        assert_eq!(multiples(0.0, 60.0, 30.0, 12.0), [12.0, 42.0]);
        assert!(multiples(0.0, f64::NAN, 1.0, 0.0).is_empty());
    }

    proptest! {
        #[test]
        fn a_step_is_less_than_two_and_a_half_times_what_it_must_be(least in 1e-6..1e6) {
            let step = round_step(least);
            prop_assert!(step >= least * 0.999_999 && step <= least * 2.500_001);
        }
    }
}

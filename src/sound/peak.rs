//! True peak: how high a sound goes between its samples (ITU-R BS.1770, annex 2).

use std::f64::consts::PI;

/// Samples on which a value between two of them rests, half on each side. Long enough that 20 kHz at 44.1 kHz
/// passes within 0.05 dB, which BS.1770's own example filter of 12 does not.
pub(super) const TAPS: usize = 32;
/// The nearest of them, which decide most of a value.
const NEAR: usize = 8;
/// Kaiser's β for 50 dB of stop band.
const KAISER: f64 = 4.55;
/// Values looked at together, and so many at once.
const RUN: usize = 64;
const LANES: usize = 8;
/// What a bound is taken wider by, for what rounding adds to a sum.
const ROUNDING: f32 = 1.000_1;

/// Measures the true peak of a sound that is fed bit by bit.
pub(super) struct TruePeak {
    between: Between,
    /// For each channel the last `TAPS − 1` samples, and room for the next.
    recent: Vec<Vec<f32>>,
    peak: f32,
}

/// What a sound is between its samples.
pub(super) struct Between {
    /// One filter for each place between two samples.
    filters: Vec<Filter>,
    /// No value between samples is more times their highest than this.
    most: f32,
}

/// Gives the values at one place between samples.
struct Filter {
    taps: [f32; TAPS],
    /// What all but the nearest taps give is not more times the highest sample than this.
    beyond: f32,
}

impl Between {
    /// At `rate` samples a second; looks every 192 kHz or closer.
    pub fn new(rate: u32) -> Self {
        // Half way between two samples, where values are highest, first.
        let places: &[f64] = match rate {
            0..96_000 => &[0.5, 0.25, 0.75],
            96_000..192_000 => &[0.5],
            _ => &[],
        };
        let filters: Vec<Filter> = places.iter().map(|place| Filter::new(*place)).collect();
        let most = filters.iter().map(|filter| sizes(&filter.taps));
        Between {
            most: ROUNDING * most.fold(1.0, f32::max),
            filters,
        }
    }

    /// Finds how high a channel goes where it is higher than `floor`: at its samples or between each and the next, without
    /// its sign. Value `i` is that of the `TAPS` samples from `around[i]` on. `found` says what is to be the floor from
    /// there on.
    pub fn look(&self, around: &[f32], mut floor: f32, mut found: impl FnMut(usize, f32) -> f32) {
        let count = around.len().saturating_sub(TAPS - 1);
        for first in (0..count).step_by(RUN) {
            let until = (first + RUN).min(count) + TAPS - 1;
            let around = &around[first..until];
            let highest = highest_of(around);
            // Most of a sound is too soft to matter.
            if highest * self.most <= floor {
                continue;
            }
            let samples = &around[TAPS / 2 - 1..around.len() - TAPS / 2];
            for (i, x) in samples.iter().enumerate() {
                if x.abs() > floor {
                    floor = found(first + i, x.abs());
                }
            }
            for filter in &self.filters {
                floor = filter.look(around, highest, floor, |i, value| found(first + i, value));
            }
        }
    }
}

impl Filter {
    fn new(place: f64) -> Filter {
        let taps = taps(place);
        let (first, last) = (TAPS / 2 - NEAR / 2, TAPS / 2 + NEAR / 2);
        Filter {
            beyond: ROUNDING * (sizes(&taps[..first]) + sizes(&taps[last..])),
            taps,
        }
    }

    /// The same for one place, in one run; the floor it comes to.
    fn look(
        &self,
        around: &[f32],
        highest: f32,
        mut floor: f32,
        mut found: impl FnMut(usize, f32) -> f32,
    ) -> f32 {
        let count = around.len() - (TAPS - 1);
        let near = self.near(around);
        let beyond = self.beyond * highest;
        if highest_of(&near[..count]) + beyond <= floor {
            return floor;
        }
        for (i, near) in near[..count].iter().enumerate() {
            if near.abs() + beyond > floor {
                let value = self.value(&around[i..i + TAPS]).abs();
                if value > floor {
                    floor = found(i, value);
                }
            }
        }
        floor
    }

    /// What the nearest taps give, for every value of a run.
    fn near(&self, around: &[f32]) -> [f32; RUN] {
        let mut line = [0.0; RUN + NEAR];
        let nearest = &around[TAPS / 2 - NEAR / 2..around.len() - (TAPS / 2 - NEAR / 2)];
        line[..nearest.len()].copy_from_slice(nearest);
        let taps: [f32; NEAR] = std::array::from_fn(|tap| self.taps[TAPS / 2 - NEAR / 2 + tap]);
        let mut values = [0.0; RUN];
        for (i, values) in values.as_chunks_mut::<LANES>().0.iter_mut().enumerate() {
            let line = &line[i * LANES..i * LANES + LANES + NEAR];
            for (tap, weight) in taps.iter().enumerate() {
                for (lane, value) in values.iter_mut().enumerate() {
                    *value += weight * line[tap + lane];
                }
            }
        }
        values
    }

    /// One value, from the samples around it.
    fn value(&self, around: &[f32]) -> f32 {
        let mut lanes = [0.0; LANES];
        let (around, taps) = (
            around.as_chunks::<LANES>().0,
            self.taps.as_chunks::<LANES>().0,
        );
        for (around, taps) in around.iter().zip(taps) {
            for ((lane, x), tap) in lanes.iter_mut().zip(around).zip(taps) {
                *lane += tap * x;
            }
        }
        lanes.iter().sum()
    }
}

impl TruePeak {
    /// For so many channels at `rate` frames a second; looks every 192 kHz or closer.
    pub fn new(rate: u32, channels: u16) -> Self {
        TruePeak {
            between: Between::new(rate),
            recent: vec![vec![0.0; TAPS - 1]; channels.into()],
            peak: 0.0,
        }
    }

    /// Feeds whole frames of interleaved samples.
    pub fn add(&mut self, samples: &[f32]) {
        let channels = self.recent.len();
        for (channel, line) in self.recent.iter_mut().enumerate() {
            line.extend(samples.iter().skip(channel).step_by(channels));
            let peak = &mut self.peak;
            self.between.look(line, *peak, |_, value| {
                *peak = value;
                value
            });
            line.drain(..line.len() - (TAPS - 1));
        }
    }

    /// The peak, full scale 1, once the last frames have been looked between.
    pub fn finish(mut self) -> f32 {
        self.add(&vec![0.0; TAPS * self.recent.len()]);
        self.peak
    }

    /// The peak so far, full scale 1; the last frames are not in it.
    pub fn so_far(&self) -> f32 {
        self.peak
    }
}

/// The highest of some samples, without their signs.
fn highest_of(samples: &[f32]) -> f32 {
    let higher = |a: f32, b: f32| if b > a { b } else { a };
    let (lanes, rest) = samples.as_chunks::<LANES>();
    let mut highest = [0.0; LANES];
    for samples in lanes {
        for (highest, x) in highest.iter_mut().zip(samples) {
            *highest = higher(*highest, x.abs());
        }
    }
    let rest = rest.iter().map(|x| x.abs());
    highest.into_iter().chain(rest).fold(0.0, higher)
}

/// The sum of the sizes of taps.
fn sizes(taps: &[f32]) -> f32 {
    taps.iter().map(|tap| tap.abs()).sum()
}

/// The Kaiser-windowed sinc that gives the value `place` of a sample after the middle one.
fn taps(place: f64) -> [f32; TAPS] {
    let half = TAPS as f64 / 2.0;
    let raw: [f64; TAPS] = std::array::from_fn(|tap| {
        let x = tap as f64 - (half - 1.0) - place;
        let sinc = (PI * x).sin() / (PI * x);
        sinc * bessel(KAISER * (1.0 - (x / half).powi(2)).max(0.0).sqrt()) / bessel(KAISER)
    });
    let sum: f64 = raw.iter().sum();
    raw.map(|h| (h / sum) as f32)
}

/// The modified Bessel function of the first kind and order zero, by its series.
fn bessel(x: f64) -> f64 {
    let term = |(sum, term): (f64, f64), k: u32| {
        let term = term * (x / 2.0 / f64::from(k)).powi(2);
        (sum + term, term)
    };
    (1..30).fold((1.0, 1.0), term).0
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A sine whose samples all miss its crest by as much as can be, at any frequency up to 20 kHz.
    #[test]
    fn the_crest_of_a_sine_is_found_between_samples() {
        for rate in [44_100, 48_000, 96_000] {
            for hz in [50.0, 997.0, 5_000.0, 11_025.0, 15_000.0, 20_000.0] {
                let mut meter = TruePeak::new(rate, 1);
                let sine: Vec<f32> = (0..rate)
                    .map(|i| {
                        // Begun softly: a sudden start would rightly peak higher.
                        let fade = (f64::from(i) / f64::from(rate) * 50.0).min(1.0);
                        let x = (TAU * hz * f64::from(i) / f64::from(rate) + 0.3).sin();
                        (0.5 * fade * x) as f32
                    })
                    .collect();
                meter.add(&sine);
                let db = 20.0 * (f64::from(meter.so_far()) / 0.5).log10();
                assert!(db.abs() < 0.05, "{hz} Hz at {rate}: {db} dB");
            }
        }
    }

    #[test]
    fn it_is_the_same_however_it_is_fed() {
        let mut x = 1_u32;
        let noise: Vec<f32> = (0..20_000)
            .map(|_| {
                x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (x >> 8) as f32 / (1 << 23) as f32 - 1.0
            })
            .collect();
        let peak = |bit: usize| {
            let mut meter = TruePeak::new(48_000, 2);
            noise.chunks(2 * bit).for_each(|bit| meter.add(bit));
            meter.finish()
        };
        assert_eq!(peak(1), peak(10_000));
        assert_eq!(peak(37), peak(10_000));
        assert!(peak(10_000) > 1.0);
    }
}

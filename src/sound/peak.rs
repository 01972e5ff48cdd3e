//! True peak: how high a sound goes between its samples (ITU-R BS.1770, annex 2).

use std::f64::consts::PI;

/// Samples on which a value between two of them rests, half on each side. Long enough that 20 kHz at 44.1 kHz
/// passes within 0.05 dB, which BS.1770's own example filter of 12 does not.
pub(super) const TAPS: usize = 32;
/// Kaiser's β for 50 dB of stop band.
const KAISER: f64 = 4.55;
/// Values worked out at once.
const RUN: usize = 256;

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
    filters: Vec<[f32; TAPS]>,
    /// No value between samples is more times their highest than this.
    most: f32,
}

impl Between {
    /// At `rate` samples a second; looks every 192 kHz or closer.
    pub fn new(rate: u32) -> Self {
        let places = match rate {
            0..96_000 => 4,
            96_000..192_000 => 2,
            _ => 1,
        };
        let filters: Vec<_> = (1..places)
            .map(|place| filter(f64::from(place) / f64::from(places)))
            .collect();
        let weight = |filter: &[f32; TAPS]| filter.iter().map(|h| h.abs()).sum();
        Between {
            most: filters.iter().map(weight).fold(1.0, f32::max),
            filters,
        }
    }

    /// Raises each of `crests` to how high a channel goes at its sample or between that and the next, without its
    /// sign. Crest `i` is that of the `TAPS` samples from `around[i]` on; none matters that is below `floor`.
    pub fn crests(&self, around: &[f32], floor: f32, crests: &mut [f32]) {
        for (run, crests) in crests.chunks_mut(RUN).enumerate() {
            let count = crests.len();
            let Some(around) = around.get(run * RUN..run * RUN + count + TAPS - 1) else {
                return;
            };
            if highest_of(around) * self.most <= floor {
                continue;
            }
            for (crest, x) in crests.iter_mut().zip(&around[TAPS / 2 - 1..]) {
                *crest = crest.max(x.abs());
            }
            for filter in &self.filters {
                for (crest, value) in crests.iter_mut().zip(values_between(around, count, filter)) {
                    *crest = crest.max(value.abs());
                }
            }
        }
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
        for channel in 0..channels {
            let mut line = std::mem::take(&mut self.recent[channel]);
            line.extend(samples.iter().skip(channel).step_by(channels));
            self.scan(&line);
            let old = line.len() - (TAPS - 1);
            line.drain(..old);
            self.recent[channel] = line;
        }
    }

    /// The peak, full scale 1, once the last frames have been looked between.
    pub fn finish(mut self) -> f32 {
        self.add(&vec![0.0; TAPS * self.recent.len()]);
        self.peak
    }

    /// The peak so far, full scale 1.
    pub fn so_far(&self) -> f32 {
        self.peak
    }

    /// Looks at and between the samples of one channel that have `TAPS` samples around them.
    fn scan(&mut self, line: &[f32]) {
        let ready = line.len().saturating_sub(TAPS - 1);
        for start in (0..ready).step_by(RUN) {
            let count = RUN.min(ready - start);
            let around = &line[start..start + count + TAPS - 1];
            let highest = highest_of(around);
            self.peak = self.peak.max(highest);
            // Most of a sound is too soft to matter.
            if highest * self.between.most > self.peak {
                let filters = self.between.filters.iter();
                let values =
                    filters.map(|filter| highest_of(&values_between(around, count, filter)));
                self.peak = values.fold(self.peak, f32::max);
            }
        }
    }
}

fn highest_of(samples: &[f32]) -> f32 {
    samples
        .iter()
        .fold(0.0, |highest, x| f32::max(highest, x.abs()))
}

/// The first `count` values a filter gives; zero after them.
fn values_between(around: &[f32], count: usize, filter: &[f32; TAPS]) -> [f32; RUN] {
    let mut values = [0.0; RUN];
    let wanted = &mut values[..count];
    for (tap, weight) in filter.iter().enumerate() {
        for (value, x) in wanted.iter_mut().zip(&around[tap..]) {
            *value += weight * x;
        }
    }
    values
}

/// The Kaiser-windowed sinc that gives the value `place` of a sample after the middle one.
fn filter(place: f64) -> [f32; TAPS] {
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

//! How much of a sound the ear hears: the weighting of ITU-R BS.1770, annex 1.

use std::f64::consts::PI;

/// Weights channels and adds up their energy.
pub(super) struct Weighting {
    sections: [Section; 2],
    channels: usize,
    /// The channels that count, two by two: which, and how much each counts.
    pairs: Vec<Pair>,
}

/// A filter of the second order, `a` without its first, which is 1.
#[derive(Debug, Clone, Copy)]
struct Section {
    b: [f64; 3],
    a: [f64; 2],
}

/// Two channels, and what both sections remember of them.
struct Pair {
    channels: [usize; 2],
    weights: [f64; 2],
    memory: [[f64; 2]; 4],
}

/// What is less than this is silence to a filter: numbers too small for a processor's usual ways would slow it down.
const NOTHING: f64 = 1e-30;

impl Weighting {
    /// For sound at `rate` frames a second whose channels count so much each.
    pub fn new(rate: u32, weights: &[f64]) -> Weighting {
        let counted: Vec<(usize, f64)> = weights.iter().copied().enumerate().collect();
        let counted: Vec<_> = counted
            .into_iter()
            .filter(|(_, weight)| *weight > 0.0)
            .collect();
        let pairs = counted.chunks(2).map(|pair| {
            let first = pair[0];
            let second = pair.get(1).copied().unwrap_or((first.0, 0.0));
            Pair {
                channels: [first.0, second.0],
                weights: [first.1, second.1],
                memory: [[0.0; 2]; 4],
            }
        });
        Weighting {
            sections: sections(f64::from(rate)),
            channels: weights.len(),
            pairs: pairs.collect(),
        }
    }

    /// The energy of whole frames of interleaved samples: the sum over all of them.
    pub fn energy(&mut self, samples: &[f32]) -> f64 {
        let (sections, channels) = (&self.sections, self.channels);
        let energies = self.pairs.iter_mut().map(|pair| match channels {
            2 => pair.energy(sections, samples.as_chunks::<2>().0.iter().copied()),
            _ => {
                let [a, b] = pair.channels;
                let frames = samples.chunks_exact(channels);
                pair.energy(sections, frames.map(|frame| [frame[a], frame[b]]))
            }
        });
        energies.sum()
    }
}

impl Pair {
    fn energy(&mut self, sections: &[Section; 2], frames: impl Iterator<Item = [f32; 2]>) -> f64 {
        let [shelf, pass] = sections;
        let mut memory = self.memory;
        let mut sums = [0.0; 2];
        for frame in frames {
            for (i, x) in frame.into_iter().enumerate() {
                let x = f64::from(x);
                let y = shelf.b[0] * x + memory[0][i];
                memory[0][i] = shelf.b[1] * x - shelf.a[0] * y + memory[1][i];
                memory[1][i] = shelf.b[2] * x - shelf.a[1] * y;
                let z = pass.b[0] * y + memory[2][i];
                memory[2][i] = pass.b[1] * y - pass.a[0] * z + memory[3][i];
                memory[3][i] = pass.b[2] * y - pass.a[1] * z;
                sums[i] += z * z;
            }
        }
        for remembered in memory.as_flattened_mut() {
            if remembered.abs() < NOTHING {
                *remembered = 0.0;
            }
        }
        self.memory = memory;
        sums[0] * self.weights[0] + sums[1] * self.weights[1]
    }
}

/// The high shelf and the high pass at any rate, by the bilinear transform of the filters that are BS.1770's own at
/// 48 kHz (their frequencies, gain and quality as De Man worked them out in 2014; from memory).
fn sections(rate: f64) -> [Section; 2] {
    let tangent = |hz: f64| (PI * hz / rate).tan();
    let (k, q) = (tangent(1_681.974_450_955_533), 0.707_175_236_955_419_6);
    let high = 10_f64.powf(3.999_843_853_973_347 / 20.0);
    let middle = high.powf(0.499_666_774_154_541_6);
    let whole = 1.0 + k / q + k * k;
    let shelf = Section {
        b: [
            (high + middle * k / q + k * k) / whole,
            2.0 * (k * k - high) / whole,
            (high - middle * k / q + k * k) / whole,
        ],
        a: [2.0 * (k * k - 1.0) / whole, (1.0 - k / q + k * k) / whole],
    };
    let (k, q) = (tangent(38.135_470_876_024_44), 0.500_327_037_323_877_3);
    let whole = 1.0 + k / q + k * k;
    let pass = Section {
        b: [1.0, -2.0, 1.0],
        a: [2.0 * (k * k - 1.0) / whole, (1.0 - k / q + k * k) / whole],
    };
    [shelf, pass]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ITU-R BS.1770-4, annex 1, tables 1 and 2 (from memory).
    #[test]
    fn at_48_khz_the_filters_are_the_standards_own() {
        let [shelf, pass] = sections(48_000.0);
        let expected = [
            (shelf.b[0], 1.535_124_859_586_97),
            (shelf.b[1], -2.691_696_189_406_38),
            (shelf.b[2], 1.198_392_810_852_85),
            (shelf.a[0], -1.690_659_293_182_41),
            (shelf.a[1], 0.732_480_774_215_85),
            (pass.b[1], -2.0),
            (pass.a[0], -1.990_047_454_833_98),
            (pass.a[1], 0.990_072_250_366_21),
        ];
        for (is, standard) in expected {
            assert!((is - standard).abs() < 1e-8, "{is}, not {standard}");
        }
    }

    /// BS.1770: 997 Hz at full scale on one channel reads −3.01 LKFS. The bilinear transform bends the shelf a little where
    /// half the rate is near it.
    #[test]
    fn the_standards_tone_has_the_standards_energy_at_every_rate() {
        for rate in [22_050_u32, 44_100, 48_000, 96_000, 192_000] {
            for (channel, channels) in [(0, 1), (1, 2), (2, 3)] {
                let mut samples = vec![0.0; rate as usize * channels];
                for (i, frame) in samples.chunks_exact_mut(channels).enumerate() {
                    let angle = std::f64::consts::TAU * 997.0 * i as f64 / f64::from(rate);
                    frame[channel] = angle.sin() as f32;
                }
                let mut weighting = Weighting::new(rate, &vec![1.0; channels]);
                weighting.energy(&samples);
                let energy = weighting.energy(&samples) / f64::from(rate);
                let lkfs = 10.0 * energy.log10() - 0.691;
                assert!(
                    (lkfs + 3.01).abs() < 0.05,
                    "{rate}, {channel} of {channels}: {lkfs}"
                );
            }
        }
    }
}

//! The same sound at another rate: blocks of it side by side, by Fourier transforms that overlap.

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use rayon::prelude::*;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};

use super::Pcm;

/// Frames in a block at the lower rate, at least: long enough that all below 20 kHz passes unchanged.
const BLOCK: usize = 4096;
/// Blocks made one after another; the first of them needs one more.
const RUN: usize = 24;
/// How far below half the rate the filter's middle lies, in parts of its length: what the main lobe of the window takes
/// on one side.
const TRANSITION: f64 = 13.75;
/// Blackman and Harris's window of four terms, which is squared.
const WINDOW: [f64; 4] = [0.358_75, -0.488_29, 0.141_28, -0.011_68];

/// The sound at `rate` frames a second, band-limited to both rates, its delay taken out: what was at a time
/// is still at that time. It has `frames × ratio` frames, rounded.
pub fn to_rate(pcm: &Pcm, rate: u32) -> Pcm {
    let (from, to) = (pcm.rate.max(1), rate.max(1));
    let (frames, channels) = (pcm.frames(), usize::from(pcm.channels));
    if from == to || frames == 0 {
        return Pcm {
            rate,
            ..pcm.clone()
        };
    }
    let wanted = (frames as u128 * u128::from(to) + u128::from(from / 2)) / u128::from(from);
    let blocks = Blocks::new(from as usize, to as usize);
    let mut samples = vec![0.0; wanted as usize * channels];
    samples
        .par_chunks_mut(RUN * blocks.after * channels)
        .enumerate()
        .for_each(|(run, out)| blocks.run(pcm, run * RUN, out));
    Pcm {
        rate,
        channels: pcm.channels,
        samples,
    }
}

/// How blocks of `before` frames become blocks of `after`.
///
/// Block `k` lies around frame `k × before`. Filtered it is twice as long: its first half is heard in the stretch
/// before its own middle, its second half in the stretch behind.
struct Blocks {
    before: usize,
    after: usize,
    /// The spectrum of the filter, which also undoes what the transforms scale by.
    filter: Vec<Complex<f32>>,
    forward: Arc<dyn RealToComplex<f32>>,
    back: Arc<dyn ComplexToReal<f32>>,
}

/// What a block is transformed in.
struct Bench {
    line: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    forward: Vec<Complex<f32>>,
    new_spectrum: Vec<Complex<f32>>,
    back: Vec<Complex<f32>>,
    /// The block filtered, at the new rate.
    made: Vec<f32>,
}

impl Blocks {
    fn new(from: usize, to: usize) -> Blocks {
        // A block of an even number of frames has its middle on a frame: the delay is exact.
        let common = gcd(from, to);
        // So many units are a power of two, which transforms are quickest with.
        let units = BLOCK.div_ceil(from.min(to) / common);
        let count = units.next_power_of_two().max(2);
        let (before, after) = (count * from / common, count * to / common);
        let mut planner = RealFftPlanner::new();
        let forward = planner.plan_fft_forward(2 * before);
        let mut filter = forward.make_output_vec();
        forward
            .process(&mut impulse(before, after), &mut filter)
            .expect(OWN);
        Blocks {
            before,
            after,
            filter,
            forward,
            back: planner.plan_fft_inverse(2 * after),
        }
    }

    fn bench(&self) -> Bench {
        Bench {
            line: self.forward.make_input_vec(),
            spectrum: self.forward.make_output_vec(),
            forward: self.forward.make_scratch_vec(),
            new_spectrum: self.back.make_input_vec(),
            back: self.back.make_scratch_vec(),
            made: self.back.make_output_vec(),
        }
    }

    /// Fills `out`, whose first frame is that of the stretch behind block `first`.
    fn run(&self, pcm: &Pcm, first: usize, out: &mut [f32]) {
        let channels = usize::from(pcm.channels);
        let mut bench = self.bench();
        let mut tail = vec![0.0; self.after];
        for channel in 0..channels {
            self.make(pcm, channel, first, &mut bench);
            tail.copy_from_slice(&bench.made[self.after..]);
            for (i, out) in out.chunks_mut(self.after * channels).enumerate() {
                self.make(pcm, channel, first + i + 1, &mut bench);
                let (head, next_tail) = bench.made.split_at(self.after);
                let sums = head.iter().zip(&tail).map(|(a, b)| a + b);
                for (sample, sum) in out.iter_mut().skip(channel).step_by(channels).zip(sums) {
                    *sample = sum;
                }
                tail.copy_from_slice(next_tail);
            }
        }
    }

    /// Makes a block of one channel.
    fn make(&self, pcm: &Pcm, channel: usize, block: usize, bench: &mut Bench) {
        self.lay(pcm, channel, block, &mut bench.line);
        self.forward
            .process_with_scratch(&mut bench.line, &mut bench.spectrum, &mut bench.forward)
            .expect(OWN);
        // Half of either rate is beyond the filter.
        let both = self.before.min(self.after);
        let (passes, beyond) = bench.new_spectrum.split_at_mut(both);
        beyond.fill(Complex::default());
        for ((new, old), weight) in passes.iter_mut().zip(&bench.spectrum).zip(&self.filter) {
            *new = old * weight;
        }
        self.back
            .process_with_scratch(&mut bench.new_spectrum, &mut bench.made, &mut bench.back)
            .expect(OWN);
    }

    /// Lays a block's own frames in the first half of a line, and silence beyond the sound's ends and behind them.
    fn lay(&self, pcm: &Pcm, channel: usize, block: usize, line: &mut [f32]) {
        let channels = usize::from(pcm.channels);
        let first = (block * self.before) as i64 - (self.before / 2) as i64;
        let silent = (-first).clamp(0, self.before as i64) as usize;
        line.fill(0.0);
        let from = (first.max(0) as usize * channels).min(pcm.samples.len());
        let frames = pcm.samples[from..].chunks_exact(channels);
        for (place, frame) in line[silent..self.before].iter_mut().zip(frames) {
            *place = frame[channel];
        }
    }
}

/// Lengths that transforms were planned for cannot be wrong.
const OWN: &str = "buffers of the transform's own making";

/// The filter that lets through what both rates can hold: a sine over its angle under a window, and as much silence.
fn impulse(before: usize, after: usize) -> Vec<f32> {
    let share = (after as f64 / before as f64).min(1.0);
    let length = before as f64;
    let cutoff = share * (1.0 - TRANSITION / (length * share));
    let mut taps: Vec<f64> = (0..before)
        .map(|i| {
            let terms = WINDOW.iter().enumerate();
            let angle = TAU * i as f64 / length;
            let window: f64 = terms.map(|(k, a)| a * (k as f64 * angle).cos()).sum();
            let x = PI * cutoff * (i as f64 - length / 2.0);
            let sinc = if x == 0.0 { 1.0 } else { x.sin() / x };
            window * window * sinc
        })
        .collect();
    taps.resize(2 * before, 0.0);
    let sum: f64 = taps.iter().sum::<f64>() * 2.0 * length;
    taps.into_iter().map(|tap| (tap / sum) as f32).collect()
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mono(rate: u32, samples: Vec<f32>) -> Pcm {
        Pcm {
            rate,
            channels: 1,
            samples,
        }
    }

    /// Where the energy of a short sound lies, in frames.
    fn middle(samples: &[f32]) -> f64 {
        let energy = |x: f32| f64::from(x) * f64::from(x);
        let all: f64 = samples.iter().map(|&x| energy(x)).sum();
        let moment: f64 = samples
            .iter()
            .enumerate()
            .map(|(i, &x)| i as f64 * energy(x))
            .sum();
        moment / all
    }

    #[test]
    fn an_impulse_stays_where_it_was() {
        for (from, to) in [
            (44_100, 48_000),
            (48_000, 44_100),
            (22_050, 48_000),
            (96_000, 48_000),
            (44_100, 192_000),
            (8_000, 44_100),
            (44_056, 48_000),
        ] {
            for at in [0.1, 0.25, 0.777] {
                let mut samples = vec![0.0; from as usize];
                let frame = (at * f64::from(from)) as usize;
                samples[frame] = 1.0;
                let out = to_rate(&mono(from, samples), to);
                let expected = frame as f64 / f64::from(from) * f64::from(to);
                let error = middle(&out.samples) - expected;
                assert!(
                    error.abs() < 0.05,
                    "{from} to {to} at {at} s: {error} frames off"
                );
            }
        }
    }

    #[test]
    fn the_length_is_the_same_time() {
        for (from, to) in [
            (44_100, 48_000),
            (48_000, 44_100),
            (96_000, 44_100),
            (11_025, 48_000),
        ] {
            for frames in [0, 1, 2, 100, 4_095, 44_101] {
                let out = to_rate(&mono(from, vec![0.25; frames]), to);
                let wanted = (frames as f64 * f64::from(to) / f64::from(from)).round() as usize;
                assert_eq!(out.frames(), wanted, "{frames} frames from {from} to {to}");
            }
        }
    }

    /// What lies between the samples of a sine is known: the new samples must lie on it.
    #[test]
    fn tones_up_to_20_khz_pass_unchanged() {
        let sine = |rate: u32, hz: f64, frames: usize| -> Vec<f32> {
            (0..frames)
                .map(|i| {
                    (0.5 * (std::f64::consts::TAU * hz * i as f64 / f64::from(rate)).sin()) as f32
                })
                .collect()
        };
        for hz in [40.0, 997.0, 10_007.0, 19_500.0] {
            for (from, to) in [(44_100, 48_000), (48_000, 44_100), (96_000, 48_000)] {
                let out = to_rate(&mono(from, sine(from, hz, from as usize)), to);
                let expected = sine(to, hz, to as usize);
                let edge = to as usize / 10;
                let worst = (edge..to as usize - edge)
                    .map(|i| (out.samples[i] - expected[i]).abs())
                    .fold(0.0, f32::max);
                assert!(worst < 2e-4, "{hz} Hz from {from} to {to}: {worst}");
            }
        }
    }

    #[test]
    fn channels_stay_apart() {
        let samples = (0..44_100)
            .flat_map(|i| [(i as f32 * 0.05).sin(), 0.0])
            .collect();
        let out = to_rate(
            &Pcm {
                rate: 44_100,
                channels: 2,
                samples,
            },
            48_000,
        );
        assert!(out.samples.chunks(2).all(|frame| frame[1] == 0.0));
    }
}

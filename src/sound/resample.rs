//! The same sound at another rate, runs of blocks side by side.

use std::ops::Range;

use rayon::prelude::*;
use rubato::audioadapter_buffers::direct::InterleavedSlice;
use rubato::{Fft, FixedSync, Resampler, WindowFunction};

use super::Pcm;

/// Frames per Fourier transform, at least: long enough that all below 20 kHz passes unchanged.
const TRANSFORM: usize = 4096;
/// Blocks resampled one after another; each run needs one more before it and one behind.
const RUN: usize = 96;

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
    let mut samples = vec![0.0; wanted as usize * channels];
    let blocks = resampler(pcm, to);
    let (before, after) = (blocks.input_frames_next(), blocks.output_frames_next());
    samples
        .par_chunks_mut(RUN * after * channels)
        .enumerate()
        .for_each_init(
            || resampler(pcm, to),
            |resampler, (run, out)| {
                // What a block becomes hangs on that block and the one before it, whichever run they are made in.
                let first = run * RUN;
                let context = first.min(1);
                let from = (first - context) * before;
                let until = ((first + RUN + 1) * before).min(frames);
                let made = resampled(resampler, pcm, from..until);
                let made = made.iter().skip(context * after * channels);
                for (sample, made) in out.iter_mut().zip(made) {
                    *sample = *made;
                }
            },
        );
    Pcm {
        rate,
        channels: pcm.channels,
        samples,
    }
}

/// Frames of a sound at the resampler's rate, as if there were silence before and behind them.
fn resampled(resampler: &mut Fft<f32>, pcm: &Pcm, frames: Range<usize>) -> Vec<f32> {
    let channels = usize::from(pcm.channels);
    let samples = &pcm.samples[frames.start * channels..frames.end * channels];
    let input = InterleavedSlice::new(samples, channels, frames.len())
        .expect("a slice of frames × channels samples");
    resampler
        .process_all(&input, frames.len(), None)
        .expect("buffers of the resampler's own making")
        .take_data()
}

fn resampler(pcm: &Pcm, to: u32) -> Fft<f32> {
    let (from, to) = (pcm.rate.max(1) as usize, to as usize);
    // A transform of an even number of input frames has its middle on a frame: the delay is exact.
    let unit = 2 * from / gcd(from, to);
    Fft::new_custom(
        from,
        to,
        unit * TRANSFORM.div_ceil(unit).next_power_of_two(),
        1,
        pcm.channels.into(),
        WindowFunction::BlackmanHarris2,
        FixedSync::Both,
    )
    .expect("two rates and a length above zero")
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
    fn runs_side_by_side_are_one_sound() {
        for (from, to) in [(44_100, 48_000), (48_000, 44_100), (22_050, 48_000)] {
            let mut seed = 1_u32;
            let noise = (0..2 * 500_003).map(|_| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                f32::from((seed >> 16) as u16) / 65_536.0 - 0.5
            });
            let pcm = Pcm {
                rate: from,
                channels: 2,
                samples: noise.collect(),
            };
            let out = to_rate(&pcm, to).samples;
            let whole = resampled(&mut resampler(&pcm, to), &pcm, 0..pcm.frames());
            assert!(out.len() > 2 * RUN * TRANSFORM, "more than one run");
            assert!(out == whole[..out.len()], "{from} to {to}");
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

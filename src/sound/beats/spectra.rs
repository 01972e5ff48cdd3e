//! What a sound is made of, a hundred times a second: how much of it lies in each band, and in each pitch class.

use std::ops::Range;
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

/// Bands on the mel scale between these two frequencies.
pub(super) const BANDS: usize = 36;
const LOWEST: f64 = 30.0;
const HIGHEST: f64 = 10_000.0;
/// Looks a second, about.
const LOOKS: f64 = 100.0;
/// The rate to which sound is brought, about, in frames a second.
const RATE: f64 = 22_050.0;
/// Seconds a look at the bands takes in, about; one at the pitches takes in `LONGER` times as much.
const WINDOW: f64 = 0.046;
const LONGER: usize = 4;
/// Looks at the bands for each look at the pitches.
pub(super) const TONES_EVERY: usize = 3;
/// Semitones that are told apart, the first a C.
pub(super) const TONES: usize = 66;
const LOWEST_TONE: f64 = 65.406;
/// Energies are kept as logarithms: so many steps an octave, zero standing for 2⁻⁹⁶ and less.
pub(super) const STEPS: f32 = 256.0;
const ZERO: f32 = 96.0;

/// The looks at a sound.
pub struct Spectra {
    /// Looks a second.
    pub rate: f64,
    /// The energy in each band, as [`STEPS`] say.
    pub bands: Vec<[u16; BANDS]>,
    /// The energy around each semitone, for every [`TONES_EVERY`] looks.
    pub tones: Vec<[u16; TONES]>,
}

/// Looks at a sound that is fed bit by bit. Look `i` is centred on `i / rate` seconds.
pub(super) struct Looking {
    downmix: Downmix,
    /// Samples between looks.
    hop: usize,
    /// Samples not yet looked at, and before them those a look still reaches back to.
    line: Vec<f32>,
    short: Transform,
    long: Transform,
    /// The first bin of each band, and after the last.
    edges: [usize; BANDS + 1],
    /// The bins of the long transform that belong to each semitone.
    tones: Vec<Range<usize>>,
    spectra: Spectra,
}

impl Looking {
    /// For interleaved sound of this rate and so many channels.
    pub fn new(rate: u32, channels: u16) -> Looking {
        let factor = (f64::from(rate) / RATE).round().max(1.0);
        let rate = f64::from(rate) / factor;
        let hop = (rate / LOOKS).round().max(1.0);
        let size = 1 << (rate * WINDOW).log2().round().max(4.0) as u32;
        let mut planner = RealFftPlanner::new();
        let short = Transform::new(&mut planner, size);
        let long = Transform::new(&mut planner, LONGER * size);
        Looking {
            downmix: Downmix::new(factor as usize, channels.into()),
            hop: hop as usize,
            // Before the beginning there is silence.
            line: vec![0.0; LONGER * size / 2],
            edges: edges(rate, size),
            tones: tones(rate, LONGER * size),
            short,
            long,
            spectra: Spectra {
                rate: rate / hop,
                bands: Vec::new(),
                tones: Vec::new(),
            },
        }
    }

    /// Feeds whole frames of interleaved samples.
    pub fn add(&mut self, samples: &[f32]) {
        self.downmix.add(samples, &mut self.line);
        let (long, short) = (self.long.window.len(), self.short.window.len());
        let mut from = 0;
        while let Some(around) = self.line.get(from..from + long) {
            if self.spectra.bands.len().is_multiple_of(TONES_EVERY) {
                let powers = self.long.powers(around);
                let energy = |tone: usize| powers[self.tones[tone].clone()].iter().sum();
                self.spectra
                    .tones
                    .push(std::array::from_fn(|tone| kept(energy(tone))));
            }
            let middle = &around[(long - short) / 2..(long + short) / 2];
            let powers = self.short.powers(middle);
            let energy = |band: usize| powers[self.edges[band]..self.edges[band + 1]].iter().sum();
            self.spectra
                .bands
                .push(std::array::from_fn(|band| kept(energy(band))));
            from += self.hop;
        }
        self.line.drain(..from.min(self.line.len()));
    }

    /// Looks to the end.
    pub fn finish(mut self) -> Spectra {
        let silence = self.long.window.len() / 2;
        let factor = self.downmix.factor * self.downmix.channels;
        self.add(&vec![0.0; silence * factor]);
        self.spectra
    }
}

fn kept(energy: f32) -> u16 {
    ((energy.log2() + ZERO) * STEPS).clamp(0.0, 65_535.0) as u16
}

/// Bins of `size` at the edges of the bands, each band at least one wide where there is room.
fn edges(rate: f64, size: usize) -> [usize; BANDS + 1] {
    let mel = |hertz: f64| (1.0 + hertz / 700.0).log10();
    let (low, high) = (mel(LOWEST), mel(HIGHEST));
    let mut least = 0;
    std::array::from_fn(|band| {
        let place = low + (high - low) * band as f64 / BANDS as f64;
        let hertz = 700.0 * (10_f64.powf(place) - 1.0);
        let bin = ((hertz * size as f64 / rate).round() as usize).max(least);
        least = bin + 1;
        bin.min(size / 2 + 1)
    })
}

/// The bins within a quarter tone of each semitone, at least the nearest; none above half the rate.
fn tones(rate: f64, size: usize) -> Vec<Range<usize>> {
    let bin = |hertz: f64| hertz * size as f64 / rate;
    (0..TONES)
        .map(|tone| {
            let hertz = LOWEST_TONE * 2_f64.powf(tone as f64 / 12.0);
            let low = bin(hertz / 2_f64.powf(1.0 / 24.0)).round() as usize;
            let high = bin(hertz * 2_f64.powf(1.0 / 24.0)).round() as usize;
            let end = size / 2 + 1;
            low.min(end)..high.max(low + 1).min(end)
        })
        .collect()
}

/// A Fourier transform of windowed samples.
struct Transform {
    fft: Arc<dyn RealToComplex<f32>>,
    /// Hann's, of unit area.
    window: Vec<f32>,
    samples: Vec<f32>,
    spectrum: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    powers: Vec<f32>,
}

impl Transform {
    fn new(planner: &mut RealFftPlanner<f32>, size: usize) -> Transform {
        let fft = planner.plan_fft_forward(size);
        let hann = |i: usize| {
            let angle = std::f64::consts::TAU * i as f64 / size as f64;
            ((1.0 - angle.cos()) / size as f64) as f32
        };
        Transform {
            window: (0..size).map(hann).collect(),
            samples: fft.make_input_vec(),
            spectrum: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            powers: vec![0.0; size / 2 + 1],
            fft,
        }
    }

    /// The power in each bin; `around` is as long as the window.
    fn powers(&mut self, around: &[f32]) -> &[f32] {
        for ((sample, x), weight) in self.samples.iter_mut().zip(around).zip(&self.window) {
            *sample = x * weight;
        }
        self.fft
            .process_with_scratch(&mut self.samples, &mut self.spectrum, &mut self.scratch)
            .expect("buffers of the transform's own making");
        for (power, bin) in self.powers.iter_mut().zip(&self.spectrum) {
            *power = bin.norm_sqr();
        }
        &self.powers
    }
}

/// All channels as one, at a whole part of the rate.
struct Downmix {
    factor: usize,
    channels: usize,
    /// Weights of the frames around one that is kept: a triangle, `2 × factor − 1` long.
    weights: Vec<f32>,
    /// Single samples not yet used up.
    line: Vec<f32>,
}

impl Downmix {
    fn new(factor: usize, channels: usize) -> Downmix {
        let weight = |i: usize| {
            let height = (i + 1).min(2 * factor - 1 - i);
            height as f32 / (factor * factor) as f32
        };
        Downmix {
            factor,
            channels,
            weights: (0..2 * factor - 1).map(weight).collect(),
            line: vec![0.0; factor - 1],
        }
    }

    fn add(&mut self, samples: &[f32], out: &mut Vec<f32>) {
        let share = 1.0 / self.channels as f32;
        match self.channels {
            1 => self.line.extend_from_slice(samples),
            2 => self
                .line
                .extend(samples.chunks_exact(2).map(|x| 0.5 * (x[0] + x[1]))),
            _ => self.line.extend(
                samples
                    .chunks_exact(self.channels)
                    .map(|frame| share * frame.iter().sum::<f32>()),
            ),
        }
        let mut from = 0;
        match (self.factor, self.weights.as_slice()) {
            (1, _) => {
                out.extend_from_slice(&self.line);
                from = self.line.len();
            }
            (2, &[a, b, c]) => {
                let kept = self.line.len().saturating_sub(1) / 2;
                let around = self.line.windows(3).step_by(2);
                out.extend(around.map(|x| a * x[0] + b * x[1] + c * x[2]));
                from = 2 * kept;
            }
            (factor, weights) => {
                while let Some(around) = self.line.get(from..from + weights.len()) {
                    out.push(around.iter().zip(weights).map(|(x, w)| x * w).sum());
                    from += factor;
                }
            }
        }
        self.line.drain(..from);
    }
}

//! Where the players sit: sounds are set down on the beat grid, dry and into a hall, then levelled for the file.

use super::score::line;
use super::voices::{Blown, bass, pluck};
use super::wave::{BITS, LowPass, RATE, decibels, exp2, samples};

/// Highest sample after levelling, dBFS; the true peak between samples stays under −1.5 dBTP.
const CEILING_DB: f64 = -2.0;

/// A track being composed.
pub struct Stage {
    beat: usize,
    dry: Vec<f64>,
    hall: Vec<f64>,
}

impl Stage {
    /// An empty track of `seconds` at `bpm`, whose beat must be a whole number of samples.
    pub fn new(bpm: f64, seconds: f64) -> Self {
        let beat = f64::from(RATE) * 60.0 / bpm;
        assert!(
            beat.fract() == 0.0,
            "{bpm} bpm has no whole number of samples a beat"
        );
        let length = samples(seconds);
        Self {
            beat: beat as usize,
            dry: vec![0.0; length],
            hall: vec![0.0; length],
        }
    }

    /// Seconds that `beats` last.
    fn seconds(&self, beats: f64) -> f64 {
        beats * self.beat as f64 / f64::from(RATE)
    }

    /// Sets a sound down at a beat, at a level in decibels, with a share (0 to 1) sent into the hall.
    pub fn put(&mut self, beat: f64, sound: &[f64], level: f64, hall: f64) {
        let start = (beat * self.beat as f64).round() as usize;
        let gain = decibels(level);
        for (n, value) in sound.iter().enumerate() {
            let Some(dry) = self.dry.get_mut(start + n) else {
                break;
            };
            *dry += gain * value;
            self.hall[start + n] += gain * hall * value;
        }
    }

    /// A line for a sustained voice, from `beat` on, swelling from one force to another (0 to 1).
    pub fn play(&mut self, beat: f64, voice: &Blown, text: &str, level: f64, force: (f64, f64)) {
        let events = line(text);
        let whole = events.last().map_or(1.0, |event| event.beat + event.length);
        for event in &events {
            let now = force.0 + (force.1 - force.0) * event.beat / whole;
            for hertz in &event.hertz {
                let sound = voice.note(*hertz, self.seconds(event.length) * 0.94, now);
                self.put(beat + event.beat, &sound, level, 0.30);
            }
        }
    }

    /// A line for a plucked string; every note rings on.
    pub fn harp(&mut self, beat: f64, text: &str, level: f64) {
        for event in line(text) {
            for hertz in &event.hertz {
                let sound = pluck(*hertz, self.seconds(event.length) + 1.1, 1_900.0, 2.4);
                self.put(beat + event.beat, &sound, level, 0.35);
            }
        }
    }

    /// A line for the plucked bass.
    pub fn bass(&mut self, beat: f64, text: &str, level: f64) {
        for event in line(text) {
            for hertz in &event.hertz {
                let sound = bass(*hertz, self.seconds(event.length) * 0.92);
                self.put(beat + event.beat, &sound, level, 0.05);
            }
        }
    }

    /// A line for anything struck, made by `strike` from a frequency.
    pub fn strike(&mut self, beat: f64, strike: impl Fn(f64) -> Vec<f64>, text: &str, level: f64) {
        for event in line(text) {
            for hertz in &event.hertz {
                self.put(beat + event.beat, &strike(*hertz), level, 0.3);
            }
        }
    }

    /// A drum pattern: `X` an accent, `x` a stroke, `.` a ghost stroke, `-` nothing; `step` beats a mark.
    pub fn drum(&mut self, beat: f64, sound: &[f64], step: f64, marks: &str, level: f64) {
        for (n, mark) in marks
            .chars()
            .filter(|mark| !mark.is_whitespace())
            .enumerate()
        {
            let accent = match mark {
                'X' => 0.0,
                'x' => -5.0,
                '.' => -12.0,
                _ => continue,
            };
            self.put(beat + n as f64 * step, sound, level + accent, 0.12);
        }
    }

    /// A roll from one level to another, strokes `step` beats apart, over `beats`.
    pub fn roll(&mut self, beat: f64, beats: f64, sound: &[f64], step: f64, level: (f64, f64)) {
        let strokes = (beats / step).round() as usize;
        for n in 0..strokes {
            let now = level.0 + (level.1 - level.0) * n as f64 / strokes as f64;
            self.put(beat + n as f64 * step, sound, now, 0.12);
        }
    }

    /// The finished track as samples of `BITS` bits: the hall added, `gain` decibels, peaks held under the ceiling, the end faded
    /// over `fade` seconds.
    pub fn finish(self, gain: f64, fade: f64) -> Vec<i32> {
        let wet = hall(&self.hall);
        let (mut soft, mut softer) = (LowPass::at(9_000.0), LowPass::at(9_000.0));
        let mut rumble = LowPass::at(28.0);
        let gain = decibels(gain);
        let mut mix: Vec<f64> = self
            .dry
            .iter()
            .zip(&wet)
            .map(|(dry, wet)| {
                let value = softer.next(soft.next(dry + wet));
                gain * (value - rumble.next(value))
            })
            .collect();
        limit(&mut mix);
        fade_end(&mut mix, fade);
        quantise(&mix)
    }
}

/// The last `seconds` sink to silence.
fn fade_end(mix: &mut [f64], seconds: f64) {
    let last = samples(seconds).min(mix.len());
    for (left, sample) in mix.iter_mut().rev().take(last).enumerate() {
        let share = left as f64 / last as f64;
        *sample *= share * share;
    }
}

/// Rounds to the file's bits. Each rounding error is fed back to the next two samples, which moves the noise up to where
/// the ear minds it least: 10 dB less below 1 kHz, 8 dB more at the top.
fn quantise(mix: &[f64]) -> Vec<i32> {
    let full = f64::from((1 << (BITS - 1)) - 1);
    let (mut last, mut before) = (0.0, 0.0);
    mix.iter()
        .map(|value| {
            let wanted = value * full - 1.2 * last + 0.5 * before;
            let rounded = wanted.round().clamp(-full, full);
            before = last;
            last = rounded - wanted;
            rounded as i32
        })
        .collect()
}

/// The hall: six combs with dulled feedback in parallel after a short delay, then two all-pass diffusers.
fn hall(input: &[f64]) -> Vec<f64> {
    const COMBS: [usize; 6] = [709, 787, 863, 953, 1039, 1117];
    const BEFORE: usize = 420;
    let mut out = vec![0.0; input.len()];
    for size in COMBS {
        // Each falls by 60 dB in 1.7 s whatever its length.
        let back = exp2(-9.966 * size as f64 / (1.7 * f64::from(RATE)));
        let mut line = vec![0.0; size];
        let mut dull = LowPass::at(1_900.0);
        for n in BEFORE..input.len() {
            let here = line[n % size];
            out[n] += here * 0.34;
            line[n % size] = input[n - BEFORE] + back * dull.next(here);
        }
    }
    for size in [241, 83] {
        let mut line = vec![0.0; size];
        for (n, sample) in out.iter_mut().enumerate() {
            let held = line[n % size];
            let enters = *sample + 0.6 * held;
            *sample = held - 0.6 * enters;
            line[n % size] = enters;
        }
    }
    out
}

/// Holds peaks under the ceiling: each sample's gain is the smoothed lowest that any sample within 5 ms needs.
fn limit(mix: &mut [f64]) {
    const REACH: usize = 120;
    let ceiling = decibels(CEILING_DB);
    let needed: Vec<f64> = mix
        .iter()
        .map(|value| (ceiling / value.abs().max(1e-12)).min(1.0))
        .collect();
    let lowest: Vec<f64> = (0..mix.len())
        .map(|n| {
            let window = &needed[n.saturating_sub(REACH)..(n + REACH + 1).min(mix.len())];
            window.iter().copied().fold(1.0, f64::min)
        })
        .collect();
    for (n, sample) in mix.iter_mut().enumerate() {
        let window = &lowest[n.saturating_sub(REACH)..(n + REACH + 1).min(lowest.len())];
        *sample *= window.iter().sum::<f64>() / window.len() as f64;
    }
}

//! How loud a sound is and how high it peaks: ITU-R BS.1770, EBU R 128, EBU Tech 3341 and 3342.

use std::collections::VecDeque;

use ebur128::{Channel, EbuR128, Mode};
use serde::{Deserialize, Serialize};

use super::peak::TruePeak;
use super::speakers::{Speaker, speakers};
use super::{MAX_CHANNELS, Pcm, RATES};
use crate::units::{Gain, Loudness, Span};

/// What was measured of a sound. `None`: it is too short or too quiet to have one.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Gauge {
    /// How long it is.
    pub duration: Span,
    /// Frames a second.
    pub sample_rate: u32,
    /// Samples a frame.
    pub channels: u16,
    /// Integrated loudness.
    pub integrated: Option<Loudness>,
    /// The loudest 0.4 s.
    pub momentary_max: Option<Loudness>,
    /// The loudest 3 s.
    pub short_term_max: Option<Loudness>,
    /// Loudness range.
    pub range: Option<Gain>,
    /// True peak, relative to full scale.
    pub true_peak: Option<Gain>,
    /// How much of it could not be decoded and is silent.
    pub lost: Span,
}

/// Gauges a sound in memory.
pub fn gauge(pcm: &Pcm) -> Gauge {
    let mut gauger = Gauger::new(pcm.rate, pcm.channels);
    gauger.add_all(&pcm.samples);
    gauger.finish()
}

/// Frames measured at once.
const AT_ONCE: usize = 1 << 16;
/// Parts of a second in which energies are noted: fine enough that a maximum is not missed by its place
/// (Tech 3341, signals 10 and 13).
const STEPS: u32 = 100;
/// Steps in the momentary and the short-term window.
const MOMENTARY: usize = 40;
const SHORT_TERM: usize = 300;
/// Steps from one momentary or short-term window that counts in the whole to the next: a tenth of a second.
const WINDOW_STEP: usize = 10;
/// What is quieter than this, in LUFS, or so far below the mean of the rest, in LU, is no part of the integrated
/// loudness (BS.1770-4).
const FLOOR: f64 = -70.0;
const GATE: f64 = 10.0;
/// What is quieter than this, in LUFS, or so far below the mean of the rest, in LU, is no part of the range.
const RANGE_FLOOR: f64 = -70.0;
const RANGE_GATE: f64 = 20.0;

/// A meter that is fed a sound bit by bit.
pub struct Gauger {
    rate: u32,
    channels: u16,
    frames: u64,
    loudness: LoudnessMeter,
    peak: TruePeak,
}

impl Gauger {
    /// A meter for sound of this rate and so many channels, in the order of the WAVE channel mask.
    pub fn new(rate: u32, channels: u16) -> Gauger {
        let rate = rate.clamp(*RATES.start(), *RATES.end());
        let channels = channels.clamp(1, MAX_CHANNELS);
        Gauger {
            rate,
            channels,
            frames: 0,
            loudness: LoudnessMeter::new(rate, channels),
            peak: TruePeak::new(rate, channels),
        }
    }

    /// Feeds whole frames of interleaved samples.
    pub fn add(&mut self, samples: &[f32]) {
        self.frames += (samples.len() / usize::from(self.channels)) as u64;
        let (loudness, peak) = (&mut self.loudness, &mut self.peak);
        rayon::join(|| loudness.add(samples), || peak.add(samples));
    }

    /// The same of many frames, so many at once that they are measured while they are at hand.
    pub fn add_all(&mut self, samples: &[f32]) {
        for block in samples.chunks(AT_ONCE * usize::from(self.channels)) {
            self.add(block);
        }
    }

    /// Loudness of the last 0.4 s, at steps of a hundredth of a second.
    pub fn momentary(&self) -> Option<Loudness> {
        self.loudness.last(MOMENTARY)
    }

    /// Loudness of the last 3 s, at steps of a hundredth of a second.
    pub fn short_term(&self) -> Option<Loudness> {
        self.loudness.last(SHORT_TERM)
    }

    /// Loudness from one time to another, to a hundredth of a second; ungated.
    pub fn between(&self, from: Span, until: Span) -> Option<Loudness> {
        let step = f64::from(self.rate) / self.loudness.step as f64;
        let step = |at: Span| (at.s() * step).round().max(0.0) as usize;
        let steps = self.loudness.all.get(step(from)..step(until))?;
        loudness(steps.iter().map(|x| f64::from(*x)).sum::<f64>() / steps.len() as f64)
    }

    /// What has been measured so far.
    pub fn reading(&self) -> Gauge {
        Gauge {
            duration: Span::from_s(self.frames as f64 / f64::from(self.rate)),
            sample_rate: self.rate,
            channels: self.channels,
            integrated: self.loudness.integrated(),
            momentary_max: self.loudness.momentary_max,
            short_term_max: self.loudness.short_term_max,
            range: self.loudness.range(),
            true_peak: decibels(self.peak.so_far()),
            lost: Span::ZERO,
        }
    }

    /// What has been measured in all.
    pub fn finish(self) -> Gauge {
        let reading = self.reading();
        Gauge {
            true_peak: decibels(self.peak.finish()),
            ..reading
        }
    }
}

fn decibels(peak: f32) -> Option<Gain> {
    (peak > 0.0).then(|| Gain::from_db(20.0 * f64::from(peak).log10()))
}

/// The loudnesses of BS.1770 and the windows of Tech 3341.
struct LoudnessMeter {
    meter: EbuR128,
    channels: usize,
    /// Frames in a step, and how many of the present one are in.
    step: usize,
    filled: usize,
    /// Mean-square energy of the last steps, newest last; at most `SHORT_TERM`.
    steps: VecDeque<f64>,
    /// The same of all steps.
    all: Vec<f32>,
    /// Mean-square energy of the momentary windows, one every `WINDOW_STEP` steps.
    momentaries: Vec<f64>,
    /// Short-term loudness every `WINDOW_STEP` steps.
    short_terms: Vec<Loudness>,
    momentary_max: Option<Loudness>,
    short_term_max: Option<Loudness>,
}

impl LoudnessMeter {
    fn new(rate: u32, channels: u16) -> Self {
        LoudnessMeter {
            meter: meter(rate, channels),
            channels: channels.into(),
            step: (rate / STEPS) as usize,
            filled: 0,
            steps: VecDeque::with_capacity(SHORT_TERM),
            all: Vec::new(),
            momentaries: Vec::new(),
            short_terms: Vec::new(),
            momentary_max: None,
            short_term_max: None,
        }
    }

    fn add(&mut self, mut samples: &[f32]) {
        while !samples.is_empty() {
            let wanted = (self.step - self.filled) * self.channels;
            let (now, rest) = samples.split_at(wanted.min(samples.len()));
            feed(&mut self.meter, now);
            self.filled += now.len() / self.channels;
            if self.filled == self.step {
                self.filled = 0;
                self.note_step();
            }
            samples = rest;
        }
    }

    fn note_step(&mut self) {
        if self.steps.len() == SHORT_TERM {
            self.steps.pop_front();
        }
        let lufs = self.meter.loudness_window(1000 / STEPS);
        let energy = energy(lufs.unwrap_or(f64::NEG_INFINITY));
        self.steps.push_back(energy);
        let short_term = self.last(SHORT_TERM);
        self.momentary_max = louder(self.momentary_max, self.last(MOMENTARY));
        self.short_term_max = louder(self.short_term_max, short_term);
        if self.all.len().is_multiple_of(WINDOW_STEP) {
            self.short_terms.extend(short_term);
        }
        self.all.push(energy as f32);
        if self.all.len().is_multiple_of(WINDOW_STEP) {
            self.momentaries.extend(self.mean(MOMENTARY));
        }
    }

    /// Loudness of the last `steps` steps, once there are so many.
    fn last(&self, steps: usize) -> Option<Loudness> {
        self.mean(steps).and_then(loudness)
    }

    /// Mean-square energy of the last `steps` steps, once there are so many.
    fn mean(&self, steps: usize) -> Option<f64> {
        let first = self.steps.len().checked_sub(steps)?;
        Some(self.steps.range(first..).sum::<f64>() / steps as f64)
    }

    /// Integrated loudness: BS.1770-4, the mean of the momentary windows above both gates.
    fn integrated(&self) -> Option<Loudness> {
        let above = |gate: f64| {
            let heard = self.momentaries.iter().filter(move |&&x| x >= gate);
            heard.clone().sum::<f64>() / heard.count() as f64
        };
        let floor = energy(FLOOR);
        let gate = above(floor) * 10_f64.powf(-GATE / 10.0);
        loudness(above(gate.max(floor)))
    }

    /// Loudness range: Tech 3342.
    fn range(&self) -> Option<Gain> {
        let gated = |gate: f64| {
            self.short_terms
                .iter()
                .map(|s| s.lufs())
                .filter(move |&s| s >= gate)
        };
        let count = gated(RANGE_FLOOR).count();
        let mean = gated(RANGE_FLOOR).map(energy).sum::<f64>() / count as f64;
        let gate = loudness(mean)?.lufs() - RANGE_GATE;
        let mut heard: Vec<f64> = gated(gate.max(RANGE_FLOOR)).collect();
        heard.sort_by(f64::total_cmp);
        let last = heard.len().checked_sub(1)? as f64;
        let at = |share: f64| heard.get((last * share).round() as usize);
        Some(Gain::from_db(at(0.95)? - at(0.10)?))
    }
}

fn louder(a: Option<Loudness>, b: Option<Loudness>) -> Option<Loudness> {
    match (a, b) {
        (Some(a), Some(b)) if a.lufs() > b.lufs() => Some(a),
        (a, b) => b.or(a),
    }
}

/// BS.1770: a mean square of 1 in one channel is −0.691 LUFS.
const AT_ONE: f64 = -0.691;

fn energy(lufs: f64) -> f64 {
    10_f64.powf((lufs - AT_ONE) / 10.0)
}

/// The loudness of a mean square; below −100 LUFS there is nothing.
fn loudness(energy: f64) -> Option<Loudness> {
    let lufs = 10.0 * energy.log10() + AT_ONE;
    (lufs > -100.0).then(|| Loudness::from_lufs(lufs))
}

fn feed(meter: &mut EbuR128, samples: &[f32]) {
    meter
        .add_frames_f32(samples)
        .expect("whole frames, of as many channels as the meter has");
}

fn meter(rate: u32, channels: u16) -> EbuR128 {
    let mut meter =
        EbuR128::new(channels.into(), rate, Mode::M).expect("a rate and channels within bounds");
    let map: Vec<Channel> = match channels {
        // A single channel counts once, wherever it is.
        1 => vec![Channel::Center],
        _ => speakers(channels).into_iter().map(channel).collect(),
    };
    meter.set_channel_map(&map).expect("one speaker a channel");
    meter
}

fn channel(speaker: Speaker) -> Channel {
    match speaker {
        Speaker::Left => Channel::Left,
        Speaker::Right => Channel::Right,
        Speaker::Centre => Channel::Center,
        Speaker::LeftSurround => Channel::LeftSurround,
        Speaker::RightSurround => Channel::RightSurround,
        // Behind, the weight is that of a centre (BS.1770-4, table 4).
        Speaker::BackCentre => Channel::Center,
        Speaker::Unheard => Channel::Unused,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two minutes of a soft tone, in which the hundredth second is loud, at rates that a hundredth of a second is and is not
    /// a whole number of frames of.
    #[test]
    fn a_stretch_is_measured_where_it_is_at_any_rate() {
        let loudness = [44_100, 22_050, 11_025].map(|rate| {
            let tone = (0..120 * rate).map(|i| {
                let level = if (100 * rate..101 * rate).contains(&i) {
                    0.5
                } else {
                    0.005
                };
                level
                    * (std::f64::consts::TAU * 997.0 * f64::from(i) / f64::from(rate)).sin() as f32
            });
            let mut gauger = Gauger::new(rate, 1);
            gauger.add(&tone.collect::<Vec<f32>>());
            let at = Span::from_s(100.0);
            gauger
                .between(at, at + Span::from_s(1.0))
                .expect("a loudness")
                .lufs()
        });
        // A tone of 997 Hz at 0 dBFS in one channel is at −3.01 LUFS (BS.1770-4).
        for lufs in loudness {
            assert!((lufs - (-3.01 - 6.02)).abs() < 0.1, "{lufs}");
        }
    }
}

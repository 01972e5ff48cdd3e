//! How loud a sound is and how high it peaks: ITU-R BS.1770, EBU R 128, EBU Tech 3341 and 3342.

use serde::{Deserialize, Serialize};

use super::peak::TruePeak;
use super::speakers::{Speaker, speakers};
use super::weighting::Weighting;
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
    for block in pcm
        .samples
        .chunks(AT_ONCE * usize::from(pcm.channels.max(1)))
    {
        gauger.add(block);
    }
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
/// Steps between the windows that make the integrated loudness and the range: a tenth of a second.
const TENTH: usize = 10;
/// What is quieter than this, in LUFS, does not count, nor what is so far below the mean of the rest, in LU.
const ABSOLUTE_GATE: f64 = -70.0;
const INTEGRATED_GATE: f64 = 10.0;
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

    /// Loudness of the last 0.4 s, at steps of a hundredth of a second.
    pub fn momentary(&self) -> Option<Loudness> {
        loudness(self.loudness.last(MOMENTARY)?)
    }

    /// Loudness of the last 3 s, at steps of a hundredth of a second.
    pub fn short_term(&self) -> Option<Loudness> {
        loudness(self.loudness.last(SHORT_TERM)?)
    }

    /// Loudness from one time to another, to a hundredth of a second; ungated.
    pub fn between(&self, from: Span, until: Span) -> Option<Loudness> {
        let step = |at: Span| (at.s() * f64::from(STEPS)).round().max(0.0) as usize;
        loudness(self.loudness.mean(step(from), step(until))?)
    }

    /// What has been measured so far.
    pub fn reading(&self) -> Gauge {
        Gauge {
            duration: Span::from_s(self.frames as f64 / f64::from(self.rate)),
            sample_rate: self.rate,
            channels: self.channels,
            integrated: self.loudness.integrated(),
            momentary_max: loudness(self.loudness.momentary_max),
            short_term_max: loudness(self.loudness.short_term_max),
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

/// The loudnesses of BS.1770 and the windows of Tech 3341. Loudnesses are kept as energies: a mean square, weighted.
struct LoudnessMeter {
    weighting: Weighting,
    channels: usize,
    /// Frames in a step, how many of the present one are in, and their energy.
    step: usize,
    filled: usize,
    energy: f64,
    /// The energies of all steps before each, and of all there are.
    totals: Vec<f64>,
    /// Of every window of 0.4 s, a tenth of a second apart.
    blocks: Vec<f64>,
    /// Of every window of 3 s, a tenth of a second apart.
    short_terms: Vec<f64>,
    momentary_max: f64,
    short_term_max: f64,
}

impl LoudnessMeter {
    fn new(rate: u32, channels: u16) -> Self {
        LoudnessMeter {
            weighting: Weighting::new(rate, &weights(channels)),
            channels: channels.into(),
            step: (rate / STEPS) as usize,
            filled: 0,
            energy: 0.0,
            totals: vec![0.0],
            blocks: Vec::new(),
            short_terms: Vec::new(),
            momentary_max: 0.0,
            short_term_max: 0.0,
        }
    }

    fn add(&mut self, mut samples: &[f32]) {
        while !samples.is_empty() {
            let wanted = (self.step - self.filled) * self.channels;
            let (now, rest) = samples.split_at(wanted.min(samples.len()));
            self.energy += self.weighting.energy(now);
            self.filled += now.len() / self.channels;
            if self.filled == self.step {
                self.note_step();
            }
            samples = rest;
        }
    }

    fn note_step(&mut self) {
        let so_far = self.totals.last().copied().unwrap_or(0.0);
        self.totals.push(so_far + self.energy / self.step as f64);
        (self.filled, self.energy) = (0, 0.0);
        let (momentary, short_term) = (self.last(MOMENTARY), self.last(SHORT_TERM));
        self.momentary_max = self.momentary_max.max(momentary.unwrap_or(0.0));
        self.short_term_max = self.short_term_max.max(short_term.unwrap_or(0.0));
        if (self.totals.len() - 1).is_multiple_of(TENTH) {
            self.blocks.extend(momentary);
            self.short_terms.extend(short_term);
        }
    }

    /// The mean energy of the last `steps` steps, once there are so many.
    fn last(&self, steps: usize) -> Option<f64> {
        let until = self.totals.len() - 1;
        self.mean(until.checked_sub(steps)?, until)
    }

    /// The mean energy of the steps from one to another.
    fn mean(&self, from: usize, until: usize) -> Option<f64> {
        let all = self.totals.get(until)? - self.totals.get(from)?;
        (until > from).then(|| all / (until - from) as f64)
    }

    /// BS.1770, annex 1: what is gated out at −70 LUFS and 10 LU below the mean of the rest does not count.
    fn integrated(&self) -> Option<Loudness> {
        let gate = gate(&self.blocks, INTEGRATED_GATE);
        loudness(mean_above(&self.blocks, gate))
    }

    /// Loudness range: Tech 3342.
    fn range(&self) -> Option<Gain> {
        let gate = gate(&self.short_terms, RANGE_GATE);
        let heard = self.short_terms.iter().filter(|energy| **energy >= gate);
        let mut heard: Vec<f64> = heard.copied().collect();
        heard.sort_by(f64::total_cmp);
        let last = heard.len().checked_sub(1)? as f64;
        let at = |share: f64| loudness(*heard.get((last * share).round() as usize)?);
        Some(Gain::from_db(at(0.95)?.lufs() - at(0.10)?.lufs()))
    }
}

/// The energy below which windows do not count: the absolute gate, or so many LU below the mean of what passes that.
fn gate(windows: &[f64], below: f64) -> f64 {
    let absolute = energy(ABSOLUTE_GATE);
    absolute.max(mean_above(windows, absolute) * 10_f64.powf(-below / 10.0))
}

/// The mean of the windows that are not below a gate; 0 where there is none.
fn mean_above(windows: &[f64], gate: f64) -> f64 {
    let counted = windows.iter().filter(|energy| **energy >= gate);
    let (count, sum) = counted.fold((0_u64, 0.0), |(count, sum), energy| {
        (count + 1, sum + energy)
    });
    sum / count.max(1) as f64
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

/// How much each channel counts: BS.1770-4, tables 3 and 4.
fn weights(channels: u16) -> Vec<f64> {
    match channels {
        // A single channel counts once, wherever it is.
        1 => vec![1.0],
        _ => speakers(channels).into_iter().map(weight).collect(),
    }
}

fn weight(speaker: Speaker) -> f64 {
    match speaker {
        Speaker::Left | Speaker::Right | Speaker::Centre => 1.0,
        Speaker::LeftSurround | Speaker::RightSurround => 1.41,
        // Behind, the weight is that of a centre.
        Speaker::BackCentre => 1.0,
        Speaker::Unheard => 0.0,
    }
}

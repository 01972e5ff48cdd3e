//! Tempo, beats and bars: our own, from the sound alone.
//!
//! A hundred times a second the sound's [`spectra`] are noted while it is read, as logarithms in two bytes each.
//! When all is in, [`onset`] makes of them how strongly something begins at each look: in bands, which drums and
//! plucked strings show, and in single tones and the [`harmony`], which is all that bowed strings, organs and choirs
//! show. What is followed by nothing for a while counts more. [`tempo`] finds the period after which these strengths
//! repeat and follows it through the piece; [`track`] lays the beats on them (dynamic programming, after Ellis 2007),
//! [`phase`] moves them by half a beat where the harmony says so; [`bars`] finds which of the beats stand out every
//! two, three, four or six; [`grid`] makes even bars of them.

mod bars;
mod envelope;
mod grid;
mod harmony;
mod landmarks;
mod onset;
mod phase;
mod spectra;
mod tempo;
mod track;

use serde::{Deserialize, Serialize};

use crate::units::{Span, Tempo};
use harmony::Harmony;
pub use landmarks::{Landmarks, landmarks};
use onset::Curves;
use spectra::{Looking, Spectra};

/// The pulse of a sound. Nothing is found in silence, in noise, in speech, or in less than a few beats.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Pulse {
    /// The usual tempo.
    pub tempo: Option<Tempo>,
    /// Beats, from the sound's beginning.
    pub beats: Vec<Span>,
    /// The beats that begin a bar.
    pub downbeats: Vec<Span>,
}

/// What repeats less clearly than this has no tempo; noise is at a fifth.
const CLEAR: f32 = 0.3;
/// Fewer beats than this are none.
const FEWEST: usize = 4;

/// Listens to a sound that is fed bit by bit.
pub(super) struct Listening {
    looking: Looking,
}

impl Listening {
    /// For interleaved sound of this rate and so many channels.
    pub fn new(rate: u32, channels: u16) -> Listening {
        Listening {
            looking: Looking::new(rate, channels),
        }
    }

    /// Feeds whole frames of interleaved samples.
    pub fn add(&mut self, samples: &[f32]) {
        self.looking.add(samples);
    }

    /// The pulse of all that was fed.
    pub fn finish(self) -> Pulse {
        let spectra = self.looking.finish();
        let harmony = Harmony::new(&spectra);
        match onset::curves(&spectra, &harmony) {
            Some(curves) => pulse(&spectra, &harmony, &curves),
            None => Pulse::default(),
        }
    }
}

/// The pulse of what begins as `curves` say.
fn pulse(spectra: &Spectra, harmony: &Harmony, curves: &Curves) -> Pulse {
    let tempi = tempo::tempi(&curves.all, spectra.rate);
    if tempi.clearness < CLEAR {
        return Pulse::default();
    }
    let beats = track::beats(&curves.all, spectra.rate, &tempi.periods);
    if beats.len() < FEWEST {
        return Pulse::default();
    }
    let beats = phase::on_the_beat(beats, curves, harmony);
    let time = |look: f64| Span::from_s(look / spectra.rate);
    let downbeats = bars::downbeats(&beats, curves, harmony);
    Pulse {
        tempo: usual(&beats).map(|period| Tempo::from_bpm(60.0 * spectra.rate / period)),
        downbeats: downbeats.into_iter().map(|i| time(beats[i])).collect(),
        beats: beats.into_iter().map(time).collect(),
    }
}

/// The mean of the lengths near the median one.
fn usual(beats: &[f64]) -> Option<f64> {
    let mut lengths: Vec<f64> = beats.windows(2).map(|two| two[1] - two[0]).collect();
    lengths.sort_by(f64::total_cmp);
    let median = *lengths.get(lengths.len() / 2)?;
    lengths.retain(|length| (length / median).ln().abs() < 0.1);
    Some(lengths.iter().sum::<f64>() / lengths.len() as f64)
}

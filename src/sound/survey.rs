//! All that is measured of a sound, in one pass.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::beats::{Listening, Pulse};
use super::decode::Decoder;
use super::edges::{EdgeFinder, Edges};
use super::fault::SoundError;
use super::gauge::{Gauge, Gauger};
use super::{MAX_CHANNELS, Pcm, RATES};
use crate::units::{Loudness, Span};

/// What was measured of a sound.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Survey {
    /// Length, loudness, peak.
    pub gauge: Gauge,
    /// Silence at both ends, clipping.
    pub edges: Edges,
    /// Tempo, beats, bars.
    pub pulse: Pulse,
    /// The loudest bar.
    pub loudest_bar: Option<Bar>,
}

/// A bar, and how loud it is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Bar {
    /// Its first beat.
    pub from: Span,
    /// The first beat of the next.
    pub until: Span,
    /// Its loudness, ungated.
    pub loudness: Loudness,
}

/// What is longer than this is no bar but a stretch without beats.
const LONGEST_BAR: Span = Span::from_ms(12_000);
/// Frames measured at once.
const AT_ONCE: usize = 1 << 16;

/// Surveys a file while decoding it, a block at a time. `progress` is told the share done, 0 to 1.
pub fn survey(path: &Path, progress: &mut dyn FnMut(f32)) -> Result<Survey, SoundError> {
    let mut decoder = Decoder::open(path)?;
    let mut surveyor = Surveyor::new(decoder.rate, decoder.channels);
    let mut block = decoder.next_block()?;
    while let Some(samples) = block {
        let (next, ()) = rayon::join(|| decoder.next_block(), || surveyor.add(&samples));
        block = next?;
        progress(decoder.share());
    }
    let mut survey = surveyor.finish();
    survey.gauge.lost = decoder.lost();
    Ok(survey)
}

/// Surveys a sound in memory.
pub fn survey_pcm(pcm: &Pcm) -> Survey {
    let mut surveyor = Surveyor::new(pcm.rate, pcm.channels);
    let frames = pcm
        .samples
        .chunks(AT_ONCE * usize::from(pcm.channels.max(1)));
    frames.for_each(|block| surveyor.add(block));
    surveyor.finish()
}

struct Surveyor {
    gauger: Gauger,
    listening: Listening,
    edges: EdgeFinder,
}

impl Surveyor {
    fn new(rate: u32, channels: u16) -> Surveyor {
        let rate = rate.clamp(*RATES.start(), *RATES.end());
        let channels = channels.clamp(1, MAX_CHANNELS);
        Surveyor {
            gauger: Gauger::new(rate, channels),
            listening: Listening::new(rate, channels),
            edges: EdgeFinder::new(rate, channels),
        }
    }

    fn add(&mut self, samples: &[f32]) {
        let (gauger, listening, edges) = (&mut self.gauger, &mut self.listening, &mut self.edges);
        rayon::join(
            || gauger.add(samples),
            || {
                listening.add(samples);
                edges.add(samples);
            },
        );
    }

    fn finish(self) -> Survey {
        let pulse = self.listening.finish();
        Survey {
            loudest_bar: loudest_bar(&self.gauger, &pulse.downbeats),
            gauge: self.gauger.finish(),
            edges: self.edges.finish(),
            pulse,
        }
    }
}

fn loudest_bar(gauger: &Gauger, downbeats: &[Span]) -> Option<Bar> {
    downbeats
        .windows(2)
        .filter(|bar| bar[1] - bar[0] < LONGEST_BAR)
        .filter_map(|bar| {
            Some(Bar {
                from: bar[0],
                until: bar[1],
                loudness: gauger.between(bar[0], bar[1])?,
            })
        })
        .max_by(|a, b| a.loudness.lufs().total_cmp(&b.loudness.lufs()))
}

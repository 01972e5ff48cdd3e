//! What is held on to when somebody works on a track: its beats, its beginnings, and what each beat sounds like.

use super::envelope::Envelope;
use super::harmony::Harmony;
use super::onset::{self, Curves};
use super::spectra::{BANDS, STEPS, Spectra, TONES, TONES_EVERY};
use super::{Listening, Pulse, pulse};
use crate::sound::Pcm;
use crate::sound::vamps::{self, Beat, Vamping};
use crate::units::Span;

/// What is found in a track for whoever sets hits and vamps in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Landmarks {
    /// Tempo, beats and bars.
    pub pulse: Pulse,
    /// Where something begins, in order.
    pub onsets: Vec<Span>,
    /// Where it could go round, best first.
    pub vamps: Vec<Vamping>,
}

/// Looks on each side of a beginning that are weaker.
const APART: usize = 4;
/// A beginning is this much stronger than the mean square of all strengths.
const STRONG: f32 = 0.8;
/// Frames fed at once.
const AT_ONCE: usize = 1 << 16;
/// Parts of a beat whose bands and whose tones are told apart.
const BAND_PARTS: usize = 4;
const TONE_PARTS: usize = 2;
/// How far under the loudest of its kind an energy counts, octaves of power.
const DEPTH: f32 = 12.0;

/// Finds them. Takes about as long as gauging does.
pub fn landmarks(pcm: &Pcm) -> Landmarks {
    let mut listening = Listening::new(pcm.rate, pcm.channels);
    let frames = AT_ONCE * usize::from(pcm.channels.max(1));
    pcm.samples
        .chunks(frames)
        .for_each(|block| listening.add(block));
    let spectra = listening.looking.finish();
    let harmony = Harmony::new(&spectra);
    let Some(curves) = onset::curves(&spectra, &harmony) else {
        return Landmarks::default();
    };
    let pulse = pulse(&spectra, &harmony, &curves);
    let envelope = Envelope::new(pcm);
    let onsets = beginnings(&curves)
        .map(|look| envelope.rise_near(Span::from_s(look as f64 / spectra.rate)))
        .collect();
    let vamps = vamps::vampings(&beats(&spectra, &pulse));
    let vamps = vamps
        .into_iter()
        .map(|vamp| envelope.aligned(vamp))
        .collect();
    Landmarks {
        pulse,
        onsets,
        vamps,
    }
}

fn beginnings(curves: &Curves) -> impl Iterator<Item = usize> {
    let all = &curves.all;
    (0..all.len()).filter(move |&look| {
        let around = look.saturating_sub(APART)..(look + APART + 1).min(all.len());
        let highest = all[around].iter().copied().fold(0.0, f32::max);
        all[look] > STRONG && all[look] >= highest
    })
}

/// What each beat sounds like: how much there is in each band and of each semitone, part by part, relative to
/// the piece as a whole.
fn beats(spectra: &Spectra, pulse: &Pulse) -> Vec<Beat> {
    let highest = |rows: &[&[u16]]| {
        let all = rows.iter().flat_map(|row| row.iter());
        f32::from(all.max().copied().unwrap_or(0)) - DEPTH * STEPS
    };
    let bands: Vec<&[u16]> = spectra.bands.iter().map(|row| row.as_slice()).collect();
    let tones: Vec<&[u16]> = spectra.tones.iter().map(|row| row.as_slice()).collect();
    let floors = (highest(&bands), highest(&tones));
    let mut beats: Vec<Beat> = Vec::new();
    for (i, &at) in pulse.beats.iter().enumerate() {
        let until = match pulse.beats.get(i + 1) {
            Some(&next) => next,
            // The last is as long as the one before.
            None => at + (at - pulse.beats[i.saturating_sub(1)]),
        };
        let looks = (at.s() * spectra.rate, until.s() * spectra.rate);
        let mut sound = Vec::with_capacity(BANDS * BAND_PARTS + TONES * TONE_PARTS);
        means(&bands, looks, BAND_PARTS, floors.0, &mut sound);
        let every = TONES_EVERY as f64;
        let tone_looks = (looks.0 / every, looks.1 / every);
        means(&tones, tone_looks, TONE_PARTS, floors.1, &mut sound);
        beats.push(Beat {
            at,
            first: pulse.downbeats.binary_search(&at).is_ok(),
            sound,
        });
    }
    vamps::centre(&mut beats);
    beats
}

/// The mean of each column in each of `parts` parts of `from..until`, above a floor, in octaves.
fn means(
    rows: &[&[u16]],
    (from, until): (f64, f64),
    parts: usize,
    floor: f32,
    means: &mut Vec<f32>,
) {
    let width = rows.first().map_or(0, |row| row.len());
    let edge = |part: usize| {
        let place = from + (until - from) * part as f64 / parts as f64;
        (place.round().max(0.0) as usize).min(rows.len())
    };
    for part in 0..parts {
        let rows = &rows[edge(part).min(edge(part + 1))..edge(part + 1)];
        for column in 0..width {
            let above = rows
                .iter()
                .map(|row| (f32::from(row[column]) - floor).max(0.0));
            means.push(above.sum::<f32>() / STEPS / rows.len().max(1) as f32);
        }
    }
}

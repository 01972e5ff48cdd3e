//! What is held on to when somebody works on a track: its beats, its beginnings, and what each beat sounds like.

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

/// The loudness of a sound, millisecond by millisecond.
struct Envelope {
    /// Logarithms of mean squares.
    levels: Vec<f32>,
}

/// What a level can be at least, above nothing.
const QUIETEST: f32 = 1e-7;
/// Milliseconds around a beginning in which its rise is sought, and over which its two sides are compared.
const AROUND_MS: i64 = 30;
const SIDE_MS: i64 = 6;
/// Milliseconds on each side of a join that are laid on each other, and by how many they can be moved.
const CONTEXT_MS: i64 = 1_200;
const SHIFT_MS: i64 = 40;

impl Envelope {
    fn new(pcm: &Pcm) -> Envelope {
        let per_ms = (f64::from(pcm.rate) / 1_000.0).max(1.0);
        let channels = usize::from(pcm.channels.max(1));
        let count = (pcm.frames() as f64 / per_ms) as usize;
        let levels = (0..count).map(|ms| {
            let from = (ms as f64 * per_ms) as usize * channels;
            let until = ((ms + 1) as f64 * per_ms) as usize * channels;
            let samples = pcm.samples.get(from..until).unwrap_or(&[]);
            let square = samples.iter().map(|x| x * x).sum::<f32>();
            (square / samples.len().max(1) as f32 + QUIETEST).ln()
        });
        Envelope {
            levels: levels.collect(),
        }
    }

    fn mean(&self, from: i64, until: i64) -> f32 {
        let place = |ms: i64| (ms.max(0) as usize).min(self.levels.len());
        let levels = &self.levels[place(from).min(place(until))..place(until)];
        match levels.len() {
            0 => QUIETEST.ln(),
            count => levels.iter().sum::<f32>() / count as f32,
        }
    }

    /// The steepest rise near an instant, to the millisecond.
    fn rise_near(&self, at: Span) -> Span {
        let middle = at.us() / 1_000;
        let rise = |ms: i64| self.mean(ms, ms + SIDE_MS) - self.mean(ms - SIDE_MS, ms);
        let steepest = (middle - AROUND_MS..=middle + AROUND_MS)
            .filter(|ms| *ms >= 0)
            .max_by(|a, b| rise(*a).total_cmp(&rise(*b)));
        steepest.map_or(at, Span::from_ms)
    }

    /// The same vamp with both ends on a rise, and as long as what is around them is most alike.
    fn aligned(&self, vamp: Vamping) -> Vamping {
        let from = self.rise_near(vamp.from).us() / 1_000;
        let length = (vamp.to - vamp.from).us() / 1_000;
        let likeness = |length: i64| self.likeness(from, from + length);
        let best = (length - SHIFT_MS..=length + SHIFT_MS)
            .max_by(|a, b| likeness(*a).total_cmp(&likeness(*b)))
            .unwrap_or(length);
        Vamping {
            from: Span::from_ms(from),
            to: Span::from_ms(from + best),
            ..vamp
        }
    }

    /// How alike the levels around two instants are: their mean product, without their means.
    fn likeness(&self, a: i64, b: i64) -> f32 {
        let pairs = (-CONTEXT_MS..CONTEXT_MS).filter_map(|ms| {
            let level = |at: i64| self.levels.get(usize::try_from(at + ms).ok()?).copied();
            Some((level(a)?, level(b)?))
        });
        let (mut count, mut sums, mut product) = (0.0_f32, (0.0_f32, 0.0_f32), 0.0_f32);
        let mut squares = (0.0_f32, 0.0_f32);
        for (x, y) in pairs {
            count += 1.0;
            sums = (sums.0 + x, sums.1 + y);
            squares = (squares.0 + x * x, squares.1 + y * y);
            product += x * y;
        }
        let spread = |sum: f32, square: f32| (square - sum * sum / count.max(1.0)).max(1e-6);
        let size = (spread(sums.0, squares.0) * spread(sums.1, squares.1)).sqrt();
        (product - sums.0 * sums.1 / count.max(1.0)) / size
    }
}

//! How strongly something begins, look by look.

use std::collections::VecDeque;
use std::ops::Range;

use super::harmony::Harmony;
use super::spectra::{BANDS, STEPS, Spectra, TONES, TONES_EVERY};

/// Groups of bands that are judged apart, and what each counts.
const GROUPS: [(Range<usize>, f32); 3] = [(0..5, 1.0), (5..16, 1.3), (16..BANDS, 0.85)];
const ALL_TONES: Range<usize> = 0..TONES;
/// What the rise of single tones counts, and the change of harmony. Sustained sounds begin in these alone.
const TONE_WEIGHT: f32 = 2.4;
const HARMONY_WEIGHT: f32 = 1.3;
/// Spectra back to the one that a spectrum is compared with.
const BACK: usize = 3;
/// How far under a band's loud looks its energy begins to count, octaves of power.
const DEPTH: f32 = 13.5;
/// How far under the loudest band's a band's own loud looks may lie, octaves of power.
const QUIETEST: f32 = 16.0;
/// The share of looks that are louder than the loud ones.
const LOUDER: f64 = 0.05;
/// Seconds over which the mean is taken off, and over which strengths are made even.
const MEAN: f64 = 0.8;
const EVEN: f64 = 6.0;
/// A rise that is nothing, octaves, and a change of harmony: so that the grain of a steady sound is not made great.
const GRAIN: f32 = 1.0;
const HARMONY_GRAIN: f32 = 0.01;
/// A beginning is a look stronger than this, with none stronger so few looks away.
const BEGINNING: f32 = 0.45;
const APART: usize = 4;
/// What is not followed by another beginning for so many seconds counts so many times more.
const HELD: f64 = 0.55;
const HELD_WEIGHT: f32 = 6.0;

/// Strengths of beginnings, one a look: about 0 where nothing begins.
pub(super) struct Curves {
    /// In all; of mean square 1.
    pub all: Vec<f32>,
    /// Of the lowest sounds.
    pub low: Vec<f32>,
    /// Of single tones.
    pub tones: Vec<f32>,
}

/// `None`: it is silent.
pub(super) fn curves(spectra: &Spectra, harmony: &Harmony) -> Option<Curves> {
    let (looks, rate) = (spectra.bands.len(), spectra.rate);
    let levels = Levels::new();
    let [low, middle, high] = rises(&spectra.bands, GROUPS.map(|(bands, _)| bands), &levels)?
        .map(|rise| held(even(&rise, GRAIN, rate), rate));
    let [tones] = rises(&spectra.tones, [ALL_TONES], &levels)?;
    let tones = held(even(&between(&tones, looks, 1.0), GRAIN, rate), rate);
    let changes = even(
        &between(&harmony.changes(), looks, 0.5),
        HARMONY_GRAIN,
        rate,
    );
    let mut all: Vec<f32> = (0..looks)
        .map(|i| {
            let bands = [low[i], middle[i], high[i]];
            let bands: f32 = bands.iter().zip(&GROUPS).map(|(x, (_, w))| x * w).sum();
            bands + TONE_WEIGHT * tones[i] + HARMONY_WEIGHT * changes[i]
        })
        .collect();
    let square = all.iter().map(|x| x * x).sum::<f32>() / looks as f32;
    let scale = square.sqrt().max(1.0);
    all.iter_mut().for_each(|x| *x /= scale);
    Some(Curves { all, low, tones })
}

/// Heights of energies above a floor: log2(1 + energy / floor), by the difference of both as kept.
struct Levels(Vec<f32>);

impl Levels {
    /// Steps under the floor that are told from nothing.
    const UNDER: i32 = 8 * STEPS as i32;

    fn new() -> Levels {
        let height = |i| (1.0 + ((i - Self::UNDER) as f32 / STEPS).exp2()).log2();
        Levels((0..48 * STEPS as i32).map(height).collect())
    }

    fn height(&self, kept: u16, floor: i32) -> f32 {
        let place = (i32::from(kept) - floor + Self::UNDER).clamp(0, self.0.len() as i32 - 1);
        self.0[place as usize]
    }
}

/// How much the bands of each group have risen since [`BACK`] spectra ago, octaves in all. What moved to the next
/// band, as a voice does, has not risen. `None`: there is nothing in any.
fn rises<const N: usize, const G: usize>(
    spectra: &[[u16; N]],
    groups: [Range<usize>; G],
    levels: &Levels,
) -> Option<[Vec<f32>; G]> {
    let floors = floors(spectra)?;
    let mut rises = groups.clone().map(|_| Vec::with_capacity(spectra.len()));
    // Before the beginning there is silence.
    let mut before = VecDeque::from([[0.0; N]; BACK]);
    for spectrum in spectra {
        let now: [f32; N] = std::array::from_fn(|band| levels.height(spectrum[band], floors[band]));
        before.push_back(now);
        let Some(then) = before.pop_front() else {
            continue;
        };
        for (rise, group) in rises.iter_mut().zip(&groups) {
            rise.push(group.clone().map(|band| rise_of(&now, &then, band)).sum());
        }
    }
    Some(rises)
}

fn rise_of(now: &[f32], then: &[f32], band: usize) -> f32 {
    let near = band.saturating_sub(1)..(band + 2).min(then.len());
    (now[band] - then[near].iter().copied().fold(0.0, f32::max)).max(0.0)
}

/// For each band the energy from which it counts, as kept.
fn floors<const N: usize>(spectra: &[[u16; N]]) -> Option<[i32; N]> {
    let loud: [f32; N] = std::array::from_fn(|band| loud(spectra, band));
    let loudest = loud.iter().copied().fold(0.0, f32::max);
    let floor = |own: f32| (own.max(loudest - QUIETEST * STEPS) - DEPTH * STEPS) as i32;
    (loudest > 0.0).then(|| loud.map(floor))
}

/// What the loud looks of a band have, as kept.
fn loud<const N: usize>(spectra: &[[u16; N]], band: usize) -> f32 {
    let mut counts = vec![0_u32; 1 << 16];
    for spectrum in spectra {
        counts[usize::from(spectrum[band])] += 1;
    }
    let mut left = (spectra.len() as f64 * LOUDER) as u32;
    for (kept, count) in counts.iter().enumerate().rev() {
        if *count > left {
            return kept as f32;
        }
        left -= count;
    }
    0.0
}

/// What is known for every [`TONES_EVERY`] looks, at every look; value `i` belongs `late` such steps before it.
fn between(values: &[f32], looks: usize, late: f32) -> Vec<f32> {
    let value = |i: usize| values.get(i).copied().unwrap_or(0.0);
    (0..looks)
        .map(|look| {
            let place = look as f32 / TONES_EVERY as f32 + late;
            let below = place as usize;
            let share = place - below as f32;
            value(below) + share * (value(below + 1) - value(below))
        })
        .collect()
}

/// Takes off the mean of the surroundings and divides by their deviation.
fn even(rises: &[f32], grain: f32, rate: f64) -> Vec<f32> {
    let mean = means(rises, (MEAN * rate) as usize);
    let above: Vec<f32> = rises
        .iter()
        .zip(&mean)
        .map(|(x, mean)| (x - mean).max(0.0))
        .collect();
    let squares: Vec<f32> = above.iter().map(|x| x * x).collect();
    let all = squares.iter().sum::<f32>() / squares.len().max(1) as f32;
    let around = means(&squares, (EVEN * rate) as usize);
    above
        .iter()
        .zip(&around)
        .map(|(x, square)| x / (square + 0.1 * all + grain * grain).sqrt())
        .collect()
}

/// Means over `width` values around each.
fn means(values: &[f32], width: usize) -> Vec<f32> {
    let half = width / 2;
    let mut sum: f64 = values.iter().take(half).map(|x| f64::from(*x)).sum();
    (0..values.len())
        .map(|i| {
            sum += values.get(i + half).map_or(0.0, |x| f64::from(*x));
            if let Some(gone) = i.checked_sub(half + 1) {
                sum -= f64::from(values[gone]);
            }
            let count = (i + half + 1).min(values.len()) - i.saturating_sub(half);
            (sum / count as f64) as f32
        })
        .collect()
}

/// Strengthens each beginning by how long nothing else begins after it: what lies on a beat is longer than what
/// lies between.
fn held(mut strengths: Vec<f32>, rate: f64) -> Vec<f32> {
    let longest = (HELD * rate) as f32;
    let beginnings = beginnings(&strengths);
    for (n, &i) in beginnings.iter().enumerate() {
        let after = beginnings[n + 1..].iter().find(|&&j| j > i + APART);
        let held = after.map_or(longest, |&j| (j - i) as f32) / longest;
        let around = around(i, strengths.len());
        for x in &mut strengths[around] {
            *x *= 1.0 + HELD_WEIGHT * held.min(1.0);
        }
    }
    strengths
}

fn beginnings(strengths: &[f32]) -> Vec<usize> {
    let is = |i: usize| {
        let x = strengths[i];
        x > BEGINNING
            && strengths[around(i, strengths.len())]
                .iter()
                .all(|&y| y <= x)
    };
    (0..strengths.len()).filter(|&i| is(i)).collect()
}

fn around(i: usize, len: usize) -> Range<usize> {
    i.saturating_sub(APART)..(i + APART + 1).min(len)
}

//! Which beats begin a bar: the strongest, where the harmony changes, every so many beats.

use super::harmony::{Harmony, Part};
use super::onset::Curves;
use super::tempo::highest;

/// Beats in a bar, and how much likelier than four each beat of such a bar is, logarithm.
const METRES: [(usize, f32); 4] = [(2, 0.05), (3, 0.1), (4, 0.0), (6, -0.1)];
/// How far a first beat stands out, deviations, and how far the middle of a bar of four or six does beside the rest.
const FIRST: f32 = 1.16;
const MIDDLE: f32 = 0.4;
/// No beat stands out more than this.
const MOST: f32 = 2.5;
/// What it costs to begin counting anew.
const ANEW: f32 = 6.0;
/// Looks around a beat in which its strength is sought.
const AROUND: usize = 3;

/// Which of `beats` (looks) begin bars.
pub(super) fn downbeats(beats: &[f64], curves: &Curves, harmony: &Harmony) -> Vec<usize> {
    let places = places();
    let fit = |place: &Place, x: f32| place.likelier - 0.5 * (x - place.mean).powi(2);
    let mut best: Vec<f32> = vec![0.0; places.len()];
    let mut came: Vec<Vec<u8>> = Vec::with_capacity(beats.len());
    for x in standing_out(beats, curves, harmony) {
        let top = highest(&best);
        let anew = best[top] - ANEW;
        let from: Vec<u8> = places
            .iter()
            .map(|place| if best[place.before] >= anew { place.before } else { top } as u8)
            .collect();
        best = places
            .iter()
            .map(|place| best[place.before].max(anew) + fit(place, x))
            .collect();
        came.push(from);
    }
    let mut at = highest(&best);
    let mut first: Vec<usize> = Vec::new();
    for (beat, from) in came.iter().enumerate().rev() {
        if places[at].count == 0 {
            first.push(beat);
        }
        at = from[at].into();
    }
    first.reverse();
    first
}

/// A beat's place in a bar.
struct Place {
    /// Beats since the bar's first.
    count: usize,
    /// The place that comes before it.
    before: usize,
    /// How far it stands out.
    mean: f32,
    likelier: f32,
}

fn places() -> Vec<Place> {
    let mut places = Vec::new();
    for (beats, likelier) in METRES {
        let start = places.len();
        let rest = (beats - 1) as f32;
        places.extend((0..beats).map(|count| Place {
            count,
            before: start + (count + beats - 1) % beats,
            mean: match count {
                0 => FIRST,
                _ if beats < 4 => -FIRST / rest,
                _ if 2 * count == beats => -FIRST / rest + MIDDLE,
                _ => -FIRST / rest - MIDDLE / (rest - 1.0),
            },
            likelier,
        }));
    }
    places
}

/// How far each beat stands out: mean 0, deviation 1.
fn standing_out(beats: &[f64], curves: &Curves, harmony: &Harmony) -> Vec<f32> {
    let strengths = |curve: &[f32]| beats.iter().map(|&beat| strength(curve, beat)).collect();
    let changes = |part: Part, width: f64| -> Vec<f32> {
        (0..beats.len())
            .map(|i| harmony.change_at(part, beats[i], width * length(beats, i)))
            .collect()
    };
    let signs: [(f32, Vec<f32>); 6] = [
        (0.9, strengths(&curves.all)),
        (0.5, strengths(&curves.low)),
        (0.7, strengths(&curves.tones)),
        (0.5, changes(Part::All, 1.0)),
        (0.55, changes(Part::All, 2.0)),
        (0.3, changes(Part::Bass, 1.0)),
    ];
    let mut sum = vec![0.0; beats.len()];
    for (weight, mut sign) in signs {
        standardise(&mut sign);
        for (sum, x) in sum.iter_mut().zip(sign) {
            *sum += weight * x;
        }
    }
    standardise(&mut sum);
    sum.into_iter().map(|x| x.clamp(-MOST, MOST)).collect()
}

/// How strong a curve is at a beat, a few looks around it taken in.
pub(super) fn strength(curve: &[f32], beat: f64) -> f32 {
    let look = beat.round() as usize;
    let until = (look + AROUND + 1).min(curve.len());
    let from = look.saturating_sub(AROUND).min(until);
    curve[from..until].iter().copied().fold(0.0, f32::max)
}

/// From a beat to the next, looks; the last is as long as the one before.
fn length(beats: &[f64], i: usize) -> f64 {
    let i = i.min(beats.len().saturating_sub(2));
    beats.get(i + 1).map_or(0.0, |next| next - beats[i])
}

fn standardise(values: &mut [f32]) {
    let count = values.len() as f32;
    let mean = values.iter().sum::<f32>() / count;
    let square = values.iter().map(|x| (x - mean).powi(2)).sum::<f32>() / count;
    let deviation = square.sqrt().max(1e-6);
    for x in values {
        *x = (*x - mean) / deviation;
    }
}

//! Whether beats lie on the beat, or half-way between: where what lies between is struck nearly as hard, the harmony and
//! its bass, which change on the beat, tell.

use super::bars::strength;
use super::harmony::{Harmony, Part};
use super::onset::Curves;

/// What each sign counts: how strongly something begins, how much the harmony changes in the beat before and the one
/// after, and its bass, also in half a beat.
const BEGINS: f32 = 1.0;
const CHANGES: f32 = 1.0;
const BASS: f32 = 0.5;
/// The least of a sign that is told from nothing.
const LEAST: f32 = 0.01;

/// The beats (looks), or the places half-way between them where those are the clearer beats.
pub(super) fn on_the_beat(beats: Vec<f64>, curves: &Curves, harmony: &Harmony) -> Vec<f64> {
    let mut lengths: Vec<f64> = beats.windows(2).map(|two| two[1] - two[0]).collect();
    lengths.sort_by(f64::total_cmp);
    let Some(&beat) = lengths.get(lengths.len() / 2) else {
        return beats;
    };
    let between: Vec<f64> = beats
        .windows(2)
        .map(|two| (two[0] + two[1]) / 2.0)
        .collect();
    let clearer = |sign: &dyn Fn(f64) -> f32| {
        let mean = |places: &[f64]| {
            let sum: f32 = places.iter().map(|place| sign(*place)).sum();
            sum / places.len() as f32 + LEAST
        };
        (mean(&beats) / mean(&between)).ln()
    };
    let change = |part, width| move |look| harmony.change_at(part, look, width);
    let clearer = BEGINS * clearer(&|look| strength(&curves.all, look))
        + CHANGES * clearer(&change(Part::All, beat))
        + BASS * clearer(&change(Part::Bass, beat))
        + BASS * clearer(&change(Part::Bass, beat / 2.0));
    if clearer < 0.0 { between } else { beats }
}

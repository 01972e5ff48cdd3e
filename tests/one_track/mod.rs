//! A show of one pass and one track, in a folder of its own.

use std::path::Path;

use crate::floats::{RATE, write_track};
use crate::planned::{PASS, document};

/// One channel of a tone of this amplitude, full scale 1.
pub fn tone(seconds: f64, amplitude: f32) -> Vec<f32> {
    let frames = (seconds * f64::from(RATE)) as usize;
    let sample = |i: usize| (0.05 * i as f32).sin() * amplitude;
    (0..frames).map(sample).collect()
}

/// `lake.toml` and its `track.wav`, with more said of the track.
pub fn show(folder: &Path, samples: &[f32], more: &str) {
    write_track(folder, "track.wav", samples);
    let body = format!("{PASS}\n[[track]]\nid = \"one\"\nfile = \"track.wav\"\n{more}\n");
    std::fs::write(folder.join("lake.toml"), document("", &["pass"], &body)).expect("a document");
}

//! Tracks of floating-point samples, in one channel.

use std::path::{Path, PathBuf};

/// Frames a second.
pub const RATE: u32 = 48_000;

/// Writes a track of these samples, whatever they are, into a folder.
pub fn write_track(folder: &Path, name: &str, samples: &[f32]) -> PathBuf {
    let path = folder.join(name);
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a WAV file");
    for sample in samples {
        writer.write_sample(*sample).expect("a sample");
    }
    writer.finalize().expect("a WAV file");
    path
}

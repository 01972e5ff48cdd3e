//! Music enough to be decoded, measured and mixed.

use std::path::Path;

/// Frames a second.
const RATE: u32 = 44_100;

/// Writes stereo of 16 bits: a chord on a root (rad/s) under a beat, loud and soft by turns, at a level in steps of 16 bits.
pub fn write(path: &Path, seconds: u32, root: f32, level: f32) {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
    let (mut noise, mut hiss) = (1_u32, 0.0_f32);
    for i in 0..RATE * seconds {
        let t = i as f32 / RATE as f32;
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        hiss += 0.3 * ((noise >> 8) as f32 / (1 << 23) as f32 - 1.0 - hiss);
        let drum = 0.5 * hiss * (-12.0 * (t * 2.0).fract()).exp();
        let chord = (t.fract() * root).sin() + (t.fract() * root * 1.25).sin();
        let x = (0.6 + 0.4 * (t * 0.2).sin()) * (0.2 * chord + drum);
        for share in [1.0, 0.8] {
            let sample = (x * share * level) as i16;
            writer.write_sample(sample).expect("a sample");
        }
    }
    writer.finalize().expect("a WAV file");
}

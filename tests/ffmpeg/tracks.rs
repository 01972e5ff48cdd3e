//! The same music in every format, made by ffmpeg.

use std::path::{Path, PathBuf};

use abeam::sound::{Pcm, decode};
use tempfile::TempDir;

use super::{run, text};

/// Frames of the source: no round number in any unit.
pub const FRAMES: usize = 145_531;

/// How long the decoded file is.
#[derive(Clone, Copy, PartialEq, Debug)]
pub enum Length {
    /// As long as what went in, and as ffmpeg's.
    Source,
    /// As long as what went in. ffmpeg before 7 leaves the padding of the last AAC frame.
    SourceBeforeFfmpeg,
    /// As ffmpeg's: the file does not say what the encoder added.
    Ffmpeg,
}

pub struct Case {
    pub file: &'static str,
    pub encoder: &'static [&'static str],
    pub length: Length,
    /// The largest difference from ffmpeg's samples, full scale 1.
    pub differs: f32,
}

pub const fn case(
    file: &'static str,
    encoder: &'static [&'static str],
    length: Length,
    differs: f32,
) -> Case {
    Case {
        file,
        encoder,
        length,
        differs,
    }
}

/// Integer samples are the same; codecs with arithmetic of their own differ by rounding.
pub const SAME: f32 = 1e-9;
pub const ROUNDED: f32 = 2e-4;

pub const CASES: &[Case] = &[
    case("s16.wav", &["-c:a", "pcm_s16le"], Length::Source, SAME),
    case("s24.wav", &["-c:a", "pcm_s24le"], Length::Source, SAME),
    case("f32.wav", &["-c:a", "pcm_f32le"], Length::Source, SAME),
    case("ms.wav", &["-c:a", "adpcm_ms"], Length::Ffmpeg, SAME),
    case("s16.aiff", &["-c:a", "pcm_s16be"], Length::Source, SAME),
    case("s16.flac", &["-c:a", "flac"], Length::Source, SAME),
    case(
        "lame.mp3",
        &["-c:a", "libmp3lame", "-b:a", "192k"],
        Length::Source,
        ROUNDED,
    ),
    case(
        "vbr.mp3",
        &["-c:a", "libmp3lame", "-q:a", "4"],
        Length::Source,
        ROUNDED,
    ),
    case(
        "bare.mp3",
        &["-c:a", "libmp3lame", "-write_xing", "0"],
        Length::Ffmpeg,
        ROUNDED,
    ),
    case("layer2.mp2", &["-c:a", "mp2"], Length::Ffmpeg, ROUNDED),
    case(
        "vorbis.ogg",
        &["-c:a", "libvorbis", "-q:a", "5"],
        Length::Source,
        ROUNDED,
    ),
    case(
        "aac.m4a",
        &["-c:a", "aac", "-b:a", "160k"],
        Length::SourceBeforeFfmpeg,
        ROUNDED,
    ),
    case(
        "front.m4a",
        &["-c:a", "aac", "-movflags", "+faststart"],
        Length::SourceBeforeFfmpeg,
        ROUNDED,
    ),
    case("alac.m4a", &["-c:a", "alac"], Length::Source, SAME),
    case("alac.caf", &["-c:a", "alac"], Length::Source, SAME),
    case("s16.caf", &["-c:a", "pcm_s16be"], Length::Source, SAME),
    case("bare.aac", &["-c:a", "aac"], Length::Ffmpeg, ROUNDED),
    case("flac.mkv", &["-c:a", "flac"], Length::Source, SAME),
    case("s16.mkv", &["-c:a", "pcm_s16le"], Length::Source, SAME),
    case("alac.mkv", &["-c:a", "alac"], Length::Source, SAME),
    case(
        "vorbis.mkv",
        &["-c:a", "libvorbis"],
        Length::Ffmpeg,
        ROUNDED,
    ),
    case("aac.mkv", &["-c:a", "aac"], Length::Ffmpeg, ROUNDED),
];

/// The source: two different channels of noise, in a WAV file of 16 bits.
pub fn source(dir: &TempDir) -> PathBuf {
    let path = dir.path().join("source.wav");
    let mut random = Random(7);
    let mut low = [0.0_f64; 2];
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 44_100,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a WAV file");
    for i in 0..FRAMES {
        for (channel, low) in low.iter_mut().enumerate() {
            *low += 0.1 * (random.next() - *low);
            let tone = 0.3 * (i as f64 * 0.02 * (channel + 1) as f64).sin();
            writer
                .write_sample(((tone + *low) * 20_000.0) as i16)
                .expect("a sample");
        }
    }
    writer.finalize().expect("a WAV file");
    path
}

pub fn encode(dir: &TempDir, source: &Path, case: &Case) -> PathBuf {
    let path = dir.path().join(case.file);
    let mut args = vec!["-v", "error", "-i", text(source)];
    args.extend(case.encoder);
    args.push(text(&path));
    run(&args);
    path
}

/// Numbers that are the same every time: xorshift.
pub struct Random(pub u64);

impl Random {
    pub fn bits(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    /// From −1 to 1.
    fn next(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
    }

    pub fn below(&mut self, end: usize) -> usize {
        (self.bits() % end.max(1) as u64) as usize
    }
}

pub fn read(path: &Path) -> Pcm {
    decode(path, &mut |_| {}).unwrap_or_else(|error| panic!("{error}"))
}

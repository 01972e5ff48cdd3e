//! What leaves the desk for a file: limited, dithered, written.
//!
//! * [`Limiter`]: no peak above a ceiling.
//! * [`Writer`]: a WAV or FLAC file, written as it is made.

mod dither;
mod flac;
mod limit;
mod wav;

use std::io::{self, Seek, Write};
use std::path::Path;

use dither::Dither;
use flac::Flac;
pub use limit::Limiter;

/// The kinds of file that can be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// WAVE.
    Wav,
    /// FLAC: half the size, nothing lost.
    Flac,
}

impl Kind {
    /// The kind a file's name asks for.
    pub fn of(path: &Path) -> Option<Kind> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        match ending.as_str() {
            "wav" => Some(Kind::Wav),
            "flac" => Some(Kind::Flac),
            _ => None,
        }
    }

    /// How its names end.
    pub fn ending(self) -> &'static str {
        match self {
            Kind::Wav => "wav",
            Kind::Flac => "flac",
        }
    }
}

/// How samples are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// 16 bits, dithered.
    B16,
    /// 24 bits, dithered.
    B24,
    /// 32-bit floating point; WAV only.
    Float,
}

impl Depth {
    /// Bits a sample.
    pub fn bits(self) -> u16 {
        match self {
            Depth::B16 => 16,
            Depth::B24 => 24,
            Depth::Float => 32,
        }
    }
}

/// What a file is to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shape {
    /// WAV or FLAC.
    pub kind: Kind,
    /// How samples are written.
    pub depth: Depth,
    /// Frames a second.
    pub rate: u32,
    /// Samples a frame.
    pub channels: u16,
    /// Frames in all.
    pub frames: u64,
}

impl Shape {
    /// Whether a file of its kind can hold that much.
    pub fn fits(&self) -> bool {
        let bytes = self.frames * u64::from(self.channels) * u64::from(self.depth.bits() / 8);
        self.kind == Kind::Flac || bytes < u64::from(u32::MAX) - 1_024
    }
}

/// A sound file being written.
pub struct Writer<W: Write + Seek> {
    shape: Shape,
    dither: Dither,
    to: Format<W>,
    bytes: Vec<u8>,
    whole: Vec<i32>,
}

enum Format<W: Write + Seek> {
    Wav(W),
    Flac(Box<Flac<W>>),
}

/// The nearest whole number, for what is far below 2^51: above that a number has no room for parts, and adding so much
/// rounds them off.
fn rounded(x: f64) -> f64 {
    const NO_PARTS: f64 = 1.5 * (1_u64 << 52) as f64;
    (x + NO_PARTS) - NO_PARTS
}

impl<W: Write + Seek> Writer<W> {
    /// Begins a file in `to`, of left, right and, if there is a third channel, a signal for machines, which is not dithered.
    pub fn new(mut to: W, shape: Shape) -> io::Result<Self> {
        let to = match shape.kind {
            Kind::Wav => {
                to.write_all(&wav::head(&shape))?;
                Format::Wav(to)
            }
            Kind::Flac => Format::Flac(Box::new(Flac::new(to, shape)?)),
        };
        Ok(Writer {
            shape,
            dither: Dither::default(),
            to,
            bytes: Vec::new(),
            whole: Vec::new(),
        })
    }

    /// Writes whole frames; each sample becomes what a reader of the file will find.
    pub fn write(&mut self, samples: &mut [f32]) -> io::Result<()> {
        self.round(samples);
        match &mut self.to {
            Format::Flac(flac) => flac.write(&self.whole),
            Format::Wav(to) => {
                self.bytes.clear();
                match self.shape.depth {
                    Depth::Float => self
                        .bytes
                        .extend(samples.iter().flat_map(|x| x.to_le_bytes())),
                    Depth::B16 => wav::put::<2>(&self.whole, &mut self.bytes),
                    Depth::B24 => wav::put::<3>(&self.whole, &mut self.bytes),
                }
                to.write_all(&self.bytes)
            }
        }
    }

    /// Samples to whole numbers, unless they are written as they are.
    fn round(&mut self, samples: &mut [f32]) {
        self.whole.clear();
        match (self.shape.depth, self.shape.channels) {
            (Depth::Float, _) => {}
            (_, 2) => self.round_frames::<2>(samples),
            _ => self.round_frames::<3>(samples),
        }
    }

    fn round_frames<const CHANNELS: usize>(&mut self, samples: &mut [f32]) {
        // A power of two: dividing by it is multiplying by its inverse, exactly.
        let scale = f64::from(1_i32 << (self.shape.depth.bits() - 1));
        let step = 1.0 / scale;
        self.whole.resize(samples.len(), 0);
        let places = self.whole.as_chunks_mut::<CHANNELS>().0;
        let frames = samples.as_chunks_mut::<CHANNELS>().0;
        for (frame, places) in frames.iter_mut().zip(places) {
            let mut added = [0.0; CHANNELS];
            added[..2].copy_from_slice(&self.dither.next(frame[0], frame[1]));
            let whole: [f64; CHANNELS] = std::array::from_fn(|i| {
                let whole = rounded(f64::from(frame[i]) * scale + added[i]);
                whole.clamp(-scale, scale - 1.0)
            });
            *frame = whole.map(|whole| (whole * step) as f32);
            *places = whole.map(|whole| whole as i32);
        }
    }

    /// Ends the file and gives back what it is in.
    pub fn finish(self) -> io::Result<W> {
        match self.to {
            Format::Wav(mut to) => {
                if wav::is_odd(&self.shape) {
                    to.write_all(&[0])?;
                }
                Ok(to)
            }
            Format::Flac(flac) => flac.finish(),
        }
    }
}

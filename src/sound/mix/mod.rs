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
    /// The channels that are dithered, from the first on: a signal for machines is not.
    dithered: usize,
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
    /// Begins a file in `to`. Its first `dithered` channels are sound, the others signals for machines.
    pub fn new(mut to: W, shape: Shape, dithered: usize) -> io::Result<Self> {
        let to = match shape.kind {
            Kind::Wav => {
                to.write_all(&wav::head(&shape))?;
                Format::Wav(to)
            }
            Kind::Flac => Format::Flac(Box::new(Flac::new(to, shape)?)),
        };
        Ok(Writer {
            shape,
            dithered,
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
        if self.shape.depth == Depth::Float {
            return;
        }
        let scale = f64::from(1_i32 << (self.shape.depth.bits() - 1));
        for frame in samples.chunks_exact_mut(self.shape.channels.max(1).into()) {
            for (channel, sample) in frame.iter_mut().enumerate() {
                let dither = if channel < self.dithered {
                    self.dither.next(*sample)
                } else {
                    0.0
                };
                let whole = rounded(f64::from(*sample) * scale + dither);
                let whole = whole.clamp(-scale, scale - 1.0);
                *sample = (whole / scale) as f32;
                self.whole.push(whole as i32);
            }
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

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

/// Frames of left, right and perhaps a third channel as whole numbers of `bits` bits, dithered; each sample becomes what a
/// reader of the file will find.
fn round_frames<const CHANNELS: usize>(
    dither: &mut Dither,
    bits: u16,
    samples: &mut [f32],
    whole: &mut [i32],
) {
    // A power of two: dividing by it is multiplying by its inverse, exactly.
    let scale = f64::from(1_i32 << (bits - 1));
    let step = 1.0 / scale;
    let places = whole.as_chunks_mut::<CHANNELS>().0;
    let frames = samples.as_chunks_mut::<CHANNELS>().0;
    for (frame, places) in frames.iter_mut().zip(places) {
        let mut added = [0.0; CHANNELS];
        added[..2].copy_from_slice(&dither.next(frame[0], frame[1]));
        for ((sample, place), added) in frame.iter_mut().zip(places).zip(added) {
            let exact = f64::from(*sample) * scale + added;
            let (nearest, whole) = rounded(exact.clamp(-scale, scale - 1.0));
            *sample = (nearest * step) as f32;
            *place = whole;
        }
    }
}

/// The nearest whole number of less than 32 bits: above 2^52 a number has no room for parts, adding so much rounds them
/// off, and its last bits are the number.
fn rounded(x: f64) -> (f64, i32) {
    const NO_PARTS: f64 = 1.5 * (1_u64 << 52) as f64;
    let moved = x + NO_PARTS;
    (moved - NO_PARTS, moved.to_bits() as i32)
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
        let Shape {
            depth, channels, ..
        } = self.shape;
        if depth == Depth::Float {
            return;
        }
        self.whole.resize(samples.len(), 0);
        let (dither, whole) = (&mut self.dither, &mut self.whole);
        match channels {
            2 => round_frames::<2>(dither, depth.bits(), samples, whole),
            _ => round_frames::<3>(dither, depth.bits(), samples, whole),
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

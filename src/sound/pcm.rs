//! Decoded sound.

use crate::units::Span;

/// Decoded sound: interleaved samples, full scale ±1.
#[derive(Debug, Clone, PartialEq)]
pub struct Pcm {
    /// Frames a second.
    pub rate: u32,
    /// Samples a frame.
    pub channels: u16,
    /// `frames × channels` samples.
    pub samples: Vec<f32>,
}

impl Pcm {
    /// How many frames it has.
    pub fn frames(&self) -> usize {
        self.samples.len() / usize::from(self.channels.max(1))
    }

    /// How long it is.
    pub fn duration(&self) -> Span {
        Span::from_s(self.frames() as f64 / f64::from(self.rate.max(1)))
    }
}

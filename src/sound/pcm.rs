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

    /// Lowest and highest sample over all channels in each of `columns` equal parts of `[from, to)`, at least the
    /// frame at its beginning; `(0, 0)` where there is no sound.
    pub fn peaks(&self, from: Span, to: Span, columns: usize) -> Vec<(f32, f32)> {
        let channels = usize::from(self.channels.max(1));
        let width = (to - from).s().max(0.0) / columns.max(1) as f64;
        let frame = |column: usize| {
            let at = from.s() + width * column as f64;
            // A microsecond on: a place that rounding put before its frame belongs to it.
            ((at + 1e-6) * f64::from(self.rate)).floor()
        };
        (0..columns)
            .map(|column| {
                let (first, last) = (frame(column), frame(column + 1).max(frame(column) + 1.0));
                if first < 0.0 {
                    return (0.0, 0.0);
                }
                let samples = self.samples.get(first as usize * channels..);
                let count = ((last - first) as usize).saturating_mul(channels);
                let samples = samples.unwrap_or(&[]).iter().copied().take(count);
                let pairs = samples.map(|x| (x, x));
                pairs
                    .reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
                    .unwrap_or((0.0, 0.0))
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn peaks_are_those_of_the_frames_themselves_however_close() {
        let mut samples = vec![0.0; 2 * 48_000];
        samples[2 * 24_000] = 0.9;
        samples[2 * 24_001 + 1] = -0.5;
        let pcm = Pcm {
            rate: 48_000,
            channels: 2,
            samples,
        };
        let frame = |i: i64| Span::from_s(i as f64 / 48_000.0);
        let close = pcm.peaks(frame(23_999), frame(24_003), 4);
        assert_eq!(close, [(0.0, 0.0), (0.0, 0.9), (-0.5, 0.0), (0.0, 0.0)]);
        let half = pcm.peaks(frame(24_000), frame(24_001), 2);
        assert_eq!(half, [(0.0, 0.9); 2], "closer than frames are");
        let outside = pcm.peaks(Span::from_s(-1.0), Span::from_s(3.0), 4);
        assert_eq!(outside, [(0.0, 0.0), (-0.5, 0.9), (0.0, 0.0), (0.0, 0.0)]);
    }
}

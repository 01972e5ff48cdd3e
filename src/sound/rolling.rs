//! A sound that is made while it plays: one thread writes ahead, another reads without ever waiting.

use std::sync::atomic::{AtomicU32, AtomicU64, Ordering};

/// Frames kept: eleven seconds at 48 kHz, of which most are past.
const KEPT: usize = 1 << 19;

/// Frames of two channels, written in order by one thread and read anywhere in the latest stretch by others.
#[derive(Debug)]
pub struct Rolling {
    rate: u32,
    /// The bits of each sample, left and right in turn; frame `i` is at `i` modulo [`KEPT`].
    ring: Box<[AtomicU32]>,
    written: AtomicU64,
    /// How many frames there will be, once that is known.
    end: AtomicU64,
}

/// What is to be heard of a frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Frame {
    /// Left and right.
    Is(f32, f32),
    /// It is not made yet, or no longer kept.
    Missing,
    /// The sound is over.
    Over,
}

impl Rolling {
    /// Nothing yet, of `rate` frames a second.
    pub fn new(rate: u32) -> Rolling {
        Rolling {
            rate: rate.max(1),
            ring: (0..KEPT * 2).map(|_| AtomicU32::new(0)).collect(),
            written: AtomicU64::new(0),
            end: AtomicU64::new(u64::MAX),
        }
    }

    /// Frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// How many frames are made.
    pub fn written(&self) -> u64 {
        self.written.load(Ordering::Acquire)
    }

    /// Whether the last one is made.
    pub fn is_whole(&self) -> bool {
        self.end.load(Ordering::Acquire) != u64::MAX
    }

    /// Adds frames, left and right in turn; only ever called by one thread, and not far ahead of the reading.
    pub fn push(&self, samples: &[f32]) {
        let from = self.written.load(Ordering::Relaxed);
        for (i, frame) in samples.chunks_exact(2).enumerate() {
            let at = (from + i as u64) as usize % KEPT * 2;
            for (slot, sample) in self.ring.iter().skip(at).zip(frame) {
                slot.store(sample.to_bits(), Ordering::Relaxed);
            }
        }
        let count = (samples.len() / 2) as u64;
        self.written.store(from + count, Ordering::Release);
    }

    /// There is no more.
    pub fn finish(&self) {
        let written = self.written.load(Ordering::Relaxed);
        self.end.store(written, Ordering::Release);
    }

    /// Frame `index`. Never waits.
    pub fn frame(&self, index: u64) -> Frame {
        let end = self.end.load(Ordering::Acquire);
        let written = self.written.load(Ordering::Acquire);
        if index >= end {
            return Frame::Over;
        }
        // What is about to be written over is not read any more.
        if index >= written || index + (KEPT as u64) * 7 / 8 < written {
            return Frame::Missing;
        }
        let at = index as usize % KEPT * 2;
        let sample = |at: usize| self.ring.get(at).map(|bits| bits.load(Ordering::Relaxed));
        match (sample(at), sample(at + 1)) {
            (Some(left), Some(right)) => Frame::Is(f32::from_bits(left), f32::from_bits(right)),
            _ => Frame::Missing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_latest_stretch_can_be_read_and_nothing_else() {
        let rolling = Rolling::new(48_000);
        assert_eq!(rolling.frame(0), Frame::Missing);
        for block in 0..700_u64 {
            let samples: Vec<f32> = (0..1_000)
                .flat_map(|i| {
                    let frame = (block * 1_000 + i) as f32;
                    [frame, -frame]
                })
                .collect();
            rolling.push(&samples);
        }
        assert_eq!(rolling.frame(699_999), Frame::Is(699_999.0, -699_999.0));
        assert_eq!(rolling.frame(300_000), Frame::Is(300_000.0, -300_000.0));
        assert_eq!(rolling.frame(100_000), Frame::Missing);
        assert_eq!(rolling.frame(700_000), Frame::Missing);
        rolling.finish();
        assert_eq!(rolling.frame(700_000), Frame::Over);
    }
}

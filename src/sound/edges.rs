//! Where a sound begins and ends, and where it is cut off at full scale.

use serde::{Deserialize, Serialize};

use crate::units::Span;

/// What is under this is silence: −60 dBFS.
const SILENCE: f32 = 0.001;
/// The highest sample of 16 bits: what reaches it is at full scale.
const FULL: f32 = 32_767.0 / 32_768.0;
/// So many samples of a channel in a row at full scale are clipped (common practice, no published source).
const RUN: u64 = 3;
/// Samples looked at together.
const AT_ONCE: usize = 1024;

/// Silence around a sound, and clipping in it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Edges {
    /// Silence before the first sample that is not under −60 dBFS; all of it where there is none.
    pub head: Span,
    /// Silence after the last.
    pub tail: Span,
    /// Stretches of a channel at full scale, of three samples or more.
    pub clipped_runs: u64,
    /// Samples in them.
    pub clipped_samples: u64,
}

/// Looks for the edges of a sound that is fed bit by bit.
pub(super) struct EdgeFinder {
    rate: u32,
    /// Frames so far, the first that was not silent, and the end of the last.
    frames: u64,
    first: Option<u64>,
    end: u64,
    /// For each channel, how many samples at full scale it has just had.
    runs: Vec<u64>,
    clipped_runs: u64,
    clipped_samples: u64,
}

impl EdgeFinder {
    pub fn new(rate: u32, channels: u16) -> EdgeFinder {
        EdgeFinder {
            rate,
            frames: 0,
            first: None,
            end: 0,
            runs: vec![0; channels.into()],
            clipped_runs: 0,
            clipped_samples: 0,
        }
    }

    /// Feeds whole frames of interleaved samples.
    pub fn add(&mut self, samples: &[f32]) {
        let channels = self.runs.len();
        for part in samples.chunks(AT_ONCE * channels) {
            let highest = part.iter().fold(0.0, |a, x| f32::max(a, x.abs()));
            if highest >= SILENCE {
                self.note_sound(part);
            }
            if highest >= FULL {
                part.chunks_exact(channels)
                    .for_each(|frame| self.note_clipping(frame));
            } else {
                self.runs.fill(0);
            }
            self.frames += (part.len() / channels) as u64;
        }
    }

    fn note_sound(&mut self, part: &[f32]) {
        let sounds = |x: &f32| x.abs() >= SILENCE;
        let frame = |i: usize| self.frames + (i / self.runs.len()) as u64;
        let (first, last) = (part.iter().position(sounds), part.iter().rposition(sounds));
        self.first = self.first.or(first.map(frame));
        self.end = last.map_or(self.end, |i| frame(i) + 1);
    }

    fn note_clipping(&mut self, frame: &[f32]) {
        for (run, x) in self.runs.iter_mut().zip(frame) {
            if x.abs() < FULL {
                *run = 0;
                continue;
            }
            *run += 1;
            if *run == RUN {
                self.clipped_runs += 1;
                self.clipped_samples += RUN;
            } else if *run > RUN {
                self.clipped_samples += 1;
            }
        }
    }

    /// What was found.
    pub fn finish(self) -> Edges {
        let span = |frames: u64| Span::from_s(frames as f64 / f64::from(self.rate));
        let (head, tail) = match self.first {
            Some(first) => (first, self.frames - self.end),
            None => (self.frames, 0),
        };
        Edges {
            head: span(head),
            tail: span(tail),
            clipped_runs: self.clipped_runs,
            clipped_samples: self.clipped_samples,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn edges(bit: usize, channels: u16, samples: &[f32]) -> Edges {
        let mut finder = EdgeFinder::new(1_000, channels);
        samples
            .chunks(bit * usize::from(channels))
            .for_each(|bit| finder.add(bit));
        finder.finish()
    }

    #[test]
    fn silence_is_measured_at_both_ends_however_it_is_fed() {
        let mut samples = vec![0.0005; 2 * 5_000];
        samples[2 * 1_500 + 1] = -0.5;
        samples[2 * 4_200] = 0.002;
        for bit in [1, 7, 5_000] {
            let edges = edges(bit, 2, &samples);
            assert_eq!(edges.head, Span::from_ms(1_500));
            assert_eq!(edges.tail, Span::from_ms(799));
        }
        let silent = edges(100, 2, &[0.0; 400]);
        assert_eq!((silent.head, silent.tail), (Span::from_ms(200), Span::ZERO));
    }

    #[test]
    fn three_in_a_row_at_full_scale_are_clipped_in_each_channel_for_itself() {
        let (full, low) = (1.0, 0.3);
        // Left: two, then four. Right: three, below.
        let left = [low, full, full, low, -full, -full, -full, -full];
        let right = [full, full, full, low, low, full, low, full];
        let samples: Vec<f32> = left.iter().zip(right).flat_map(|(l, r)| [*l, r]).collect();
        for bit in [1, 3, 8] {
            let edges = edges(bit, 2, &samples);
            assert_eq!((edges.clipped_runs, edges.clipped_samples), (2, 7));
        }
    }
}

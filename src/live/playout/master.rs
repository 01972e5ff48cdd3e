//! What leaves the mixer: the programme held below its ceiling, the headphones beside it as they are.
//!
//! The limiter sees ahead, so the mixer mixes that much ahead of what goes out; both buses are as late.

use std::collections::VecDeque;

use super::engine::Routing;
use crate::sound::CEILING;
use crate::sound::mix::Limiter;
use crate::units::Gain;

/// Frames held at once.
const PIECE: usize = 512;

/// The last of the way out, for one rate; it never allocates once it is made.
pub(super) struct Master {
    pub rate: u32,
    limiter: Limiter,
    /// Frames of the headphones that have not gone out.
    headphones: VecDeque<[f32; 2]>,
    line: Vec<f32>,
    limited: Vec<f32>,
    /// The frame that goes out next.
    next: i64,
}

impl Master {
    /// For an output of `rate` frames a second.
    pub fn new(rate: u32) -> Master {
        let limiter = Limiter::new(rate, CEILING, PIECE);
        let lag = limiter.lag();
        let mut master = Master {
            rate,
            limiter,
            headphones: VecDeque::with_capacity(lag + 1),
            line: Vec::with_capacity(2 * PIECE),
            limited: Vec::with_capacity(2 * PIECE),
            next: 0,
        };
        master.clear();
        master
    }

    /// How many frames ahead of what goes out is to be mixed.
    pub fn ahead(&self) -> i64 {
        self.limiter.lag() as i64
    }

    /// How far the programme was taken down since this was last asked.
    pub fn take_held(&mut self) -> Gain {
        Gain::ZERO - self.limiter.take_lowest()
    }

    /// Forgets what has not gone out.
    pub fn clear(&mut self) {
        let lag = self.limiter.lag();
        self.limiter.clear();
        self.headphones.clear();
        self.headphones.extend(std::iter::repeat_n([0.0; 2], lag));
        let mut left = lag;
        while left > 0 {
            let now = left.min(PIECE);
            self.line.clear();
            self.line.resize(2 * now, 0.0);
            self.limiter.process(&self.line, &mut self.limited);
            left -= now;
        }
        self.limited.clear();
    }

    /// Takes what is mixed from the frame `first + ahead` on, `channels` samples a frame, and leaves what goes out from
    /// `first` on in its place.
    pub fn hold(&mut self, out: &mut [f32], channels: usize, routing: Routing, first: i64) {
        if first != self.next {
            self.clear();
        }
        for piece in out.chunks_mut(PIECE * channels) {
            self.hold_programme(piece, channels, routing.programme);
            if let Some(pair) = routing.headphones {
                self.hold_headphones(piece, channels, pair);
            }
        }
        self.next = first + (out.len() / channels) as i64;
    }

    fn hold_programme(&mut self, piece: &mut [f32], channels: usize, pair: (usize, usize)) {
        self.line.clear();
        let frames = piece.chunks_exact(channels);
        self.line
            .extend(frames.flat_map(|frame| picked(frame, pair)));
        self.limited.clear();
        self.limiter.process(&self.line, &mut self.limited);
        let limited = self.limited.as_chunks::<2>().0;
        for (frame, limited) in piece.chunks_exact_mut(channels).zip(limited) {
            put(frame, pair, *limited);
        }
    }

    fn hold_headphones(&mut self, piece: &mut [f32], channels: usize, pair: (usize, usize)) {
        for frame in piece.chunks_exact_mut(channels) {
            self.headphones.push_back(picked(frame, pair));
            if let Some(late) = self.headphones.pop_front() {
                put(frame, pair, late);
            }
        }
    }
}

/// The samples of two channels; a channel that is not there is silent.
fn picked(frame: &[f32], (left, right): (usize, usize)) -> [f32; 2] {
    [left, right].map(|channel| frame.get(channel).copied().unwrap_or(0.0))
}

fn put(frame: &mut [f32], (left, right): (usize, usize), samples: [f32; 2]) {
    for (channel, sample) in [left, right].into_iter().zip(samples) {
        if let Some(place) = frame.get_mut(channel) {
            *place = sample;
        }
    }
}

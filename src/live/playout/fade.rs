//! How levels move: fades, ramps and ducking, all by the frame.

use std::f32::consts::FRAC_PI_2;

use super::clock::Monotonic;
use crate::units::Span;

/// The shortest fade: anything shorter is heard as a click.
pub(super) const DECLICK: Span = Span::from_ms(5);

/// Frames of a stretch of sound that is being mixed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Block {
    /// The device's count at its first frame.
    pub first: i64,
    /// How many.
    pub frames: i64,
    /// Frames a second.
    pub rate: u32,
}

impl Block {
    /// How many frames `span` lasts.
    pub fn length(&self, span: Span) -> i64 {
        let frames = i128::from(span.us()) * i128::from(self.rate) / 1_000_000;
        frames.clamp(0, i128::from(i64::MAX / 4)) as i64
    }
}

/// A fade-out, ordered or running.
#[derive(Debug, Clone, Copy)]
pub(super) struct FadeOut {
    pub at: Monotonic,
    pub over: Span,
    /// Its first frame, once that is known.
    pub start: Option<i64>,
    /// The part of full amplitude it begins at.
    pub from: f32,
}

/// A move of the level, evenly in decibels.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ramp {
    pub from_db: f32,
    pub to_db: f32,
    pub start: i64,
    pub frames: i64,
}

impl Ramp {
    pub fn db(&self, frame: i64) -> f32 {
        self.from_db + (self.to_db - self.from_db) * share(frame - self.start, self.frames)
    }

    /// The level from a frame on, where it no longer changes.
    pub fn steady_from(&self, frame: i64) -> Option<f32> {
        let is_over = frame - self.start >= self.frames || self.to_db == self.from_db;
        is_over.then(|| self.db(frame))
    }
}

/// How far ducking has gone: 0 up, 1 all the way down.
#[derive(Debug, Clone, Copy)]
pub(super) struct Duck {
    pub depth: f32,
    pub step: f32,
}

impl Duck {
    /// Up, and staying there.
    pub const UP: Duck = Duck {
        depth: 0.0,
        step: 0.0,
    };

    pub fn after(&self, frames: i64) -> f32 {
        (self.depth + self.step * frames as f32).clamp(0.0, 1.0)
    }

    /// How far it has gone, where it goes no further.
    pub fn steady(&self) -> Option<f32> {
        let further = self.step > 0.0 && self.depth < 1.0 || self.step < 0.0 && self.depth > 0.0;
        (!further).then_some(self.depth)
    }

    pub fn advance(&mut self, frames: i64) {
        self.depth = self.after(frames);
    }
}

impl FadeOut {
    pub fn amplitude(&self, frame: i64, block: Block) -> f32 {
        match self.start {
            Some(start) if frame >= start => {
                let share = share(frame - start, block.length(self.over));
                if share >= 1.0 {
                    0.0
                } else {
                    self.from * (FRAC_PI_2 * share).cos()
                }
            }
            _ => 1.0,
        }
    }
}

/// `done / whole`, from 0 to 1; 1 if there is nothing to do.
pub(super) fn share(done: i64, whole: i64) -> f32 {
    if done >= whole {
        1.0
    } else {
        (done.max(0) as f64 / whole as f64) as f32
    }
}

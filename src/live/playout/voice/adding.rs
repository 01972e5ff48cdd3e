//! How a voice is added to the sum.

use std::f32::consts::FRAC_PI_2;

use super::super::clock::FrameClock;
use super::super::fade::{Block, Duck, share};
use super::super::order::Sound;
use super::{FALL_DB_PER_S, Stage, Voice};
use crate::sound::Frame;

/// Where a voice is added: `channels` a frame, on two of them.
struct To<'a> {
    out: &'a mut [f32],
    channels: usize,
    pair: Option<(usize, usize)>,
}

impl Voice {
    /// Adds `block` of it to `out`, `channels` a frame, on the two channels `pair`; whether all of it was there.
    pub fn mix(
        &mut self,
        out: &mut [f32],
        channels: usize,
        pair: Option<(usize, usize)>,
        block: Block,
        duck: Duck,
        clock: &FrameClock,
    ) -> bool {
        self.settle_fade(block, clock);
        let Stage::Playing { begun, fade_in } = self.stage else {
            return true;
        };
        let skipped = (begun - block.first).max(0);
        let to = To {
            out,
            channels,
            pair,
        };
        let (peak, whole) = match self.steady_gain(begun + fade_in, block, duck) {
            Some(db) => (self.mix_steady(to, amplitude(db)), true),
            None => self.mix_moving(to, skipped, (begun, fade_in), block, duck),
        };
        let fall = FALL_DB_PER_S * block.frames as f32 / block.rate as f32;
        self.level = peak.max(self.level * 10_f32.powf(-fall / 20.0));
        self.settle_zero(block.first + block.frames, clock);
        whole
    }

    /// Its level in decibels where that stays the same through `block`, in which its own frames are those of the output
    /// and none is missing; it has faded in at the frame `risen`.
    fn steady_gain(&self, risen: i64, block: Block, duck: Duck) -> Option<f32> {
        let Sound::Whole(pcm) = &self.sound else {
            return None;
        };
        let until = block.first + block.frames;
        let fades = self.fade.and_then(|fade| fade.start);
        let level = self.ramp.steady_from(block.first)? - self.duck_db * duck.steady()?;
        let in_step = pcm.rate.max(1) == block.rate && self.place.fract() == 0.0;
        let left = pcm.frames() as i64 - self.place as i64;
        let steady = risen <= block.first
            && fades.is_none_or(|start| start >= until)
            && in_step
            && pcm.channels == 2
            && left >= block.frames;
        steady.then_some(level)
    }

    /// Adds a block of which nothing changes; how high it goes.
    fn mix_steady(&mut self, to: To<'_>, amplitude: f32) -> f32 {
        let Sound::Whole(pcm) = &self.sound else {
            return 0.0;
        };
        let frames = to.out.chunks_exact_mut(to.channels);
        let heard = pcm
            .samples
            .as_chunks::<2>()
            .0
            .iter()
            .skip(self.place as usize);
        self.place += frames.len() as f64;
        let mut peaks = [0.0_f32; 2];
        for (frame, heard) in frames.zip(heard) {
            let heard = heard.map(|x| x * amplitude);
            for (peak, x) in peaks.iter_mut().zip(heard) {
                *peak = peak.max(x.abs());
            }
            to.pair.into_iter().for_each(|pair| add(frame, pair, heard));
        }
        peaks[0].max(peaks[1])
    }

    /// Adds a block frame by frame, from the one after `skipped` on, which `rises` since a frame over so many; how high it
    /// goes, and whether all of it was there.
    fn mix_moving(
        &mut self,
        to: To<'_>,
        skipped: i64,
        (begun, fade_in): (i64, i64),
        block: Block,
        duck: Duck,
    ) -> (f32, bool) {
        let step = f64::from(self.sound.rate()) / f64::from(block.rate);
        let mut whole = true;
        let (mut cached_db, mut cached) = (0.0_f32, 1.0_f32);
        let mut peak = 0.0_f32;
        let frames = to.out.chunks_exact_mut(to.channels).enumerate();
        for (i, frame) in frames.skip(skipped as usize) {
            let now = block.first + i as i64;
            let (left, right) = match frame_at(&self.sound, self.place) {
                Frame::Is(left, right) => (left, right),
                Frame::Missing => {
                    whole = false;
                    (0.0, 0.0)
                }
                Frame::Over => {
                    self.stage = Stage::Over;
                    break;
                }
            };
            let fade = self.fade.map_or(1.0, |fade| fade.amplitude(now, block));
            if fade <= 0.0 {
                self.stage = Stage::Over;
                break;
            }
            let db = self.ramp.db(now) - self.duck_db * duck.after(i as i64);
            if db != cached_db {
                (cached_db, cached) = (db, amplitude(db));
            }
            let rise = (FRAC_PI_2 * share(now - begun, fade_in)).sin();
            let heard = [left, right].map(|x| x * (cached * rise * fade));
            peak = peak.max(heard[0].abs()).max(heard[1].abs());
            to.pair.into_iter().for_each(|pair| add(frame, pair, heard));
            self.place += step;
        }
        (peak, whole)
    }
}

fn add(frame: &mut [f32], (left, right): (usize, usize), heard: [f32; 2]) {
    for (channel, x) in [left, right].into_iter().zip(heard) {
        if let Some(out) = frame.get_mut(channel) {
            *out += x;
        }
    }
}

fn amplitude(db: f32) -> f32 {
    10_f32.powf(db / 20.0)
}

/// The sound at `place`, between frames if it falls there.
fn frame_at(sound: &Sound, place: f64) -> Frame {
    let index = place as u64;
    let between = (place - index as f64) as f32;
    let here = sound.frame(index);
    let Frame::Is(left, right) = here else {
        return here;
    };
    if between == 0.0 {
        return here;
    }
    match sound.frame(index + 1) {
        Frame::Is(next_left, next_right) => Frame::Is(
            left + (next_left - left) * between,
            right + (next_right - right) * between,
        ),
        Frame::Over => here,
        Frame::Missing => Frame::Missing,
    }
}

//! A track rendered as a course has it: bars that come again joined, the rate bent with the pitch kept.
//!
//! Until the rate is first bent the sound is the track's own, sample for sample. From there on it is stretched
//! (crate `timestretch`, which is told to keep the duration: its other mode rounds the rate). The stretcher takes
//! a new rate only at its own steps; where the music is, it says exactly, so every few hundredths of a second
//! it is given the rate that brings it to where the course has it.

use std::sync::Arc;

use timestretch::{
    Backend, Parameters, PitchRatio, PreparedSession, ProcessStatus, RatioConstraint,
    SessionConfig, StreamSession, TempoRate,
};

use super::course::Course;
use super::pace::Pace;
use super::pcm::Pcm;
use super::unrolled::{Unrolled, parts};
use crate::units::Span;

/// Frames the stretcher is given before what is heard of it.
const LEAD_IN: i64 = 8_192;
/// Frames over which the stretched sound takes over from the track's own.
const TAKE_OVER: i64 = 512;
/// Frames ahead at which the rate aims, and after which it is looked at again.
const AIM: i64 = 2_048;
/// Frames off its course that are let be while the rate is steady.
const LET_BE: f64 = 12.0;
/// How much the rate may differ from that of the course to come back onto it.
const CATCH_UP: f64 = 0.03;
/// Frames read from the stretcher at once.
const PIECE: usize = 1_024;

/// A track being rendered, from a moment after its start on.
pub struct Rendering {
    pcm: Arc<Pcm>,
    course: Course,
    pace: Pace,
    unrolled: Unrolled,
    /// The next frame, counted from the start.
    next: i64,
    stretched: Option<Stretched>,
    /// The frame at which it took over, and the place of the written-out track that was next.
    taken_over: Option<(i64, i64)>,
    /// Whether the stretcher has failed: the rate is bent with the pitch then.
    failed: bool,
}

impl Rendering {
    /// A rendering of `pcm` as `course` has it, whose first frame is heard `from` after the start.
    pub fn new(pcm: Arc<Pcm>, course: Course, from: Span) -> Rendering {
        let first = (from.s().max(0.0) * f64::from(pcm.rate)).round() as i64;
        Rendering {
            pace: course.pace(),
            unrolled: Unrolled::of(&pcm, &course),
            pcm,
            course,
            next: first,
            stretched: None,
            taken_over: None,
            failed: false,
        }
    }

    /// Goes on another way. What is rendered already stays; the courses must agree until there.
    pub fn turn(&mut self, course: Course) {
        let next = match &self.stretched {
            Some(stretched) => stretched.fed,
            None => self.place(self.next).round() as i64,
        };
        let turned = Unrolled::of(&self.pcm, &course);
        let before = std::mem::replace(&mut self.unrolled, turned.clone());
        self.unrolled = turned.after(before, next);
        self.pace = course.pace();
        self.course = course;
    }

    /// Renders up to `frames` more, left and right in turn, behind `out`; whether there is more after them.
    pub fn render(&mut self, frames: usize, out: &mut Vec<f32>) -> bool {
        let until = self.next + frames as i64;
        while self.next < until {
            if self.place(self.next).round() as i64 >= self.unrolled.frames() {
                return false;
            }
            let bent_from = self.bent_from();
            if self.next < bent_from {
                let left = self.unrolled.frames() - self.place(self.next).round() as i64;
                let end = until.min(bent_from).min(self.next + left);
                for frame in self.next..end {
                    let place = self.place(frame).round() as i64;
                    out.extend(self.unrolled.frame(&self.pcm, place));
                }
                self.next = end;
                let own = self.place(end - 1).round() as i64 + 1;
                self.taken_over = Some((end, own));
            } else {
                self.render_bent((until - self.next) as usize, out);
            }
        }
        true
    }

    /// The first frame at which the rate is not 1 any more.
    fn bent_from(&self) -> i64 {
        let bend = self.course.bends.first();
        bend.map_or(i64::MAX, |bend| {
            (bend.after.s() * self.rate()).floor() as i64
        })
    }

    fn rate(&self) -> f64 {
        f64::from(self.pcm.rate)
    }

    /// Where the written-out track is at a frame, in frames of it; whole as long as nothing is bent.
    fn place(&self, frame: i64) -> f64 {
        let entry = (self.course.entry.s() * self.rate()).round();
        entry + self.pace.music_at(frame as f64 / self.rate()) * self.rate()
    }

    fn render_bent(&mut self, frames: usize, out: &mut Vec<f32>) {
        let frames = frames.min(PIECE);
        if self.stretched.is_none() && !self.failed {
            self.stretched = self.begin_stretched();
            self.failed = self.stretched.is_none();
        }
        let mut piece = Vec::with_capacity(frames * 2);
        if let Some(mut stretched) = self.stretched.take() {
            self.failed = self.pull(&mut stretched, frames, &mut piece).is_none();
            self.stretched = (!self.failed).then_some(stretched);
        }
        if self.failed {
            piece.clear();
            for frame in self.next..self.next + frames as i64 {
                piece.extend(self.between(self.place(frame)));
            }
        }
        // What was heard before was the track's own, at rate 1: it goes on under what takes over.
        for (i, frame) in piece.chunks_exact_mut(2).enumerate() {
            let Some((from, own)) = self.taken_over else {
                break;
            };
            let since = self.next + i as i64 - from;
            if since < TAKE_OVER {
                let own = self.unrolled.frame(&self.pcm, own + since);
                let (old, new) = parts(since as f32 / TAKE_OVER as f32, 1.0);
                for (sample, own) in frame.iter_mut().zip(own) {
                    *sample = *sample * new + own * old;
                }
            }
        }
        self.next += (piece.len() / 2) as i64;
        out.extend(piece);
    }

    /// The written-out track between two frames.
    fn between(&self, place: f64) -> [f32; 2] {
        let (whole, part) = (place.floor(), place.fract() as f32);
        let before = self.unrolled.frame(&self.pcm, whole as i64);
        let after = self.unrolled.frame(&self.pcm, whole as i64 + 1);
        [0, 1].map(|channel| before[channel] + (after[channel] - before[channel]) * part)
    }

    /// A stretcher that has run in, so that its next frame is the one to be heard.
    fn begin_stretched(&self) -> Option<Stretched> {
        let rate = self.pace.rate_at(self.next as f64 / self.rate());
        let origin = (self.place(self.next) - LEAD_IN as f64 * rate).round() as i64;
        let mut stretched = Stretched::new(self.pcm.rate, rate, origin)?;
        let mut run_in = Vec::new();
        while (run_in.len() as i64) < 2 * LEAD_IN {
            let most = LEAD_IN as usize - run_in.len() / 2;
            stretched.read(most.min(PIECE), &mut run_in, &self.unrolled, &self.pcm)?;
        }
        Some(stretched)
    }

    /// Takes frames from the stretcher, keeping it on course; `None` when it has failed.
    fn pull(&self, stretched: &mut Stretched, frames: usize, out: &mut Vec<f32>) -> Option<()> {
        let from = out.len();
        while out.len() - from < frames * 2 {
            let done = (out.len() - from) / 2;
            let here = self.next + done as i64;
            if here >= stretched.look_again {
                stretched.look_again = here + AIM;
                let second = |frame: i64| frame as f64 / self.rate();
                let (now, then) = (
                    self.pace.rate_at(second(here)),
                    self.pace.rate_at(second(here + AIM)),
                );
                let off = stretched.place() - self.place(here);
                let steady = now == then && off.abs() < LET_BE;
                let aimed = (self.place(here + AIM) - stretched.place()) / AIM as f64;
                let aimed = aimed.clamp(then - CATCH_UP, then + CATCH_UP);
                stretched.set_rate(if steady { now } else { aimed })?;
            }
            stretched.read(frames - done, out, &self.unrolled, &self.pcm)?;
        }
        Some(())
    }
}

/// The stretcher, fed with a written-out track.
struct Stretched {
    session: StreamSession,
    /// The frame of the written-out track that it was fed first.
    origin: i64,
    /// The next one it is fed.
    fed: i64,
    rate: f64,
    commands: u64,
    /// The frame after the start at which its rate is looked at again.
    look_again: i64,
    feed: Vec<f32>,
}

impl Stretched {
    fn new(frames_a_second: u32, rate: f64, origin: i64) -> Option<Stretched> {
        let config = SessionConfig {
            source_sample_rate: frames_a_second,
            output_sample_rate: frames_a_second,
            channels: 2,
            backend: Backend::Portable,
            parameters: parameters(rate)?,
            ..SessionConfig::default()
        };
        Some(Stretched {
            session: PreparedSession::new(config).ok()?.activate(),
            origin,
            fed: origin,
            rate,
            commands: 0,
            look_again: i64::MIN,
            feed: Vec::new(),
        })
    }

    /// Where in the written-out track its next frame is.
    fn place(&self) -> f64 {
        self.origin as f64 + self.session.position()
    }

    fn set_rate(&mut self, rate: f64) -> Option<()> {
        if (rate - self.rate).abs() < 1e-7 {
            return Some(());
        }
        self.rate = rate;
        self.commands += 1;
        let now = self.session.commit_horizon();
        let scheduled = self.session.schedule(self.commands, now, parameters(rate)?);
        scheduled.ok()
    }

    /// Adds up to `frames` to `out`, feeding what it asks for; `None` when it has failed.
    fn read(
        &mut self,
        frames: usize,
        out: &mut Vec<f32>,
        unrolled: &Unrolled,
        pcm: &Pcm,
    ) -> Option<()> {
        if self.session.output_ready() == 0 {
            match self.session.advance(1).status {
                ProcessStatus::NeedSource => self.supply(unrolled, pcm)?,
                ProcessStatus::Fault | ProcessStatus::Finished => return None,
                _ => {}
            }
            while self.session.next_applied().is_some() {}
        }
        let mut piece = [0.0; PIECE * 2];
        let piece = piece.get_mut(..frames.min(PIECE) * 2)?;
        let stamp = self.session.read_output(piece).ok()?;
        out.extend_from_slice(piece.get(..stamp.frames * 2)?);
        let consumed = stamp.consumed(stamp.frames).ok()?;
        self.session.acknowledge(consumed).ok()?;
        Some(())
    }

    fn supply(&mut self, unrolled: &Unrolled, pcm: &Pcm) -> Option<()> {
        let request = self.session.source_request()?;
        self.feed.clear();
        for frame in self.fed..self.fed + request.frames as i64 {
            self.feed.extend(unrolled.frame(pcm, frame));
        }
        self.fed += request.frames as i64;
        self.session.supply(request, &self.feed).ok()?;
        Some(())
    }
}

/// At this rate, with the pitch kept.
fn parameters(rate: f64) -> Option<Parameters> {
    Some(Parameters {
        tempo: TempoRate::new(rate).ok()?,
        pitch: PitchRatio::UNITY,
        constraint: RatioConstraint::PreserveDuration,
    })
}

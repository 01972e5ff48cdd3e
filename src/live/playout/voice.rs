//! One playing of one track: where it is, and how loud.

mod adding;

use super::board::Heard;
use super::clock::{FrameClock, Monotonic};
use super::fade::{Block, DECLICK, FadeOut, Ramp};
use super::order::{Bus, Sound, Start};
use crate::sound::Frame;
use crate::units::Span;

/// A start that comes this little late begins at its first frame all the same: skipping into an
/// attack would be heard, the lateness is not.
const ON_TIME_NS: i64 = 2_000_000;
/// How a voice comes back after the device was lost.
const REJOIN_FADE: Span = Span::from_ms(200);
/// A voice that the device's underruns have put off by this much skips to where it should be.
const SLIPPED_NS: i64 = 10_000_000;
/// How it does that.
pub(super) const CATCH_UP_FADE: Span = Span::from_ms(20);
/// Peak meter fall-back: 20 dB in 1.5 s, as IEC 60268-10 type I (from memory).
const FALL_DB_PER_S: f32 = 20.0 / 1.5;

/// Whether a voice sounds.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Stage {
    /// It begins when the track's zero and `from` say, with this fade.
    Waiting { fade_in: Span },
    /// It sounds since the frame `begun`.
    Playing { begun: i64, fade_in: i64 },
    /// It is over; its sound waits to be handed back.
    Over,
}

/// A voice of the mixer.
#[derive(Debug, Clone)]
pub(super) struct Voice {
    pub id: u32,
    pub bus: Bus,
    /// Whether another playing has taken its number over.
    pub replaced: bool,
    sound: Sound,
    stage: Stage,
    /// When the beginning of the track is heard, or would have been.
    zero: Monotonic,
    from: Span,
    /// Where the sound's first frame is, counted from there.
    begins: Span,
    /// The place in the sound, in its own frames.
    place: f64,
    fade: Option<FadeOut>,
    ramp: Ramp,
    duck_db: f32,
    level: f32,
    /// How far the clock had slipped when it began, in nanoseconds.
    slipped: i64,
}

impl Voice {
    pub fn new(start: Start) -> Self {
        let db = start.gain.db() as f32;
        let from = start.from.max(Span::ZERO);
        Voice {
            id: start.voice,
            bus: start.bus,
            replaced: false,
            zero: start.at - from,
            from,
            begins: start.begins,
            place: 0.0,
            stage: Stage::Waiting {
                fade_in: start.fade_in,
            },
            fade: None,
            ramp: Ramp {
                from_db: db,
                to_db: db,
                start: 0,
                frames: 0,
            },
            duck_db: start.duck.db().max(0.0) as f32,
            level: 0.0,
            slipped: 0,
            sound: start.sound,
        }
    }

    pub fn is_waiting(&self) -> bool {
        matches!(self.stage, Stage::Waiting { .. })
    }

    pub fn is_playing(&self) -> bool {
        matches!(self.stage, Stage::Playing { .. })
    }

    pub fn is_over(&self) -> bool {
        self.stage == Stage::Over
    }

    pub fn into_sound(self) -> Sound {
        self.sound
    }

    pub fn end(&mut self) {
        self.stage = Stage::Over;
    }

    /// The frame it should begin at and the place in the track it begins from, if that is in `block`
    /// or past.
    pub fn due(&self, block: Block, clock: &FrameClock) -> Option<(i64, Span)> {
        if !self.is_waiting() {
            return None;
        }
        let at = self.zero + self.from;
        let frame = clock.frame(at)?;
        let due = if frame >= block.first {
            (frame < block.first + block.frames).then_some((frame, self.from))?
        } else {
            let late = clock.heard(block.first)?.ns() - at.ns();
            let missed = if late <= ON_TIME_NS { 0 } else { late / 1_000 };
            (block.first, self.from + Span::from_us(missed))
        };
        // What is not rendered yet comes in when it is.
        let there = self.sound.frame(self.place_of(due.1) as u64) != Frame::Missing;
        there.then_some(due)
    }

    /// Begins sounding at `frame`, from the place `from` of the track; says how long it fades in.
    pub fn begin(&mut self, frame: i64, from: Span, block: Block, clock: &FrameClock) -> Span {
        let Stage::Waiting { fade_in } = self.stage else {
            return Span::ZERO;
        };
        let fade_in = if from == Span::ZERO {
            fade_in
        } else {
            fade_in.max(DECLICK)
        };
        self.place = self.place_of(from);
        self.slipped = clock.slipped_ns();
        self.stage = Stage::Playing {
            begun: frame,
            fade_in: block.length(fade_in),
        };
        fade_in
    }

    /// The frame of the sound at a place of the track.
    fn place_of(&self, at: Span) -> f64 {
        let frame = (at - self.begins).s() * f64::from(self.sound.rate());
        frame.round().max(0.0)
    }

    /// Whether underruns have put it off by too much since it began.
    pub fn has_slipped(&self, clock: &FrameClock) -> bool {
        let slipped = clock.slipped_ns() - self.slipped;
        self.is_playing() && !self.replaced && slipped.abs() >= SLIPPED_NS
    }

    /// Waits to come in where it would be without the underruns: that is past, so at once.
    pub fn catch_up(&mut self, block: Block, clock: &FrameClock) {
        let slipped = clock.slipped_ns() - self.slipped;
        self.settle_zero(block.first, clock);
        self.zero = Monotonic::from_ns(self.zero.ns() - slipped);
        self.from = Span::ZERO;
        self.stage = Stage::Waiting {
            fade_in: CATCH_UP_FADE,
        };
    }

    /// Orders a fade-out; see [`Order::Fade`](super::Order::Fade).
    pub fn fade(&mut self, at: Monotonic, over: Span, block: Block) {
        let over = over.max(DECLICK);
        let mut new = FadeOut {
            at,
            over,
            start: None,
            from: 1.0,
        };
        if let Some(running) = self.fade
            && let Some(start) = running.start
        {
            let left = start + block.length(running.over) - block.first;
            if left <= block.length(over) {
                return;
            }
            new.start = Some(block.first);
            new.from = running.amplitude(block.first, block);
        }
        // One that is to fade from its first frame on sounds all the same.
        if self.is_waiting() && at < self.zero + self.from {
            self.end();
        }
        self.fade = Some(new);
    }

    /// Fades out from `frame` on.
    pub fn fade_from(&mut self, frame: i64, over: Span, block: Block, clock: &FrameClock) {
        let at = clock.heard(frame).unwrap_or(self.zero);
        self.fade(at, over, block);
        if let Some(fade) = &mut self.fade
            && fade.start.is_none()
        {
            fade.start = Some(frame);
        }
    }

    pub fn move_gain(&mut self, to_db: f32, over: Span, block: Block) {
        self.ramp = Ramp {
            from_db: self.ramp.db(block.first),
            to_db,
            start: block.first,
            frames: block.length(over.max(DECLICK)),
        };
    }

    /// The device is another one now, and counts from 0: a sounding voice waits to come back in
    /// where it should be by then.
    pub fn rejoin(&mut self) {
        self.ramp.from_db = self.ramp.to_db;
        self.ramp.frames = 0;
        if let Some(fade) = &mut self.fade {
            fade.start = None;
        }
        if self.is_playing() {
            self.from = Span::ZERO;
            self.stage = Stage::Waiting {
                fade_in: REJOIN_FADE,
            };
        }
    }

    /// Finds the first frame of an ordered fade, if it falls in `block` or is past.
    fn settle_fade(&mut self, block: Block, clock: &FrameClock) {
        let Stage::Playing { begun, .. } = self.stage else {
            return;
        };
        let Some(fade) = &mut self.fade else {
            return;
        };
        if fade.start.is_some() {
            return;
        }
        let ordered = clock.frame(fade.at).unwrap_or(block.first);
        if ordered < block.first + block.frames {
            // A late order still fades from full level; one that ran while the device was lost
            // goes on where it should be.
            let joins = begun >= block.first;
            fade.start = Some(if joins {
                ordered
            } else {
                ordered.max(block.first)
            });
        }
    }

    /// Notes when the track's beginning is heard, of which `place` is at the frame `next`: the
    /// device's clock is not the machine's.
    fn settle_zero(&mut self, next: i64, clock: &FrameClock) {
        if let Some(next) = clock.heard(next) {
            let played = self.begins.s() + self.place / f64::from(self.sound.rate());
            self.zero = Monotonic::from_ns(next.ns() - (played * 1e9) as i64);
        }
    }

    /// What is published of it, if it sounds.
    pub fn heard(&self) -> Option<Heard> {
        (self.is_playing() && !self.replaced).then(|| Heard {
            voice: self.id,
            zero: self.zero,
            end_ns: match &self.sound {
                Sound::Whole(pcm) => pcm.duration().us() * 1_000,
                Sound::Rolling(_) => i64::MAX,
            },
            level: self.level,
        })
    }
}

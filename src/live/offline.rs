//! The show's sound without a device: what playout plays when everything comes as planned.
//!
//! The mixer is the one that runs in the audio callback, with a clock that is never wrong. A [`Score`] is what it is
//! told and when; a [`Mixdown`] is what comes out.

use std::collections::VecDeque;
use std::sync::Arc;

use super::playout::clock::FrameClock;
use super::playout::engine::{Engine, Lines, Routing};
use super::playout::{Bus, Monotonic, Order, Sound, Start};
use crate::show::{Show, Track};
use crate::sound::{Course, Media, Pcm, Rendering};
use crate::timeline::{Layout, PlayedTrack};
use crate::units::{Instant, Span};

/// How long the music stays down after words, so that it does not come up between two blocks close to each other
/// (common practice, no published source). On the day the narrator's key ends it.
const HOLD: Span = Span::from_ms(800);
/// Orders are given this much ahead of what they are for, so that few voices wait.
const EARLY: Span = Span::from_ms(1_000);
/// Frames mixed at once, at most.
const AT_ONCE: i64 = 4_096;
/// Frames rendered at once.
const PIECE: usize = 1 << 16;
/// The monotonic instant of frame 0: any will do.
const ZERO: Monotonic = Monotonic::from_ns(0);

/// What the mixer is told, in order of time.
#[derive(Debug, Clone, Default)]
pub struct Score {
    orders: Vec<(Instant, Order)>,
}

/// When music is down under words: from, until.
pub fn ducks(layout: &Layout) -> Vec<(Instant, Instant)> {
    let blocks = layout.blocks.iter();
    let mut said: Vec<(Instant, Instant)> = blocks
        .filter_map(|block| Some((block.starts.instant()?, block.ends? + HOLD)))
        .collect();
    said.sort_unstable();
    let mut ducks: Vec<(Instant, Instant)> = Vec::new();
    for (from, until) in said {
        match ducks.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(until),
            _ => ducks.push((from, until)),
        }
    }
    ducks
}

/// When a track sounds as planned, from and until; `None` where it has no time or is left out.
pub fn sounds(laid: &PlayedTrack, media: &Media) -> Option<(Instant, Instant)> {
    let start = laid.starts.instant()?;
    if laid.meeting.is_some_and(|meeting| meeting.left_out) {
        return None;
    }
    let whole = laid.course.ends(start, media.pcm.duration());
    Some((start, laid.ends.map_or(whole, |end| end.min(whole))))
}

impl Score {
    /// All of a show's tracks that are loaded, as laid, seen from the instant `zero`, the mixer's frame 0.
    pub fn of(show: &Show, layout: &Layout, media: &[Option<Arc<Media>>], zero: Instant) -> Score {
        let mut score = Score::default();
        for i in 0..show.tracks.len() {
            score.add_track(show, layout, media, i, zero);
        }
        score.add_ducks(layout);
        score
    }

    /// One track of it alone.
    pub fn of_track(
        show: &Show,
        layout: &Layout,
        media: &[Option<Arc<Media>>],
        track: usize,
        zero: Instant,
    ) -> Score {
        let mut score = Score::default();
        score.add_track(show, layout, media, track, zero);
        score.add_ducks(layout);
        score
    }

    fn add_track(
        &mut self,
        show: &Show,
        layout: &Layout,
        media: &[Option<Arc<Media>>],
        i: usize,
        zero: Instant,
    ) {
        let (Some(track), Some(laid)) = (show.tracks.get(i), layout.tracks.get(i)) else {
            return;
        };
        let Some(media) = media.get(i).and_then(Option::as_ref) else {
            return;
        };
        let Some((start, end)) = sounds(laid, media) else {
            return;
        };
        let voice = i as u32 + 1;
        let sound = sound_of(&laid.course, media, end - start);
        let begin = start_of(voice, track, sound, media, ZERO + (start - zero));
        self.add(start - EARLY, Order::Start(begin));
        if let Some(fades) = laid.fades {
            let fade = Order::Fade {
                voice,
                at: ZERO + (fades - zero),
                over: track.fade_out,
            };
            self.add(fades.max(start) - EARLY, fade);
        }
    }

    fn add_ducks(&mut self, layout: &Layout) {
        for (from, until) in ducks(layout) {
            self.add(from, Order::Duck { down: true });
            self.add(until, Order::Duck { down: false });
        }
    }

    /// Gives an order at an instant, after what is given then already.
    fn add(&mut self, at: Instant, order: Order) {
        let place = self.orders.partition_point(|(other, _)| *other <= at);
        self.orders.insert(place, (at, order));
    }

    /// The orders, each with when it is given.
    pub fn orders(&self) -> &[(Instant, Order)] {
        &self.orders
    }
}

/// The start of a track, as the desk gives it to playout when nothing is late.
fn start_of(
    voice: u32,
    track: &Track,
    (sound, begins, from): (Arc<Pcm>, Span, Span),
    media: &Media,
    at: Monotonic,
) -> Start {
    Start {
        voice,
        sound: Sound::Whole(sound),
        from,
        begins,
        at,
        fade_in: track.fade_in,
        gain: media.gain,
        duck: track.duck,
        bus: Bus::Programme,
    }
}

/// What sounds of a track as its course has it, for as long as it `lasts`; the place in the track of its first
/// frame, and that from which it is heard.
fn sound_of(course: &Course, media: &Media, lasts: Span) -> (Arc<Pcm>, Span, Span) {
    if course.is_plain() {
        return (media.pcm.clone(), Span::ZERO, course.entry);
    }
    let rate = media.pcm.rate;
    let mut rendering = Rendering::new(media.pcm.clone(), course.clone(), Span::ZERO);
    let mut samples = Vec::new();
    let enough = (lasts.s() * f64::from(rate)).ceil() as usize * 2;
    while samples.len() < enough && rendering.render(PIECE, &mut samples) {}
    let pcm = Pcm {
        rate,
        channels: 2,
        samples,
    };
    (Arc::new(pcm), course.entry, course.entry)
}

/// A score being mixed, from its frame 0 on.
pub struct Mixdown {
    engine: Engine,
    lines: Lines,
    clock: FrameClock,
    orders: VecDeque<(i64, Order)>,
    next: i64,
}

impl Mixdown {
    /// Begins at `zero`, at `rate` frames a second.
    pub fn new(score: Score, rate: u32, zero: Instant) -> Mixdown {
        let routing = Routing {
            programme: (0, 1),
            headphones: None,
        };
        let (engine, lines) = Engine::new(rate, routing);
        let frame = |at: Instant| ((at - zero).s() * f64::from(rate)).round() as i64;
        let orders = score.orders.into_iter();
        Mixdown {
            engine,
            lines,
            clock: FrameClock::perfect(rate, ZERO),
            orders: orders.map(|(at, order)| (frame(at), order)).collect(),
            next: 0,
        }
    }

    /// The next frames, left and right in turn, in place of what is in `out`; however high they are.
    pub fn mix(&mut self, mut out: &mut [f32]) {
        while out.len() >= 2 {
            self.give_orders();
            let until = self.orders.front().map_or(i64::MAX, |(frame, _)| *frame);
            let frames = (until - self.next)
                .clamp(1, AT_ONCE)
                .min(out.len() as i64 / 2);
            let (now, rest) = out.split_at_mut(frames as usize * 2);
            self.engine.sum(now, 2, self.next, &self.clock);
            self.engine.hand_back();
            while self.lines.returned.pop().is_ok() {}
            while self.lines.started.pop().is_ok() {}
            self.next += frames;
            out = rest;
        }
    }

    fn give_orders(&mut self) {
        while let Some((frame, _)) = self.orders.front()
            && *frame <= self.next
            && self.lines.orders.slots() > 0
            && let Some((_, order)) = self.orders.pop_front()
        {
            // There is room: it was looked at.
            let _ = self.lines.orders.push(order);
        }
    }
}

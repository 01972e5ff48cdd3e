//! The show's sound without a device: what playout plays when everything comes as planned.
//!
//! The mixer is the one that runs in the audio callback, with a clock that is never wrong. A [`Score`] is what it is
//! told and when; a [`Mixdown`] is what comes out.

use std::collections::VecDeque;
use std::sync::Arc;

use super::playout::clock::FrameClock;
use super::playout::engine::{Engine, Lines, Routing};
use super::playout::{Bus, Monotonic, Order, Sound, Start};
use super::session::DUCK_HOLD;
use crate::show::{Show, Track};
use crate::sound::{Course, Media, Pcm, Rendering};
use crate::timeline::{Layout, PlayedTrack};
use crate::units::{Gain, Instant, Span};

/// Orders are given this much ahead of what they are for, so that few voices wait.
const EARLY: Span = Span::from_ms(1_000);
/// Frames mixed at once, at most.
const AT_ONCE: i64 = 4_096;
/// Frames rendered at once.
const PIECE: usize = 1 << 16;
/// The monotonic instant of frame 0: any will do.
const ZERO: Monotonic = Monotonic::from_ns(0);

/// What a score is made from.
#[derive(Debug, Clone, Copy)]
pub struct Material<'a> {
    /// The show.
    pub show: &'a Show,
    /// When everything is.
    pub layout: &'a Layout,
    /// Its tracks, as far as they are loaded.
    pub media: &'a [Option<Arc<Media>>],
    /// Words to be heard as well.
    pub words: &'a [Words],
}

/// What the mixer is told, in order of time.
#[derive(Debug, Clone, Default)]
pub struct Score {
    orders: Vec<(Instant, Order)>,
}

/// Words spoken into a mix.
#[derive(Debug, Clone)]
pub struct Words {
    /// When they begin.
    pub at: Instant,
    /// Their sound, on two channels at the mixer's rate.
    pub pcm: Arc<Pcm>,
}

impl Words {
    /// When they are over.
    pub fn ends(&self) -> Instant {
        self.at + self.pcm.duration()
    }
}

/// When music is down under words: from, until. What is spoken aloud may take longer than was planned.
pub fn ducks(layout: &Layout, spoken: &[Words]) -> Vec<(Instant, Instant)> {
    let blocks = layout.blocks.iter();
    let planned =
        blocks.filter_map(|block| Some((block.starts.instant()?, block.ends? + DUCK_HOLD)));
    let spoken = spoken
        .iter()
        .map(|words| (words.at, words.ends() + DUCK_HOLD));
    let mut said: Vec<(Instant, Instant)> = planned.chain(spoken).collect();
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
    /// All of it that is loaded, as laid, seen from the instant `zero`, the mixer's frame 0.
    pub fn of(material: &Material, zero: Instant) -> Score {
        let mut score = Score::default();
        for i in 0..material.show.tracks.len() {
            score.add_track(material, i, zero);
        }
        score.add_words(material, zero);
        score.add_ducks(material);
        score
    }

    /// One track of it alone.
    pub fn of_track(material: &Material, track: usize, zero: Instant) -> Score {
        let mut score = Score::default();
        score.add_track(material, track, zero);
        score.add_ducks(material);
        score
    }

    /// The spoken words alone.
    pub fn of_words(material: &Material, zero: Instant) -> Score {
        let mut score = Score::default();
        score.add_words(material, zero);
        score
    }

    fn add_track(&mut self, material: &Material, i: usize, zero: Instant) {
        let Material { show, layout, .. } = material;
        let (Some(track), Some(laid)) = (show.tracks.get(i), layout.tracks.get(i)) else {
            return;
        };
        let Some(media) = material.media.get(i).and_then(Option::as_ref) else {
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

    fn add_words(&mut self, material: &Material, zero: Instant) {
        let first = material.show.tracks.len() as u32 + 1;
        for (i, words) in material.words.iter().enumerate() {
            let start = Start {
                voice: first + i as u32,
                sound: Sound::Whole(words.pcm.clone()),
                from: Span::ZERO,
                begins: Span::ZERO,
                at: ZERO + (words.at - zero),
                fade_in: Span::ZERO,
                gain: Gain::ZERO,
                duck: Gain::ZERO,
                bus: Bus::Programme,
            };
            self.add(words.at - EARLY, Order::Start(start));
        }
    }

    fn add_ducks(&mut self, material: &Material) {
        for (from, until) in ducks(material.layout, material.words) {
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
        // Playout mixes ahead of what goes out when an order is given.
        let ahead = engine.ahead();
        let frame = |at: Instant| ahead + ((at - zero).s() * f64::from(rate)).round() as i64;
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

//! The mixer that runs in the audio callback. It never allocates, frees, locks, logs or waits:
//! orders come in by one queue, sounds that are done with go out by another to be freed elsewhere.

use std::sync::Arc;

use rtrb::{Consumer, Producer, RingBuffer};

use super::board::{Board, VOICES};
use super::clock::{FrameClock, Monotonic};
use super::fade::{Block, Duck};
use super::master::Master;
use super::order::{Bus, Order, Sound, Start};
use super::voice::{CATCH_UP_FADE, Voice};
use crate::units::Span;

/// How long ducking takes down and up again (common practice, no published source).
const DUCK_DOWN: Span = Span::from_ms(150);
const DUCK_UP: Span = Span::from_ms(600);
/// Orders that can wait to be read; starts that can wait to be logged; sounds to be freed.
const QUEUE: usize = 1_024;

/// A voice that has begun: the log the debrief is made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Started {
    /// The voice's number.
    pub voice: u32,
    /// The device's count at its first frame.
    pub frame: i64,
    /// When that frame is heard.
    pub at: Monotonic,
    /// The place in the track it began from.
    pub from: Span,
}

/// Which channels of the output, counted from 0, carry which bus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Routing {
    /// Left and right of the programme.
    pub programme: (usize, usize),
    /// Left and right of the headphones, if there are any.
    pub headphones: Option<(usize, usize)>,
}

/// The other ends of an engine's queues.
pub struct Lines {
    /// Orders go in here.
    pub orders: Producer<Order>,
    /// Sounds that are done with come out here, to be freed.
    pub returned: Consumer<Sound>,
    /// Voices that have begun come out here.
    pub started: Consumer<Started>,
    /// Where the voices are.
    pub board: Arc<Board>,
}

/// The mixer.
pub struct Engine {
    rate: u32,
    routing: Routing,
    voices: [Option<Voice>; VOICES],
    duck: Duck,
    orders: Consumer<Order>,
    returned: Producer<Sound>,
    started: Producer<Started>,
    board: Arc<Board>,
    master: Master,
    /// Made ready for the next output.
    spare: Master,
}

impl Engine {
    /// A silent mixer for an output of `rate` frames a second, and the ends of its queues.
    pub fn new(rate: u32, routing: Routing) -> (Engine, Lines) {
        let (orders, orders_in) = RingBuffer::new(QUEUE);
        let (returned_out, returned) = RingBuffer::new(QUEUE);
        let (started_out, started) = RingBuffer::new(QUEUE);
        let board = Arc::new(Board::default());
        let engine = Engine {
            rate: rate.max(1),
            routing,
            voices: [const { None }; VOICES],
            duck: Duck::UP,
            orders: orders_in,
            returned: returned_out,
            started: started_out,
            board: board.clone(),
            master: Master::new(rate.max(1)),
            spare: Master::new(rate.max(1)),
        };
        let lines = Lines {
            orders,
            returned,
            started,
            board,
        };
        (engine, lines)
    }

    /// How many frames ahead of what goes out it mixes: so much later is heard what is ordered at once.
    pub fn ahead(&self) -> i64 {
        self.master.ahead()
    }

    /// Makes ready for an output of `rate` frames a second; not in the audio callback.
    pub fn make_ready(&mut self, rate: u32) {
        self.spare = Master::new(rate.max(1));
    }

    /// The output is another one from here on: of `rate` frames a second, its frames counted from 0.
    /// Voices that sounded come back in, where they should be by then, once its clock is set.
    pub fn reopened(&mut self, rate: u32) {
        self.rate = rate.max(1);
        if self.spare.rate == self.rate {
            std::mem::swap(&mut self.master, &mut self.spare);
        }
        self.master.clear();
        self.voices.iter_mut().flatten().for_each(Voice::rejoin);
    }

    /// Fills `out`, `channels` samples a frame, whose first frame is the output's `first`-th.
    pub fn process(&mut self, out: &mut [f32], channels: usize, first: i64, clock: &FrameClock) {
        let channels = channels.max(1);
        self.sum(out, channels, first + self.ahead(), clock);
        self.master.hold(out, channels, self.routing, first);
        for sample in &mut *out {
            *sample = sample.clamp(-1.0, 1.0);
        }
        self.board
            .meter(programme_peaks(out, channels, self.routing.programme));
        self.board.hold(self.master.take_held());
        self.publish();
        self.hand_back();
    }

    /// The sum of all voices, however high: what `process` fills `out` with before it is held below the ceiling.
    pub fn sum(&mut self, out: &mut [f32], channels: usize, first: i64, clock: &FrameClock) {
        out.fill(0.0);
        let channels = channels.max(1);
        let block = Block {
            first,
            frames: (out.len() / channels) as i64,
            rate: self.rate,
        };
        self.take_orders(block, clock);
        self.catch_up(block, clock);
        self.begin_due(block, clock);
        for voice in self.voices.iter_mut().flatten() {
            let (pair, duck) = match voice.bus {
                Bus::Programme => (Some(self.routing.programme), self.duck),
                Bus::Headphones => (self.routing.headphones, Duck::UP),
            };
            if !voice.mix(out, channels, pair, block, duck, clock) {
                self.board.starve();
            }
        }
        self.duck.advance(block.frames);
    }

    fn take_orders(&mut self, block: Block, clock: &FrameClock) {
        // A start that is refused hands its sound back at once, so there must be room for it.
        while self.returned.slots() > 0
            && let Ok(order) = self.orders.pop()
        {
            match order {
                Order::Start(start) => self.queue(start),
                Order::Fade { voice, at, over } => {
                    for voice in self.named(voice) {
                        voice.fade(at, over, block);
                    }
                }
                Order::FadeAll { over } => self.fade_all(over, block, clock),
                Order::Gain { voice, gain, over } => {
                    for voice in self.named(voice) {
                        voice.move_gain(gain.db() as f32, over, block);
                    }
                }
                Order::Duck { down } => self.duck.step = duck_step(down, self.rate),
            }
            self.hand_back();
        }
    }

    /// The voices of that number that have not been replaced: one waiting, one sounding at most.
    fn named(&mut self, id: u32) -> impl Iterator<Item = &mut Voice> {
        let voices = self.voices.iter_mut().flatten();
        voices.filter(move |voice| voice.id == id && !voice.replaced)
    }

    fn queue(&mut self, start: Start) {
        for voice in self.named(start.voice) {
            if voice.is_waiting() {
                voice.end();
            }
        }
        self.hand_back();
        match self.voices.iter_mut().find(|slot| slot.is_none()) {
            Some(slot) => *slot = Some(Voice::new(start)),
            None => {
                self.board.refuse();
                // Room was made sure of before the order was taken.
                if let Err(rtrb::PushError::Full(sound)) = self.returned.push(start.sound) {
                    std::mem::forget(sound);
                }
            }
        }
    }

    fn fade_all(&mut self, over: Span, block: Block, clock: &FrameClock) {
        let programme = |voice: &&mut Voice| voice.bus == Bus::Programme;
        for voice in self.voices.iter_mut().flatten().filter(programme) {
            if voice.is_waiting() {
                voice.end();
            } else {
                voice.fade_from(block.first, over, block, clock);
            }
        }
    }

    /// Crosses voices that underruns have put off over to where they should be.
    fn catch_up(&mut self, block: Block, clock: &FrameClock) {
        for index in 0..VOICES {
            let Some(voice) = self.voices[index].as_mut() else {
                continue;
            };
            if !voice.has_slipped(clock) {
                continue;
            }
            let mut old = voice.clone();
            voice.catch_up(block, clock);
            old.replaced = true;
            old.fade_from(block.first, CATCH_UP_FADE, block, clock);
            if let Some(slot) = self.voices.iter_mut().find(|slot| slot.is_none()) {
                *slot = Some(old);
            }
        }
    }

    /// Begins the voices that are due; one that takes over a number fades the one that had it.
    fn begin_due(&mut self, block: Block, clock: &FrameClock) {
        for index in 0..VOICES {
            let Some(voice) = self.voices[index].as_mut() else {
                continue;
            };
            let Some((frame, from)) = voice.due(block, clock) else {
                continue;
            };
            let fade_in = voice.begin(frame, from, block, clock);
            let (id, started) = (voice.id, clock.heard(frame));
            for (other, slot) in self.voices.iter_mut().enumerate() {
                if let Some(old) = slot
                    && other != index
                    && old.id == id
                    && !old.replaced
                    && old.is_playing()
                {
                    old.replaced = true;
                    old.fade_from(frame, fade_in, block, clock);
                }
            }
            if let Some(at) = started {
                // A full log loses the entry, never the music.
                let _ = self.started.push(Started {
                    voice: id,
                    frame,
                    at,
                    from,
                });
            }
        }
    }

    fn publish(&self) {
        for (index, slot) in self.voices.iter().enumerate() {
            let heard = slot.as_ref().and_then(Voice::heard);
            self.board.publish(index, heard);
        }
    }

    /// Hands the sounds of voices that are over to whoever frees them; a full queue waits.
    pub fn hand_back(&mut self) {
        for slot in &mut self.voices {
            if slot.as_ref().is_some_and(Voice::is_over)
                && self.returned.slots() > 0
                && let Some(voice) = slot.take()
            {
                let _ = self.returned.push(voice.into_sound());
            }
        }
    }
}

/// How far ducking goes in one frame: 1 is all the way.
fn duck_step(down: bool, rate: u32) -> f32 {
    let frames = |span: Span| (span.s() * f64::from(rate)) as f32;
    if down {
        1.0 / frames(DUCK_DOWN)
    } else {
        -1.0 / frames(DUCK_UP)
    }
}

/// The highest sample of each programme channel, without its sign.
fn programme_peaks(out: &[f32], channels: usize, (left, right): (usize, usize)) -> [f32; 2] {
    [left, right].map(|channel| {
        let frames = out.chunks_exact(channels);
        frames
            .filter_map(|frame| frame.get(channel))
            .fold(0.0, |peak, s| s.abs().max(peak))
    })
}

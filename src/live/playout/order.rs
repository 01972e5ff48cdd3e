//! What the mixer can be told to do.

use std::sync::Arc;

use super::clock::Monotonic;
use crate::sound::{Frame, Pcm, Rolling};
use crate::units::{Gain, Span};

/// Which pair of sockets a voice is heard on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bus {
    /// What the crowd hears.
    Programme,
    /// What only the technician hears: audition and scrub. Never ducked, and knock-it-off leaves it.
    Headphones,
}

/// What a voice plays.
#[derive(Debug, Clone)]
pub enum Sound {
    /// All of it is there; mono or stereo, of more channels the first two.
    Whole(Arc<Pcm>),
    /// It is made while it plays.
    Rolling(Arc<Rolling>),
}

impl From<Arc<Pcm>> for Sound {
    fn from(pcm: Arc<Pcm>) -> Sound {
        Sound::Whole(pcm)
    }
}

impl Sound {
    /// Frames a second.
    pub(super) fn rate(&self) -> u32 {
        match self {
            Sound::Whole(pcm) => pcm.rate.max(1),
            Sound::Rolling(rolling) => rolling.rate(),
        }
    }

    /// Left and right of a frame.
    pub(super) fn frame(&self, index: u64) -> Frame {
        match self {
            Sound::Whole(pcm) => whole_frame(pcm, index as usize),
            Sound::Rolling(rolling) => rolling.frame(index),
        }
    }
}

fn whole_frame(pcm: &Pcm, index: usize) -> Frame {
    let channels = usize::from(pcm.channels.max(1));
    let sample = |channel: usize| pcm.samples.get(index * channels + channel).copied();
    match (sample(0), if channels == 1 { sample(0) } else { sample(1) }) {
        (Some(left), Some(right)) => Frame::Is(left, right),
        _ => Frame::Over,
    }
}

/// A voice to be started: one playing of one track.
#[derive(Debug, Clone)]
pub struct Start {
    /// The number it is spoken of by. Starting a number again before it has begun replaces it;
    /// once it has begun, the old playing is faded out as the new one fades in.
    pub voice: u32,
    /// Its sound, at the output's rate.
    pub sound: Sound,
    /// Where it begins, counted as `begins` is.
    pub from: Span,
    /// Where the sound's own first frame is: zero for all of a track, later for what is rendered from there on.
    pub begins: Span,
    /// When that place is heard. If that is past it begins at once, where it should be by then.
    pub at: Monotonic,
    /// How long it takes to full level, at equal power.
    pub fade_in: Span,
    /// Its level.
    pub gain: Gain,
    /// How much lower it is while ducked; zero or more.
    pub duck: Gain,
    /// Where it is heard.
    pub bus: Bus,
}

/// What the mixer is told. Instants are those at which the crowd hears it.
#[derive(Debug, Clone)]
pub enum Order {
    /// Begins a voice.
    Start(Start),
    /// Fades a voice out at equal power, from `at` (at once if that is past), and ends it; one that
    /// would not have begun by then never does. A running fade is only ever cut shorter. The
    /// shortest fade is 5 ms, so that nothing clicks.
    Fade {
        voice: u32,
        at: Monotonic,
        over: Span,
    },
    /// Knock-it-off: fades every programme voice from now on, and no start ordered before this one
    /// happens any more.
    FadeAll { over: Span },
    /// Moves a voice's level, evenly in decibels, from now on.
    Gain { voice: u32, gain: Gain, over: Span },
    /// Lowers every programme voice by its own duck depth, or lets it up again.
    Duck { down: bool },
}

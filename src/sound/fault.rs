//! Why a sound file cannot be used.

use std::fmt;
use std::path::{Path, PathBuf};

use super::RATES;
use crate::units::Span;

/// A sound file that cannot be used: which, what is wrong with it, and what to do.
#[derive(Debug, Clone, PartialEq)]
pub struct SoundError {
    /// The file.
    pub path: PathBuf,
    /// What is wrong.
    pub problem: Problem,
}

/// What is wrong with a sound file.
#[derive(Debug, Clone, PartialEq)]
pub enum Problem {
    /// The operating system will not give it: its own words.
    Unreadable(String),
    /// It holds no sound of a known kind.
    NotSound,
    /// It holds sound of a kind that cannot be decoded: the decoder's words.
    Unsupported(String),
    /// Its rate, in frames a second, is none that sound files have.
    Rate(u32),
    /// It is a WAV file with 64-bit lengths (EBU Tech 3306, ITU-R BS.2088).
    LongWav,
    /// There is no sound in it.
    Empty,
    /// There is less in it than its own header says.
    CutShort {
        /// How much sound there is.
        has: Span,
        /// How much there should be.
        should: Span,
    },
    /// What it holds is broken: the decoder's words.
    Damaged(String),
}

impl SoundError {
    pub(super) fn new(path: &Path, problem: Problem) -> Self {
        SoundError {
            path: path.to_owned(),
            problem,
        }
    }
}

impl fmt::Display for SoundError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let path = self.path.display();
        match &self.problem {
            Problem::Unreadable(why) => {
                write!(f, "{path} cannot be read ({why}): check its name and place")
            }
            Problem::NotSound => write!(
                f,
                "{path} is not a sound file of a known kind: give a WAV, AIFF, FLAC, MP3, Ogg Vorbis, \
                 M4A (AAC or ALAC), CAF or MKV file"
            ),
            Problem::Unsupported(what) => write!(
                f,
                "{path} holds sound that cannot be decoded ({what}): convert it to WAV or FLAC"
            ),
            Problem::Rate(rate) => write!(
                f,
                "{path} is at {rate} Hz: give one from {} Hz to {} Hz, best 48000 Hz",
                RATES.start(),
                RATES.end()
            ),
            Problem::LongWav => write!(
                f,
                "{path} is a WAV file with 64-bit lengths, which cannot be read: convert it to FLAC"
            ),
            Problem::Empty => write!(
                f,
                "{path} holds no sound: export it again, or copy it again from where it came"
            ),
            Problem::CutShort { has, should } => write!(
                f,
                "{path} is cut short or damaged: only {} of {} can be decoded: copy it again from where it came",
                has.clock(2),
                should.clock(2)
            ),
            Problem::Damaged(what) => write!(
                f,
                "{path} is damaged ({what}): copy it again from where it came, or convert it to WAV"
            ),
        }
    }
}

impl std::error::Error for SoundError {}

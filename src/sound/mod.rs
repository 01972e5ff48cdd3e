//! Sound: what a track is and what leaves the desk.
//!
//! * [`decode`]: a file into samples; [`probe`]: what a file is.
//! * [`to_stereo`], [`to_rate`]: the same sound for another device.
//! * [`gauge`]: how loud it is and how high it peaks; [`gain_to`]: the gain to a level.
//! * [`Pulse`]: its tempo, beats and bars. [`landmarks`]: what begins in it besides, and where it could go round.
//! * [`survey`], [`kept_survey`]: all that is measured of a file, and the same kept from the last time.
//! * [`Overview`]: its outline, for drawing.
//! * [`Course`]: how it is played through, going round and bent; its [`Pace`].
//! * [`Rendering`]: it as a course has it; [`Rolling`]: what is rendered while it plays.
//! * [`mix`]: what leaves the desk for a file; [`timecode`]: the signal other machines follow it by.
//! * [`line_check()`]: the signal by which the lines to the loudspeakers are checked.
//! * [`Media`]: all of these, for a track that is to be played.

mod beats;
mod course;
mod decode;
mod edges;
mod fault;
mod gauge;
pub(crate) mod guard;
mod kept;
mod level;
mod line_check;
mod media;
pub mod mix;
mod overview;
mod pace;
mod pcm;
mod peak;
mod priming;
mod resample;
mod rolling;
mod source;
mod speakers;
mod stretch;
mod survey;
pub mod timecode;
mod unrolled;
mod vamps;

use std::ops::RangeInclusive;

pub use beats::{Landmarks, Pulse, landmarks};
pub use course::{Bend, Course, Join};
pub use decode::{TrackFacts, decode, gauge_through, probe, read_through};
pub use edges::Edges;
pub use fault::{Problem, SoundError};
pub use gauge::{Gauge, Gauger, gauge};
pub use kept::kept_survey;
pub use level::{CEILING, gain_to, held_by_peak};
pub use line_check::{Line, LineCheck, line_check};
pub use media::{Level, Media};
pub use overview::Overview;
pub use pace::Pace;
pub use pcm::Pcm;
pub use resample::to_rate;
pub use rolling::{Frame, Rolling};
pub use speakers::to_stereo;
pub use stretch::Rendering;
pub use survey::{Bar, Survey, survey, survey_pcm};
pub use vamps::Vamping;

/// Rates that sound files have, in frames a second; a header that gives another is broken.
const RATES: RangeInclusive<u32> = 4_000..=768_000;
/// The most channels a sound file has.
const MAX_CHANNELS: u16 = 32;

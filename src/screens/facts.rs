//! What a screen draws from, apart from the session: the clock on the wall and the audio desk.

use std::sync::Arc;

use jiff::civil;

use super::practice::PracticeFacts;
use crate::live::Session;
use crate::units::{Gain, Instant, Loudness, Span};

/// Everything one frame is drawn from.
#[derive(Clone, Copy)]
pub struct Scene<'a> {
    /// The running show, brought to the instant of the frame.
    pub session: &'a Session,
    /// The clock on the wall.
    pub clock: ClockFace,
    /// The audio desk.
    pub desk: &'a DeskFacts,
    /// What is really flown, while one practises.
    pub practice: Option<&'a PracticeFacts>,
}

/// The clock on the wall beside the show clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct ClockFace {
    /// What it says now; `None` where it is not known.
    pub time_of_day: Option<civil::Time>,
    /// What it says at show zero: by the document, or since the time hack; `None` before that.
    pub zero: Option<civil::Time>,
    /// How far it is behind the last time hack: times are told as the hack has them.
    pub behind: Span,
    /// Whether the show follows it, so that a time hack moves what hangs on the clock.
    pub is_followed: bool,
}

/// What leaves the audio desk, as far as it is known.
#[derive(Clone, Default)]
pub struct DeskFacts {
    /// Where it goes.
    pub output: Output,
    /// How often the output ran dry.
    pub underruns: u64,
    /// Peak level of each programme channel since the frame before, in dB below full scale; none
    /// where nothing is heard.
    pub meters: Vec<Gain>,
    /// How far what sounds together was taken down since then to stay below its ceiling.
    pub held: Gain,
    /// What somebody should know of journal, files and output, oldest first.
    pub warnings: Vec<String>,
    /// One for each track of the show.
    pub tracks: Vec<TrackFacts>,
}

/// Where the sound goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Output {
    /// To a device.
    Device {
        /// What the system calls it.
        name: String,
    },
    /// Nowhere: the show runs silent.
    Silent {
        /// Why.
        why: String,
    },
}

/// What is known of a track.
#[derive(Clone, Default)]
pub struct TrackFacts {
    /// How much of it is decoded, 0 to 1.
    pub loaded: f32,
    /// How long it is, once known.
    pub duration: Option<Span>,
    /// Its integrated loudness, once gauged.
    pub integrated: Option<Loudness>,
    /// Its true peak over full scale, once gauged.
    pub true_peak: Option<Gain>,
    /// What leaves the desk of it now, as a peak level; `None` when it is silent.
    pub played: Option<Gain>,
    /// Its outline, once there is any.
    pub outline: Option<Arc<dyn Outline>>,
}

/// The outline of a track, for drawing.
pub trait Outline: Send + Sync {
    /// The lowest and highest sample (full scale ±1) of each of `columns` equal parts of `from..until`.
    fn peaks(&self, from: Span, until: Span, columns: usize) -> Vec<(f32, f32)>;
}

impl Default for Output {
    fn default() -> Self {
        Output::Silent {
            why: "no output is open".into(),
        }
    }
}

const DAY_US: i64 = 86_400_000_000;

impl ClockFace {
    /// The time of day at an instant, `19:52:00`, with `places` decimals; the show clock where it is not known.
    pub fn text(&self, at: Instant, places: usize) -> String {
        let Some(zero) = self.zero else {
            return (at - Instant::ZERO).clock(places);
        };
        let unit = 10_i64.pow(6 - places.min(6) as u32);
        let us = us_of_day(zero).saturating_add((at + self.behind).us());
        let us = us.saturating_add(unit / 2).div_euclid(unit) * unit;
        day_text(us, places)
    }

    /// The time of day now, `19:44:12`.
    pub fn now_text(&self) -> Option<String> {
        let us = us_of_day(self.time_of_day?) + self.behind.us();
        Some(day_text(us, 0))
    }
}

pub(super) fn us_of_day(time: civil::Time) -> i64 {
    let seconds =
        i64::from(time.hour()) * 3600 + i64::from(time.minute()) * 60 + i64::from(time.second());
    seconds * 1_000_000 + i64::from(time.subsec_nanosecond()) / 1_000
}

pub(super) fn day_text(us: i64, places: usize) -> String {
    let us = us.rem_euclid(DAY_US);
    let (seconds, part) = (us / 1_000_000, us % 1_000_000);
    let text = format!(
        "{:02}:{:02}:{:02}",
        seconds / 3600,
        seconds / 60 % 60,
        seconds % 60
    );
    if places == 0 {
        return text;
    }
    let part = part / 10_i64.pow(6 - places.min(6) as u32);
    format!("{text}.{part:0places$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_times_carry_over_midnight_and_round() {
        let face = ClockFace {
            zero: Some(civil::time(23, 59, 30, 0)),
            ..ClockFace::default()
        };
        assert_eq!(face.text(Instant::from_s(45.0), 0), "00:00:15");
        assert_eq!(face.text(Instant::from_s(-31.0), 0), "23:58:59");
        assert_eq!(face.text(Instant::from_s(29.96), 1), "00:00:00.0");
        assert_eq!(face.text(Instant::from_s(0.26), 1), "23:59:30.3");
    }

    #[test]
    fn without_a_time_hack_times_are_on_the_show_clock() {
        let face = ClockFace::default();
        assert_eq!(face.text(Instant::from_s(-12.0), 0), "-0:12");
        assert_eq!(face.now_text(), None);
    }
}

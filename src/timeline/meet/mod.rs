//! The meet: how a track is started and played through so that its hit falls on an instant of flight.
//!
//! A meet is made by when the track starts, by the entry it starts from, by how many bars of its vamp come
//! again, and by a slight stretch, in that order.
//!
//! # What is the least change
//!
//! Whatever comes later in that order is used only for what is left over by all before it. Of the ways that
//! make a meet exactly, the one is chosen
//!
//! 1. that bends the music least: the rate nearest to 1;
//! 2. among those, with the fewest bars more or fewer than the document plans;
//! 3. among those, from the entry listed first.
//!
//! The start is free until it is fixed, and costs nothing. Where nothing makes it exactly, the least miss that
//! the document still counts as met (`within`) is taken, whatever it costs; where there is none, what
//! `if_missed` says is done:
//!
//! * `late`: nothing is bent, nor is anything played again for nothing: from the entry listed first, the hit
//!   comes late by as little as that allows. While it plays, a hit that can only come early is as in `nearest`;
//! * `nearest`: the least miss, however far it is bent;
//! * `fade`: it is not played; if it plays, it fades.
//!
//! * [`start`]: before it plays. [`playing`]: while it does. [`round`]: the bars that can come again.
//! * [`chances`]: which arrivals a meet can make.

pub mod chances;
pub mod playing;
pub mod round;
pub mod start;

use super::course;
use crate::show::{Meet, Track};
use crate::sound::Course;
use crate::units::{Instant, Span};

pub use round::Round;

/// A start is fixed this long before it sounds.
pub const LEAD: Span = Span::from_ms(500);
/// What is changed while a track plays takes effect this much later: until then it is fixed already.
pub const COMMIT: Span = Span::from_ms(750);
/// The rate changes over this.
pub const RAMP: Span = Span::from_ms(1_000);
/// A miss that is not worth bending music for.
pub const UNHEARD: Span = Span::from_ms(5);

/// What becomes of a meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Meeting {
    /// Where in the track it begins.
    pub entry: Span,
    /// When it begins.
    pub start: Instant,
    /// When the hit should fall.
    pub wanted: Instant,
    /// How much later than that it falls; negative is earlier.
    pub miss: Span,
    /// Whether that is within what the document allows.
    pub met: bool,
    /// Whether the track is left out because it would miss (`if_missed = "fade"`).
    pub left_out: bool,
    /// How many bars of its vamp come again, in all.
    pub rounds: u32,
    /// The rate it comes to: music played per time, 1 as written.
    pub rate: f64,
    /// From here on no more bars can be added or left out; `None` if none can ever.
    pub rounds_fixed_from: Option<Instant>,
    /// From here on the meet can no longer change.
    pub fixed_from: Instant,
}

/// A track, and the means it has to make its meet.
#[derive(Debug, Clone, Copy)]
pub struct Means<'a> {
    /// The track.
    pub track: &'a Track,
    /// Its meet.
    pub meet: &'a Meet,
    /// The bars that can come again before the hit.
    pub round: Option<Round>,
}

/// A way to play a track for its meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// When it starts.
    pub start: Instant,
    /// How it is played through.
    pub course: Course,
    /// Whether it would miss and is therefore not to be heard (`if_missed = "fade"`).
    pub left_out: bool,
}

impl<'a> Means<'a> {
    /// The means of `track`; `None` if it meets nothing.
    pub fn of(track: &'a Track) -> Option<Means<'a>> {
        let meet = track.meets.as_ref()?;
        let round = Round::of(track).filter(|round| round.to <= meet.hit_at);
        Some(Means { track, meet, round })
    }

    /// How it is played through from an entry, with so many bars of its vamp again; `None` where it does not
    /// come to the hit.
    fn played_from(&self, entry: Span, bars: u32) -> Option<(Course, Span)> {
        let course = course::from_entry(self.track, entry, &course::again(self.round, bars));
        let music = course.last_pass(self.meet.hit_at)? - entry;
        Some((course, music))
    }

    /// How much music there is from an entry to the hit, with the bars that are planned to come again; `None`
    /// where there is no way to it.
    pub fn music_from(&self, entry: Span) -> Option<Span> {
        let (_, music) = self.played_from(entry, self.planned_from(entry))?;
        Some(music)
    }

    /// How many bars are planned to come again after an entry.
    fn planned_from(&self, entry: Span) -> u32 {
        let round = self.round.filter(|round| entry < round.to);
        round.map_or(0, |round| round.planned)
    }

    /// The most and the least the rate may be.
    fn rates(&self) -> (f64, f64) {
        let most = self.track.stretch.whole();
        (1.0 - most, 1.0 + most)
    }

    /// What a track played so makes of its meet.
    pub fn meeting(&self, way: &Way, wanted: Instant) -> Meeting {
        let Way { start, course, .. } = way;
        let hit = course.reaches(self.meet.hit_at);
        let falls = *start + hit.unwrap_or(Span::ZERO);
        let miss = falls - wanted;
        let rounds_fixed_from = self.rounds_fixed_from(way);
        Meeting {
            entry: course.entry,
            start: *start,
            wanted,
            miss,
            met: miss.abs() <= self.meet.within,
            left_out: way.left_out,
            rounds: course.bars(),
            rate: course.last_rate(),
            rounds_fixed_from,
            fixed_from: if self.track.stretch.whole() > 0.0 {
                falls - COMMIT
            } else {
                rounds_fixed_from.unwrap_or(*start - LEAD)
            },
        }
    }

    /// When the music goes on past its vamp for good.
    fn rounds_fixed_from(&self, way: &Way) -> Option<Instant> {
        let last = way.course.reaches(self.round?.to)?;
        Some(way.start + last - COMMIT - playing::GUARD)
    }
}

#[cfg(test)]
mod tests;

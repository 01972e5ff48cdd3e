//! How a track is played through: where it begins, where it goes back to go round, how fast it goes.
//!
//! *Unrolled* places are those of the track with the bars that come again written out: they only grow.

use super::pace::Pace;
use crate::units::{Instant, Span};

/// A place where the music goes back: what follows `at` is what followed `at − back`. It may go forward as well,
/// past what is cut out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Join {
    /// Where it leaves, in the track.
    pub at: Span,
    /// How far it goes back from there; negative: forward.
    pub back: Span,
    /// How many bars that is.
    pub bars: u32,
}

impl Join {
    /// Where it goes on.
    pub fn goes_on(&self) -> Span {
        self.at - self.back
    }
}

/// A change of the rate, evenly over a while.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// When it begins, after the track's start.
    pub after: Span,
    /// The rate it comes to: music played per time, 1 as written.
    pub rate: f64,
    /// How long it takes to get there.
    pub over: Span,
}

/// How a track is played through.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Course {
    /// Where in the track it begins.
    pub entry: Span,
    /// Where it goes back, in order.
    pub joins: Vec<Join>,
    /// How its rate changes, in order of time; it begins at 1.
    pub bends: Vec<Bend>,
}

impl Course {
    /// As written, from `entry` on.
    pub fn plain(entry: Span) -> Course {
        Course {
            entry,
            ..Course::default()
        }
    }

    /// Whether it is the track as written, from its entry on.
    pub fn is_plain(&self) -> bool {
        self.joins.is_empty() && self.bends.is_empty()
    }

    /// How many bars it goes back in all.
    pub fn bars(&self) -> u32 {
        self.joins.iter().map(|join| join.bars).sum()
    }

    /// How many bars it still goes back from a moment after the start on.
    pub fn bars_after(&self, after: Span) -> u32 {
        let unrolled = self.unrolled_at(after);
        let ahead = self.unrolled_joins().filter(|(at, _)| *at > unrolled);
        ahead.map(|(_, join)| join.bars).sum()
    }

    /// The rate it comes to in the end.
    pub fn last_rate(&self) -> f64 {
        self.bends.last().map_or(1.0, |bend| bend.rate)
    }

    /// How its rate runs.
    pub fn pace(&self) -> Pace {
        Pace::of(&self.bends)
    }

    /// The unrolled place that is heard at a moment after the start.
    pub fn unrolled_at(&self, after: Span) -> Span {
        self.entry + Span::from_s(self.pace().music_at(after.s()))
    }

    /// When an unrolled place is heard, after the start.
    pub fn when(&self, unrolled: Span) -> Span {
        Span::from_s(self.pace().when((unrolled - self.entry).s()))
    }

    /// The place in the track that is heard at a moment after the start.
    pub fn place_at(&self, after: Span) -> Span {
        let unrolled = self.unrolled_at(after);
        let passed = self.unrolled_joins().take_while(|(at, _)| *at <= unrolled);
        unrolled - passed.map(|(_, join)| join.back).sum()
    }

    /// The last unrolled place at which a place of the track is heard; `None` if it is not passed.
    pub fn last_pass(&self, place: Span) -> Option<Span> {
        let mut unrolled = place + self.gone_back();
        let mut played_until = None;
        for join in self.joins.iter().rev() {
            if place >= join.goes_on() && played_until.is_none_or(|until| place <= until) {
                return Some(unrolled);
            }
            unrolled = unrolled - join.back;
            played_until = Some(join.at);
        }
        let played = place >= self.entry && played_until.is_none_or(|until| place <= until);
        played.then_some(unrolled)
    }

    /// When a place of the track is heard for the last time, after the start; `None` if it is not passed.
    pub fn reaches(&self, place: Span) -> Option<Span> {
        Some(self.when(self.last_pass(place)?))
    }

    /// Each join with its unrolled place.
    pub fn unrolled_joins(&self) -> impl Iterator<Item = (Span, &Join)> {
        let mut back = Span::ZERO;
        self.joins.iter().map(move |join| {
            let at = join.at + back;
            back += join.back;
            (at, join)
        })
    }

    /// How far it goes back in all.
    pub fn gone_back(&self) -> Span {
        self.joins.iter().map(|join| join.back).sum()
    }

    /// What of it is settled at a moment after the start: the joins passed by then, the bends begun.
    pub fn until(&self, after: Span) -> Course {
        let unrolled = self.unrolled_at(after);
        let passed = self.unrolled_joins().take_while(|(at, _)| *at <= unrolled);
        let begun = self.bends.iter().take_while(|bend| bend.after <= after);
        Course {
            entry: self.entry,
            joins: passed.map(|(_, join)| *join).collect(),
            bends: begun.copied().collect(),
        }
    }

    /// When the track is over, if it is `length` long and starts at `start`.
    pub fn ends(&self, start: Instant, length: Span) -> Instant {
        start + self.when((length + self.gone_back()).max(self.entry))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn s(s: f64) -> Span {
        Span::from_s(s)
    }

    /// Twice four bars of 2 s back at 20 s, then one.
    fn going_round() -> Course {
        let join = |bars: u32| Join {
            at: s(20.0),
            back: s(2.0 * f64::from(bars)),
            bars,
        };
        Course {
            joins: vec![join(4), join(4), join(1)],
            ..Course::plain(s(5.0))
        }
    }

    #[test]
    fn going_round_is_heard_where_it_was_before() {
        let course = going_round();
        for (after, place) in [
            (0.0, 5.0),
            (14.9, 19.9),
            (15.0, 12.0),
            (23.0, 12.0),
            (31.0, 18.0),
            (33.0, 20.0),
            (40.0, 27.0),
        ] {
            assert_eq!(course.place_at(s(after)), s(place), "after {after} s");
        }
        assert_eq!(course.bars(), 9);
        assert_eq!(course.bars_after(s(15.5)), 5);
        assert_eq!(course.reaches(s(30.0)), Some(s(43.0)));
        // The last time 14 s is heard is in the second round; 19 s comes once more after it.
        assert_eq!(course.reaches(s(14.0)), Some(s(25.0)));
        assert_eq!(course.reaches(s(19.0)), Some(s(32.0)));
        assert_eq!(course.reaches(s(6.0)), Some(s(1.0)));
        assert_eq!(course.reaches(s(4.0)), None);
        assert_eq!(course.until(s(24.0)).bars(), 8);
        assert_eq!(course.ends(Instant::ZERO, s(30.0)), Instant::from_s(43.0));
    }
}

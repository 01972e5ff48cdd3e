//! What comes again when its figure is flown again: each cue serves one flying after another.

use super::fold::{Fold, Saying};
use super::hooks::Time;
use super::music::Playing;
use super::score::{Spoken, Timed};
use crate::live::session::CueState;
use crate::timeline::Version;
use crate::units::Instant;

impl<'s> Fold<'s> {
    /// A block's times for the flying it serves.
    pub(super) fn spoken(&self, i: usize) -> &'s Spoken {
        &self.score.blocks[i][self.blocks[i].round]
    }

    /// A track's.
    pub(super) fn timed(&self, i: usize) -> &'s Timed {
        &self.score.tracks[i].flyings[self.tracks[i].round]
    }

    /// When a silence begins and is over.
    pub(super) fn silence(&self, i: usize) -> (&'s Time, &'s Time) {
        let (from, until) = &self.score.silences[i][self.silences[i]];
        (from, until)
    }

    /// A block that is over is for the next flying from now on; whether there is one.
    pub(super) fn block_comes_again(&mut self, i: usize) -> bool {
        let Saying { state, round, .. } = self.blocks[i];
        let again = state == CueState::Done && round + 1 < self.score.blocks[i].len();
        if again {
            self.versions[i] = Version::default();
            self.blocks[i] = Saying {
                round: round + 1,
                ..Saying::default()
            };
        }
        again
    }

    /// Whether a track comes again after the flying it serves. One that nobody starts never comes.
    pub(super) fn track_is_to_come_again(&self, i: usize) -> bool {
        let score = &self.score.tracks[i];
        score.by_itself && self.tracks[i].round + 1 < score.flyings.len()
    }

    /// A track is for the next flying from now on.
    pub(super) fn track_comes_again(&mut self, i: usize) {
        self.tracks[i] = Playing::serving(self.tracks[i].round + 1);
    }

    /// When a silence is over that comes again.
    pub(super) fn silence_over(&self, i: usize) -> Option<Instant> {
        let again = self.silences[i] + 1 < self.score.silences[i].len();
        let (from, until) = Some(self.silence(i)).filter(|_| again)?;
        Some(self.due(from).instant()?.max(self.due(until).instant()?))
    }

    /// A silence that is over is for the next flying from now on; whether there is one.
    pub(super) fn silence_comes_again(&mut self, i: usize) -> bool {
        let over = self.is_now(self.silence_over(i));
        self.silences[i] += usize::from(over);
        over
    }
}

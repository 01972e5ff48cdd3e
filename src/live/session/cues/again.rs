//! Cues whose figure is flown again, or not at all: what is over comes again, what is orphaned is dropped.

use super::{BlockCue, CallCue, SilenceCue, TrackCue};
use crate::live::session::{CueState, Session};
use crate::show::{Anchor, TimeExpression};
use crate::timeline::CueTime;
use crate::units::Instant;

impl Session {
    /// What is over, or hangs on what was broken off, and whose figure is flown again, is to come again:
    /// also where that was decided later.
    pub(super) fn block_comes_again(&mut self, i: usize) -> bool {
        let BlockCue { state, round, .. } = self.blocks[i];
        let starts = self.show.blocks[i].starts.as_ref();
        let orphaned = self.layout.blocks[i].starts == CueTime::Orphaned;
        let over = is_over(state, orphaned);
        if !over || !starts.is_some_and(|time| self.flies_again(time, round)) {
            return false;
        }
        self.blocks[i] = BlockCue {
            round: round + 1,
            ..BlockCue::default()
        };
        true
    }

    /// A track left out for one flying, or not started for it, is for that one only.
    pub(super) fn track_comes_again(&mut self, i: usize) -> bool {
        let cue = &self.tracks[i];
        let orphaned = self.layout.tracks[i].starts == CueTime::Orphaned;
        let for_this_one = cue.state == CueState::Dropped && !cue.orphaned;
        let over = is_over(cue.state, orphaned && cue.begun.is_none()) || for_this_one;
        let (round, gain) = (cue.round, cue.gain);
        let time = self.track_time(i);
        if !over || !time.is_some_and(|time| self.flies_again(time, round)) {
            return false;
        }
        self.tracks[i] = TrackCue {
            round: round + 1,
            gain,
            ..TrackCue::default()
        };
        true
    }

    /// What a track's time hangs on.
    fn track_time(&self, i: usize) -> Option<&TimeExpression> {
        let track = &self.show.tracks[i];
        let meet = track.meets.as_ref().map(|meet| &meet.on);
        meet.or(track.starts.as_ref())
    }

    /// When the flying a track serves ends, if its figure is flown again after it.
    pub(super) fn end_before_next(&self, i: usize) -> Option<Instant> {
        let round = self.tracks[i].round;
        let time = self.track_time(i)?;
        match &time.anchor {
            Anchor::Point { of, .. } if self.flies_again(time, round) => {
                Some(self.moments.figure(of, round)?.end())
            }
            _ => None,
        }
    }

    pub(super) fn call_comes_again(&mut self, i: usize) -> bool {
        let CallCue { state, round, .. } = self.calls[i];
        let over = is_over(state, self.layout.calls[i] == CueTime::Orphaned);
        if !over || !self.flies_again(&self.show.calls[i].when, round) {
            return false;
        }
        self.calls[i] = CallCue {
            round: round + 1,
            ..CallCue::default()
        };
        true
    }

    pub(super) fn silence_comes_again(&mut self, i: usize) -> bool {
        let SilenceCue { state, round } = self.silences[i];
        let (from, until) = self.layout.silences[i];
        let orphaned = from == CueTime::Orphaned || until == CueTime::Orphaned;
        let over = state == CueState::Done || orphaned;
        if !over || !self.flies_again(&self.show.silences[i].from, round) {
            return false;
        }
        self.silences[i] = SilenceCue {
            round: round + 1,
            ..SilenceCue::default()
        };
        true
    }

    /// A block whose figure is not flown is dropped, and comes back with it.
    pub(super) fn follow_block_orphan(&mut self, i: usize) -> bool {
        let orphaned = self.layout.blocks[i].starts == CueTime::Orphaned;
        let cue = &mut self.blocks[i];
        follow(&mut cue.state, &mut cue.orphaned, orphaned)
    }

    pub(super) fn follow_track_orphan(&mut self, i: usize) -> bool {
        let laid = &self.layout.tracks[i];
        let orphaned = laid.starts == CueTime::Orphaned;
        let still_misses = laid.meeting.is_none_or(|meeting| meeting.left_out);
        let cue = &mut self.tracks[i];
        // A mark that made a meet impossible may have been a mistake.
        if cue.left_out && !still_misses && cue.begun.is_none() {
            *cue = TrackCue {
                round: cue.round,
                gain: cue.gain,
                ..TrackCue::default()
            };
            return true;
        }
        cue.begun.is_none() && follow(&mut cue.state, &mut cue.orphaned, orphaned)
    }

    pub(super) fn follow_call_orphan(&mut self, i: usize) -> bool {
        let orphaned = self.layout.calls[i] == CueTime::Orphaned;
        let cue = &mut self.calls[i];
        follow(&mut cue.state, &mut cue.orphaned, orphaned)
    }

    /// Whether the figure a time depends on is flown again after its `round`th flying.
    fn flies_again(&self, time: &TimeExpression, round: usize) -> bool {
        match &time.anchor {
            Anchor::Point { of, .. } => self.moments.figure(of, round + 1).is_some(),
            Anchor::Show | Anchor::Clock(_) => false,
        }
    }
}

/// Whether a cue has nothing more to do for the flying it serves.
fn is_over(state: CueState, orphaned: bool) -> bool {
    state == CueState::Done || orphaned && state != CueState::Running
}

/// Drops a cue that is orphaned before it begins, and takes it up again; whether it moved.
fn follow(state: &mut CueState, was: &mut bool, orphaned: bool) -> bool {
    let next = match (*state, *was, orphaned) {
        (CueState::Ahead | CueState::Due, _, true) => CueState::Dropped,
        (CueState::Dropped, true, false) => CueState::Ahead,
        _ => return false,
    };
    *was = orphaned;
    *state = next;
    true
}

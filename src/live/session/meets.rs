//! Tracks that play and may still be turned: meets solved anew when what they meet moves, and vamps that go
//! round while the show is held up.

use super::{CueState, Session, TrackCue};
use crate::live::event::Act;
use crate::sound::Course;
use crate::timeline::Way;
use crate::timeline::meet::{COMMIT, Means, Round, UNHEARD, playing};
use crate::units::{Instant, Span};

/// A vamp goes round once more, decided this long before its end.
const DECIDED: Span = Span::from_ms(COMMIT.us() / 1_000 + 250);

impl Session {
    /// How a track that is fixed to start, or plays, is played through.
    pub(super) fn way(&self, i: usize) -> Option<Way> {
        let cue = &self.tracks[i];
        cue.begun.map(|(start, _)| Way {
            start,
            course: cue.course.clone(),
            left_out: false,
        })
    }

    /// Whether a track sounds or is fixed to, and nothing takes it away.
    fn sounds_on(&self, i: usize) -> bool {
        let cue = &self.tracks[i];
        cue.begun.is_some()
            && cue.fading.is_none()
            && matches!(cue.state, CueState::Due | CueState::Running)
    }

    /// When a playing track is to be looked at again by itself.
    pub(super) fn turn_deadline(&self, i: usize) -> Option<Instant> {
        if self.tracks[i].vamping {
            return self.goes_round_at(i);
        }
        let settled = self.tracks[i].settled?;
        (self.wants_to_turn(i) && settled > self.now).then_some(settled)
    }

    /// Turns a playing track so that its hit falls where it is wanted now, each change of that once; or lets it
    /// go round. Whether it turned.
    pub(super) fn follow_meet(&mut self, i: usize) -> bool {
        if self.tracks[i].vamping {
            return self.goes_round_at(i).is_some_and(|at| at <= self.now) && self.go_round(i);
        }
        if !self.can_turn(i) || !self.wants_to_turn(i) {
            return false;
        }
        let (Some(meeting), Some(way)) = (self.layout.tracks[i].meeting, self.way(i)) else {
            return false;
        };
        self.tracks[i].met_for = Some((meeting.wanted, self.happened));
        let show = self.show.clone();
        let Some(means) = Means::of(&show.tracks[i]).filter(|_| meeting.miss.abs() > UNHEARD)
        else {
            return false;
        };
        let Some(turned) = playing::solve(&means, &way, meeting.wanted, self.now + COMMIT) else {
            return false;
        };
        let closed = meeting
            .rounds_fixed_from
            .is_none_or(|from| from <= self.now);
        if turned.left_out && closed {
            self.notice(format!(
                "\"{}\" misses its meet and fades",
                show.tracks[i].id
            ));
            self.fade_sounding(i);
            return true;
        }
        self.turn(i, turned.course)
    }

    /// Whether another turn may be ordered: one at a time where only time passes, but at once after what somebody did.
    /// A turn still on its way is kept as far as it takes effect before the new one.
    fn can_turn(&self, i: usize) -> bool {
        let TrackCue {
            settled, met_for, ..
        } = self.tracks[i];
        settled.is_none_or(|at| at <= self.now)
            || met_for.is_some_and(|(_, happened)| happened != self.happened)
    }

    /// Whether what a playing track meets has moved since it was last looked at. Once nothing but the rate is left
    /// to change, only for what somebody did: that an aircraft on time has not been seen yet moves the estimate
    /// a little in its last seconds, and is not worth bending the music for.
    fn wants_to_turn(&self, i: usize) -> bool {
        let Some(meeting) = self.layout.tracks[i].meeting.filter(|_| self.sounds_on(i)) else {
            return false;
        };
        let open = meeting
            .rounds_fixed_from
            .is_some_and(|from| from > self.now);
        match self.tracks[i].met_for {
            None => true,
            Some((wanted, happened)) => {
                meeting.wanted != wanted && (open || happened != self.happened)
            }
        }
    }

    /// A playing track goes on another way from a little later on; whether that is another.
    fn turn(&mut self, i: usize, course: Course) -> bool {
        if course == self.tracks[i].course {
            return false;
        }
        let commit = self.now + COMMIT;
        self.tracks[i].course = course.clone();
        self.tracks[i].settled = Some(commit);
        self.emit(commit, Act::Turn { track: i, course });
        true
    }

    /// Held up: a track that can goes round from now on; whether it can.
    pub(super) fn vamp(&mut self, i: usize) -> bool {
        self.tracks[i].vamping = true;
        let can = self.sounds_on(i) && self.goes_round_at(i).is_some_and(|at| at > self.now);
        self.tracks[i].vamping = can;
        can
    }

    /// Whether a track goes round by itself until it is to end.
    pub(super) fn is_looped(&self, i: usize) -> bool {
        self.show.tracks[i].looped.is_some() && self.sounds_on(i)
    }

    /// Goes on: what went round is left for good, or meets again.
    pub(super) fn leave_vamps(&mut self) {
        for i in 0..self.tracks.len() {
            if !std::mem::take(&mut self.tracks[i].vamping) {
                continue;
            }
            self.tracks[i].met_for = None;
            if let Some(way) = self.way(i) {
                let track = &self.show.tracks[i];
                let way = playing::straight_on(track, &way, self.now + COMMIT);
                self.turn(i, way.course);
            }
        }
    }

    /// When a track that goes round must be sent back once more.
    fn goes_round_at(&self, i: usize) -> Option<Instant> {
        let round = Round::of(&self.show.tracks[i])?;
        let way = self.way(i).filter(|_| self.sounds_on(i))?;
        Some(way.start + way.course.reaches(round.to)? - DECIDED)
    }

    fn go_round(&mut self, i: usize) -> bool {
        let round = Round::of(&self.show.tracks[i]);
        let (Some(round), Some(way)) = (round, self.way(i)) else {
            return false;
        };
        let once_more = playing::once_more(&round, &way, self.now + COMMIT);
        once_more.is_some_and(|way| self.turn(i, way.course))
    }
}

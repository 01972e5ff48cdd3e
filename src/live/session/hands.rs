//! Hands on the cues: words begun and ended, tracks started and faded, music ducked.

use super::{CueState, Mode, Session};
use crate::live::event::Act;
use crate::show::{Anchor, DelayMusic, Meet, Name};
use crate::sound::Course;
use crate::units::{Instant, Span};

/// The shortest fade of a track that must go out unplanned.
pub(crate) const SHORTEST_FADE: Span = Span::from_ms(2_000);
/// How long the music stays down after words, so that it does not come up between two blocks close to each other
/// (common practice, no published source).
pub const DUCK_HOLD: Span = Span::from_ms(800);

impl Session {
    pub(super) fn begin_block(&mut self, id: &Name) {
        let Some(i) = self.show.blocks.iter().position(|block| block.id == *id) else {
            return;
        };
        let hidden = matches!(self.mode, Mode::Accident { .. });
        if hidden || self.blocks[i].state == CueState::Running {
            return;
        }
        self.end_block();
        let cue = &mut self.blocks[i];
        cue.state = CueState::Running;
        cue.since = Some(self.now);
        // It may have been said before.
        (cue.ended, cue.version, cue.read) = (None, None, None);
        // Begun late, the full text may fit no more.
        self.lay();
        self.blocks[i].version = Some(self.layout.blocks[i].version);
    }

    pub(super) fn end_block(&mut self) {
        if let Some(i) = self
            .blocks
            .iter()
            .position(|b| b.state == CueState::Running)
        {
            self.blocks[i].state = CueState::Done;
            self.blocks[i].ended = Some(self.now);
            self.lay();
        }
    }

    pub(super) fn skip_block(&mut self, id: &Name) {
        if let Some(i) = self.show.blocks.iter().position(|block| block.id == *id)
            && matches!(self.blocks[i].state, CueState::Ahead | CueState::Due)
        {
            self.blocks[i].state = CueState::Done;
            self.lay();
        }
    }

    pub(super) fn start_by_hand(&mut self, id: &Name) {
        let Some(i) = self.show.tracks.iter().position(|track| track.id == *id) else {
            return;
        };
        let blocked = !matches!(self.mode, Mode::Running | Mode::Delayed(_));
        // One that is fixed to start within the next half second is as good as started.
        let fixed = self.tracks[i].state == CueState::Due && self.tracks[i].begun.is_some();
        if blocked || fixed || self.tracks[i].state == CueState::Running {
            return;
        }
        let course = self.layout.tracks[i].course.clone();
        self.tracks[i].fading = None;
        self.begin_track(i, self.now, course);
        self.tracks[i].state = CueState::Running;
        self.lay();
    }

    /// Fixes a track's start and sends it.
    pub(super) fn begin_track(&mut self, i: usize, start: Instant, course: Course) {
        let (entry, fade_in) = (course.entry, self.show.tracks[i].fade_in);
        let cue = &mut self.tracks[i];
        cue.begun = Some((start, entry));
        cue.course = course.clone();
        (cue.settled, cue.met_for, cue.vamping) = (None, None, false);
        self.emit(
            start,
            Act::Start {
                track: i,
                entry,
                fade_in,
                course,
            },
        );
    }

    pub(super) fn fade_by_hand(&mut self, id: &Name) {
        if let Some(i) = self.show.tracks.iter().position(|track| track.id == *id) {
            self.fade_sounding(i);
        }
    }

    /// Lets what sounds or is fixed to go round or fade, but for music that meets a figure still being flown.
    pub(super) fn hold_music_up(&mut self, how: DelayMusic) {
        for i in 0..self.tracks.len() {
            let goes_round = |session: &mut Session| {
                how == DelayMusic::Vamp && (session.is_looped(i) || session.vamp(i))
            };
            if !self.meets_present_figure(i) && !goes_round(self) {
                self.fade_sounding(i);
            }
        }
    }

    fn meets_present_figure(&self, i: usize) -> bool {
        let Some(Meet { on, .. }) = &self.show.tracks[i].meets else {
            return false;
        };
        let Anchor::Point { of, .. } = &on.anchor else {
            return false;
        };
        let Some(times) = self.moments.figure(of, self.tracks[i].round) else {
            return false;
        };
        !times.held && self.now < times.end()
    }

    pub(super) fn fade_sounding(&mut self, i: usize) {
        let cue = &self.tracks[i];
        let sounds = cue.begun.is_some() && matches!(cue.state, CueState::Due | CueState::Running);
        if sounds && cue.fading.is_none() {
            self.fade_track(i, self.show.tracks[i].fade_out.max(SHORTEST_FADE));
        }
    }

    pub(super) fn fade_track(&mut self, i: usize, over: Span) {
        self.tracks[i].state = CueState::Running;
        self.tracks[i].fading = Some((self.now, over));
        self.emit(self.now, Act::Fade { track: i, over });
    }

    /// Everything that sounds is over within `over`; the effect is the caller's.
    pub(super) fn stop_tracks(&mut self, over: Span) {
        for cue in &mut self.tracks {
            if cue.begun.is_some() && matches!(cue.state, CueState::Due | CueState::Running) {
                cue.state = CueState::Running;
                let sooner = cue
                    .fading
                    .map_or(over, |(from, span)| over.min(from + span - self.now));
                cue.fading = Some((self.now, sooner));
            }
        }
    }

    /// Music is down while a block is being said, a moment longer, and while the key is latched.
    pub(super) fn follow_duck(&mut self) {
        let said = self.blocks.iter().any(|b| b.state == CueState::Running);
        let held = self.duck_deadline().is_some_and(|until| self.now < until);
        let down = self.duck_latched || said || held;
        if down != self.ducked {
            self.ducked = down;
            self.emit(self.now, Act::Duck { down });
        }
    }

    /// Until when music that is down stays so after the last words.
    pub(super) fn duck_deadline(&self) -> Option<Instant> {
        let ended = self.blocks.iter().filter_map(|block| block.ended).max()?;
        self.ducked.then_some(ended + DUCK_HOLD)
    }
}

//! Cues: blocks, tracks, calls, silences; how each goes from ahead to done.

use super::{CueState, LEAD, Session};
use crate::live::event::Act;
use crate::show::{Anchor, Go, Name, TimeExpression};
use crate::timeline::{CueTime, Version};
use crate::units::{Gain, Instant, Span};

/// A call is announced this long before its instant.
const CALL_NOTICE: Span = Span::from_ms(5_000);
/// A call stays up this long after its instant.
const CALL_SHOWN: Span = Span::from_ms(3_000);
/// A block nobody began stays up this long after it should have ended.
const BLOCK_GRACE: Span = Span::from_ms(5_000);
/// The shortest fade of a track that must go out unplanned.
const SHORTEST_FADE: Span = Span::from_ms(2_000);

/// A block in the running show.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BlockCue {
    /// What it is doing.
    pub state: CueState,
    /// Which flying of its figure it serves, from 0.
    pub round: usize,
    /// When the narrator began it.
    pub since: Option<Instant>,
    /// Which words, once begun.
    pub version: Option<Version>,
    /// Whether it is dropped only because its figure is not flown.
    orphaned: bool,
}

/// A track in the running show.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackCue {
    /// What it is doing.
    pub state: CueState,
    /// Which flying of its figure it serves, from 0.
    pub round: usize,
    /// When it started or is fixed to start, and where in the track.
    pub begun: Option<(Instant, Span)>,
    /// When it began to go out, and over how long.
    pub fading: Option<(Instant, Span)>,
    /// On top of its planned level.
    pub gain: Gain,
    /// Whether it is dropped only because its figure is not flown.
    orphaned: bool,
}

impl Default for TrackCue {
    fn default() -> Self {
        TrackCue {
            state: CueState::Ahead,
            round: 0,
            begun: None,
            fading: None,
            gain: Gain::ZERO,
            orphaned: false,
        }
    }
}

/// A call in the running show.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct CallCue {
    /// What it is doing.
    pub state: CueState,
    /// Which flying of its figure it serves, from 0.
    pub round: usize,
    /// When its instant came.
    pub since: Option<Instant>,
    /// Whether it is dropped only because its figure is not flown.
    orphaned: bool,
}

/// A silence in the running show.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SilenceCue {
    /// What it is doing.
    pub state: CueState,
    /// Which flying of its figure it serves, from 0.
    pub round: usize,
}

impl Session {
    /// Every instant at which a cue moves by itself, as things stand.
    pub(super) fn cue_deadlines(&self) -> impl Iterator<Item = Instant> {
        let blocks = (0..self.blocks.len()).filter_map(|i| self.block_deadline(i));
        let tracks = (0..self.tracks.len()).filter_map(|i| self.track_deadline(i));
        let calls = (0..self.calls.len()).filter_map(|i| self.call_deadline(i));
        let silences = (0..self.silences.len()).filter_map(|i| self.silence_deadline(i));
        blocks.chain(tracks).chain(calls).chain(silences)
    }

    /// Moves every cue whose instant has come by one state; whether any moved.
    pub(super) fn move_cues(&mut self) -> bool {
        let mut moved = false;
        for i in 0..self.blocks.len() {
            moved |= is_due(self.block_deadline(i), self.now) && self.move_block(i);
            moved |= self.follow_block_orphan(i);
        }
        for i in 0..self.tracks.len() {
            moved |= is_due(self.track_deadline(i), self.now) && self.move_track(i);
            moved |= self.follow_track_orphan(i);
        }
        for i in 0..self.calls.len() {
            moved |= is_due(self.call_deadline(i), self.now) && self.move_call(i);
            moved |= self.follow_call_orphan(i);
        }
        for i in 0..self.silences.len() {
            moved |= is_due(self.silence_deadline(i), self.now) && self.move_silence(i);
        }
        moved
    }

    fn block_deadline(&self, i: usize) -> Option<Instant> {
        let laid = &self.layout.blocks[i];
        match self.blocks[i].state {
            CueState::Ahead => laid.starts.instant(),
            CueState::Due => laid.ends.map(|end| end + BLOCK_GRACE),
            // A block being said ends when the narrator says so.
            CueState::Running | CueState::Done | CueState::Dropped => None,
        }
    }

    fn move_block(&mut self, i: usize) -> bool {
        match self.blocks[i].state {
            CueState::Ahead => self.blocks[i].state = CueState::Due,
            CueState::Due => {
                self.notice(format!("\"{}\" was not begun", self.show.blocks[i].id));
                self.block_over(i);
            }
            _ => return false,
        }
        true
    }

    fn track_deadline(&self, i: usize) -> Option<Instant> {
        let laid = &self.layout.tracks[i];
        let cue = &self.tracks[i];
        match cue.state {
            CueState::Ahead => laid.starts.instant().map(|start| start - LEAD),
            CueState::Due => match cue.begun {
                Some((start, _)) => Some(start),
                // Waiting for a hand: when it would be over there is nothing left to start.
                None => laid.ends,
            },
            CueState::Running => match cue.fading {
                Some((from, over)) => Some(from + over),
                None => laid.fades.or(laid.ends),
            },
            CueState::Done | CueState::Dropped => None,
        }
    }

    fn move_track(&mut self, i: usize) -> bool {
        let cue = &self.tracks[i];
        let laid = self.layout.tracks[i];
        match (cue.state, cue.begun) {
            (CueState::Ahead, _) => {
                if laid.meeting.is_some_and(|meeting| meeting.left_out) {
                    self.tracks[i].state = CueState::Dropped;
                    self.notice(format!(
                        "\"{}\" would miss its meet and is left out",
                        self.show.tracks[i].id
                    ));
                    return true;
                }
                self.tracks[i].state = CueState::Due;
                let by_itself = self.armed && self.show.tracks[i].go == Go::Auto;
                if let (true, CueTime::At(start)) = (by_itself, laid.starts) {
                    self.begin_track(i, start.max(self.now), laid.entry);
                }
            }
            (CueState::Due, Some(_)) => self.tracks[i].state = CueState::Running,
            (CueState::Due, None) => {
                self.notice(format!("\"{}\" was not started", self.show.tracks[i].id));
                self.tracks[i].state = CueState::Dropped;
            }
            (CueState::Running, _) => self.run_out(i, laid.fades),
            (CueState::Done | CueState::Dropped, _) => return false,
        }
        true
    }

    /// A playing track whose fade or end has come.
    fn run_out(&mut self, i: usize, fades: Option<Instant>) {
        if self.tracks[i].fading.is_none() && fades.is_some() {
            return self.fade_track(i, self.show.tracks[i].fade_out);
        }
        self.track_over(i);
    }

    fn call_deadline(&self, i: usize) -> Option<Instant> {
        let at = self.layout.calls[i].instant();
        match self.calls[i].state {
            CueState::Ahead => at.map(|at| at - CALL_NOTICE),
            CueState::Due => at,
            CueState::Running => self.calls[i].since.map(|since| since + CALL_SHOWN),
            CueState::Done | CueState::Dropped => None,
        }
    }

    fn move_call(&mut self, i: usize) -> bool {
        match self.calls[i].state {
            CueState::Ahead => self.calls[i].state = CueState::Due,
            CueState::Due => {
                self.calls[i].state = CueState::Running;
                self.calls[i].since = Some(self.now);
                self.emit(self.now, Act::Call { call: i });
            }
            CueState::Running => {
                let round = self.calls[i].round;
                self.calls[i].state = CueState::Done;
                if self.flies_again(&self.show.calls[i].when, round) {
                    self.calls[i] = CallCue {
                        round: round + 1,
                        ..CallCue::default()
                    };
                }
            }
            _ => return false,
        }
        true
    }

    fn silence_deadline(&self, i: usize) -> Option<Instant> {
        let (from, until) = self.layout.silences[i];
        match self.silences[i].state {
            CueState::Ahead => from.instant(),
            CueState::Running => until.instant(),
            _ => None,
        }
    }

    fn move_silence(&mut self, i: usize) -> bool {
        let cue = &mut self.silences[i];
        match cue.state {
            CueState::Ahead => cue.state = CueState::Running,
            CueState::Running => {
                let round = cue.round;
                cue.state = CueState::Done;
                if self.flies_again(&self.show.silences[i].from, round) {
                    self.silences[i] = SilenceCue {
                        round: round + 1,
                        ..SilenceCue::default()
                    };
                }
            }
            _ => return false,
        }
        true
    }

    /// A block whose figure is not flown is dropped, and comes back with it.
    fn follow_block_orphan(&mut self, i: usize) -> bool {
        let orphaned = self.layout.blocks[i].starts == CueTime::Orphaned;
        let cue = &mut self.blocks[i];
        follow(&mut cue.state, &mut cue.orphaned, orphaned)
    }

    fn follow_track_orphan(&mut self, i: usize) -> bool {
        let orphaned = self.layout.tracks[i].starts == CueTime::Orphaned;
        let cue = &mut self.tracks[i];
        cue.begun.is_none() && follow(&mut cue.state, &mut cue.orphaned, orphaned)
    }

    fn follow_call_orphan(&mut self, i: usize) -> bool {
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

    pub(super) fn begin_block(&mut self, id: &Name) {
        let Some(i) = self.show.blocks.iter().position(|block| block.id == *id) else {
            return;
        };
        let hidden = matches!(self.mode, super::Mode::Accident { .. });
        if hidden || self.blocks[i].state == CueState::Running {
            return;
        }
        self.end_block();
        let version = self.layout.blocks[i].version;
        let cue = &mut self.blocks[i];
        cue.state = CueState::Running;
        cue.since = Some(self.now);
        cue.version = Some(version);
        self.lay();
    }

    pub(super) fn end_block(&mut self) {
        if let Some(i) = self
            .blocks
            .iter()
            .position(|b| b.state == CueState::Running)
        {
            self.block_over(i);
            self.lay();
        }
    }

    pub(super) fn skip_block(&mut self, id: &Name) {
        if let Some(i) = self.show.blocks.iter().position(|block| block.id == *id)
            && matches!(self.blocks[i].state, CueState::Ahead | CueState::Due)
        {
            self.block_over(i);
            self.lay();
        }
    }

    fn block_over(&mut self, i: usize) {
        let round = self.blocks[i].round;
        let again = self.show.blocks[i]
            .starts
            .as_ref()
            .is_some_and(|starts| self.flies_again(starts, round));
        if again {
            self.blocks[i] = BlockCue {
                round: round + 1,
                ..BlockCue::default()
            };
        } else {
            self.blocks[i].state = CueState::Done;
        }
    }

    pub(super) fn start_by_hand(&mut self, id: &Name) {
        let Some(i) = self.show.tracks.iter().position(|track| track.id == *id) else {
            return;
        };
        let blocked = matches!(
            self.mode,
            super::Mode::KnockedOff(_) | super::Mode::Accident { .. }
        );
        let cue = &self.tracks[i];
        // One that is fixed to start comes within half a second, and once.
        let comes = cue.state == CueState::Due && cue.begun.is_some();
        if blocked || comes || cue.state == CueState::Running {
            return;
        }
        let entry = self.layout.tracks[i].entry;
        self.tracks[i].fading = None;
        self.begin_track(i, self.now, entry);
        self.tracks[i].state = CueState::Running;
        self.lay();
    }

    /// Fixes a track's start and sends it.
    fn begin_track(&mut self, i: usize, start: Instant, entry: Span) {
        self.tracks[i].begun = Some((start, entry));
        let fade_in = self.show.tracks[i].fade_in;
        self.emit(
            start,
            Act::Start {
                track: i,
                entry,
                fade_in,
            },
        );
    }

    pub(super) fn fade_by_hand(&mut self, id: &Name) {
        if let Some(i) = self.show.tracks.iter().position(|track| track.id == *id) {
            self.fade_sounding(i);
        }
    }

    /// Fades every track that sounds or is fixed to.
    pub(super) fn fade_running(&mut self) {
        for i in 0..self.tracks.len() {
            self.fade_sounding(i);
        }
    }

    fn fade_sounding(&mut self, i: usize) {
        let cue = &self.tracks[i];
        let sounds = cue.begun.is_some() && matches!(cue.state, CueState::Due | CueState::Running);
        if sounds && cue.fading.is_none() {
            self.fade_track(i, self.show.tracks[i].fade_out.max(SHORTEST_FADE));
        }
    }

    fn fade_track(&mut self, i: usize, over: Span) {
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

    fn track_over(&mut self, i: usize) {
        let track = &self.show.tracks[i];
        let round = self.tracks[i].round;
        let time = track
            .meets
            .as_ref()
            .map(|meet| &meet.on)
            .or(track.starts.as_ref());
        let gain = self.tracks[i].gain;
        if time.is_some_and(|time| self.flies_again(time, round)) {
            self.tracks[i] = TrackCue {
                round: round + 1,
                gain,
                ..TrackCue::default()
            };
        } else {
            self.tracks[i].state = CueState::Done;
        }
    }

    /// Music is down while a block is being said or the key is latched.
    pub(super) fn follow_duck(&mut self) {
        let down = self.duck_latched || self.blocks.iter().any(|b| b.state == CueState::Running);
        if down != self.ducked {
            self.ducked = down;
            self.emit(self.now, Act::Duck { down });
        }
    }
}

fn is_due(deadline: Option<Instant>, now: Instant) -> bool {
    deadline.is_some_and(|deadline| deadline <= now)
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

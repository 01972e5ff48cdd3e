//! Cues: blocks, tracks, calls, silences; how each goes from ahead to done.

mod again;

use super::reading::Keyed;
use super::{CueState, LEAD, Mode, Session};
use crate::live::event::Act;
use crate::show::Go;
use crate::sound::Course;
use crate::timeline::{CueTime, Version};
use crate::units::{Gain, Instant, Span};

/// A call is announced this long before its instant.
const CALL_NOTICE: Span = Span::from_ms(5_000);
/// A call stays up this long after its instant.
const CALL_SHOWN: Span = Span::from_ms(3_000);
/// A block nobody began stays up this long after it should have ended.
pub(crate) const BLOCK_GRACE: Span = Span::from_ms(5_000);

/// A block in the running show.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct BlockCue {
    /// What it is doing.
    pub state: CueState,
    /// Which flying of its figure it serves, from 0.
    pub round: usize,
    /// When the narrator began it.
    pub since: Option<Instant>,
    /// When the narrator ended it.
    pub ended: Option<Instant>,
    /// Which words, once begun.
    pub version: Option<Version>,
    /// When its words were last changed.
    pub reworded: Option<Instant>,
    /// The phrase a key last put the reader at, and when.
    pub(super) read: Option<Keyed>,
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
    /// How it is played through.
    pub course: Course,
    /// Until then no change of that can take effect: one is on its way.
    pub(super) settled: Option<Instant>,
    /// The instant its hit was last turned to, and how much had happened by then.
    pub(super) met_for: Option<(Instant, u64)>,
    /// Whether it goes round until the show goes on.
    pub vamping: bool,
    /// When it began to go out, and over how long.
    pub fading: Option<(Instant, Span)>,
    /// On top of its planned level.
    pub gain: Gain,
    /// Whether it is dropped because it would miss its meet.
    left_out: bool,
    /// Whether it is dropped only because its figure is not flown.
    orphaned: bool,
}

impl Default for TrackCue {
    fn default() -> Self {
        TrackCue {
            state: CueState::Ahead,
            round: 0,
            begun: None,
            course: Course::default(),
            settled: None,
            met_for: None,
            vamping: false,
            fading: None,
            gain: Gain::ZERO,
            left_out: false,
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
        let turns = (0..self.tracks.len()).filter_map(|i| self.turn_deadline(i));
        let calls = (0..self.calls.len()).filter_map(|i| self.call_deadline(i));
        let silences = (0..self.silences.len()).filter_map(|i| self.silence_deadline(i));
        blocks
            .chain(tracks)
            .chain(turns)
            .chain(calls)
            .chain(silences)
            .chain(self.duck_deadline())
    }

    /// Moves every cue whose instant has come by one state; whether any moved.
    pub(super) fn move_cues(&mut self) -> bool {
        let mut moved = false;
        for i in 0..self.blocks.len() {
            moved |= is_due(self.block_deadline(i), self.now) && self.move_block(i);
            moved |= self.follow_block_orphan(i);
            moved |= self.block_comes_again(i);
        }
        for i in 0..self.tracks.len() {
            moved |= is_due(self.track_deadline(i), self.now) && self.move_track(i);
            moved |= self.follow_track_orphan(i);
            moved |= self.track_comes_again(i);
            moved |= self.follow_meet(i);
        }
        for i in 0..self.calls.len() {
            moved |= is_due(self.call_deadline(i), self.now) && self.move_call(i);
            moved |= self.follow_call_orphan(i);
            moved |= self.call_comes_again(i);
        }
        for i in 0..self.silences.len() {
            moved |= is_due(self.silence_deadline(i), self.now) && self.move_silence(i);
            moved |= self.silence_comes_again(i);
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
            CueState::Ahead if self.layout.blocks[i].version == Version::LeftOut => {
                self.notice(format!("\"{}\" is left out", self.show.blocks[i].id));
                self.blocks[i].state = CueState::Done;
            }
            CueState::Ahead => self.blocks[i].state = CueState::Due,
            CueState::Due => {
                self.notice(format!("\"{}\" was not begun", self.show.blocks[i].id));
                self.blocks[i].state = CueState::Done;
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
                // Waiting for a hand: as long as there is something left to start, and not into the next flying.
                None => self.end_before_next(i).or(laid.ends),
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
        let laid = &self.layout.tracks[i];
        match (cue.state, cue.begun) {
            (CueState::Ahead, _) => {
                if laid.meeting.is_some_and(|meeting| meeting.left_out) {
                    self.tracks[i].state = CueState::Dropped;
                    self.tracks[i].left_out = true;
                    self.notice(format!(
                        "\"{}\" would miss its meet and is left out",
                        self.show.tracks[i].id
                    ));
                    return true;
                }
                self.tracks[i].state = CueState::Due;
                let armed = self.armed && !matches!(self.mode, Mode::Halted(..));
                let by_itself = armed && self.show.tracks[i].go == Go::Auto;
                if let (true, CueTime::At(start)) = (by_itself, laid.starts) {
                    let course = laid.course.clone();
                    self.begin_track(i, start.max(self.now), course);
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
        self.tracks[i].state = CueState::Done;
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
            CueState::Running => self.calls[i].state = CueState::Done,
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
            CueState::Running => cue.state = CueState::Done,
            _ => return false,
        }
        true
    }
}

fn is_due(deadline: Option<Instant>, now: Instant) -> bool {
    deadline.is_some_and(|deadline| deadline <= now)
}

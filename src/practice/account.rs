//! What came of a practice, in figures: each meet and how it was made, each block and what was left, the marks, and
//! what one of them would have changed.

use super::hindsight::{Advice, advice, fold};
use super::outcome::{BlockOutcome, MeetOutcome, Played};
use super::sky::{Seen, Sky};
use crate::live::Event;
use crate::units::{Instant, Span};

/// A part of a show that was practised.
#[derive(Debug, Clone, Copy)]
pub struct Practised<'a> {
    /// What was really flown.
    pub sky: &'a Sky,
    /// Everything that happened.
    pub past: &'a [Event],
    /// From when on somebody practised; before that the simulator did.
    pub from: Instant,
    /// Until when.
    pub until: Instant,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// What was to be met.
    pub meets: Vec<Met>,
    /// Blocks that were due.
    pub blocks: Vec<BlockOutcome>,
    /// What was to be seen and marked, oldest first.
    pub seen: Vec<Seen>,
}

/// What came of a meet.
#[derive(Debug, Clone, PartialEq)]
pub struct Met {
    /// When what it meets was, and its hit.
    pub outcome: MeetOutcome,
    /// How late what it meets was on the plan; `None` where the plan has it nowhere.
    pub late: Option<Span>,
    /// How its track was played, if it was.
    pub played: Option<Played>,
    /// The mark that would have brought it nearest.
    pub advice: Option<Advice>,
}

impl Practised<'_> {
    /// What came of it.
    pub fn account(&self) -> Account {
        let run = fold(self.sky, self.past, self.until);
        let within = |at: Instant| self.from <= at && at <= self.until;
        let meets = run.outcome.meets.iter().filter(|meet| within(meet.wanted));
        let met = |meet: &MeetOutcome| {
            let this = (meet.track, meet.round);
            let mut played = run.notes.tracks.iter().rev();
            let planned = self.sky.plan().layout.tracks.get(meet.track);
            let wanted = planned.and_then(|track| Some(track.meeting?.wanted));
            Met {
                outcome: *meet,
                late: wanted.map(|wanted| meet.wanted - wanted),
                played: played.find(|played| played.track == this).cloned(),
                advice: advice(self.sky, self.past, self.until, &run, meet),
            }
        };
        let due = |block: &&BlockOutcome| {
            let this = (block.block, block.round);
            let came = run.notes.blocks.iter().find(|came| came.block == this);
            came.is_some_and(|came| within(came.due))
        };
        let mut seen = self.sky.seen(&run.session, self.until);
        seen.retain(|seen| seen.at >= self.from);
        Account {
            meets: meets.map(met).collect(),
            blocks: run.outcome.blocks.iter().filter(due).copied().collect(),
            seen,
        }
    }
}

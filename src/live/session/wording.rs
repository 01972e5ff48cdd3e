//! Late edits: words changed while the show runs, and what becomes of the fit.

use std::sync::Arc;

use super::{CueState, Session};
use crate::script;
use crate::show::{Block, Name, Wording};
use crate::timeline::Version;
use crate::units::Span;

impl Session {
    /// Why the words of a block, by index, stay as they are; `None` where they may be changed.
    pub fn keeps_words(&self, block: usize) -> Option<&'static str> {
        match self.blocks.get(block)?.state {
            CueState::Running => Some("they are being said"),
            CueState::Done if self.show.blocks[block].starts.is_some() => Some("they are over"),
            _ => None,
        }
    }

    /// Changes the full or the short text of a block that is not being said, times it anew and fits all
    /// blocks again.
    pub(super) fn reword(&mut self, id: &Name, is_short: bool, text: &str) {
        let Some(i) = self.show.blocks.iter().position(|block| block.id == *id) else {
            return;
        };
        if let Some(why) = self.keeps_words(i) {
            return self.notice(format!("The words of \"{id}\" stay as they are: {why}"));
        }
        let reworded = words(&self.show.blocks[i], is_short).and_then(|old| old.reworded(text));
        let Some(reworded) = reworded else {
            return self.notice(format!(
                "The words of \"{id}\" stay as they are: what stands in [ ] and {{ }} has to stay"
            ));
        };
        let before = self.reading_lasts(i, is_short);
        let block = &mut Arc::make_mut(&mut self.show).blocks[i];
        match is_short {
            true => block.short = Some(reworded),
            false => block.text = reworded,
        }
        if let Some(reading) = self.facts.readings.get_mut(i) {
            *reading = script::readings_of(&self.show, &self.show.blocks[i]);
        }
        self.blocks[i].reworded = Some(self.now);
        self.lay();
        self.announce_words(i, is_short, before);
    }

    /// How long a block, by index, takes in the version that is, or would be, said.
    pub fn lasts(&self, block: usize) -> Span {
        self.reading_lasts(block, self.version_of(block) == Version::Short)
    }

    fn reading_lasts(&self, i: usize, is_short: bool) -> Span {
        let reading = self.facts.readings.get(i);
        let (full, short) =
            reading.map_or((None, None), |(full, short)| (Some(full), short.as_ref()));
        let read = if is_short { short } else { full };
        read.map_or(Span::ZERO, |reading| reading.lasts())
    }

    /// Says how long the new words take, and what is left after them.
    fn announce_words(&mut self, i: usize, is_short: bool, before: Span) {
        let id = &self.show.blocks[i].id;
        let which = if is_short { "short words" } else { "words" };
        let lasts = self.reading_lasts(i, is_short);
        let change = (lasts - before).s();
        let change = match change {
            change if change >= 0.05 => format!(", {change:.1} s longer"),
            change if change <= -0.05 => format!(", {:.1} s shorter", -change),
            _ => ", as long as before".into(),
        };
        let laid = &self.layout.blocks[i];
        let fits = match laid.slack {
            Some(slack) if slack < Span::ZERO => format!("; {:.1} s TOO LONG", -slack.s()),
            Some(slack) => format!("; {:.0} s to spare", slack.s().floor()),
            None => String::new(),
        };
        self.notice(format!(
            "\"{id}\" has new {which}: {:.1} s{change}{fits}",
            lasts.s()
        ));
    }
}

/// The full or the short text of a block.
fn words(block: &Block, is_short: bool) -> Option<&Wording> {
    match is_short {
        true => block.short.as_ref(),
        false => Some(&block.text),
    }
}

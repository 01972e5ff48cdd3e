//! The words of a block as they stand on paper, and how long they take.

use std::borrow::Cow;

use super::planned::Planned;
use crate::script::Reading;
use crate::show::{Block, Keep, Side, Wording, with_sides};
use crate::timeline::Version;
use crate::units::Span;

/// A block of the show.
pub(super) struct Words<'a> {
    planned: &'a Planned<'a>,
    i: usize,
}

impl<'a> Words<'a> {
    /// The `i`th block.
    pub fn of(planned: &'a Planned<'a>, i: usize) -> Self {
        Words { planned, i }
    }

    /// What is planned to be said; nothing of a block that is left out.
    pub fn text(&self) -> Option<Cow<'a, str>> {
        let block = self.block();
        match (self.version(), &block.short) {
            (Version::LeftOut, _) => None,
            (Version::Short, Some(short)) => Some(self.as_flown(short)),
            _ => Some(self.as_flown(&block.text)),
        }
    }

    /// The versions that are not planned, and which they are.
    pub fn others(&self) -> Vec<(&'static str, Cow<'a, str>)> {
        let block = self.block();
        let full = |label| (label, self.as_flown(&block.text));
        let short = block.short.as_ref();
        let short = short.map(|short| ("Short:", self.as_flown(short)));
        match self.version() {
            Version::Full => short.into_iter().collect(),
            Version::Short => vec![full("Full, for which there is no time:")],
            Version::LeftOut => std::iter::once(full("Left out, for want of time:"))
                .chain(short)
                .collect(),
        }
    }

    /// How long the planned version takes, and the short one where the full is planned.
    pub fn takes(&self) -> (Span, Option<Span>) {
        let Some((full, short)) = self.planned.plan.facts.readings.get(self.i) else {
            return (Span::ZERO, None);
        };
        let short = short.as_ref().map(Reading::lasts);
        match self.version() {
            Version::Full | Version::LeftOut => (full.lasts(), short),
            Version::Short => (short.unwrap_or(full.lasts()), None),
        }
    }

    /// How much it matters, and what it is said for: `must be said; for 1 Arrival, from the left`.
    pub fn about(&self) -> String {
        let planned = self.planned;
        let block = self.block();
        let keep = match block.keep {
            Keep::Must => "must be said",
            Keep::Should => "should be said",
            Keep::May => "may be left out",
        };
        // Words that have to be over for a figure are said for it.
        let mut times = block.ends_by.iter().chain(&block.starts);
        let part = times.find_map(|time| planned.part_of(planned.show.figure_of(time)?));
        match part {
            Some(part) => format!(
                "{keep}; for {}, from the {}",
                part.numbered(),
                planned.side_of(part)
            ),
            None => keep.into(),
        }
    }

    /// Words as they are said from the side their figure is planned to come from.
    fn as_flown(&self, words: &'a Wording) -> Cow<'a, str> {
        let (planned, block) = (self.planned, self.block());
        let side = planned.show.figure_of_block(block).map(|figure| {
            let part = planned.part_of(figure);
            part.map_or(figure.from, |part| planned.side_flown(figure, part))
        });
        with_sides(&words.text, side.unwrap_or(Side::Left))
    }

    fn block(&self) -> &'a Block {
        &self.planned.show.blocks[self.i]
    }

    fn version(&self) -> Version {
        self.planned.plan.layout.blocks[self.i].version
    }
}

//! The words of a block as they stand on paper, and how long they take.

use super::planned::Planned;
use crate::show::Keep;
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

    /// What is planned to be said.
    pub fn text(&self) -> &'a str {
        let block = &self.planned.show.blocks[self.i];
        match (self.version(), &block.short) {
            (Version::Short, Some(short)) => short,
            _ => &block.text,
        }
    }

    /// The version that is not planned, if there is one, and which it is.
    pub fn other(&self) -> Option<(&'static str, &'a str)> {
        let block = &self.planned.show.blocks[self.i];
        let short = block.short.as_ref()?;
        Some(match self.version() {
            Version::Full => ("Short:", short),
            Version::Short => ("Full, for which there is no time:", &block.text),
        })
    }

    /// How long the planned version takes, and the short one where the full is planned.
    pub fn takes(&self) -> (Span, Option<Span>) {
        let speaking = self.planned.plan.facts.speaking.get(self.i);
        let (full, short) = speaking.copied().unwrap_or_default();
        match self.version() {
            Version::Full => (full, short),
            Version::Short => (short.unwrap_or(full), None),
        }
    }

    /// How much it matters, and what it is said for: `must be said; for 1 Arrival, from the left`.
    pub fn about(&self) -> String {
        let planned = self.planned;
        let block = &planned.show.blocks[self.i];
        let keep = match block.keep {
            Keep::Must => "must be said",
            Keep::Should => "should be said",
            Keep::May => "may be left out",
        };
        // Words that have to be over for a figure are said for it.
        let mut times = block.ends_by.iter().chain(&block.starts);
        let part = times.find_map(|time| planned.part_of(planned.figure_of(time)?));
        match part {
            Some(part) => format!(
                "{keep}; for {}, from the {}",
                part.numbered(),
                planned.side_of(part)
            ),
            None => keep.into(),
        }
    }

    fn version(&self) -> Version {
        self.planned.plan.layout.blocks[self.i].version
    }
}

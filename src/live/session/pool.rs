//! The pool: words with no start of their own, for a gap nobody planned.

use super::{CueState, Session};
use crate::timeline::Version;
use crate::units::{Instant, Span};

/// Words of the pool, and whether they fit the present gap.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Filler {
    /// Index in the show's blocks.
    pub block: usize,
    /// Which words of it would be said.
    pub version: Version,
    /// How long they take at the narrator's rate.
    pub lasts: Span,
    /// What the gap leaves beyond that; negative where they do not fit, `None` where nothing follows.
    pub spare: Option<Span>,
    /// Whether they fit with one spread of the narrator's to spare.
    pub fits: bool,
    /// When they were last begun.
    pub said: Option<Instant>,
}

impl Session {
    /// How long somebody who begins to talk now may talk: until a hush, a silence or other words; nothing
    /// where one of them is on, `None` where none follows.
    pub fn gap(&self) -> Option<Span> {
        let hush = self.moments.hushes().into_iter();
        let hush = hush.filter(|(_, until)| *until > self.now);
        let silences = self.layout.silences.iter().zip(&self.silences);
        let silence = silences.filter_map(|((from, _), cue)| match cue.state {
            CueState::Ahead => from.instant(),
            CueState::Running => Some(self.now),
            _ => None,
        });
        let words = self.layout.blocks.iter().zip(&self.blocks);
        let words = words.filter_map(|(laid, cue)| match cue.state {
            CueState::Ahead if laid.is_said() => laid.starts.instant(),
            CueState::Due => Some(self.now),
            _ => None,
        });
        let ends = hush.map(|(from, _)| from).chain(silence).chain(words).min();
        ends.map(|end| (end - self.now).max(Span::ZERO))
    }

    /// The pool: what fits the present gap first, the longest first; what has been said after what has not.
    pub fn fillers(&self) -> Vec<Filler> {
        let gap = self.gap();
        let blocks = self.show.blocks.iter().enumerate();
        let fillers = blocks.filter(|(i, block)| {
            block.starts.is_none() && self.blocks[*i].state != CueState::Running
        });
        let mut fillers: Vec<Filler> = fillers.filter_map(|(i, _)| self.filler(i, gap)).collect();
        fillers.sort_by_key(|filler| {
            let longest = std::cmp::Reverse(filler.lasts);
            (!filler.fits, filler.said.is_some(), longest, filler.block)
        });
        fillers
    }

    fn filler(&self, block: usize, gap: Option<Span>) -> Option<Filler> {
        let (full, short) = self.facts.readings.get(block)?;
        let spread = 1.0 + self.show.narrator.spread.whole();
        let fits = |lasts: Span| gap.is_none_or(|gap| lasts * spread <= gap);
        let short = short.as_ref().map(|short| (Version::Short, short.lasts()));
        let full = (Version::Full, full.lasts());
        let (version, lasts) = match short {
            Some(short) if !fits(full.1) => short,
            _ => full,
        };
        Some(Filler {
            block,
            version,
            lasts,
            spare: gap.map(|gap| gap - lasts),
            fits: fits(lasts),
            said: self.blocks.get(block)?.since,
        })
    }
}

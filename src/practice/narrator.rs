//! The narrator: begins each block when it is due and the one before is out, and takes as long as it takes.

use super::errors::{Draws, Errors, Source};
use crate::script::{Reading, Version};
use crate::show::{Show, Wording};
use crate::timeline::Facts;
use crate::units::{Instant, Span};

/// From the screen saying so to the first word (common practice, no published source).
pub const REACTION: Span = Span::from_ms(300);

/// How a narrator speaks in one show.
#[derive(Debug, Clone)]
pub struct Narrator {
    /// For each block, how many times longer than its reading it takes.
    paces: Vec<f64>,
}

impl Narrator {
    /// The narrator of `show` with the errors of one show.
    pub fn of(show: &Show, errors: &Errors) -> Narrator {
        let mut draws = Draws::of(errors.seed, Source::Words);
        let spread = if errors.words {
            show.narrator.spread.whole()
        } else {
            0.0
        };
        let blocks = show.blocks.iter();
        Narrator {
            paces: blocks
                .map(|_| (1.0 + spread * draws.normal()).max(0.1))
                .collect(),
        }
    }

    /// Block `i`, in a version, begun at `began`, piece by piece between the waits in it; `waits` tells when each
    /// of them is over (`None`: not waited for). Nothing where there is nothing to say.
    pub fn pieces<'a>(
        &self,
        words: Words<'a>,
        began: Instant,
        mut waits: impl FnMut(&'a crate::show::TimeExpression) -> Option<Instant>,
    ) -> impl Iterator<Item = (Instant, Instant)> {
        let pace = self.paces.get(words.block).copied().unwrap_or(1.0);
        let mut now = began;
        let mut rests = words.wording.waits();
        words
            .reading
            .pieces
            .iter()
            .enumerate()
            .map(move |(piece, &lasts)| {
                let rest = if piece == 0 { None } else { rests.next() };
                let from = rest.and_then(&mut waits).map_or(now, |over| over.max(now));
                now = from + lasts * pace;
                (from, now)
            })
    }
}

/// What a block says in one of its versions.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    /// Which block, by index.
    pub block: usize,
    /// How long it takes as read.
    pub reading: &'a Reading,
    /// The text.
    pub wording: &'a Wording,
}

impl<'a> Words<'a> {
    /// A version of a block; `None` where it is left out.
    pub fn of(
        show: &'a Show,
        facts: &'a Facts,
        block: usize,
        version: Version,
    ) -> Option<Words<'a>> {
        let said = show.blocks.get(block)?;
        let (full, short) = facts.readings.get(block)?;
        let (reading, wording) = match (version, short, &said.short) {
            (Version::LeftOut, ..) => return None,
            (Version::Short, Some(short), Some(words)) => (short, words),
            _ => (full, &said.text),
        };
        Some(Words {
            block,
            reading,
            wording,
        })
    }
}

//! Words as they are said today: from the side their figure comes from.

use std::borrow::Cow;

use super::Session;
use crate::show::{Figure, Side, Wording, with_sides};
use crate::timeline::Version;

impl Session {
    /// The version of a block, by index, that is said, or would be.
    pub fn version_of(&self, block: usize) -> Version {
        let settled = self.blocks.get(block).and_then(|cue| cue.version);
        let laid = || self.layout.blocks.get(block).map(|laid| laid.version);
        settled.or_else(laid).unwrap_or_default()
    }

    /// The words of a block, by index, in a version of it.
    pub fn block_words(&self, block: usize, version: Version) -> Cow<'_, Wording> {
        let Some(block_said) = self.show.blocks.get(block) else {
            return Cow::Owned(Wording::default());
        };
        let words = match (&block_said.short, version) {
            (Some(short), Version::Short) => short,
            _ => &block_said.text,
        };
        let round = self.blocks.get(block).map_or(0, |cue| cue.round);
        let figure = self.show.figure_of_block(block_said);
        words.with_sides(self.side_of(figure, round))
    }

    /// The words of a call, by index.
    pub fn call_text(&self, call: usize) -> Cow<'_, str> {
        let Some(words) = self.show.calls.get(call) else {
            return Cow::Borrowed("");
        };
        let round = self.calls.get(call).map_or(0, |cue| cue.round);
        let figure = self.show.figure_of(&words.when);
        with_sides(&words.text, self.side_of(figure, round))
    }

    /// The side a figure comes from in its `round`th flying (from 0), or as last flown; as the document
    /// says where it is not flown.
    fn side_of(&self, figure: Option<&Figure>, round: usize) -> Side {
        let Some(figure) = figure else {
            return Side::Left;
        };
        let flyings = || {
            let kept = self.programme.iter().filter(|flying| !flying.dropped);
            kept.filter(|flying| flying.entry.figure == figure.id)
        };
        let flying = flyings().nth(round).or_else(|| flyings().next_back());
        match flying {
            Some(flying) if flying.entry.mirrored => figure.from.mirrored(),
            _ => figure.from,
        }
    }
}

//! Checks `{side}` and `{other side}` in the words of a show.

use std::ops::Range;

use super::reader::Faults;
use super::wording::quoted;
use crate::show::sides::{OTHER_SIDE, SIDE, braces};
use crate::show::{Fault, Figure, Show};

/// A text in which sides may stand.
struct Words<'s> {
    text: &'s str,
    /// Whose it is, for messages.
    of: &'s str,
    /// Bytes of the document that state whose it is.
    at: &'s Range<usize>,
    /// The figure it hangs on.
    figure: Option<&'s Figure>,
}

/// Faults for whatever stands in braces and is no side, and for sides that nothing decides.
pub(super) fn check(show: &Show, faults: &Faults) {
    for block in &show.blocks {
        let texts = std::iter::once(&block.text).chain(&block.short);
        for words in texts.filter(|words| words.text.contains('{')) {
            let words = Words {
                text: &words.text,
                of: block.id.as_str(),
                at: &block.at,
                figure: show.figure_of_block(block),
            };
            words.check(show, faults);
        }
    }
    for call in show.calls.iter().filter(|call| call.text.contains('{')) {
        let words = Words {
            text: &call.text,
            of: call.id.as_str(),
            at: &call.at,
            figure: show.figure_of(&call.when),
        };
        words.check(show, faults);
    }
}

impl Words<'_> {
    fn check(&self, show: &Show, faults: &Faults) {
        for (range, within) in braces(self.text) {
            if let Some((message, help)) = self.wrong(within, faults) {
                let at = self.place(show, &self.text[range]);
                Fault::error(at, message).help(help).add(faults);
            }
        }
    }

    /// What is wrong with one pair of braces, and what to write instead.
    fn wrong(&self, within: Option<&str>, faults: &Faults) -> Option<(String, String)> {
        let of = self.of;
        let write = "write {side} for the side its figure comes from, {other side} for the other";
        let Some(within) = within else {
            return Some((format!("a brace in \"{of}\" is not closed"), write.into()));
        };
        if within != SIDE && within != OTHER_SIDE {
            let help = faults.did_you_mean(within, [SIDE, OTHER_SIDE], "what can stand there is");
            let message = format!("\"{of}\" cannot say {{{}}}", quoted(within));
            return Some((message, help));
        }
        match self.figure {
            None => Some((
                format!("\"{of}\" says {{{within}}}, but hangs on no figure that has a side"),
                "time it by a point of a figure, or write left or right".into(),
            )),
            Some(figure) if !figure.says_from => Some((
                format!(
                    "\"{of}\" says {{{within}}}, but nothing says from which side \"{}\" comes",
                    figure.id
                ),
                format!("write from = \"left\" or \"right\" in \"{}\"", figure.id),
            )),
            Some(_) => None,
        }
    }

    /// The bytes of `written` in the text, or of whose it is where it is written otherwise.
    fn place(&self, show: &Show, written: &str) -> Range<usize> {
        let document = &show.source.text;
        let from = self.at.end.min(document.len());
        let found = document.get(from..).and_then(|rest| rest.find(written));
        found.map_or(self.at.clone(), |i| from + i..from + i + written.len())
    }
}

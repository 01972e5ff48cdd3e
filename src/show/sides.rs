//! `{side}` and `{other side}` in words: which side of the crowd, as it is flown on the day.

use std::borrow::Cow;
use std::ops::Range;

use super::{Aside, Side, Wording};

/// The side the figure comes from, as words have it.
pub const SIDE: &str = "side";
/// The side it goes to.
pub const OTHER_SIDE: &str = "other side";

/// The text as it is said when its figure comes from `from`: `{side}` is that side, `{other side}` the
/// other. Both words take as long to say to a fraction of a syllable, so that a figure flown mirrored is
/// timed with either.
pub fn with_sides(text: &str, from: Side) -> Cow<'_, str> {
    if !text.contains('{') {
        return Cow::Borrowed(text);
    }
    let said = text
        .replace("{side}", from.word())
        .replace("{other side}", from.mirrored().word());
    Cow::Owned(said)
}

impl Wording {
    /// The words as they are said when their figure comes from `from`; what stands in brackets stays.
    pub fn with_sides(&self, from: Side) -> Cow<'_, Wording> {
        if !self.text.contains('{') {
            return Cow::Borrowed(self);
        }
        let mut said = Wording::default();
        let mut read = 0;
        for aside in &self.asides {
            said.text += &with_sides(&self.text[read..aside.range.start], from);
            let start = said.text.len();
            said.text += &self.text[aside.range.clone()];
            said.asides.push(Aside {
                range: start..said.text.len(),
                what: aside.what.clone(),
            });
            read = aside.range.end;
        }
        said.text += &with_sides(&self.text[read..], from);
        Cow::Owned(said)
    }
}

/// Every `{…}` of a text: its bytes, and what stands between the braces; `None` where none closes.
pub fn braces(text: &str) -> impl Iterator<Item = (Range<usize>, Option<&str>)> {
    text.match_indices('{').map(|(open, _)| {
        let rest = &text[open + 1..];
        let close = rest
            .find(['{', '}'])
            .filter(|&i| rest[i..].starts_with('}'));
        match close {
            Some(close) => (open..open + close + 2, Some(&rest[..close])),
            None => (open..open + 1, None),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_sides_are_words_of_the_side_flown() {
        let text = "From your {side}, out to your {other side}.";
        assert_eq!(
            with_sides(text, Side::Left),
            "From your left, out to your right."
        );
        assert_eq!(
            with_sides(text, Side::Right),
            "From your right, out to your left."
        );
    }

    #[test]
    fn braces_are_found_closed_or_not() {
        let found: Vec<_> = braces("a {side} b {x{y} é} {").collect();
        let within: Vec<_> = found.iter().map(|(_, within)| *within).collect();
        assert_eq!(within, [Some("side"), None, Some("y"), None]);
        assert_eq!(found[0].0, 2..8);
    }
}

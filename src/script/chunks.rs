//! Cuts a text at spaces and dashes, and tells words from the marks around them.

use std::ops::Range;

use super::symbols::{initials, short_form};

/// The rest a voice takes after a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Pause {
    None,
    Comma,
    /// A colon, a semicolon or a dash.
    Clause,
    Sentence,
    Paragraph,
}

/// A piece of text between spaces or dashes.
pub(super) struct Chunk<'t> {
    pub(super) range: Range<usize>,
    pub(super) opening: &'t str,
    pub(super) core: &'t str,
    pub(super) closing: &'t str,
    pub(super) dash: bool,
    paragraph: bool,
    /// Whether it is `No.` before a number.
    pub(super) counts: bool,
}

impl Chunk<'_> {
    /// Whether its full stop only says that it is written short: `Flt.`, `J.`, `R.A.F.`, `No. 5`.
    pub(super) fn short(&self) -> bool {
        let initial = self.core != "I" && self.core.chars().count() == 1 && is_upper(self.core);
        let dotted = self.core.contains('.') && initials(self.core).is_some();
        let short_form = short_form(self.core).is_some_and(|full| full != "et cetera");
        let short_form = short_form || self.core == "St";
        self.closing.starts_with('.')
            && !self.closing.starts_with("..")
            && (self.counts || initial || dotted || short_form)
    }

    pub(super) fn pause(&self) -> Pause {
        let pause = if self.paragraph {
            Pause::Paragraph
        } else if self.short() {
            Pause::None
        } else if self.closing.contains(['.', '!', '?', '…']) {
            Pause::Sentence
        } else if self.closing.contains([':', ';']) {
            Pause::Clause
        } else if self.closing.contains(',') {
            Pause::Comma
        } else {
            Pause::None
        };
        pause.max(if self.dash {
            Pause::Clause
        } else {
            Pause::None
        })
    }

    /// Whether what follows can belong to it: `600` and `kt`, but not `600.` and `kt`.
    pub(super) fn open(&self) -> bool {
        (self.closing.is_empty() || self.short()) && !self.dash && !self.paragraph
    }

    /// Whether it may be a name: `Mk`, `Elizabeth`, but not `of` or `617`.
    pub(super) fn is_name(&self) -> bool {
        self.core.chars().next().is_some_and(char::is_uppercase)
    }
}

pub(super) fn is_upper(text: &str) -> bool {
    text.chars().all(char::is_uppercase)
}

/// Cuts the text at spaces and at dashes, and each piece into its word and the marks around it.
pub(super) fn chunks(text: &str) -> Vec<Chunk<'_>> {
    let mut chunks: Vec<Chunk<'_>> = Vec::new();
    let mut start = None;
    let mut newlines = 0;
    for (i, c) in text.char_indices().chain([(text.len(), ' ')]) {
        let dash = c == '—' || (c == '–' && !between_digits(text, i, c));
        if !c.is_whitespace() && !dash {
            start.get_or_insert(i);
            if newlines > 1
                && let Some(last) = chunks.last_mut()
            {
                last.paragraph = true;
            }
            newlines = 0;
            continue;
        }
        newlines += usize::from(c == '\n');
        let end = if dash { i + c.len_utf8() } else { i };
        if let Some(start) = start.take() {
            let chunk = chunk(text, start..end, dash);
            if let Some(last) = chunks.last_mut() {
                last.counts = matches!(last.core, "No" | "Nos")
                    && matches!(last.closing, "." | "")
                    && chunk.core.starts_with(|c: char| c.is_ascii_digit());
            }
            chunks.push(chunk);
        } else if dash && let Some(last) = chunks.last_mut() {
            last.dash = true;
            last.range.end = end;
        }
    }
    chunks
}

/// Whether the dash at byte `i` stands between two digits, as in `10–15`.
fn between_digits(text: &str, i: usize, dash: char) -> bool {
    text[..i].ends_with(|c: char| c.is_ascii_digit())
        && text[i + dash.len_utf8()..].starts_with(|c: char| c.is_ascii_digit())
}

fn chunk(text: &str, range: Range<usize>, dash: bool) -> Chunk<'_> {
    let written = text[range.clone()].trim_end_matches(['–', '—']);
    let of_word = |c: char| {
        c.is_alphanumeric()
            || matches!(c, '£' | '$' | '€' | '&' | '+' | '%' | '°' | '½' | '¼' | '¾')
    };
    let first = written.find(of_word);
    let (opening, rest) = written.split_at(first.unwrap_or(written.len()));
    // A minus sign or an apostrophe before digits belongs to the number.
    let sign = opening
        .char_indices()
        .last()
        .filter(|(_, c)| matches!(c, '-' | '−' | '\'' | '’'))
        .filter(|_| rest.starts_with(|c: char| c.is_ascii_digit()));
    let begin = sign.map_or(opening.len(), |(i, _)| i);
    let (opening, rest) = written.split_at(begin);
    let end = rest
        .char_indices()
        .rev()
        .find(|(_, c)| of_word(*c))
        .map_or(0, |(i, c)| i + c.len_utf8());
    let (core, closing) = rest.split_at(end);
    Chunk {
        range,
        opening,
        core,
        closing,
        dash,
        paragraph: false,
        counts: false,
    }
}

//! Shows faults to people: the place, the line, a mark under it, what is wrong and what to write.

use std::fmt;

use miette::{
    Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, MietteError, SourceCode,
    SourceSpan, SpanContents,
};

use super::{Fault, Severity, Source};

/// Faults shown at most; the rest are counted.
const MOST_SHOWN: usize = 50;
/// Columns of the widest report.
const WIDEST: usize = 100;
/// Columns that stand before the line itself.
const MARGIN: usize = 12;

/// How a report looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Plain ASCII around the text, no colour: for files, pipes and tests.
    Plain,
    /// Lines drawn, no colour.
    Monochrome,
    /// Lines drawn, in colour.
    Colour,
}

impl Look {
    /// The look for where it goes: a terminal or not, and whether colour is refused (`NO_COLOR`).
    pub const fn suiting(terminal: bool, no_colour: bool) -> Self {
        match (terminal, no_colour) {
            (false, _) => Look::Plain,
            (true, true) => Look::Monochrome,
            (true, false) => Look::Colour,
        }
    }
}

/// The faults as text, `width` columns wide, each ended by an empty line.
pub fn report(source: &Source, faults: &[Fault], look: Look, width: usize) -> String {
    let theme = match look {
        Look::Plain => GraphicalTheme::none(),
        Look::Monochrome => GraphicalTheme::unicode_nocolor(),
        Look::Colour => GraphicalTheme::unicode(),
    };
    let width = width.clamp(40, WIDEST);
    let handler = GraphicalReportHandler::new_themed(theme)
        .with_width(width)
        .with_context_lines(1)
        .with_links(false)
        .without_syntax_highlighting();
    let mut out = String::new();
    for fault in faults.iter().take(MOST_SHOWN) {
        let shown = Shown {
            fault,
            snippet: fault
                .at
                .as_ref()
                .map(|at| Snippet::cut(source, at.start, at.end, width - MARGIN)),
        };
        // Writing into a String fails only if the snippet refuses its own span.
        if handler.render_report(&mut out, &shown).is_err() {
            out.push_str(&fault.message);
        }
        out.push('\n');
    }
    if let Some(more) = faults
        .len()
        .checked_sub(MOST_SHOWN)
        .filter(|more| *more > 0)
    {
        out.push_str(&format!("  and {more} more\n"));
    }
    let lines: Vec<&str> = out.lines().map(str::trim_end).collect();
    lines.join("\n").trim_matches('\n').to_owned() + "\n"
}

/// One fault, as it is shown.
#[derive(Debug)]
struct Shown<'f> {
    fault: &'f Fault,
    snippet: Option<Snippet>,
}

impl fmt::Display for Shown<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.fault.message)
    }
}

impl std::error::Error for Shown<'_> {}

impl Diagnostic for Shown<'_> {
    fn severity(&self) -> Option<miette::Severity> {
        Some(match self.fault.severity {
            Severity::Advice => miette::Severity::Advice,
            Severity::Error => miette::Severity::Error,
        })
    }

    fn help<'a>(&'a self) -> Option<Box<dyn fmt::Display + 'a>> {
        let help = &self.fault.help;
        (!help.is_empty()).then(|| Box::new(help) as Box<dyn fmt::Display>)
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.snippet
            .as_ref()
            .map(|snippet| snippet as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        let (from, len) = self.snippet.as_ref()?.mark;
        Some(Box::new(std::iter::once(LabeledSpan::new(None, from, len))))
    }
}

/// The line a fault is on, cut to what fits around the mark, with nothing in it that moves a cursor.
#[derive(Debug)]
struct Snippet {
    name: String,
    text: String,
    /// Start and length of the mark in `text`, in bytes.
    mark: (usize, usize),
    /// Line and column of the mark, from 0.
    place: (usize, usize),
}

impl Snippet {
    fn cut(source: &Source, start: usize, end: usize, width: usize) -> Snippet {
        let text = &*source.text;
        let start = floor(text, start);
        let line_start = text[..start].rfind('\n').map_or(0, |i| i + 1);
        let line_end = text[start..].find('\n').map_or(text.len(), |i| start + i);
        let end = floor(text, end).clamp(start, line_end);
        let (line, column) = source.line_column(start);

        let half = width / 2;
        let before = tail(&text[line_start..start], half);
        let mark_room = width - half.min(before.chars().count());
        let marked: String = text[start..end]
            .chars()
            .take(mark_room)
            .map(still)
            .collect();
        let used = before.chars().count() + marked.chars().count();
        let after: String = text[end..line_end]
            .chars()
            .take(width.saturating_sub(used))
            .map(still)
            .collect();

        let mut cut = String::new();
        if before.len() < start - line_start {
            cut.push('…');
        }
        cut.extend(before.chars().map(still));
        let mark = (cut.len(), marked.len().max(1));
        cut.push_str(&marked);
        cut.push_str(after.trim_end());
        if used + after.chars().count()
            < text[start..line_end].chars().count() + before.chars().count()
        {
            cut.push('…');
        }
        // The mark of what is missing at the end of a line needs something to stand under.
        if cut.len() < mark.0 + mark.1 {
            cut.push_str(&" ".repeat(mark.0 + mark.1 - cut.len()));
        }
        let mark_len = cut[mark.0..]
            .char_indices()
            .map(|(i, c)| i + c.len_utf8())
            .find(|i| *i >= mark.1)
            .unwrap_or(mark.1);
        Snippet {
            name: source.name.to_string(),
            text: cut,
            mark: (mark.0, mark_len),
            place: (line - 1, column - 1),
        }
    }
}

/// The nearest character boundary at or before `byte`.
fn floor(text: &str, byte: usize) -> usize {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    byte
}

/// The last `count` characters.
fn tail(text: &str, count: usize) -> &str {
    let from = text.char_indices().rev().nth(count.saturating_sub(1));
    from.map_or(text, |(i, _)| &text[i..])
}

/// A character that stays where it is put.
fn still(c: char) -> char {
    match c {
        '\t' => ' ',
        c if c.is_control() => '\u{fffd}',
        c => c,
    }
}

impl SourceCode for Snippet {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        context_lines_before: usize,
        _: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let (from, len) = (span.offset(), span.len());
        if from.saturating_add(len) > self.text.len() {
            return Err(MietteError::OutOfBounds);
        }
        // Without context it is asked where the mark is; with it, for the line to draw.
        Ok(Box::new(Cut {
            snippet: self,
            whole: (0, self.text.len()).into(),
            column: if context_lines_before == 0 {
                self.place.1
            } else {
                0
            },
        }))
    }
}

struct Cut<'a> {
    snippet: &'a Snippet,
    whole: SourceSpan,
    column: usize,
}

impl<'a> SpanContents<'a> for Cut<'a> {
    fn data(&self) -> &'a [u8] {
        self.snippet.text.as_bytes()
    }

    fn span(&self) -> &SourceSpan {
        &self.whole
    }

    fn name(&self) -> Option<&str> {
        Some(&self.snippet.name)
    }

    fn line(&self) -> usize {
        self.snippet.place.0
    }

    fn column(&self) -> usize {
        self.column
    }

    fn line_count(&self) -> usize {
        1
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn source(text: &str) -> Source {
        Source {
            name: "show.toml".into(),
            text: text.into(),
        }
    }

    #[test]
    fn the_line_the_mark_and_the_help_are_shown() {
        let source = source("[show]\nsped = \"350 kt\"\n");
        let fault = Fault::error(7..11, "unknown key `sped`").help("did you mean `speed`?");
        let expected = [
            "  x unknown key `sped`",
            "   ,-[show.toml:2:1]",
            " 2 | sped = \"350 kt\"",
            "   : ^^^^",
            "   `----",
            "  help: did you mean `speed`?",
            "",
        ];
        assert_eq!(
            report(&source, &[fault], Look::Plain, 80),
            expected.join("\n")
        );
    }

    #[test]
    fn a_long_line_is_cut_around_the_mark() {
        let text = format!("text = \"{}WRONG{}\"", "a".repeat(5000), "b".repeat(5000));
        let shown = report(
            &source(&text),
            &[Fault::error(5008..5013, "wrong")],
            Look::Plain,
            80,
        );
        assert!(shown.contains("show.toml:1:5009"), "{shown}");
        assert!(
            shown.contains("WRONG") && shown.contains("^^^^^"),
            "{shown}"
        );
        assert!(
            shown.lines().all(|line| line.chars().count() <= 80),
            "{shown}"
        );
    }

    #[test]
    fn without_colour_no_escape_is_written() {
        let source = source("a = 1\n");
        let fault = [Fault::error(0..1, "wrong").help("right")];
        for look in [Look::Plain, Look::Monochrome] {
            assert!(!report(&source, &fault, look, 80).contains('\u{1b}'));
        }
        assert!(report(&source, &fault, Look::Colour, 80).contains('\u{1b}'));
    }

    proptest! {
        #[test]
        fn no_span_of_any_text_panics(
            text in "[a-z\\PC\\n\\t\\r\u{1b}]{0,80}", start in 0_usize..100, len in 0_usize..100, width in 0_usize..120,
        ) {
            let shown = report(&source(&text), &[Fault::error(start..start + len, "wrong")], Look::Plain, width);
            prop_assert!(shown.contains("wrong"));
            let escaped = shown.contains('\u{1b}');
            prop_assert!(!escaped);
        }
    }
}

//! Words to be read out: large where there is room for it, unbroken, the phrase that is due plain to see.

use std::ops::Range;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span as Piece};

use super::digits::{LETTER, draw_letters, letters};
use super::naming;
use super::text::{below, on_one_line, put, width, wrap};
use super::theme::Styles;
use crate::live::Session;
use crate::script::Reader;
use crate::show::{Aside, Rest, Wording};

/// Room for the pointer before each line.
const POINTER: u16 = 2;
/// Letters are large where at least so many of them stand in a line ...
const LEAST_LETTERS: u16 = 26;
/// ... and so many lines, each with a row below it, stand above each other.
const LEAST_LINES: u16 = 3;

/// The words of a block as they are read: on one line, how hard names are said between slashes after them.
#[derive(Default)]
pub(super) struct Text {
    text: String,
    /// The bytes of each phrase.
    phrases: Vec<Range<usize>>,
    /// The bytes of the brackets before each phrase; none where there are none.
    rests: Vec<Range<usize>>,
    /// The bytes of what is not to be said: brackets, and how a name is said.
    asides: Vec<Range<usize>>,
}

/// Where the reader is.
#[derive(Clone, Copy)]
pub(super) struct At {
    /// Which phrase.
    pub phrase: usize,
    /// How much of it is said, 0 to 1; `None` while the voice rests before it, or waits.
    pub share: Option<f64>,
}

impl Text {
    /// The words of a block, by index, in the version that is, or would be, said.
    pub fn of(session: &Session, block: usize) -> Text {
        let words = session.block_words(block, session.version_of(block));
        let said = session.show().blocks.get(block);
        let reader = said.map(|said| Reader::of(session.show(), said));
        let mut read = Text::default();
        let mut from = 0;
        let phrases = session.phrases(block);
        for (i, phrase) in phrases.iter().enumerate() {
            // What stands between a bracket and a word, such as a quotation mark, goes with the word.
            let rested = read.add_brackets(session, &words, from..phrase.range.start);
            from = match phrases.get(i + 1) {
                Some(_) => phrase.range.end,
                None => brackets_from(&words, phrase.range.end),
            };
            let piece = on_one_line(words.text.get(rested..from).unwrap_or_default());
            let hard = reader.as_ref().map(|reader| reader.hard_names(&piece));
            read.add(&piece, &hard.unwrap_or_default());
        }
        read.add_brackets(session, &words, from..words.text.len());
        read.rests.truncate(read.phrases.len());
        read
    }

    /// Adds the brackets among some bytes of the words as people say them; the byte after the last.
    fn add_brackets(&mut self, session: &Session, words: &Wording, among: Range<usize>) -> usize {
        let mut until = among.start;
        let mut brackets = Vec::new();
        let within =
            |aside: &&Aside| among.start <= aside.range.start && aside.range.end <= among.end;
        for aside in words.asides.iter().filter(within) {
            let between = words.text.get(until..aside.range.start);
            let between = between
                .map(on_one_line)
                .filter(|between| !between.is_empty());
            brackets.extend(between);
            until = aside.range.end;
            brackets.push(match &aside.what {
                Rest::Pause(span) => format!("[pause {span}]"),
                Rest::Wait(time) => format!("[wait for {}]", naming::time(session, time)),
            });
        }
        let brackets = brackets.join(" ");
        if !self.text.is_empty() && !brackets.is_empty() {
            self.text.push(' ');
        }
        let start = self.text.len();
        self.text += &brackets;
        self.asides.push(start..self.text.len());
        self.rests.push(start..self.text.len());
        until
    }

    /// Adds a phrase with hard names in it.
    fn add(&mut self, piece: &str, hard: &[(usize, String)]) {
        if !self.text.is_empty() && !piece.is_empty() {
            self.text.push(' ');
        }
        let start = self.text.len();
        let mut from = 0;
        for (end, said) in hard {
            self.text += piece.get(from..*end).unwrap_or_default();
            let aside = self.text.len() + 1;
            self.text += &format!(" /{said}/");
            self.asides.push(aside..self.text.len());
            from = *end;
        }
        self.text += piece.get(from..).unwrap_or_default();
        self.phrases.push(start..self.text.len());
    }

    /// All of it on one line.
    pub fn line(&self) -> &str {
        &self.text
    }

    /// Draws as much as has room; `at` is where the reader is, if he reads already.
    pub fn draw(&self, at: Option<At>, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let room = Rect {
            x: area.x + POINTER.min(area.width),
            width: area.width.saturating_sub(POINTER),
            ..area
        };
        let (wide, high) = LETTER;
        let is_large = room.width / wide >= LEAST_LETTERS
            && room.height > LEAST_LINES * (high + 1) - 1
            && letters(&self.text).is_some();
        let (columns, step) = match is_large {
            true => (room.width / wide, high + 1),
            false => (room.width, 1),
        };
        let lines = wrap(&self.text, usize::from(columns));
        let rows = usize::from((room.height + u16::from(is_large)) / step);
        // An empty row between lines helps the eye, where all of them have room for it.
        let step = if !is_large && lines.len() * 2 <= rows {
            2
        } else {
            step
        };
        let phrase = at.map_or(0..0, |at| self.now(at));
        let word = at.map_or(0, |at| self.word(at));
        let current = lines
            .iter()
            .position(|line| line.end > word)
            .unwrap_or(lines.len().saturating_sub(1));
        let first = first_line(current, lines.len(), rows);
        let page = Page {
            text: self,
            phrase,
            is_large,
            styles,
        };
        let shown = lines.into_iter().enumerate().skip(first).take(rows);
        for (row, (i, line)) in shown.enumerate() {
            let top = below(area, row as u16 * step);
            page.line(line, at.is_some() && i == current, top, buffer);
        }
    }

    /// The bytes of the phrase being said, or of the brackets before it while those hold the reader.
    fn now(&self, at: At) -> Range<usize> {
        let rest = self.rests.get(at.phrase).filter(|_| at.share.is_none());
        let phrase = self.phrases.get(at.phrase).or(self.phrases.last());
        let now = rest.filter(|rest| !rest.is_empty()).or(phrase);
        now.cloned().unwrap_or(0..0)
    }

    /// The byte the reader has come to.
    fn word(&self, at: At) -> usize {
        let now = self.now(at);
        now.start + (now.len() as f64 * at.share.unwrap_or(0.0).clamp(0.0, 0.99)) as usize
    }
}

/// The first byte of a bracket from a byte on, or the end of the words.
fn brackets_from(words: &Wording, from: usize) -> usize {
    let mut starts = words.asides.iter().map(|aside| aside.range.start);
    let start = starts.find(|start| *start >= from);
    start.unwrap_or(words.text.len())
}

/// The first line shown: one of what was said stays, where at least four are seen and the rest does not fit
/// with it.
fn first_line(current: usize, lines: usize, rows: usize) -> usize {
    let before = usize::from(rows >= 4);
    current
        .saturating_sub(before)
        .min(lines.saturating_sub(rows))
}

/// How lines are drawn.
struct Page<'t> {
    text: &'t Text,
    /// The bytes of the phrase being said.
    phrase: Range<usize>,
    is_large: bool,
    styles: &'t Styles,
}

impl Page<'_> {
    /// One line: what was said quiet, the phrase now strong and underlined, the line it has come to pointed at.
    fn line(&self, line: Range<usize>, pointed: bool, area: Rect, buffer: &mut Buffer) {
        let from = self.phrase.start.clamp(line.start, line.end);
        let to = self.phrase.end.clamp(line.start, line.end);
        let reads = self.phrase.end > 0;
        let said = if reads {
            self.styles.quiet
        } else {
            self.styles.strong
        };
        let ahead = if reads {
            self.styles.base
        } else {
            self.styles.strong
        };
        let pieces = [
            (line.start..from, said),
            (
                from..to,
                self.styles.strong.add_modifier(Modifier::UNDERLINED),
            ),
            (to..line.end, ahead),
        ];
        if self.is_large {
            self.large(pieces, pointed, area, buffer);
        } else {
            self.plain(pieces, pointed, area, buffer);
        }
    }

    fn plain(
        &self,
        pieces: [(Range<usize>, Style); 3],
        pointed: bool,
        area: Rect,
        buffer: &mut Buffer,
    ) {
        let pointer = if pointed { "▸ " } else { "  " };
        let mut line = Line::from(Piece::styled(pointer, self.styles.strong));
        for (range, style) in pieces {
            for (range, aside) in self.apart(range) {
                let style = if aside { self.aside(style) } else { style };
                line.push_span(Piece::styled(self.text.text[range].to_owned(), style));
            }
        }
        put(buffer, area, 0, line);
    }

    /// Large letters; a bar beside the line the reader has come to, a rule below the phrase.
    fn large(
        &self,
        pieces: [(Range<usize>, Style); 3],
        pointed: bool,
        area: Rect,
        buffer: &mut Buffer,
    ) {
        let (wide, high) = LETTER;
        if pointed {
            for row in 0..high {
                put(buffer, area, row, Line::styled("█", self.styles.strong));
            }
        }
        let mut column = area.x + POINTER;
        for (range, style) in pieces {
            let is_phrase = style.add_modifier.contains(Modifier::UNDERLINED);
            let style = style.remove_modifier(Modifier::UNDERLINED);
            for (range, aside) in self.apart(range) {
                let text = &self.text.text[range];
                let taken = (width(text) as u16).saturating_mul(wide);
                let place = Rect {
                    x: column,
                    width: area.right().saturating_sub(column),
                    ..area
                };
                let style = if aside { self.aside(style) } else { style };
                draw_letters(text, place, style, buffer);
                if is_phrase {
                    let rule = "━".repeat(usize::from(taken.min(place.width)));
                    put(buffer, place, high, Line::styled(rule, self.styles.strong));
                }
                column = column.saturating_add(taken).min(area.right());
            }
        }
    }

    /// A range cut where it becomes, or is no more, how a name is said.
    fn apart(&self, range: Range<usize>) -> Vec<(Range<usize>, bool)> {
        let mut cut = Vec::new();
        let mut from = range.start;
        for aside in &self.text.asides {
            let start = aside.start.clamp(from, range.end);
            let end = aside.end.clamp(start, range.end);
            if start < end {
                cut.extend([(from..start, false), (start..end, true)]);
                from = end;
            }
        }
        cut.push((from..range.end, false));
        cut.retain(|(range, _)| !range.is_empty());
        cut
    }

    fn aside(&self, style: Style) -> Style {
        style.add_modifier(Modifier::ITALIC)
    }
}

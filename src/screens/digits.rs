//! Big digits, as big as their place allows.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;
use ratatui::widgets::Widget;
use tui_big_text::{BigText, PixelSize};

use super::text::{below, put, width, wrap};
use crate::units::Span;

/// A size of big text: how a letter's 8 × 8 dots become cells, and how often each cell is repeated.
#[derive(Clone, Copy)]
struct Size {
    dots: PixelSize,
    /// Cells a letter takes before repetition; the last row of dots of a digit is empty.
    cells: (u16, u16),
    repeat: (u16, u16),
}

const fn size(dots: PixelSize, cells: (u16, u16), repeat: (u16, u16)) -> Size {
    Size {
        dots,
        cells,
        repeat,
    }
}

/// For digits, biggest first. A cell is about twice as high as wide, so a square dot is two cells wide.
const DIGITS: [Size; 5] = [
    size(PixelSize::Full, (8, 7), (4, 2)),
    size(PixelSize::Full, (8, 7), (2, 1)),
    size(PixelSize::Full, (8, 7), (1, 1)),
    size(PixelSize::HalfHeight, (8, 4), (1, 1)),
    size(PixelSize::Quadrant, (4, 4), (1, 1)),
];

/// For words, biggest first.
const WORDS: [Size; 2] = [
    size(PixelSize::HalfHeight, (8, 4), (1, 1)),
    size(PixelSize::Quadrant, (4, 4), (1, 1)),
];

/// For words to be read out.
const READ: Size = size(PixelSize::Quadrant, (4, 4), (1, 1));

/// The columns and rows of a letter of words to be read out.
pub(super) const LETTER: (u16, u16) = READ.cells;

impl Size {
    fn letter(self) -> (u16, u16) {
        (self.cells.0 * self.repeat.0, self.cells.1 * self.repeat.1)
    }

    fn fits(self, text: &str, area: Rect) -> bool {
        let (wide, high) = self.letter();
        let letters = text.chars().count();
        letters * usize::from(wide) <= usize::from(area.width) && high <= area.height
    }

    /// Draws one line of text at the top left of `area`.
    fn draw(self, text: &str, area: Rect, style: Style, buffer: &mut Buffer) {
        let letters = text.chars().count().min(usize::from(u16::MAX / 8)) as u16;
        let small = Rect::new(0, 0, letters * self.cells.0, self.cells.1.max(1));
        let mut dots = Buffer::empty(small);
        BigText::builder()
            .pixel_size(self.dots)
            .lines([Line::raw(text)])
            .build()
            .render(small, &mut dots);
        for (i, cell) in dots.content().iter().enumerate() {
            if cell.symbol() == " " {
                continue;
            }
            let (x, y) = dots.pos_of(i);
            for dy in 0..self.repeat.1 {
                for dx in 0..self.repeat.0 {
                    let at = (
                        area.x + x * self.repeat.0 + dx,
                        area.y + y * self.repeat.1 + dy,
                    );
                    if let Some(target) = buffer.cell_mut(at).filter(|_| area.contains(at.into())) {
                        target.set_symbol(cell.symbol()).set_style(style);
                    }
                }
            }
        }
    }
}

/// Draws `text` as big as `area` allows, at its top left; the rows it takes.
pub(super) fn draw(text: &str, area: Rect, style: Style, buffer: &mut Buffer) -> u16 {
    match DIGITS.into_iter().find(|size| size.fits(text, area)) {
        Some(size) => {
            size.draw(text, area, style, buffer);
            size.letter().1
        }
        None => {
            put(buffer, area, 0, Line::styled(text.to_owned(), style));
            1
        }
    }
}

/// The text in letters there are large ones of, one for one; `None` where it has others.
pub(super) fn letters(text: &str) -> Option<String> {
    text.chars().map(letter).collect()
}

fn letter(written: char) -> Option<char> {
    match written {
        '‘' | '’' => Some('\''),
        '“' | '”' | '„' => Some('"'),
        '–' | '—' | '−' => Some('-'),
        '…' => Some('.'),
        ' '..='~' | '\u{a1}'..='ÿ' => Some(written),
        _ => None,
    }
}

/// Draws a piece of a line to be read out at the top left of `area`.
pub(super) fn draw_letters(text: &str, area: Rect, style: Style, buffer: &mut Buffer) {
    if let Some(text) = letters(text).filter(|text| !text.is_empty()) {
        READ.draw(&text, area, style, buffer);
    }
}

/// Draws words (single spaces between them) wrapped and as big as `area` allows.
pub(super) fn draw_words(text: &str, area: Rect, style: Style, buffer: &mut Buffer) {
    // The big letters are drawn for these only.
    let drawable = text.bytes().all(|byte| (b' '..=b'~').contains(&byte));
    let big = WORDS.into_iter().filter(|_| drawable).find_map(|size| {
        let (wide, high) = size.letter();
        let lines = wrap(text, usize::from(area.width / wide));
        let whole = lines
            .iter()
            .all(|line| line.end == text.len() || text[line.end..].starts_with(' '));
        let rows = |step| lines.len() * usize::from(step);
        // A row between the lines, if there is room for it.
        let step = if rows(high + 1) <= usize::from(area.height) + 1 {
            high + 1
        } else {
            high
        };
        let fits = rows(high) <= usize::from(area.height);
        (whole && fits && !lines.is_empty()).then_some((size, step, lines))
    });
    if let Some((size, step, lines)) = big {
        for (row, line) in lines.into_iter().enumerate() {
            let top = below(area, row as u16 * step);
            size.draw(&text[line], top, style, buffer);
        }
        return;
    }
    let lines = wrap(text, usize::from(area.width));
    // Room between the lines, if there is room.
    let step = if lines.len() * 2 <= usize::from(area.height) + 1 {
        2
    } else {
        1
    };
    for (row, line) in lines.into_iter().enumerate().take(usize::from(area.height)) {
        let line = Line::styled(text[line].to_owned(), style);
        put(
            buffer,
            area,
            (row * step).min(usize::from(u16::MAX)) as u16,
            line,
        );
    }
}

/// Minutes and seconds still to go, `2:45`; zero exactly when the time has come.
pub(super) fn to_go(left: Span) -> String {
    let seconds = left.us().max(0).saturating_add(999_999) / 1_000_000;
    let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{:02}", seconds % 60)
    } else {
        format!("{minutes}:{:02}", seconds % 60)
    }
}

/// How wide the digits of `text` are in `area`.
pub(super) fn digits_width(text: &str, area: Rect) -> u16 {
    let letters = text.chars().count() as u16;
    DIGITS
        .into_iter()
        .find(|size| size.fits(text, area))
        .map_or(width(text) as u16, |size| size.letter().0 * letters)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_countdown_reaches_zero_when_the_time_has_come() {
        assert_eq!(to_go(Span::from_ms(1)), "0:01");
        assert_eq!(to_go(Span::ZERO), "0:00");
        assert_eq!(to_go(Span::from_s(-3.0)), "0:00");
        assert_eq!(to_go(Span::from_s(164.2)), "2:45");
        assert_eq!(to_go(Span::from_s(3725.0)), "1:02:05");
    }

    #[test]
    fn digits_are_seven_rows_high_where_eight_rows_and_eighty_columns_are_free() {
        let area = Rect::new(0, 0, 80, 8);
        let mut buffer = Buffer::empty(area);
        assert_eq!(draw("12:45", area, Style::new(), &mut buffer), 7);
        let rows = (0..8).filter(|&y| (0..80).any(|x| buffer[(x, y)].symbol() == "█"));
        assert_eq!(rows.count(), 7);
    }
}

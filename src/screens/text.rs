//! Text that fits: cut and wrapped at word ends, wide characters counted as two.

use std::ops::Range;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::{Line, Span};
use ratatui::widgets::Widget;

/// How many columns a text takes.
pub(super) fn width(text: &str) -> usize {
    Span::raw(text).width()
}

/// The text in at most `columns`, cut at a word end and ended with `…` where it does not fit.
pub(super) fn cut(text: &str, columns: usize) -> String {
    if width(text) <= columns {
        return text.to_owned();
    }
    let Some(room) = columns.checked_sub(1) else {
        return String::new();
    };
    let head = &text[..head_of(text, room)];
    let ends_word = text[head.len()..].starts_with(' ');
    let at_word = if ends_word {
        Some(head.len())
    } else {
        head.rfind(' ')
    };
    // A first word longer than the room is better cut than lost.
    let kept = at_word.filter(|&at| at > 0).unwrap_or(head.len());
    format!("{}…", head[..kept].trim_end_matches([' ', ',', ';', ':']))
}

/// The bytes of each line of `text` (single spaces between words) in lines of `columns`.
pub(super) fn wrap(text: &str, columns: usize) -> Vec<Range<usize>> {
    let mut lines = Vec::new();
    let mut from = 0;
    while columns > 0 && from < text.len() {
        let rest = &text[from..];
        if width(rest) <= columns {
            lines.push(from..text.len());
            break;
        }
        let fits = head_of(rest, columns);
        let at_word = if rest[fits..].starts_with(' ') {
            Some(fits)
        } else {
            rest[..fits].rfind(' ').filter(|&at| at > 0)
        };
        // A word longer than the line is broken; a character wider than the line is let stand.
        let first = rest.chars().next().map_or(1, char::len_utf8);
        let end = from + at_word.unwrap_or(fits).max(first);
        lines.push(from..end);
        from = end + usize::from(text[end..].starts_with(' '));
    }
    lines
}

/// The text on one line, every run of white space one space.
pub(super) fn on_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// How many bytes of `text` fit in `columns`.
fn head_of(text: &str, columns: usize) -> usize {
    let mut taken = 0;
    let mut bytes = 0;
    let span = Span::raw(text);
    for grapheme in span.styled_graphemes(Style::default()) {
        taken += width(grapheme.symbol);
        if taken > columns {
            break;
        }
        // Graphemes that are not drawn are left out of the iterator, so the place is looked up.
        bytes += text[bytes..].find(grapheme.symbol).unwrap_or(0) + grapheme.symbol.len();
    }
    bytes
}

/// Draws one line on row `row` of `area`, if it has one.
pub(super) fn put<'a>(buffer: &mut Buffer, area: Rect, row: u16, line: impl Into<Line<'a>>) {
    if row < area.height {
        let at = Rect {
            y: area.y + row,
            height: 1,
            ..area
        };
        line.into().render(at.intersection(buffer.area), buffer);
    }
}

/// `area` without its first `rows` rows.
pub(super) fn below(area: Rect, rows: u16) -> Rect {
    let rows = rows.min(area.height);
    Rect {
        y: area.y + rows,
        height: area.height - rows,
        ..area
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn text_is_cut_at_word_ends() {
        assert_eq!(cut("the lake is calm", 16), "the lake is calm");
        assert_eq!(cut("the lake is calm", 15), "the lake is…");
        assert_eq!(cut("the lake is calm", 9), "the lake…");
        assert_eq!(cut("the lake is calm", 8), "the…");
        assert_eq!(cut("lanterns", 4), "lan…");
        assert_eq!(cut("lanterns", 0), "");
    }

    #[test]
    fn wide_characters_take_two_columns() {
        assert_eq!(cut("湖の光 湖", 7), "湖の光…");
        assert_eq!(cut("湖の光", 4), "湖…");
    }

    proptest! {
        #[test]
        fn no_line_is_wider_than_asked_and_no_word_is_lost(text in "[a-z湖é ]{0,80}", columns in 2usize..30) {
            let text = on_one_line(&text);
            let lines = wrap(&text, columns);
            prop_assert!(lines.iter().all(|line| width(&text[line.clone()]) <= columns));
            let joined: String = lines.iter().map(|line| &text[line.clone()]).collect();
            prop_assert_eq!(joined.replace(' ', ""), text.replace(' ', ""));
            prop_assert!(width(&cut(&text, columns)) <= columns);
        }

        #[test]
        fn any_text_is_cut_and_wrapped_without_a_panic(text in "\\PC{0,40}", columns in 0usize..12) {
            let _ = (cut(&text, columns), wrap(&on_one_line(&text), columns));
        }
    }
}

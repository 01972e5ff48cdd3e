//! A line of text being typed.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Rect;
use ratatui::style::Modifier;
use ratatui::text::{Line, Span as Piece};

use super::text::{on_one_line, put, wrap};
use super::theme::Styles;

/// Text, and where the next letter goes.
#[derive(Debug, Clone, Default)]
pub(super) struct Field {
    text: String,
    /// The byte before which typing goes on.
    at: usize,
}

impl Field {
    /// A text on one line, the cursor at its end.
    pub fn of(text: &str) -> Field {
        let text = on_one_line(text);
        Field {
            at: text.len(),
            text,
        }
    }

    pub fn text(&self) -> &str {
        &self.text
    }

    /// Takes a key; whether it was one of typing.
    pub fn key(&mut self, key: KeyEvent) -> bool {
        let chord = KeyModifiers::CONTROL | KeyModifiers::ALT;
        match key.code {
            KeyCode::Char(letter) if !key.modifiers.intersects(chord) => {
                self.text.insert(self.at, letter);
                self.at += letter.len_utf8();
            }
            KeyCode::Backspace => {
                if let Some(before) = self.before() {
                    self.text.remove(before);
                    self.at = before;
                }
            }
            KeyCode::Delete => {
                if self.at < self.text.len() {
                    self.text.remove(self.at);
                }
            }
            KeyCode::Left => self.at = self.before().unwrap_or(0),
            KeyCode::Right => {
                let next = self.text[self.at..].chars().next();
                self.at += next.map_or(0, char::len_utf8);
            }
            // A word back, a word on.
            KeyCode::Up => {
                let head = self.text[..self.at].trim_end();
                self.at = head.rfind(' ').map_or(0, |space| space + 1);
            }
            KeyCode::Down => {
                let space = self.text[self.at..].find(' ');
                self.at = space.map_or(self.text.len(), |space| self.at + space + 1);
            }
            KeyCode::Home => self.at = 0,
            KeyCode::End => self.at = self.text.len(),
            _ => return false,
        }
        true
    }

    fn before(&self) -> Option<usize> {
        let last = self.text[..self.at].char_indices().next_back();
        last.map(|(before, _)| before)
    }

    /// Draws it on all of `area`, the cursor in view; the rows it takes.
    pub fn draw(&self, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        // The cursor may stand behind the last letter.
        let text = format!("{} ", self.text);
        let lines = wrap(&text, usize::from(area.width));
        let here = lines.iter().position(|line| self.at <= line.end);
        let here = here.unwrap_or(lines.len().saturating_sub(1));
        let first = (here + 1).saturating_sub(usize::from(area.height));
        let cursor = styles.strong.add_modifier(Modifier::REVERSED);
        let shown = lines.into_iter().enumerate().skip(first);
        for (row, (i, line)) in shown.take(usize::from(area.height)).enumerate() {
            let under = text[self.at..].chars().next().map_or(1, char::len_utf8);
            let from = self.at.clamp(line.start, line.end);
            let to = (self.at + under).clamp(from, line.end);
            let mut drawn = Line::from(vec![
                Piece::styled(text[line.start..from].to_owned(), styles.base),
                Piece::styled(text[from..to].to_owned(), cursor),
                Piece::styled(text[to..line.end].to_owned(), styles.base),
            ]);
            if i == here && from == to {
                drawn.push_span(Piece::styled(" ", cursor));
            }
            put(buffer, area, row as u16, drawn);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(keys: &[KeyCode], into: &str) -> String {
        let mut field = Field::of(into);
        for key in keys {
            field.key(KeyEvent::new(*key, KeyModifiers::NONE));
        }
        field.text
    }

    #[test]
    fn typing_changes_what_the_cursor_stands_at() {
        use KeyCode::*;
        assert_eq!(
            typed(&[Char('é'), Left, Char('x'), Right, Char('!')], "a"),
            "axé!"
        );
        assert_eq!(
            typed(&[Up, Backspace, Delete, Char('-')], "one two"),
            "one-wo"
        );
        assert_eq!(
            typed(&[Home, Delete, Delete, Down, Char('3')], "one two"),
            "e 3two"
        );
        assert_eq!(
            typed(&[Home, Backspace, Left, Up, End, Delete, Right, Down], "é"),
            "é"
        );
    }
}

//! The whole script over the Stand: search it, jump to words, read them through before they are due.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent};
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::digits::to_go;
use super::facts::Scene;
use super::field::Field;
use super::naming;
use super::overlay::frame;
use super::reading::{At, Text};
use super::text::{below, cut, on_one_line, put};
use super::theme::Styles;
use crate::live::{Mode, Session};
use crate::show::Name;
use crate::units::{Instant, Span};

/// Words being looked for.
#[derive(Debug, Clone, Default)]
pub(super) struct Search {
    field: Field,
    /// Which of the found is chosen.
    at: usize,
}

/// A phrase that was found.
struct Found {
    block: usize,
    words: String,
}

impl Search {
    /// Takes a key; the block jumped to, if it jumps. `None` if it is no key of a search.
    pub fn key(&mut self, key: KeyEvent, session: &Session) -> Option<Option<Name>> {
        let found = self.found(session);
        match key.code {
            KeyCode::Up => self.at = self.at.saturating_sub(1),
            KeyCode::Down => self.at = (self.at + 1).min(found.len().saturating_sub(1)),
            KeyCode::Enter => {
                let chosen = found.get(self.at)?;
                return Some(Some(session.show().blocks.get(chosen.block)?.id.clone()));
            }
            _ if self.field.key(key) => self.at = 0,
            _ => return None,
        }
        Some(None)
    }

    /// Phrases with the typed letters in them, in the order of the document; with none typed, the first of each
    /// block.
    fn found(&self, session: &Session) -> Vec<Found> {
        let wanted = self.field.text().trim().to_lowercase();
        let mut found = Vec::new();
        for block in 0..session.show().blocks.len() {
            let words = session.block_words(block, session.version_of(block));
            let phrases = session.phrases(block);
            let phrases = phrases
                .iter()
                .filter_map(|phrase| words.text.get(phrase.range.clone()));
            let phrases = phrases.map(on_one_line);
            let mut fits = phrases.filter(|phrase| phrase.to_lowercase().contains(&wanted));
            if wanted.is_empty() {
                found.extend(fits.next().map(|words| Found { block, words }));
            } else {
                found.extend(fits.map(|words| Found { block, words }));
            }
        }
        found
    }

    pub fn draw(&self, session: &Session, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let columns = area.width.saturating_sub(8).min(100);
        let rows = area.height.saturating_sub(6).min(24);
        let inside = frame(
            "search the script",
            (columns, rows),
            false,
            area,
            styles,
            buffer,
        );
        let typed = Rect {
            height: 1.min(inside.height),
            ..inside
        };
        self.field.draw(typed, styles, buffer);
        let found = self.found(session);
        let list = below(inside, 2);
        let room = usize::from(list.height.saturating_sub(1));
        let first = (self.at + 1).saturating_sub(room.max(1));
        let wide = usize::from(inside.width);
        for (row, (i, found)) in found.iter().enumerate().skip(first).take(room).enumerate() {
            let (pointer, style) = match i == self.at {
                true => ("▸ ", styles.strong),
                false => ("  ", styles.base),
            };
            let id = &session.show().blocks[found.block].id;
            let state = naming::state(session.blocks()[found.block].state);
            let text = cut(&format!("{pointer}{id}, {state}: {}", found.words), wide);
            put(buffer, list, row as u16, Line::styled(text, style));
        }
        let keys = match found.is_empty() {
            true => "No phrase has these letters in it.   Esc closes",
            false => "↑ ↓ next   Enter these words   Esc closes   Ctrl+K knocks it off",
        };
        let last = below(inside, inside.height.saturating_sub(1));
        put(buffer, last, 0, Line::styled(cut(keys, wide), styles.quiet));
    }
}

/// Words looked at before they are due, and read through for practice.
#[derive(Debug, Clone)]
pub(super) struct Reread {
    pub block: Name,
    /// When reading them through was begun, and ended.
    begun: Option<(Instant, Option<Instant>)>,
}

impl Reread {
    pub fn of(block: Name) -> Reread {
        Reread { block, begun: None }
    }

    /// Begins to read the words through, or ends it: before show zero, or while the show is held up.
    pub fn read_through(&mut self, session: &Session) {
        let now = session.now();
        self.begun = match self.begun {
            Some((begun, None)) => Some((begun, Some(now))),
            _ => may_practise(session).then_some((now, None)),
        };
    }

    pub fn draw(&self, scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let session = scene.session;
        let blocks = session.show().blocks.iter();
        let Some(block) = blocks.into_iter().position(|block| block.id == self.block) else {
            return;
        };
        let size = (area.width.saturating_sub(4), area.height.saturating_sub(4));
        let state = naming::state(session.blocks()[block].state);
        let title = format!("{}, {state}", self.block);
        let inside = frame(&title, size, false, area, styles, buffer);
        let words = Rect {
            height: inside.height.saturating_sub(3),
            ..inside
        };
        let running = self.begun.filter(|(_, ended)| ended.is_none());
        let place = running.and_then(|(begun, _)| session.place_in_practice(block, begun));
        let at = place.map(|place| At {
            phrase: place.phrase,
            share: place.share,
        });
        Text::of(session, block).draw(at, words, styles, buffer);
        let lines = [
            self.told(session, block),
            "PageDown begins these words (asks)   Space reads them through   Esc closes".into(),
        ];
        let last = below(inside, inside.height.saturating_sub(2));
        for (row, line) in lines.iter().enumerate() {
            let line = cut(line, usize::from(last.width));
            put(buffer, last, row as u16, Line::styled(line, styles.quiet));
        }
    }

    /// How long reading them through has taken, and takes at the set rate.
    fn told(&self, session: &Session, block: usize) -> String {
        let set = session.lasts(block).s();
        match self.begun {
            Some((begun, None)) => {
                let gone = (session.now() - begun).clock(0);
                format!(
                    "reading through, {gone} of {}; nothing is journaled",
                    to_go(Span::from_s(set))
                )
            }
            Some((begun, Some(ended))) => {
                format!(
                    "took {:.1} s; {set:.1} s at the set rate",
                    (ended - begun).s()
                )
            }
            None if !may_practise(session) => {
                format!("{set:.1} s at the set rate; read through only before show zero or held up")
            }
            None => format!("{set:.1} s at the set rate"),
        }
    }
}

/// Whether words may be read through for practice: nobody flies for them.
fn may_practise(session: &Session) -> bool {
    let before = session.now() < Instant::ZERO;
    let idle = before || matches!(session.mode(), Mode::Delayed(_));
    idle && session.speaking().is_none()
}

//! Late edits over the Stand: choose words that are not said yet, and type other ones.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{KeyCode, KeyEvent};
use ratatui::layout::Rect;
use ratatui::text::Line;

use super::facts::Scene;
use super::field::Field;
use super::overlay::frame;
use super::programme::draw_list;
use super::text::{below, cut, on_one_line, put};
use super::theme::Styles;
use super::words::queue;
use crate::live::{Session, What};
use crate::script::Reader;
use crate::show::{Name, Show, Wording};

/// Words being changed.
#[derive(Debug, Clone, Default)]
pub(super) struct Mending {
    /// Which of the list is chosen.
    at: usize,
    typed: Option<Typed>,
}

/// A text being typed over.
#[derive(Debug, Clone)]
struct Typed {
    block: Name,
    short: bool,
    field: Field,
}

/// What a key of typing did.
pub(super) enum Took {
    /// It changed the text.
    Typing,
    /// It ended the typing, with a change or without.
    Ended(Option<What>),
    /// It is no key of typing.
    No,
}

impl Mending {
    /// Whether letters are text just now.
    pub fn is_typing(&self) -> bool {
        self.typed.is_some()
    }

    /// Takes a key while letters are text.
    pub fn type_key(&mut self, key: KeyEvent, session: &Session) -> Took {
        let Some(typed) = &mut self.typed else {
            return Took::No;
        };
        match key.code {
            KeyCode::Esc => self.typed = None,
            KeyCode::Enter => {
                let before = words(session.show(), &typed.block, typed.short);
                let same =
                    before.is_some_and(|words| on_one_line(&words.text) == typed.field.text());
                let change = What::Reword {
                    block: typed.block.clone(),
                    short: typed.short,
                    text: typed.field.text().to_owned(),
                };
                self.typed = None;
                return Took::Ended((!same).then_some(change));
            }
            _ if typed.field.key(key) => return Took::Typing,
            _ => return Took::No,
        }
        Took::Ended(None)
    }

    /// Takes a key while words are chosen; whether it was one of the list.
    pub fn key(&mut self, code: KeyCode, session: &Session) -> bool {
        let list = list(session);
        match code {
            KeyCode::Up => self.at = self.at.saturating_sub(1),
            KeyCode::Down => self.at = (self.at + 1).min(list.len().saturating_sub(1)),
            KeyCode::Enter => {
                let show = session.show();
                let chosen = list.get(self.at).and_then(|&(block, short)| {
                    let block = show.blocks.get(block)?.id.clone();
                    let field = Field::of(&words(show, &block, short)?.text);
                    Some(Typed {
                        block,
                        short,
                        field,
                    })
                });
                self.typed = chosen;
            }
            _ => return false,
        }
        true
    }

    pub fn draw(&self, scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let session = scene.session;
        if let Some(typed) = &self.typed {
            return typed.draw(session, area, styles, buffer);
        }
        let show = session.show();
        let lines: Vec<String> = list(session)
            .into_iter()
            .filter_map(|(block, short)| {
                let block = show.blocks.get(block)?;
                let which = if short { ", short" } else { "" };
                let text = on_one_line(&words(show, &block.id, short)?.text);
                Some(format!("{}{which}: {text}", block.id))
            })
            .collect();
        let keys = ["↑ ↓ choose   Enter change these words", "Esc closes"];
        draw_list("change words", &lines, self.at, keys, area, styles, buffer);
    }
}

impl Typed {
    fn draw(&self, session: &Session, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let columns = area.width.saturating_sub(8).min(100);
        let rows = (area.height / 2).clamp(8, 16);
        let which = if self.short { ", short text" } else { "" };
        let title = format!("other words for {}{which}", self.block);
        let inside = frame(&title, (columns, rows), false, area, styles, buffer);
        let text = Rect {
            height: inside.height.saturating_sub(4),
            ..inside
        };
        self.field.draw(text, styles, buffer);
        let last = below(inside, inside.height.saturating_sub(3));
        let lines = [
            self.taking(session),
            "Enter says these from now on   Esc leaves the words as they were".into(),
            "Letters are text here: Esc before any other key. Ctrl+K knocks it off.".into(),
        ];
        for (row, line) in lines.into_iter().enumerate() {
            let line = cut(&line, usize::from(last.width));
            put(buffer, last, row as u16, Line::styled(line, styles.quiet));
        }
    }

    /// How long the text takes as it stands, or why it cannot be.
    fn taking(&self, session: &Session) -> String {
        let show = session.show();
        let block = show.block(&self.block);
        let old = words(show, &self.block, self.short);
        let words = old.and_then(|old| old.reworded(self.field.text()));
        match (block, words) {
            (Some(block), Some(words)) => {
                let lasts = Reader::of(show, block).reading(&words).lasts();
                format!("takes {:.1} s", lasts.s())
            }
            _ => "what stands in [ ] and { } has to stay, and some words".into(),
        }
    }
}

/// Blocks whose words may be changed, full and short: those to come in order, then the pool.
fn list(session: &Session) -> Vec<(usize, bool)> {
    let mut blocks = queue(session);
    let others = (0..session.show().blocks.len()).filter(|&i| session.keeps_words(i).is_none());
    let others: Vec<usize> = others.filter(|i| !blocks.contains(i)).collect();
    blocks.extend(others);
    let versions = |i: usize| {
        let short = session
            .show()
            .blocks
            .get(i)
            .and_then(|block| block.short.as_ref());
        std::iter::once((i, false)).chain(short.map(|_| (i, true)))
    };
    blocks.into_iter().flat_map(versions).collect()
}

fn words<'s>(show: &'s Show, block: &Name, short: bool) -> Option<&'s Wording> {
    let block = show.block(block)?;
    match short {
        true => block.short.as_ref(),
        false => Some(&block.text),
    }
}

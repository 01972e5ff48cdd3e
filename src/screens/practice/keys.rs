//! The keys there are only while practising.

use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;

use crate::live::{CueState, Session};
use crate::screens::facts::Scene;
use crate::screens::programme::{draw_list, line};
use crate::screens::theme::Styles;
use crate::show::Name;

/// Every key of practice and what it does, for the help overlay.
pub(in crate::screens) const KEYS: [(&str, &str); 7] = [
    ("Space", "practice: pause, go on"),
    (", .", "practice: slower, faster"),
    ("l", "practice: from last hold"),
    ("j", "practice: to a figure"),
    ("i", "practice: I key, or it"),
    ("y", "practice: heights, or map"),
    ("Tab", "Stand, Desk, Practice"),
];

/// What somebody practising wants of the practice, not of the show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PracticeWish {
    /// The clock stands, or runs again.
    Pause,
    /// The clock runs faster.
    Faster,
    /// The clock runs slower.
    Slower,
    /// Once more from the hold: of the figure being flown, or of the last one that had one.
    OnceMore,
    /// To where a figure begins.
    Figure(Name),
    /// The simulator keys marks and words from now on, or the person does.
    Narrator,
}

/// What a key wishes for while nothing lies over the screen.
pub(in crate::screens) fn wish(code: KeyCode) -> Option<PracticeWish> {
    match code {
        KeyCode::Char(' ') => Some(PracticeWish::Pause),
        KeyCode::Char('.' | '>') => Some(PracticeWish::Faster),
        KeyCode::Char(',' | '<') => Some(PracticeWish::Slower),
        KeyCode::Char('l') => Some(PracticeWish::OnceMore),
        KeyCode::Char('i') => Some(PracticeWish::Narrator),
        _ => None,
    }
}

/// The list of figures one may go to.
#[derive(Debug, Clone)]
pub(in crate::screens) struct Figures {
    /// The entry that is chosen, by index.
    at: usize,
}

impl Figures {
    /// The list with the figure being flown chosen, or the next one.
    pub fn new(session: &Session) -> Figures {
        let over = |state| matches!(state, CueState::Done | CueState::Dropped);
        let mut flown = session.programme().iter();
        let at = flown.position(|flying| !over(session.figure_state(flying)));
        Figures {
            at: at.unwrap_or(0),
        }
    }

    /// Whether a key is one of the list's.
    pub fn takes(&self, code: KeyCode) -> bool {
        matches!(code, KeyCode::Up | KeyCode::Down | KeyCode::Enter)
    }

    /// Takes a key; gives the entry it chose, if it did.
    pub fn key(&mut self, code: KeyCode, session: &Session) -> Option<Name> {
        let last = session.programme().len().saturating_sub(1);
        match code {
            KeyCode::Up => self.at = self.at.saturating_sub(1),
            KeyCode::Down => self.at = (self.at + 1).min(last),
            KeyCode::Enter => {
                let flying = session.programme().get(self.at.min(last))?;
                return Some(flying.entry.key.clone());
            }
            _ => {}
        }
        None
    }

    /// Draws the list.
    pub fn draw(&self, scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let programme = scene.session.programme();
        let lines: Vec<String> = programme.iter().map(|flying| line(scene, flying)).collect();
        let keys = ["↑ ↓ choose   Enter go there   Esc close", ""];
        draw_list(
            "go to which figure?",
            &lines,
            self.at,
            keys,
            area,
            styles,
            buffer,
        );
    }
}

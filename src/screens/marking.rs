//! The keys of marks.

use ratatui::crossterm::event::KeyCode;

use super::panel::Wish;
use crate::live::{Mark, MarkKind, Session, What};
use crate::units::Span;

/// How far a mark moves for one key.
const SHIFT: Span = Span::from_ms(500);

/// Marks: seen now; the last one undone or moved.
pub(super) fn key(code: KeyCode, session: &Session) -> Option<What> {
    let kind = match code {
        KeyCode::Char('a') => MarkKind::Abeam,
        KeyCode::Char('g') => MarkKind::Gate,
        KeyCode::Char('n') => MarkKind::Inbound,
        KeyCode::Char('u') => return Some(What::UndoMark),
        KeyCode::Left => return Some(What::ShiftMark { by: -SHIFT }),
        KeyCode::Right => return Some(What::ShiftMark { by: SHIFT }),
        _ => return None,
    };
    Some(What::Mark(Mark {
        kind,
        observed: session.now(),
        point: None,
    }))
}

/// An answer to the question which point a mark is of.
pub(super) fn answer(code: KeyCode, session: &Session) -> Option<Vec<Wish>> {
    let ask = session.ask()?;
    let what = match code {
        KeyCode::Esc => What::Dismiss,
        KeyCode::Char(digit @ '1'..='9') => {
            let chosen = digit as usize - '1' as usize;
            let Some(point) = ask.offered.get(chosen) else {
                return Some(Vec::new());
            };
            What::Mark(Mark {
                kind: ask.kind,
                observed: ask.observed,
                point: Some(point.clone()),
            })
        }
        _ => return None,
    };
    Some(vec![Wish::Happen(what)])
}

//! The keys of a track close up. Letters that make something happen to the show keep their meaning here.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

use super::super::keys::is_over;
use super::super::panel::{Page, Panel, Wish};
use crate::live::Session;
use crate::spotting::{Amount, Audition, Spotting, Step};
use crate::units::Span;

/// Every key of this page, for its own last rows.
pub(in crate::screens) const HELP: [&str; 3] = [
    "← → move   1 2 3 4 step   + − zoom   Space hear   o onset   l bar   ↑ ↓ choose",
    "h hit here   y entry here   , . nudge   m bring it here   i name   Del take away",
    "v vamps found   j its join   Enter take it   z undo  Z redo   Ctrl S write   Esc",
];

impl Panel {
    /// What a key does to a track close up; `None` where it is not one of that page.
    pub(in crate::screens) fn track_key(
        &mut self,
        key: KeyEvent,
        session: &Session,
    ) -> Option<Vec<Wish>> {
        if self.page != Page::Track {
            return None;
        }
        let heard = self.heard;
        let spotting = self.spotting.as_mut()?;
        if !may_type(session) {
            spotting.leave_naming();
        }
        if spotting.naming().is_some() {
            name_key(spotting, key.code);
            return Some(Vec::new());
        }
        if key.modifiers.contains(KeyModifiers::CONTROL) {
            return match key.code {
                KeyCode::Char('s') => Some(write(spotting, session)),
                _ => None,
            };
        }
        match key.code {
            KeyCode::Esc | KeyCode::Char('e') | KeyCode::Tab | KeyCode::BackTab => {
                self.page = Page::Desk;
                return Some(vec![Wish::HearNothing]);
            }
            KeyCode::Char(' ') => return Some(hear(spotting, heard)),
            KeyCode::Char('j' | 'J') => {
                let Some(join) = spotting.join() else {
                    spotting.complain("there is no vamp: v looks at those that were found");
                    return Some(Vec::new());
                };
                return Some(vec![Wish::Hear(join)]);
            }
            _ => {}
        }
        let at = heard.unwrap_or(spotting.playhead());
        let touched = spotting_key(spotting, key.code, at)?;
        if key.code == KeyCode::Char('h') && may_type(session) {
            spotting.begin_naming();
        }
        if matches!(key.code, KeyCode::Char('i' | 'I')) {
            if may_type(session) {
                spotting.begin_naming();
            } else {
                spotting
                    .complain("the show runs, and its keys stay keys: give names before or after");
            }
        }
        let touch = (heard.is_none() && touched).then(|| Audition::touch(spotting.playhead()));
        Some(touch.map(Wish::Hear).into_iter().collect())
    }

    /// Whether a key held down on this page does its thing again and again.
    pub(in crate::screens) fn track_key_repeats(&self, code: KeyCode) -> bool {
        let naming = self
            .spotting
            .as_ref()
            .is_some_and(|spotting| spotting.naming().is_some());
        self.page == Page::Track && (naming || matches!(code, KeyCode::Char(',' | '.' | 'z' | 'Z')))
    }
}

/// Names are typed, and the document is written, where no figure is being flown: a letter must not be missing
/// when it is needed, and a show that is cut short goes on only with the document it was begun with.
pub(in crate::screens) fn may_type(session: &Session) -> bool {
    session.now() < session.plan().moments.begin() || is_over(session)
}

fn write(spotting: &mut Spotting, session: &Session) -> Vec<Wish> {
    if may_type(session) {
        return vec![Wish::Write];
    }
    spotting.complain("the show runs by this document: it is written when you leave with q");
    Vec::new()
}

fn name_key(spotting: &mut Spotting, code: KeyCode) {
    match code {
        KeyCode::Enter => spotting.name_it(),
        KeyCode::Esc => spotting.leave_naming(),
        KeyCode::Backspace => spotting.type_letter(None),
        KeyCode::Char(letter) => spotting.type_letter(Some(letter)),
        _ => {}
    }
}

/// The space bar: hear from the playhead; or stop, with the playhead where it was heard.
fn hear(spotting: &mut Spotting, heard: Option<Span>) -> Vec<Wish> {
    match heard {
        Some(place) => {
            spotting.go_to(place);
            vec![Wish::HearNothing]
        }
        None => vec![Wish::Hear(spotting.from_here())],
    }
}

/// Does what a key says, at the place that is heard or looked at; whether the playhead was moved by it, `None`
/// where it is no key of this page.
fn spotting_key(spotting: &mut Spotting, code: KeyCode, at: Span) -> Option<bool> {
    let before = spotting.playhead();
    match code {
        KeyCode::Left => spotting.scrub(-1),
        KeyCode::Right => spotting.scrub(1),
        KeyCode::Home => spotting.go_to(Span::ZERO),
        KeyCode::End => spotting.go_to(spotting.length()),
        KeyCode::Up => spotting.choose(-1),
        KeyCode::Down => spotting.choose(1),
        KeyCode::Char('+' | '=') => spotting.zoom(true),
        KeyCode::Char('-' | '−') => spotting.zoom(false),
        KeyCode::Char('1') => spotting.stride(Step::Frame),
        KeyCode::Char('2') => spotting.stride(Step::Hundredth),
        KeyCode::Char('3') => spotting.stride(Step::Beat),
        KeyCode::Char('4') => spotting.stride(Step::Bar),
        KeyCode::Char(',') => spotting.nudge(-1),
        KeyCode::Char('.') => spotting.nudge(1),
        KeyCode::Char('h' | 'H') => {
            spotting.add_hit(at);
        }
        KeyCode::Char('y' | 'Y') => spotting.add_entry(at),
        KeyCode::Char('m' | 'M') => spotting.bring(at),
        KeyCode::Char('o' | 'O') => spotting.snap_to_onset(),
        KeyCode::Char('l' | 'L') => spotting.snap_to_bar(),
        KeyCode::Char('v' | 'V') => spotting.next_vamp(),
        KeyCode::Char('z') => spotting.undo(),
        KeyCode::Char('Z') => spotting.redo(),
        KeyCode::Enter => spotting.take_vamp(),
        KeyCode::Delete | KeyCode::Backspace => spotting.remove(),
        KeyCode::Char('i' | 'I') => {}
        _ => return None,
    }
    let place = spotting
        .chosen()
        .and_then(|thing| spotting.amount(&thing))
        .is_none_or(|amount| matches!(amount, Amount::Place(_)));
    Some(place && spotting.playhead() != before)
}

//! Keys, and what they wish for.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use super::panel::{Overlay, Page, Panel, Pending, Wish};
use super::programme::Programme;
use super::words;
use crate::live::session::RELEASE_WITHIN;
use crate::live::{CueState, Mark, MarkKind, Mode, Session, What};
use crate::units::Span;

/// Every key and what it does, for the help overlay.
pub(super) const KEYS: [(&str, &str); 26] = [
    ("a", "mark abeam now"),
    ("g", "mark a gate now"),
    ("n", "mark inbound now"),
    ("u", "undo the last mark"),
    ("← →", "mark ½ s earlier, later"),
    ("PageDown", "begin words, end words"),
    ("s", "leave words out (asks)"),
    ("t", "can talk: end the hush"),
    ("w", "wait: hold the show up"),
    ("c", "carry on"),
    ("k", "knock it off, at once"),
    ("!", "accident (asks)"),
    ("x", "disarm automatic starts"),
    ("r", "ready: arm them again"),
    ("d", "duck music, or not"),
    ("p", "programme, its changes"),
    ("Tab", "Stand, Desk"),
    ("↑ ↓", "Desk: choose a track"),
    ("Enter", "Desk: start the track"),
    ("f", "Desk: fade the track"),
    ("+ −", "Desk: fader 1 dB"),
    ("e", "Desk: edit hits and vamps"),
    ("1 … 9", "which point was marked"),
    ("b", "bright or dark ground"),
    ("? Esc", "keys; close what is open"),
    ("q", "leave the program (asks)"),
];

/// A terminal that tells no releases repeats a held key: the same key sooner than this is one that is held.
/// Two passes nearer together than this are one mark. Repeating begins after a quarter to two thirds of a second on common systems (common practice, no published source).
const HELD: Span = Span::from_ms(700);
/// Words are not ended sooner than this after they were begun: a remote's key that bounces ends nothing.
const LEAST_SAID: Span = Span::from_ms(2_000);
/// How far a mark moves for one key.
const SHIFT: Span = Span::from_ms(500);
/// How far a fader moves for one key, in decibels.
const FADER_STEP: f64 = 1.0;

impl Panel {
    /// What a key wishes for. `session` stands at the instant of the key: marks are of that instant.
    pub fn key(&mut self, key: KeyEvent, session: &Session) -> Vec<Wish> {
        if self.is_held(key, session) {
            return Vec::new();
        }
        self.refusal = None;
        let code = match key.code {
            KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => {
                KeyCode::Char('q')
            }
            // Caps lock must not lose a mark.
            KeyCode::Char(letter) => KeyCode::Char(letter.to_ascii_lowercase()),
            code => code,
        };
        if let Mode::Accident { release, .. } = session.mode() {
            self.forget();
            let open = release.is_some_and(|first| session.now() - first <= RELEASE_WITHIN);
            return self.accident_key(code, open);
        }
        if !self.cautioned {
            self.cautioned = true;
            if code != KeyCode::Char('k') {
                return Vec::new();
            }
        }
        if let Some(wishes) = self.second_key(code) {
            return wishes;
        }
        if let Mode::KnockedOff(_) = session.mode() {
            self.overlay = None;
            return self.knocked_off_key(code, session);
        }
        if let Some(wishes) = answer(code, session) {
            return wishes;
        }
        if let Some(wishes) = self.overlay_key(code, session) {
            return wishes;
        }
        if let Some(wishes) = self.track_key(key, session) {
            return wishes;
        }
        let wish = self.desk_key(code, session);
        match wish.or_else(|| self.show_key(code, session)) {
            Some(what) => vec![Wish::Happen(what)],
            None => self.interface_key(code, session),
        }
    }

    /// Whether a key is only the repetition of one held down; such do nothing, except moving along.
    fn is_held(&mut self, key: KeyEvent, session: &Session) -> bool {
        let moves = matches!(
            key.code,
            KeyCode::Up
                | KeyCode::Down
                | KeyCode::Left
                | KeyCode::Right
                | KeyCode::Char('+' | '-' | '=')
        ) || self.track_key_repeats(key.code);
        let before = self.last_key.replace((key.code, session.now()));
        let soon =
            before.is_some_and(|(code, at)| code == key.code && (session.now() - at).abs() < HELD);
        match key.kind {
            KeyEventKind::Release => {
                // Where releases are told, a key pressed again was let go before.
                self.last_key = None;
                true
            }
            KeyEventKind::Repeat => !moves,
            KeyEventKind::Press => soon && !moves,
        }
    }

    fn forget(&mut self) {
        self.overlay = None;
        self.pending = None;
    }

    /// Two different keys leave an accident, so that one held down does not.
    fn accident_key(&mut self, code: KeyCode, open: bool) -> Vec<Wish> {
        match (code, open) {
            (KeyCode::Char('c'), false) | (KeyCode::Enter, true) => {
                vec![Wish::Happen(What::Release)]
            }
            _ => Vec::new(),
        }
    }

    fn knocked_off_key(&mut self, code: KeyCode, session: &Session) -> Vec<Wish> {
        match code {
            KeyCode::Char('c') => vec![Wish::Happen(What::Release)],
            KeyCode::Char('!' | 'q' | 'b') => self.interface_key(code, session),
            _ => mark_key(code, session)
                .map(Wish::Happen)
                .into_iter()
                .collect(),
        }
    }

    /// The key after one that asked: Enter does it, Esc does not, any other takes the question away.
    fn second_key(&mut self, code: KeyCode) -> Option<Vec<Wish>> {
        let pending = self.pending.take()?;
        match code {
            KeyCode::Enter => Some(vec![match pending {
                Pending::Quit => Wish::Quit,
                Pending::Accident => Wish::Happen(What::Accident),
                Pending::Skip(block) => Wish::Happen(What::SkipBlock { block }),
            }]),
            KeyCode::Esc => Some(Vec::new()),
            _ => None,
        }
    }

    fn overlay_key(&mut self, code: KeyCode, session: &Session) -> Option<Vec<Wish>> {
        match (&mut self.overlay, code) {
            (None, _) => None,
            (Some(Overlay::Programme(programme)), code) if !programme.is_left_by(code) => {
                let what = programme.key(code, session)?;
                Some(what.map(Wish::Happen).into_iter().collect())
            }
            (Some(Overlay::Help), KeyCode::Char('?'))
            | (Some(_), KeyCode::Esc | KeyCode::PageUp) => {
                self.overlay = None;
                Some(Vec::new())
            }
            _ => None,
        }
    }

    /// Keys for the selected track.
    fn desk_key(&mut self, code: KeyCode, session: &Session) -> Option<What> {
        if self.page != Page::Desk {
            return None;
        }
        let count = session.tracks().len();
        match code {
            KeyCode::Up => self.selected = self.selected.saturating_sub(1),
            KeyCode::Down => self.selected = (self.selected + 1).min(count.saturating_sub(1)),
            _ => {}
        }
        let track = session.show().tracks.get(self.selected)?.id.clone();
        let fader = session.tracks().get(self.selected)?.gain.db();
        match code {
            KeyCode::Enter => Some(What::StartTrack { track }),
            KeyCode::Char('f') => Some(What::FadeTrack { track }),
            KeyCode::Char('+' | '=') => Some(What::Level {
                track,
                gain_db: fader + FADER_STEP,
            }),
            KeyCode::Char('-' | '−') => Some(What::Level {
                track,
                gain_db: fader - FADER_STEP,
            }),
            _ => None,
        }
    }

    /// Keys that something happens by at once.
    fn show_key(&mut self, code: KeyCode, session: &Session) -> Option<What> {
        let letter = match code {
            KeyCode::PageDown => return words_key(session),
            KeyCode::Char(letter) => letter,
            code => return mark_key(code, session),
        };
        match letter {
            't' => Some(What::Audible),
            'w' => Some(What::Delay),
            'c' => Some(What::Resume),
            'k' => {
                self.overlay = None;
                Some(What::KnockItOff)
            }
            'x' => Some(What::Arm { armed: false }),
            'r' => Some(What::Arm { armed: true }),
            'd' => Some(What::Duck {
                latched: !session.is_duck_latched(),
            }),
            _ => mark_key(code, session),
        }
    }

    /// Keys that change the interface, or ask first.
    fn interface_key(&mut self, code: KeyCode, session: &Session) -> Vec<Wish> {
        match code {
            KeyCode::Tab | KeyCode::BackTab => {
                self.page = match self.page {
                    Page::Stand | Page::Track => Page::Desk,
                    Page::Desk => Page::Stand,
                };
            }
            KeyCode::Char('?') => self.overlay = Some(Overlay::Help),
            KeyCode::Char('p') => {
                self.overlay = Some(Overlay::Programme(Programme::new(session)));
            }
            KeyCode::Char('e') if self.page == Page::Desk && !session.tracks().is_empty() => {
                return vec![Wish::Spot(self.selected)];
            }
            KeyCode::Char('b') => self.theme = self.theme.other(),
            KeyCode::Char('!') => self.pending = Some(Pending::Accident),
            KeyCode::Char('s') => {
                let block = words::queue(session).first().copied();
                self.pending =
                    block.map(|block| Pending::Skip(session.show().blocks[block].id.clone()));
            }
            KeyCode::Char('q') if is_over(session) => return vec![Wish::Quit],
            KeyCode::Char('q') => self.pending = Some(Pending::Quit),
            _ => {}
        }
        Vec::new()
    }
}

/// Marks: seen now; the last one undone or moved.
fn mark_key(code: KeyCode, session: &Session) -> Option<What> {
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

/// The key of a presenter's remote: ends the words being said, or begins the due or next ones.
fn words_key(session: &Session) -> Option<What> {
    if let Some(block) = words::speaking(session) {
        let since = session.blocks()[block].since?;
        return (session.now() - since >= LEAST_SAID).then_some(What::EndBlock);
    }
    let next = words::queue(session).first().copied()?;
    let block = session.show().blocks[next].id.clone();
    Some(What::BeginBlock { block })
}

/// An answer to the question which point a mark is of.
fn answer(code: KeyCode, session: &Session) -> Option<Vec<Wish>> {
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

/// Whether nothing flies, sounds or is to come.
pub(super) fn is_over(session: &Session) -> bool {
    let sounding = session
        .tracks()
        .iter()
        .any(|cue| cue.state == CueState::Running);
    let flying = session.programme().iter().any(|flying| {
        matches!(
            session.figure_state(flying),
            CueState::Ahead | CueState::Due | CueState::Running
        )
    });
    !sounding && !flying
}

//! Keys, and what they wish for.

use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};

use super::mending::{Mending, Took};
use super::panel::{Overlay, Page, Panel, Pending, Wish};
use super::practice::{self, Figures, PracticeWish};
use super::programme::Programme;
use super::script::{Reread, Search};
use super::{hack, marking, pool, remote, words};
use crate::live::session::RELEASE_WITHIN;
use crate::live::{CueState, Halt, Mode, Session, What};
use crate::units::{Instant, Span};

/// A terminal that tells no releases repeats a held key: the same key sooner than this is one that is held.
/// Two passes nearer together than this are one mark. Repeating begins after a quarter to two thirds of a second on common systems (common practice, no published source).
const HELD: Span = Span::from_ms(700);
/// How far a fader moves for one key, in decibels.
const FADER_STEP: f64 = 1.0;

impl Panel {
    /// What a key wishes for. `session` stands at the instant of the key: marks are of that instant.
    pub fn key(&mut self, key: KeyEvent, session: &Session) -> Vec<Wish> {
        self.key_at(key, session.now() - Instant::ZERO, session)
    }

    /// The same where the show clock stands, or runs faster than people press keys: `pressed` is the time of the key
    /// on a clock that does neither.
    pub fn key_at(&mut self, key: KeyEvent, pressed: Span, session: &Session) -> Vec<Wish> {
        if let Some(wishes) = self.typing_key(key, pressed, session) {
            return wishes;
        }
        if self.is_held(key, pressed) {
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
        if let Mode::KnockedOff(_) | Mode::Halted(..) = session.mode() {
            self.overlay = None;
            return self.knocked_off_key(code, session);
        }
        if let Some(wishes) = marking::answer(code, session) {
            return wishes;
        }
        if let Some(wishes) = self.overlay_key(code, session) {
            return wishes;
        }
        if let Some(wishes) = self.track_key(key, session) {
            return wishes;
        }
        if let Some(wishes) = self.practice_key(code, session) {
            return wishes;
        }
        let wish = self.desk_key(code, session);
        match wish.or_else(|| self.show_key(code, session)) {
            Some(what) => vec![Wish::Happen(what)],
            None => self.interface_key(code, session),
        }
    }

    /// A key while letters are text, on a screen that is up: what it does, if it is one of typing.
    fn typing_key(&mut self, key: KeyEvent, pressed: Span, session: &Session) -> Option<Vec<Wish>> {
        let calm = matches!(session.mode(), Mode::Running | Mode::Delayed(_));
        let types = match &self.overlay {
            Some(Overlay::Mending(mending)) => mending.is_typing(),
            Some(Overlay::Search(_)) => true,
            _ => false,
        };
        if !calm || !types || key.kind == KeyEventKind::Release {
            return None;
        }
        let chord = key.modifiers.contains(KeyModifiers::CONTROL);
        if chord && matches!(key.code, KeyCode::Char('k' | 'K')) {
            self.overlay = None;
            return Some(vec![Wish::Happen(What::KnockItOff)]);
        }
        let change = match &mut self.overlay {
            Some(Overlay::Mending(mending)) => match mending.type_key(key, session) {
                Took::No => return None,
                Took::Typing => None,
                Took::Ended(change) => change,
            },
            Some(Overlay::Search(search)) => {
                if let Some(block) = search.key(key, session)? {
                    self.overlay = Some(Overlay::Reread(Reread::of(block)));
                }
                None
            }
            _ => return None,
        };
        // What ended the typing is held, if it comes again at once.
        self.last_key = Some((key.code, pressed));
        Some(change.map(Wish::Happen).into_iter().collect())
    }

    /// Whether a key is only the repetition of one held down; such do nothing, except moving along.
    fn is_held(&mut self, key: KeyEvent, pressed: Span) -> bool {
        let moves = matches!(
            key.code,
            KeyCode::Up
                | KeyCode::Down
                | KeyCode::Left
                | KeyCode::Right
                | KeyCode::Char('+' | '-' | '=')
        ) || self.track_key_repeats(key.code);
        let before = self.last_key.replace((key.code, pressed));
        let soon = before.is_some_and(|(code, at)| code == key.code && (pressed - at).abs() < HELD);
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
            KeyCode::Char('k') if matches!(session.mode(), Mode::Halted(..)) => {
                vec![Wish::Happen(What::KnockItOff)]
            }
            KeyCode::Char('!' | 'q' | 'b') => self.interface_key(code, session),
            _ => marking::key(code, session)
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
                Pending::Ended => Wish::Happen(What::Halt {
                    why: Halt::EndedEarly,
                }),
                Pending::Begin(block) => Wish::Happen(What::BeginBlock { block }),
                Pending::Skip(block) => Wish::Happen(What::SkipBlock { block }),
            }]),
            KeyCode::Esc => Some(Vec::new()),
            _ => None,
        }
    }

    fn overlay_key(&mut self, code: KeyCode, session: &Session) -> Option<Vec<Wish>> {
        if let Some(Overlay::Mending(mending)) = &mut self.overlay
            && mending.key(code, session)
        {
            return Some(Vec::new());
        }
        match (&mut self.overlay, code) {
            (None, _) => None,
            (Some(Overlay::Programme(programme)), code) if !programme.is_left_by(code) => {
                let what = programme.key(code, session)?;
                Some(what.map(Wish::Happen).into_iter().collect())
            }
            (Some(Overlay::Figures(figures)), code) if figures.takes(code) => {
                let chosen = figures.key(code, session);
                if chosen.is_some() {
                    self.overlay = None;
                }
                Some(
                    chosen
                        .map(|key| Wish::Practise(PracticeWish::Figure(key)))
                        .into_iter()
                        .collect(),
                )
            }
            (Some(Overlay::Pool), code) if pool::pick(code, session).is_some() => {
                self.overlay = None;
                let picked = pool::pick(code, session);
                Some(picked.map(Wish::Happen).into_iter().collect())
            }
            (Some(Overlay::Halts), KeyCode::Char(digit @ '1'..='4')) => {
                self.overlay = None;
                Some(self.halt_key(digit))
            }
            (Some(Overlay::Reread(reread)), KeyCode::Char(' ')) => {
                reread.read_through(session);
                Some(Vec::new())
            }
            (Some(Overlay::Reread(reread)), KeyCode::PageDown) => {
                self.pending = Some(Pending::Begin(reread.block.clone()));
                self.overlay = None;
                Some(Vec::new())
            }
            (Some(Overlay::Hack(taken)), KeyCode::Enter | KeyCode::Char('u')) => {
                let what = hack::key(code, taken, self.wall, session);
                if what.is_some() {
                    self.overlay = None;
                }
                Some(what.map(Wish::Happen).into_iter().collect())
            }
            (Some(Overlay::Hack(_)), KeyCode::Char('z'))
            | (Some(Overlay::Halts), KeyCode::Char('h'))
            | (Some(Overlay::Pool), KeyCode::Char('o'))
            | (Some(Overlay::Mending(_)), KeyCode::Char('m'))
            | (Some(Overlay::Help), KeyCode::Char('?'))
            | (Some(Overlay::Figures(_)), KeyCode::Char('j'))
            | (Some(_), KeyCode::Esc | KeyCode::PageUp) => {
                self.overlay = None;
                Some(Vec::new())
            }
            _ => None,
        }
    }

    /// Why the display is halted, by its digit; what ends it asks first.
    fn halt_key(&mut self, digit: char) -> Vec<Wish> {
        let what = match digit {
            '1' => What::Halt {
                why: Halt::WeatherHold,
            },
            '2' => What::Halt {
                why: Halt::TechnicalDelay,
            },
            '3' => What::KnockItOff,
            _ => {
                self.pending = Some(Pending::Ended);
                return Vec::new();
            }
        };
        vec![Wish::Happen(what)]
    }

    /// Keys there are only while practising.
    fn practice_key(&mut self, code: KeyCode, session: &Session) -> Option<Vec<Wish>> {
        if !self.practises {
            return None;
        }
        if code == KeyCode::Char('j') {
            self.overlay = Some(Overlay::Figures(Figures::new(session)));
            return Some(Vec::new());
        }
        if code == KeyCode::Char('y') {
            self.by_clock = self.page != Page::Practice || !self.by_clock;
            self.page = Page::Practice;
            return Some(Vec::new());
        }
        practice::wish(code).map(|wish| vec![Wish::Practise(wish)])
    }

    /// Whether a track of the Desk can be looked at close up: not in a practice, which changes no document.
    fn closes_up(&self, session: &Session) -> bool {
        self.page == Page::Desk && !self.practises && !session.tracks().is_empty()
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
            KeyCode::PageDown => return remote::on(session, &mut self.asked),
            KeyCode::PageUp => return remote::back(session),
            KeyCode::Char(letter) => letter,
            code => return marking::key(code, session),
        };
        match letter {
            't' => Some(What::Audible),
            'e' => session.speaking().map(|_| What::EndBlock),
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
            _ => marking::key(code, session),
        }
    }

    /// Keys that change the interface, or ask first.
    fn interface_key(&mut self, code: KeyCode, session: &Session) -> Vec<Wish> {
        match code {
            KeyCode::Tab | KeyCode::BackTab => {
                self.page = match self.page {
                    Page::Stand | Page::Track => Page::Desk,
                    Page::Desk if self.practises => Page::Practice,
                    Page::Desk | Page::Practice => Page::Stand,
                };
            }
            KeyCode::Char('?') => self.overlay = Some(Overlay::Help),
            KeyCode::Char('p') => {
                self.overlay = Some(Overlay::Programme(Programme::new(session)));
            }
            KeyCode::Char('/') => self.overlay = Some(Overlay::Search(Search::default())),
            KeyCode::Char('z') => self.overlay = Some(Overlay::Hack(None)),
            KeyCode::Char('h') => self.overlay = Some(Overlay::Halts),
            KeyCode::Char('o') => self.overlay = Some(Overlay::Pool),
            KeyCode::Char('m') => self.overlay = Some(Overlay::Mending(Mending::default())),
            KeyCode::Char('v') if self.closes_up(session) => {
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

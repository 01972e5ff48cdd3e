//! The time hack over the Stand: the system's clock to a tenth, how far it is from the hack, and whether the show goes
//! by the hack from then on.

use jiff::civil;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;

use super::facts::{Scene, day_text, us_of_day};
use super::overlay::message;
use super::theme::Styles;
use crate::live::{Session, What};
use crate::units::{Instant, Span};

const MINUTE_US: i64 = 60_000_000;

/// What a clock said at an instant of the show.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub at: Instant,
    pub time: civil::Time,
    /// Whether the show follows it.
    pub is_followed: bool,
}

/// A hack that was keyed and waits for a second key.
#[derive(Debug, Clone, Copy)]
pub(super) struct Taken {
    /// How far the system's clock is behind it.
    by: Span,
    /// Whether what hangs on the clock is to go by it.
    moves: bool,
}

/// Enter takes the hack, Enter again has the show go by it; `u` takes the last one back.
pub(super) fn key(
    code: KeyCode,
    taken: &mut Option<Taken>,
    clock: Option<Seen>,
    session: &Session,
) -> Option<What> {
    let moves = clock.is_some_and(|seen| seen.is_followed);
    match (code, taken.take(), clock) {
        (KeyCode::Enter, Some(Taken { by, moves }), _) => Some(What::Hack { by, moves }),
        (KeyCode::Enter, None, Some(seen)) => {
            let by = offset(seen, session);
            *taken = Some(Taken { by, moves });
            None
        }
        (KeyCode::Char('u'), None, _) => {
            let back = session.hack().filter(|by| *by != Span::ZERO);
            let by = Span::ZERO;
            back.map(|_| What::Hack { by, moves })
        }
        _ => None,
    }
}

/// How far behind the hack the system's clock is, in tenths: the hack is the full minute nearest to now.
fn offset(seen: Seen, session: &Session) -> Span {
    const TENTH_US: i64 = 100_000;
    let clock = us_of_day(seen.time) + (session.now() - seen.at).us();
    let hack = (clock + MINUTE_US / 2).div_euclid(MINUTE_US) * MINUTE_US;
    let tenths = (hack - clock + TENTH_US / 2).div_euclid(TENTH_US);
    Span::from_us(tenths * TENTH_US)
}

/// `system clock 0.7 s behind the hack`.
fn told(by: Span) -> String {
    let seconds = by.abs().s();
    match by.us() {
        0 => "system clock on the hack".into(),
        1.. => format!("system clock {seconds:.1} s behind the hack"),
        _ => format!("system clock {seconds:.1} s ahead of the hack"),
    }
}

pub(super) fn draw(
    scene: &Scene,
    taken: Option<Taken>,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let clock = scene.clock.time_of_day;
    let clock = clock.map_or("—".into(), |time| day_text(us_of_day(time), 1));
    let clock = format!("{clock}   the system's clock");
    let lines = match taken {
        Some(taken) => [
            clock,
            told(taken.by),
            String::new(),
            follows(scene.session, taken),
            "Enter takes it   u does not, to hack again   Esc closes".into(),
        ],
        None => [
            clock,
            scene
                .session
                .hack()
                .map_or("No hack has been taken yet.".into(), told),
            String::new(),
            "Enter at the hack, on a full minute; what follows from it is told before it is taken."
                .into(),
            "u takes the last hack back   Esc closes".into(),
        ],
    };
    message("time hack", &lines, false, area, styles, buffer);
}

/// What follows from a hack for what hangs on the clock.
fn follows(session: &Session, taken: Taken) -> String {
    let more = taken.by - session.hack().unwrap_or(Span::ZERO);
    let seconds = more.abs().s();
    match (taken.moves, more.us()) {
        (false, _) => "This show does not follow the system's clock: no time of it moves.".into(),
        (true, 0) => "Nothing moves.".into(),
        (true, 1..) => {
            format!("What hangs on the clock or on show zero then comes {seconds:.1} s sooner.")
        }
        (true, _) => {
            format!("What hangs on the clock or on show zero then comes {seconds:.1} s later.")
        }
    }
}

//! The time hack over the Stand: the system's clock to a tenth, and how far it is from the hack.

use jiff::civil;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use super::facts::{Scene, day_text, us_of_day};
use super::overlay::message;
use super::theme::Styles;
use crate::live::Session;
use crate::units::{Instant, Span};

const MINUTE_US: i64 = 60_000_000;

/// What a clock said at an instant of the show.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub at: Instant,
    pub time: civil::Time,
}

/// How far behind the hack the system's clock is, in tenths: the hack is the full minute nearest to now.
pub(super) fn offset(seen: Seen, session: &Session) -> Span {
    const TENTH_US: i64 = 100_000;
    let clock = us_of_day(seen.time) + (session.now() - seen.at).us();
    let hack = (clock + MINUTE_US / 2).div_euclid(MINUTE_US) * MINUTE_US;
    let tenths = (hack - clock + TENTH_US / 2).div_euclid(TENTH_US);
    Span::from_us(tenths * TENTH_US)
}

/// `system clock 0.7 s behind the hack`.
pub(super) fn told(by: Span) -> String {
    let seconds = by.abs().s();
    match by.us() {
        0 => "system clock on the hack".into(),
        1.. => format!("system clock {seconds:.1} s behind the hack"),
        _ => format!("system clock {seconds:.1} s ahead of the hack"),
    }
}

pub(super) fn draw(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let clock = scene.clock.time_of_day;
    let clock = clock.map_or("—".into(), |time| day_text(us_of_day(time), 1));
    let last = match scene.session.hack() {
        Some(by) => told(by),
        None => "No hack has been taken yet.".into(),
    };
    let lines = [
        format!("{clock}   the system's clock"),
        last,
        String::new(),
        "Enter at the hack, on a full minute.   Esc closes".into(),
        "Times on the screens stay those of the system's clock.".into(),
    ];
    message("time hack", &lines, false, area, styles, buffer);
}

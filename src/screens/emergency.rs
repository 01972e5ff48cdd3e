//! The two faces that come before every other: knock-it-off, accident.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Line;

use super::digits::draw_words;
use super::facts::Scene;
use super::naming;
use super::text::{cut, on_one_line, put};
use super::theme::Styles;
use crate::live::Halt;
use crate::units::{Instant, Span};

/// Everything has faded: the prepared words, and how to leave.
pub(super) fn knocked_off(
    scene: &Scene,
    since: Instant,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let gone = (scene.session.now() - since).clock(0);
    let title = format!(" KNOCK IT OFF, {gone} ago; music out, automatic starts disarmed ");
    let words = on_one_line(&scene.session.show().knock_it_off_words);
    let words = match words.is_empty() {
        true => "No words are prepared.",
        false => &words,
    };
    let keys = "c away with this, still held up   ! accident   a n g marks";
    face(&[&title, words, keys], area, styles, buffer);
}

/// Music has faded and the show is held up: the prepared words, and how to put them away.
pub(super) fn halted(
    scene: &Scene,
    (since, why): (Instant, Halt),
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let session = scene.session;
    let gone = (session.now() - since).clock(0);
    let title = format!(
        " {}, {gone} ago; music out ",
        naming::halt(why).to_uppercase()
    );
    let prepared = &session.show().halt_words;
    let words = on_one_line(match why {
        Halt::WeatherHold => &prepared.weather,
        Halt::TechnicalDelay => &prepared.technical,
        Halt::EndedEarly => &prepared.ended,
    });
    let words = match words.is_empty() {
        true => "No words are prepared.",
        false => &words,
    };
    let keys = "c away with this, still held up   k knock it off   ! accident   a n g marks";
    face(&[&title, words, keys], area, styles, buffer);
}

/// Only the approved statement, and that two deliberate keys leave it.
pub(super) fn accident(
    scene: &Scene,
    release: Option<Span>,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let words = on_one_line(&scene.session.show().accident_words);
    let words = match words.is_empty() {
        true => "No statement is prepared. Say nothing more.",
        false => &words,
    };
    let keys = match release {
        Some(left) => format!("press Enter within {} s to leave this", left.s().ceil()),
        None => "to leave this: c, then Enter within 10 s".into(),
    };
    face(&["", words, &keys], area, styles, buffer);
}

/// A title, words as big as they fit, keys. Never refused, however small the terminal.
fn face([title, words, keys]: &[&str; 3], area: Rect, styles: &Styles, buffer: &mut Buffer) {
    buffer.set_style(area, styles.base);
    let columns = usize::from(area.width);
    let gap = u16::from(area.height >= 12);
    let top = if title.is_empty() {
        0
    } else {
        u16::from(area.height >= 3)
    };
    let bottom = u16::from(area.height >= 2);
    let [first, _, middle, _, last] = area.layout(&Layout::vertical([
        Constraint::Length(top),
        Constraint::Length(gap),
        Constraint::Min(0),
        Constraint::Length(gap),
        Constraint::Length(bottom),
    ]));
    put(
        buffer,
        first,
        0,
        Line::styled(cut(title, columns), styles.urgent).centered(),
    );
    let margin = if area.width >= 60 { 4 } else { 0 };
    let room = Rect {
        x: middle.x + margin,
        width: middle.width - 2 * margin,
        ..middle
    };
    draw_words(words, room, styles.strong, buffer);
    put(
        buffer,
        last,
        0,
        Line::styled(cut(keys, columns), styles.quiet).centered(),
    );
}

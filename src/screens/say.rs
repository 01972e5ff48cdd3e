//! What the narrator says now, or why nothing; and the first words of what comes next.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use ratatui::text::Line;

use super::digits::to_go;
use super::facts::Scene;
use super::naming;
use super::reading::{At, Text};
use super::status::heading;
use super::text::{below, cut, put, wrap};
use super::theme::Styles;
use super::words::{due, must_be_quiet, queue};
use crate::live::session::Waiting;
use crate::live::{CueState, Session};
use crate::show::Keep;
use crate::timeline::{CueTime, Version};
use crate::units::Span;

/// Words are called out this long before they must have stopped.
const STOP_SOON: Span = Span::from_ms(5_000);

/// The words now on `area`, the first of those after them on `after`: always in view.
pub(super) fn draw(scene: &Scene, area: Rect, after: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let queue = queue(session);
    let (first, second) = (queue.first().copied(), queue.get(1).copied());
    if let Some(block) = session.speaking() {
        draw_said(scene, block, area, styles, buffer);
        return draw_after(scene, first, after, styles, buffer);
    }
    draw_after(scene, second, after, styles, buffer);
    if let Some((why, until)) = must_be_quiet(session) {
        heading("nobody speaks now", area, styles, buffer);
        let left = to_go(until - session.now());
        let text = format!(" {why}: {left} more, until {} ", scene.clock.text(until, 0));
        put(buffer, below(area, 1), 0, Line::styled(text, styles.urgent));
        return draw_ahead(scene, first, below(area, 2), styles, buffer);
    }
    if let Some(block) = due(session) {
        return draw_due(scene, block, area, styles, buffer);
    }
    let fit = session
        .fillers()
        .iter()
        .filter(|filler| filler.fits)
        .count();
    let offer = match fit {
        0 => "nothing to say now".into(),
        _ => format!("nothing to say now; o offers {fit} that fit"),
    };
    heading(&offer, area, styles, buffer);
    draw_ahead(scene, first, below(area, 1), styles, buffer);
}

/// Whether somebody reads, or should begin to.
pub(super) fn is_reading(session: &Session) -> bool {
    session.speaking().is_some() || must_be_quiet(session).is_none() && due(session).is_some()
}

fn version_word(version: Version) -> &'static str {
    match version {
        Version::Full => "full text",
        Version::Short => "short text",
        Version::LeftOut => "left out",
    }
}

fn keep_word(keep: Keep) -> &'static str {
    match keep {
        Keep::Must => "must be said",
        Keep::Should => "should be said",
        Keep::May => "may be left out",
    }
}

/// When a block still ahead is begun, and which it is: `in 0:42, 19:45:02 estimated: welcome, full text`.
fn announced(scene: &Scene, block: usize) -> String {
    let session = scene.session;
    let when = match session.layout().blocks[block].starts {
        _ if session.blocks()[block].state == CueState::Due => "due now".into(),
        CueTime::At(at) => {
            let left = to_go(at - session.now());
            format!("in {left}, {} estimated", scene.clock.text(at, 0))
        }
        CueTime::Held => "held up".into(),
        CueTime::Free | CueTime::Orphaned => "no time known".into(),
    };
    let id = &session.show().blocks[block].id;
    let version = version_word(session.version_of(block));
    let changed = match session.blocks()[block].reworded {
        Some(_) => ", WORDS CHANGED",
        None => "",
    };
    format!("{when}: {id}, {version}{changed}")
}

fn draw_due(scene: &Scene, block: usize, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let of = &session.show().blocks[block];
    let since = session.layout().blocks[block].starts.instant();
    let late = since.map_or(Span::ZERO, |at| session.now() - at);
    let told = format!(
        " BEGIN WITH PAGE DOWN, due {} s ago: {}, {}, {} ",
        late.s().floor().max(0.0),
        of.id,
        version_word(session.version_of(block)),
        keep_word(of.keep)
    );
    let told = cut(&told, usize::from(area.width));
    put(buffer, area, 0, Line::styled(told, styles.urgent));
    Text::of(session, block).draw(None, below(area, 1), styles, buffer);
}

/// Words that are not to be said yet: a dotted line runs down before them.
fn draw_ahead(
    scene: &Scene,
    block: Option<usize>,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let Some(block) = block else {
        return put(buffer, area, 0, Line::styled("no more words", styles.base));
    };
    let columns = usize::from(area.width);
    let text = cut(&format!("next words {}", announced(scene, block)), columns);
    put(buffer, area, 0, Line::styled(text, styles.base));
    let text = Text::of(scene.session, block);
    draw_text(text.line(), "┊ ", below(area, 1), styles.base, buffer);
}

/// The words after the next, or after those being said.
fn draw_after(
    scene: &Scene,
    block: Option<usize>,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let Some(block) = block else {
        return heading("no words after these", area, styles, buffer);
    };
    let title = format!("then words {}", announced(scene, block));
    heading(&title, area, styles, buffer);
    let text = Text::of(scene.session, block);
    draw_text(text.line(), "┊ ", below(area, 1), styles.base, buffer);
}

/// Text on all of `area`, each line behind `gutter`; the last that has room ends in `…` if there is more.
fn draw_text(text: &str, gutter: &str, area: Rect, style: Style, buffer: &mut Buffer) {
    let columns = usize::from(area.width).saturating_sub(gutter.chars().count());
    let rows = usize::from(area.height);
    for (row, line) in wrap(text, columns).into_iter().enumerate().take(rows) {
        let rest = if row + 1 == rows {
            &text[line.start..]
        } else {
            &text[line]
        };
        let line = Line::styled(format!("{gutter}{}", cut(rest, columns)), style);
        put(buffer, area, row as u16, line);
    }
}

/// `WAIT 0:07 for Memorial pass abeam + 12 s`, `PAUSE 0:02`.
fn waits(session: &Session, waiting: &Waiting) -> String {
    let left = match waiting.until {
        Some(until) => to_go(until - session.now()),
        None => "until the show goes on".into(),
    };
    match &waiting.time {
        Some(time) => format!("WAIT {left} for {}", naming::time(session, time)),
        None => format!("PAUSE {left}"),
    }
}

/// A block being said: how it goes, or that it must stop, above its words.
fn draw_said(scene: &Scene, block: usize, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let place = session.place();
    let left = place.and_then(|place| place.ends);
    let left = match left.map(|ends| ends - session.now()) {
        Some(left) if left < Span::ZERO => format!("{} over its time", (-left).clock(0)),
        Some(left) => format!("{} left", to_go(left)),
        None => "waiting".into(),
    };
    let id = &session.show().blocks[block].id;
    let version = version_word(session.version_of(block));
    let now = session.now();
    let told = match session.waiting() {
        Some(waiting) => waits(session, &waiting),
        None => format!("say now, {left}"),
    };
    let waits = session
        .waiting()
        .is_some_and(|waiting| waiting.time.is_some());
    match (must_be_quiet(session), session.stop()) {
        _ if waits => {
            let text = format!(" {told}; PAGE DOWN TWICE goes on at once ");
            let text = cut(&text, usize::from(area.width));
            put(buffer, area, 0, Line::styled(text, styles.urgent));
        }
        (Some((why, until)), _) => {
            let text = format!(" STOP TALKING: {why}, {} more ", to_go(until - now));
            put(buffer, area, 0, Line::styled(text, styles.urgent));
        }
        (None, Some((stop, _))) if stop - now <= STOP_SOON => {
            let text = format!(" STOP TALKING in {}: {id}, {left} ", to_go(stop - now));
            put(buffer, area, 0, Line::styled(text, styles.urgent));
        }
        _ => heading(&format!("{told}: {id}, {version}"), area, styles, buffer),
    }
    let at = place.map(|place| At {
        phrase: place.phrase,
        share: place.share,
    });
    Text::of(session, block).draw(at, below(area, 1), styles, buffer);
}

//! What the narrator says now, or why nothing; and the first words of what comes next.

use std::ops::Range;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::text::{Line, Span as Piece};

use super::digits::to_go;
use super::facts::Scene;
use super::status::heading;
use super::text::{below, cut, put, wrap};
use super::theme::Styles;
use super::words::{due, must_be_quiet, phrased, queue, speaking, words};
use crate::live::CueState;
use crate::show::Keep;
use crate::timeline::{CueTime, Version};
use crate::units::{Instant, Span};

/// Words are called out this long before they must have stopped.
const STOP_SOON: Span = Span::from_ms(5_000);

/// The words now on `area`, the first of those after them on `after`: always in view.
pub(super) fn draw(scene: &Scene, area: Rect, after: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let queue = queue(session);
    let (first, second) = (queue.first().copied(), queue.get(1).copied());
    if let Some(block) = speaking(session) {
        Speaking::new(scene, block).draw(area, styles, buffer);
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
    heading("nothing to say now", area, styles, buffer);
    draw_ahead(scene, first, below(area, 1), styles, buffer);
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
        CueTime::Free => "when there is room".into(),
        CueTime::Orphaned => "not flown".into(),
    };
    let (_, version) = words(session, block);
    let id = &session.show().blocks[block].id;
    format!("{when}: {id}, {}", version_word(version))
}

fn draw_due(scene: &Scene, block: usize, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let (text, version) = words(session, block);
    let id = &session.show().blocks[block].id;
    let keep = keep_word(session.show().blocks[block].keep);
    let title = format!("begin now: {id}, {}, {keep}", version_word(version));
    heading(&title, area, styles, buffer);
    let since = session.layout().blocks[block].starts.instant();
    let late = since.map_or(Span::ZERO, |at| session.now() - at);
    let told = format!(
        " BEGIN WITH PAGE DOWN, due {} s ago ",
        late.s().floor().max(0.0)
    );
    put(buffer, below(area, 1), 0, Line::styled(told, styles.urgent));
    draw_text(&text, "", below(area, 2), styles.strong, buffer);
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
    let (text, _) = words(scene.session, block);
    draw_text(&text, "┊ ", below(area, 1), styles.base, buffer);
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
    let (text, _) = words(scene.session, block);
    draw_text(&text, "┊ ", below(area, 1), styles.base, buffer);
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

/// A block being said.
struct Speaking {
    title: String,
    text: String,
    /// The bytes of each phrase, and how long after the beginning it is out.
    phrases: Vec<(Range<usize>, Span)>,
    /// Since when it is being said.
    elapsed: Span,
    /// Share of its time gone, 0 to 1.
    share: f64,
    /// When it must have stopped.
    stop: Option<Instant>,
    quiet: Option<(&'static str, Instant)>,
    now: Instant,
    stop_text: String,
}

impl Speaking {
    fn new(scene: &Scene, block: usize) -> Speaking {
        let session = scene.session;
        let now = session.now();
        let laid = &session.layout().blocks[block];
        let (text, phrases) = phrased(session, block);
        let (_, version) = words(session, block);
        let since = session.blocks()[block].since.unwrap_or(now);
        let ends = laid.ends.unwrap_or(now);
        let share = (now - since).s() / (ends - since).s().max(0.001);
        let stop = laid.slack.map(|slack| ends + slack);
        let left = ends - now;
        let time = if left < Span::ZERO {
            format!("{} over its time", (-left).clock(0))
        } else {
            format!("{} left", to_go(left))
        };
        let id = &session.show().blocks[block].id;
        Speaking {
            title: format!("say now, {time}: {id}, {}", version_word(version)),
            text,
            phrases,
            elapsed: now - since,
            share: share.clamp(0.0, 1.0),
            stop,
            quiet: must_be_quiet(session),
            now,
            stop_text: stop.map_or(String::new(), |stop| scene.clock.text(stop, 0)),
        }
    }

    fn draw(&self, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        heading(&self.title, area, styles, buffer);
        self.draw_stop(below(area, 1), styles, buffer);
        let columns = area.width.saturating_sub(2);
        let lines = wrap(&self.text, usize::from(columns));
        let rows = usize::from(area.height.saturating_sub(2));
        let phrase = self.phrase();
        let spoken_line = lines
            .iter()
            .position(|line| line.end > phrase.start)
            .unwrap_or(lines.len().saturating_sub(1));
        // One line of what was said stays, as long as the rest does not fit with it.
        let most = lines.len().saturating_sub(rows);
        let first = spoken_line.saturating_sub(1).min(most);
        let room = below(area, 2);
        // An empty row between lines helps the eye, where all of them have room for it.
        let step = if lines.len() * 2 <= rows { 2 } else { 1 };
        for (row, line) in lines.into_iter().skip(first).take(rows).enumerate() {
            let line = self.line(line, &phrase, styles);
            put(buffer, room, row as u16 * step, line);
        }
    }

    /// How far along it is, and when it has to be over.
    fn draw_stop(&self, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        if let Some((why, until)) = self.quiet {
            let left = to_go(until - self.now);
            let text = format!(" STOP TALKING: {why}, {left} more ");
            return put(buffer, area, 0, Line::styled(text, styles.urgent));
        }
        const BAR: usize = 20;
        let full = (self.share * BAR as f64).round() as usize;
        let bar = "━".repeat(full) + &"┄".repeat(BAR - full);
        let (stop, style) = match self.stop.map(|stop| stop - self.now) {
            Some(left) if left <= STOP_SOON => {
                (format!(" STOP TALKING in {} ", to_go(left)), styles.urgent)
            }
            Some(left) => (
                format!(" stop talking in {}, by {}", to_go(left), self.stop_text),
                styles.base,
            ),
            None => (
                " nothing follows that you must stop for".into(),
                styles.base,
            ),
        };
        let line = Line::from(vec![
            Piece::styled(bar, styles.base),
            Piece::styled(stop, style),
        ]);
        put(buffer, area, 0, line);
    }

    /// The bytes of the phrase being said, if everything has gone as it should; at the end the last.
    fn phrase(&self) -> Range<usize> {
        let now = self.phrases.iter().find(|(_, out)| *out > self.elapsed);
        now.or(self.phrases.last())
            .map_or(0..0, |(phrase, _)| phrase.clone())
    }

    /// One line: what was said quiet, the phrase now strong and pointed at, the rest plain.
    fn line(&self, line: Range<usize>, phrase: &Range<usize>, styles: &Styles) -> Line<'static> {
        let from = phrase.start.clamp(line.start, line.end);
        let to = phrase.end.clamp(line.start, line.end);
        let pointed = from < to;
        let piece = |range: Range<usize>, style| Piece::styled(self.text[range].to_owned(), style);
        Line::from(vec![
            Piece::styled(if pointed { "▸ " } else { "  " }, styles.strong),
            piece(line.start..from, styles.quiet),
            piece(from..to, styles.strong.add_modifier(Modifier::UNDERLINED)),
            piece(to..line.end, styles.base),
        ])
    }
}

//! What the narrator says now, or why nothing; and the first words of what comes next.

use std::ops::Range;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;
use ratatui::text::{Line, Span as Piece};

use super::digits::to_go;
use super::facts::Scene;
use super::status::heading;
use super::text::{below, cut, on_one_line, put, wrap};
use super::theme::Styles;
use crate::live::{CueState, Session};
use crate::show::Keep;
use crate::timeline::Version;
use crate::units::{Instant, Span};

/// Words are called out this long before they must have stopped.
const STOP_SOON: Span = Span::from_ms(5_000);

/// The words now, on all of `area`.
pub(super) fn draw(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    if let Some(block) = speaking(session) {
        return Speaking::new(scene, block).draw(area, styles, buffer);
    }
    if let Some((why, until)) = must_be_quiet(session) {
        heading("nobody speaks now", area, styles, buffer);
        let left = to_go(until - session.now());
        let text = format!(" {why}: {left} more, until {} ", scene.clock.text(until, 0));
        return put(buffer, below(area, 1), 0, Line::styled(text, styles.urgent));
    }
    if let Some(block) = due(session) {
        return draw_due(scene, block, area, styles, buffer);
    }
    heading("nothing to say now", area, styles, buffer);
    let text = match next(session) {
        Some((_, at)) => format!("next words in {}", to_go(at - session.now())),
        None => "no more words are timed".into(),
    };
    put(buffer, below(area, 1), 0, Line::styled(text, styles.base));
}

/// The block being said.
pub(super) fn speaking(session: &Session) -> Option<usize> {
    let running = |cue: &crate::live::session::BlockCue| cue.state == CueState::Running;
    session.blocks().iter().position(running)
}

/// The block somebody should begin: the one due longest.
pub(super) fn due(session: &Session) -> Option<usize> {
    by_start(session, |state| state == CueState::Due).map(|(block, _)| block)
}

/// The next block still ahead, and when.
pub(super) fn next(session: &Session) -> Option<(usize, Instant)> {
    by_start(session, |state| state == CueState::Ahead)
}

fn by_start(session: &Session, wanted: impl Fn(CueState) -> bool) -> Option<(usize, Instant)> {
    let cues = session.blocks().iter().zip(&session.layout().blocks);
    cues.enumerate()
        .filter(|(_, (cue, _))| wanted(cue.state))
        .filter_map(|(i, (_, laid))| Some((i, laid.starts.instant()?)))
        .min_by_key(|&(i, at)| (at, i))
}

/// Why nobody may speak now, and until when.
fn must_be_quiet(session: &Session) -> Option<(&'static str, Instant)> {
    let silences = session.silences().iter().zip(&session.layout().silences);
    let silence = silences
        .filter(|(cue, _)| cue.state == CueState::Running)
        .filter_map(|(_, (_, until))| until.instant())
        .max();
    let hush = session.hush_until();
    match (hush, silence) {
        (Some(hush), silence) if silence.is_none_or(|until| hush >= until) => {
            Some(("HUSH, too loud to talk over", hush))
        }
        (_, Some(until)) => Some(("SILENCE", until)),
        _ => None,
    }
}

/// The words of a block in the version that is, or would be, said.
fn words(session: &Session, block: usize) -> (String, Version) {
    let version = session.blocks()[block]
        .version
        .unwrap_or(session.layout().blocks[block].version);
    let block = &session.show().blocks[block];
    let text = match (&block.short, version) {
        (Some(short), Version::Short) => short,
        _ => &block.text,
    };
    (on_one_line(text), version)
}

fn version_word(version: Version) -> &'static str {
    match version {
        Version::Full => "full text",
        Version::Short => "short text",
    }
}

fn keep_word(keep: Keep) -> &'static str {
    match keep {
        Keep::Must => "must be said",
        Keep::Should => "should be said",
        Keep::May => "may be left out",
    }
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
    let room = below(area, 2);
    for (row, line) in wrap(&text, usize::from(room.width)).into_iter().enumerate() {
        if row >= usize::from(room.height) {
            break;
        }
        let line = Line::styled(text[line].to_owned(), styles.strong);
        put(buffer, room, row as u16, line);
    }
}

/// The first words of the next block, on two rows of `area`: always in view.
pub(super) fn draw_next(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let after_due =
        due(session).filter(|_| speaking(session).is_some() || must_be_quiet(session).is_some());
    let Some(block) = after_due.or(next(session).map(|(block, _)| block)) else {
        return heading("no words after these", area, styles, buffer);
    };
    let at = session.layout().blocks[block].starts.instant();
    let when = at.map_or(String::new(), |at| {
        let left = at - session.now();
        if left > Span::ZERO {
            format!(" in {}, {} estimated", to_go(left), scene.clock.text(at, 0))
        } else {
            " due now".into()
        }
    });
    let (text, version) = words(session, block);
    let id = &session.show().blocks[block].id;
    let title = format!("next words{when}: {id}, {}", version_word(version));
    heading(&title, area, styles, buffer);
    let room = below(area, 1);
    let rows = usize::from(room.height);
    let lines = wrap(&text, usize::from(room.width));
    for (row, line) in lines.iter().enumerate().take(rows) {
        let text = if row + 1 == rows {
            &text[line.start..]
        } else {
            &text[line.clone()]
        };
        let shown = cut(text, usize::from(room.width));
        put(buffer, room, row as u16, Line::styled(shown, styles.base));
    }
}

/// A block being said.
struct Speaking {
    title: String,
    text: String,
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
        let (text, version) = words(session, block);
        let since = session.blocks()[block].since.unwrap_or(now);
        let ends = laid.ends.unwrap_or(now);
        let share = (now - since).s() / (ends - since).s().max(0.001);
        let stop = laid.slack.map(|slack| ends + slack);
        let left = ends - now;
        let over = if left < Span::ZERO {
            " over its time"
        } else {
            " to the last word"
        };
        let id = &session.show().blocks[block].id;
        Speaking {
            title: format!(
                "say now: {id}, {}, {}{over}",
                version_word(version),
                if left < Span::ZERO {
                    (-left).clock(0)
                } else {
                    to_go(left)
                },
            ),
            text,
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
            .unwrap_or(0);
        // One line of what was said stays, as long as the rest does not fit with it.
        let most = lines.len().saturating_sub(rows);
        let first = spoken_line.saturating_sub(1).min(most);
        let room = below(area, 2);
        for (row, line) in lines.into_iter().skip(first).take(rows).enumerate() {
            put(buffer, room, row as u16, self.line(line, &phrase, styles));
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

    /// The bytes of the phrase being said, by its share of the characters.
    fn phrase(&self) -> Range<usize> {
        let count = self.text.chars().count();
        let spoken = (self.share * count as f64) as usize;
        let at = self
            .text
            .char_indices()
            .nth(spoken)
            .map_or(self.text.len(), |(i, _)| i);
        phrases(&self.text)
            .into_iter()
            .find(|phrase| phrase.end > at)
            .unwrap_or(self.text.len()..self.text.len())
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

/// The phrases of a text: up to each stop or comma.
fn phrases(text: &str) -> Vec<Range<usize>> {
    let mut phrases = Vec::new();
    let mut from = 0;
    for (i, c) in text.char_indices() {
        let next = i + c.len_utf8();
        let pause = matches!(c, '.' | ',' | ';' | ':' | '!' | '?' | '—' | '–' | '…');
        if pause && text[next..].starts_with(' ') {
            phrases.push(from..next);
            from = next + 1;
        }
    }
    if from < text.len() {
        phrases.push(from..text.len());
    }
    phrases
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_phrase_ends_at_a_pause_but_not_inside_a_number() {
        let text = "At 1,500 feet, the lake below. Smoke on!";
        let said: Vec<&str> = phrases(text)
            .into_iter()
            .map(|range| &text[range])
            .collect();
        assert_eq!(said, ["At 1,500 feet,", "the lake below.", "Smoke on!"]);
    }
}

//! The big digits: how long until the next thing and, beside them, until the narrator must stop or may speak.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::text::Line;

use super::digits::{self, digits_width, to_go};
use super::facts::Scene;
use super::naming;
use super::text::{cut, put, wrap};
use super::theme::Styles;
use super::words::must_be_quiet;
use crate::live::Mode;
use crate::live::session::{Next, NextKind, StopFor};
use crate::show::PointName;
use crate::units::{Instant, Span};

/// The least room beside the digits for what they count down to; less where two countdowns share the rows.
const LABEL: u16 = 34;
const NARROW_LABEL: u16 = 19;
/// What is counted down to is called out when less than this is left.
const SOON: Span = Span::from_ms(10_000);
/// So is the end of talking.
const STOP_SOON: Span = Span::from_ms(5_000);

/// Digits, and what they count.
struct Count {
    digits: String,
    kind: String,
    urgent: bool,
    which: String,
    rest: Vec<String>,
}

/// Draws one countdown, or two: the narrator's first.
pub(super) fn draw(
    scene: &Scene,
    coming: &[Next],
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let next = next(scene, coming);
    let Some(voice) = voice(scene) else {
        return match next {
            Some(next) => next.draw(LABEL, area, styles, buffer),
            None => {
                let text = Line::styled(" nothing more is to come", styles.strong);
                put(buffer, area, 0, text);
            }
        };
    };
    let halves = Layout::horizontal([Constraint::Fill(1), Constraint::Fill(1)]);
    let [left, right] = area.layout(&halves);
    voice.draw(NARROW_LABEL, left, styles, buffer);
    if let Some(next) = next {
        next.draw(NARROW_LABEL, right, styles, buffer);
    }
}

/// Whether two countdowns share the rows: bigger digits have no room then.
pub(super) fn is_shared(scene: &Scene) -> bool {
    voice(scene).is_some()
}

/// How long until whoever speaks must stop, or nobody has to be quiet any more.
fn voice(scene: &Scene) -> Option<Count> {
    let session = scene.session;
    let now = session.now();
    let speaks = session.speaking().is_some();
    if let Some(waiting) = session.waiting()
        && let (Some(time), Some(until)) = (&waiting.time, waiting.until)
    {
        return Some(Count {
            digits: to_go(until - now),
            kind: " WAIT ".into(),
            urgent: true,
            which: format!("for {}", naming::time(session, time)),
            rest: vec![format!("until {}", scene.clock.text(until, 0))],
        });
    }
    if let Some((why, until)) = must_be_quiet(session) {
        let (kind, which) = why.split_once(", ").unwrap_or((why, "nobody speaks"));
        return Some(Count {
            digits: to_go(until - now),
            kind: format!(" {} ", if speaks { "STOP TALKING" } else { kind }),
            urgent: true,
            which: if speaks { why.into() } else { which.into() },
            rest: vec![format!("until {}", scene.clock.text(until, 0))],
        });
    }
    let (stop, why) = session.stop()?;
    let left = stop - now;
    let why = match why {
        StopFor::EndsBy => "the words have to end".into(),
        StopFor::Hush => "too loud to talk over".into(),
        StopFor::Silence => "silence is the cue".into(),
        StopFor::Words(next) => format!("next words: {}", session.show().blocks[next].id),
    };
    let mut rest = vec![format!("by {}", scene.clock.text(stop, 0))];
    rest.extend(spare(scene, stop));
    Some(Count {
        digits: to_go(left),
        kind: match left {
            left if left > STOP_SOON => " to stop talking ".into(),
            left if left > Span::ZERO => " STOP TALKING ".into(),
            left => format!(" STOP, {} OVER ", (-left).clock(0)),
        },
        urgent: left <= STOP_SOON,
        which: why,
        rest,
    })
}

/// What is left between the last word, at the set rate, and the end of talking.
fn spare(scene: &Scene, stop: Instant) -> Option<String> {
    let spare = (stop - scene.session.place()?.ends?).s();
    Some(match spare < 0.0 {
        true => format!("{:.0} S TOO LONG", (-spare).ceil()),
        false => format!("{:.0} s to spare", spare.floor()),
    })
}

/// Whether a thing to come is counted down to in big digits; gates come too thick and fast.
fn is_counted(next: &Next) -> bool {
    !matches!(
        &next.kind,
        NextKind::Point {
            point: PointName::Gate(_),
            ..
        }
    )
}

/// How long until the next thing, or how long nothing has gone on.
fn next(scene: &Scene, coming: &[Next]) -> Option<Count> {
    let session = scene.session;
    let now = session.now();
    if let Some(next) = coming.iter().find(|next| is_counted(next)) {
        let left = next.at - now;
        let estimated = scene.clock.text(next.at, 0);
        return Some(Count {
            digits: to_go(left),
            kind: format!(" to {} ", naming::kind(next)),
            urgent: left <= SOON,
            which: naming::which(session, next),
            rest: vec![
                format!("{estimated} estimated{}", naming::spread_of(session, next)),
                match next.planned {
                    Some(planned) => format!(
                        "{} planned, {}",
                        scene.clock.text(planned, 0),
                        naming::lateness(next.at, next.planned)
                    ),
                    None => "not planned".into(),
                },
            ],
        });
    }
    let Mode::Delayed(since) = session.mode() else {
        return None;
    };
    Some(Count {
        digits: (now - since).clock(0),
        kind: " held up for ".into(),
        urgent: true,
        which: format!("since {}", scene.clock.text(since, 0)),
        rest: vec!["c carries on".into()],
    })
}

impl Count {
    /// Draws the digits, and beside them what they count.
    fn draw(&self, label: u16, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let room = Rect {
            x: area.x + 1.min(area.width),
            width: area.width.saturating_sub(label),
            ..area
        };
        digits::draw(&self.digits, room, styles.strong, buffer);
        let taken = (digits_width(&self.digits, room) + 2).min(area.width);
        let beside = Rect {
            x: area.x + taken,
            width: area.width - taken,
            ..area
        };
        self.draw_label(beside, styles, buffer);
    }

    fn draw_label(&self, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let columns = usize::from(area.width);
        let style = if self.urgent {
            styles.urgent
        } else {
            styles.strong
        };
        let kind = cut(&self.kind, columns);
        put(buffer, area, 0, Line::styled(kind, style));
        let names = wrap(&self.which, columns.saturating_sub(1));
        let rows = usize::from(area.height)
            .saturating_sub(1 + self.rest.len())
            .max(1);
        let shown = names.len().min(rows);
        for (row, line) in names.into_iter().take(shown).enumerate() {
            let text = if row + 1 == shown {
                &self.which[line.start..]
            } else {
                &self.which[line]
            };
            let text = format!(" {}", cut(text, columns.saturating_sub(1)));
            put(
                buffer,
                area,
                1 + row as u16,
                Line::styled(text, styles.strong),
            );
        }
        for (row, text) in self.rest.iter().enumerate() {
            let line = Line::styled(cut(&format!(" {text}"), columns), styles.base);
            put(buffer, area, (1 + shown + row) as u16, line);
        }
    }
}

//! The Practice screen: where the simulated aircraft really are, what was keyed of it, and what comes.

mod facts;
mod heights;
mod keys;
mod map;

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::Style;
use ratatui::text::Line;

pub use facts::PracticeFacts;
pub use keys::PracticeWish;
pub(super) use keys::{Figures, KEYS, wish};

use super::facts::Scene;
use super::naming;
use super::stand;
use super::status::{self, heading};
use super::text::{below, cut, put, wrap};
use super::theme::Styles;
use super::wave::Outlines;
use crate::live::session::NextKind;
use crate::units::quantity::{FOOT, NAUTICAL_MILE};
use crate::units::{Length, Span};

/// What was to be seen this long ago and is not keyed is called out.
const PATIENCE: Span = Span::from_ms(10_000);

/// So many rows hold both pictures.
const BOTH: u16 = 24;

/// Draws the screen; `by_clock` puts height and speed in the place of the map where there is no room for both.
pub(super) fn draw(
    scene: &Scene,
    facts: &PracticeFacts,
    by_clock: bool,
    outlines: &mut Outlines,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let music = if area.height < 34 { 2 } else { 6 };
    let [state, title, middle, track, said] = area.layout(&Layout::vertical([
        Constraint::Length(1),
        Constraint::Length(1),
        Constraint::Min(0),
        Constraint::Length(music),
        Constraint::Length(1),
    ]));
    status::draw(scene, state, styles, buffer);
    draw_title(scene, facts, title, styles, buffer);
    if let Some(report) = &facts.report {
        draw_report(report, middle, styles, buffer);
    } else {
        let beside = (area.width * 2 / 5).clamp(34, 62);
        let [plan, list] = middle.layout(
            &Layout::horizontal([Constraint::Min(0), Constraint::Length(beside)]).spacing(1),
        );
        draw_pictures(scene, facts, by_clock, plan, styles, buffer);
        draw_beside(scene, facts, list, styles, buffer);
    }
    stand::draw_music(scene, outlines, track, styles, buffer);
    status::draw_last(scene, said, styles, buffer);
}

/// The display from above, and height and speed by the clock: both where there is room.
fn draw_pictures(
    scene: &Scene,
    facts: &PracticeFacts,
    by_clock: bool,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let high = match area.height {
        rows if rows >= BOTH => rows * 2 / 5,
        rows if by_clock => rows,
        _ => 0,
    };
    let [above, clock] = area.layout(&Layout::vertical([
        Constraint::Min(0),
        Constraint::Length(high),
    ]));
    if above.height > 0 {
        heading("from above, as it is flown", above, styles, buffer);
        map::draw(scene, facts, below(above, 1), styles, buffer);
    }
    if clock.height > 0 {
        heading(
            "by the clock: expected ⠂⠂⠂, flown ⠒⠒⠒",
            clock,
            styles,
            buffer,
        );
        heights::draw(scene, facts, below(clock, 1), styles, buffer);
    }
}

/// How fast it runs and who keys; what was said last over the radio.
fn draw_title(
    scene: &Scene,
    facts: &PracticeFacts,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let pace = match facts.pace {
        None => "paused, Space goes on".to_owned(),
        Some(1.0) => "real speed".to_owned(),
        Some(times) => format!("{times:.0} times as fast"),
    };
    let who = if facts.simulated_narrator {
        "the simulator keys"
    } else {
        "you key"
    };
    let style = match facts.pace {
        None => styles.urgent,
        Some(_) => styles.strong,
    };
    let text = format!(" {pace}, {who} ");
    let taken = super::text::width(&text) as u16;
    put(buffer, area, 0, Line::styled(text, style));
    let Some((at, said)) = &facts.radio else {
        return;
    };
    let room = area.width.saturating_sub(taken + 1);
    let said = format!("radio {}: {said} ", scene.clock.text(*at, 0));
    let line = Line::styled(cut(&said, usize::from(room)), styles.flight);
    put(buffer, area, 0, line.right_aligned());
}

/// What came of the run.
fn draw_report(report: &[String], area: Rect, styles: &Styles, buffer: &mut Buffer) {
    heading("how it went", area, styles, buffer);
    let area = below(area, 1);
    let columns = usize::from(area.width.saturating_sub(2));
    let mut row = 0;
    for text in report {
        // What is not said of anything stands at the margin.
        let indent = text.len() - text.trim_start().len();
        let style = if indent == 0 {
            styles.strong
        } else {
            styles.base
        };
        let words = text.trim_start();
        let lines = wrap(words, columns.saturating_sub(indent));
        for (n, line) in lines.into_iter().enumerate() {
            let hanging = indent + if n > 0 { 2 } else { 0 };
            let text = format!(" {}{}", " ".repeat(hanging), &words[line]);
            put(buffer, area, row, Line::styled(text, style));
            row += 1;
        }
    }
    let keys = " l from last hold   j to a figure   q leave: the report is printed then ";
    let last = area.height.saturating_sub(1).max(row);
    put(buffer, area, last, Line::styled(keys, styles.quiet));
}

/// The aircraft in numbers, what was keyed, what comes.
fn draw_beside(
    scene: &Scene,
    facts: &PracticeFacts,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let now: Vec<(String, Style)> = aircraft_lines(scene, facts)
        .into_iter()
        .map(|text| (text, styles.flight))
        .collect();
    let keyed = keyed_lines(scene, facts, styles);
    let rows = area.height.saturating_sub(3);
    let flying = (now.len() as u16).min(rows / 2);
    let rest = rows - flying;
    let list = (keyed.len() as u16).min(rest / 2).max(1);
    let newest = keyed.len().saturating_sub(usize::from(list));
    let mut top = area;
    top = put_list("now, as it really is", &now, flying, top, styles, buffer);
    top = put_list(
        "keyed, and how late",
        &keyed[newest..],
        list,
        top,
        styles,
        buffer,
    );
    let coming = coming_lines(scene, styles);
    put_list(
        "to come, by the estimate",
        &coming,
        rest - list,
        top,
        styles,
        buffer,
    );
}

/// A heading and so many lines under it; what is left of the area.
fn put_list(
    title: &str,
    lines: &[(String, Style)],
    rows: u16,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) -> Rect {
    heading(title, area, styles, buffer);
    for (row, (text, style)) in lines.iter().enumerate().take(usize::from(rows)) {
        // Cut where the room ends, not at a word: there is little of it.
        put(buffer, area, 1 + row as u16, Line::styled(text, *style));
    }
    below(area, 1 + rows)
}

/// Two lines for each aircraft in the air.
fn aircraft_lines(scene: &Scene, facts: &PracticeFacts) -> Vec<String> {
    if facts.aloft.is_empty() {
        return vec!["nobody is in the display".into()];
    }
    let lines = facts.aloft.iter().flat_map(|craft| {
        let sample = &craft.sample;
        let figure = naming::figure_name(scene.session, &craft.key);
        let [along, _] = craft.towards_mps;
        let way = match sample.x.m() * along {
            _ if along.abs() < 2.0 => "",
            out if out < 0.0 => ", coming",
            _ => ", going",
        };
        [
            format!("{}: {figure}{way}", craft.aircraft),
            format!(
                "  {:.0} ft, {:.0} kt, {}",
                sample.z.m() / FOOT,
                sample.ground_speed.kt(),
                side(sample.x)
            ),
        ]
    });
    lines.collect()
}

/// `2.31 nmi left`.
fn side(x: Length) -> String {
    let side = if x < Length::ZERO { "left" } else { "right" };
    format!("{:.2} nmi {side}", x.abs().m() / NAUTICAL_MILE)
}

/// What was to be seen and when it was keyed.
fn keyed_lines(scene: &Scene, facts: &PracticeFacts, styles: &Styles) -> Vec<(String, Style)> {
    let now = scene.session.now();
    let lines = facts.seen.iter().map(|seen| {
        let (word, style) = match seen.keyed {
            Some(late) => (off_by(late), styles.base),
            None if now - seen.at > PATIENCE => ("missed".to_owned(), styles.quiet),
            None => ("KEY IT".to_owned(), styles.urgent),
        };
        let text = format!(
            "{} {word:<7} {}, {}",
            scene.clock.text(seen.at, 0),
            naming::point_words(&seen.point.point),
            naming::figure_name(scene.session, &seen.point.key),
        );
        (text, style)
    });
    let lines: Vec<(String, Style)> = lines.collect();
    if lines.is_empty() {
        return vec![("nothing to key yet".into(), styles.quiet)];
    }
    lines
}

/// `+0.4 s`: so much after it was to be seen.
fn off_by(late: Span) -> String {
    let tenths = (late.s() * 10.0).round() / 10.0;
    // No minus before nothing.
    format!("{:+.1} s", if tenths == 0.0 { 0.0 } else { tenths })
}

/// The next things by the estimate, and how late they are on the plan.
fn coming_lines(scene: &Scene, styles: &Styles) -> Vec<(String, Style)> {
    let session = scene.session;
    let coming = session.coming();
    let lines = coming.iter().map(|next| {
        let style = match next.kind {
            NextKind::Point { .. } => styles.flight,
            NextKind::Track(_) => styles.music,
            _ => styles.base,
        };
        let text = format!(
            "{} {:<9} {}: {}",
            scene.clock.text(next.at, 0),
            naming::lateness(next.at, next.planned),
            naming::kind(next),
            naming::which(session, next),
        );
        (text, style)
    });
    lines.collect()
}

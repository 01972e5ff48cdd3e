//! The first and the last rows of a screen: how the show is going, what was said last.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

use super::digits::to_go;
use super::facts::{Output, Scene};
use super::naming;
use super::text::{cut, put, width};
use super::theme::Styles;
use crate::live::Mode;

/// The state of the show on one row.
pub(super) fn draw(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let session = scene.session;
    let going = match session.mode() {
        Mode::Running => styles.strong,
        _ => styles.urgent,
    };
    let (armed, arming) = if session.is_armed() {
        ("ARMED", styles.strong)
    } else {
        ("DISARMED", styles.urgent)
    };
    let mut parts = vec![
        Span::styled(format!(" {} ", naming::mode(session)), going),
        Span::styled(format!(" {armed} "), arming),
        Span::styled(format!(" {} ", music(scene)), styles.base),
        Span::styled(
            format!(" profile {} ", naming::profile(session)),
            styles.base,
        ),
    ];
    if scene.practice.is_some() {
        parts.insert(0, Span::styled(" PRACTICE ", styles.urgent));
    }
    if let Output::Silent { .. } = scene.desk.output {
        parts.insert(2, Span::styled(" NO SOUND ", styles.urgent));
    }
    let times = times(scene);
    let room = usize::from(area.width).saturating_sub(width(&times) + 1);
    let mut taken = 0;
    parts.retain(|part| {
        taken += part.width();
        taken <= room
    });
    put(buffer, area, 0, Line::from(parts));
    put(
        buffer,
        area,
        0,
        Line::styled(times, styles.strong).right_aligned(),
    );
}

fn times(scene: &Scene) -> String {
    let session = scene.session;
    let zero = session.as_hacked(crate::units::Instant::ZERO);
    let show = format!("show {}", (session.now() - zero).clock(0));
    let figure = session.next_figure().map_or(String::new(), |start| {
        format!("figure in {}  ", to_go(start - session.now()))
    });
    let hack = session
        .hack()
        .map_or(String::new(), |by| format!("hack {:+.1} s ", by.s()));
    match scene.clock.now_text() {
        Some(clock) => format!("{figure}{show}  clock {clock} {hack}"),
        None => format!("{figure}{show} "),
    }
}

/// Whether music is down, and why.
pub(super) fn music(scene: &Scene) -> &'static str {
    let session = scene.session;
    match (session.is_ducked(), session.is_duck_latched()) {
        (_, true) => "ducked by key",
        (true, false) => "ducked by words",
        (false, false) => "not ducked",
    }
}

/// The latest thing said to whoever looks, and where the keys are explained.
pub(super) fn draw_last(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let keys = "? keys ";
    put(
        buffer,
        area,
        0,
        Line::styled(keys, styles.quiet).right_aligned(),
    );
    let room = usize::from(area.width).saturating_sub(keys.len() + 1);
    let said = scene.session.notices().last();
    let said = said.map(|(at, text)| format!(" {} {text}", scene.clock.text(*at, 0)));
    let warning = scene
        .desk
        .warnings
        .last()
        .map(|text| format!(" WARNING: {text}"));
    // Where there is both, each has the row in turn.
    let warns = warning.is_some() && (said.is_none() || is_warnings_turn(scene));
    let (text, style) = if warns {
        (warning, styles.urgent)
    } else {
        (said, styles.quiet)
    };
    let text = cut(&text.unwrap_or_default(), room);
    put(buffer, area, 0, Line::styled(text, style));
}

fn is_warnings_turn(scene: &Scene) -> bool {
    const TURN: i64 = 4_000_000;
    scene.session.now().us().div_euclid(TURN) % 2 == 0
}

/// A heading: a rule across with the words in it.
pub(super) fn heading(text: &str, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let columns = usize::from(area.width);
    let text = cut(text, columns.saturating_sub(4));
    let rest = columns.saturating_sub(width(&text) + 4);
    let line = Line::from(vec![
        Span::styled("─ ", styles.edge),
        Span::styled(
            text,
            styles.edge.add_modifier(ratatui::style::Modifier::BOLD),
        ),
        Span::styled(format!(" {}", "─".repeat(rest + 1)), styles.edge),
    ]);
    put(buffer, area, 0, line);
}

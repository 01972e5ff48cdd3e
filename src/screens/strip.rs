//! The arrival strip: the display line as the crowd sees it, and what moves on it.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;
use ratatui::text::Line;

use super::digits::to_go;
use super::facts::Scene;
use super::naming;
use super::text::{cut, put, width};
use super::theme::Styles;
use crate::live::session::Aloft;
use crate::show::{Manner, Motion, Show};
use crate::timeline::moments::sample_at;
use crate::units::{Instant, Length, Span};

const NAUTICAL_MILE: f64 = 1852.0;

/// Draws the line on the second row of `area`, aircraft names above it, what is expected of them below.
pub(super) fn draw(scene: &Scene, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    /// Room for `left 4 nmi` and `right 4 nmi` beside the line.
    const SIDE: u16 = 12;
    if area.width < 4 * SIDE || area.height < 3 {
        return;
    }
    let reach = reach(scene.session.show());
    let line = Rect {
        x: area.x + SIDE,
        width: area.width - 2 * SIDE,
        ..area
    };
    let ends = Line::styled(format!("left {reach} nmi"), styles.edge);
    put(buffer, area, 1, ends);
    let ends = Line::styled(format!("right {reach} nmi"), styles.edge).right_aligned();
    put(buffer, area, 1, ends);
    draw_line(reach, line, styles, buffer);
    let aloft = scene.session.aloft();
    for aircraft in &aloft {
        draw_aircraft(scene, aircraft, reach, line, styles, buffer);
    }
    name_centre(line, styles, buffer);
    let rows = usize::from(area.height - 2);
    let mut said = expected(scene, &aloft);
    if said.is_empty() {
        said.push("nothing is on the line".into());
    }
    for (row, text) in said.into_iter().take(rows).enumerate() {
        let text = cut(&text, usize::from(area.width));
        put(
            buffer,
            area,
            2 + row as u16,
            Line::styled(text, styles.flight),
        );
    }
}

/// How far out the strip reaches, in whole nautical miles: as far as the show holds or marks.
fn reach(show: &Show) -> u16 {
    let places = show.figures.iter().flat_map(|figure| {
        let manners = figure.versions.iter().map(|(_, manner)| manner);
        let legs = manners.chain([&figure.manner]).flat_map(Manner::legs);
        let holds = legs.filter_map(|leg| match leg.motion {
            Motion::Hold { place, .. } => Some(place.out),
            _ => None,
        });
        holds.chain(figure.gates.iter().copied())
    });
    let farthest = places.map(Length::m).fold(0.0, f64::max);
    (farthest / NAUTICAL_MILE).ceil().clamp(2.0, 8.0) as u16
}

/// The column `x` is seen at, and on which side it is out of the picture.
fn column(x: Length, reach: u16, area: Rect) -> (u16, Option<bool>) {
    let share = x.m() / (f64::from(reach) * NAUTICAL_MILE);
    let half = f64::from(area.width - 1) / 2.0;
    let place = (half + share.clamp(-1.0, 1.0) * half).round() as u16;
    let out = (share.abs() > 1.0).then_some(share > 0.0);
    (place.min(area.width - 1), out)
}

fn draw_line(reach: u16, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    put(
        buffer,
        area,
        1,
        Line::styled("─".repeat(usize::from(area.width)), styles.edge),
    );
    for mile in -i32::from(reach)..=i32::from(reach) {
        let x = Length::from_m(f64::from(mile) * NAUTICAL_MILE);
        let (place, _) = column(x, reach, area);
        if let Some(cell) = buffer.cell_mut((area.x + place, area.y + 1)) {
            cell.set_symbol(if mile == 0 { "╋" } else { "┴" });
        }
    }
}

/// Names crowd centre where no aircraft's name is in the way.
fn name_centre(area: Rect, styles: &Styles, buffer: &mut Buffer) {
    const NAME: &str = "crowd centre";
    let wide = NAME.len() as u16;
    let place = Rect {
        x: area.x + (area.width - wide) / 2,
        width: wide,
        ..area
    };
    let free = |x| {
        buffer
            .cell((x, area.y))
            .is_some_and(|cell| cell.symbol() == " ")
    };
    if (place.x..place.right()).all(free) {
        put(buffer, place, 0, Line::styled(NAME, styles.edge));
    }
}

/// An arrowhead the way it flies, its name above; at the edge with its distance when it is farther out.
fn draw_aircraft(
    scene: &Scene,
    aloft: &Aloft,
    reach: u16,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let (place, out) = column(aloft.sample.x, reach, area);
    let head = match (out, flies_right(scene, aloft)) {
        (Some(true), _) => "»",
        (Some(false), _) => "«",
        (None, Some(true)) => "▶",
        (None, Some(false)) => "◀",
        (None, None) => "◆",
    };
    if let Some(cell) = buffer.cell_mut((area.x + place, area.y + 1)) {
        let style = styles.flight.add_modifier(Modifier::REVERSED);
        cell.set_symbol(head).set_style(style);
    }
    let name = match out {
        Some(_) => format!("{} {}", aloft.aircraft, distance(aloft.sample.x)),
        None => aloft.aircraft.to_string(),
    };
    let name = format!(" {} ", cut(&name, usize::from(area.width / 3)));
    let wide = width(&name) as u16;
    let from = place
        .saturating_sub(wide / 2)
        .min(area.width.saturating_sub(wide));
    let above = Rect {
        x: area.x + from,
        width: wide.min(area.width),
        ..area
    };
    put(buffer, above, 0, Line::styled(name, styles.flight));
}

/// Whether it moves to the crowd's right; `None` where it hardly moves along the line.
fn flies_right(scene: &Scene, aloft: &Aloft) -> Option<bool> {
    let session = scene.session;
    let mut figures = session.moments().figures.iter().zip(session.figures());
    let (times, flown) = figures.find(|(times, _)| times.key == aloft.key)?;
    let soon = times.after_at(session.now()) + Span::from_ms(200);
    let along = sample_at(flown.path_of(&aloft.aircraft), soon)?.x - aloft.sample.x;
    (along.abs().m() > 0.5).then_some(along.m() > 0.0)
}

/// `3.2 nmi`, or metres close in.
fn distance(x: Length) -> String {
    let out = x.abs().m();
    if out < 0.2 * NAUTICAL_MILE {
        format!("{out:.0} m")
    } else {
        format!("{:.1} nmi", out / NAUTICAL_MILE)
    }
}

/// What is expected of each aircraft in the air, the next to pass first.
fn expected(scene: &Scene, aloft: &[Aloft]) -> Vec<String> {
    let session = scene.session;
    let mut said: Vec<(Instant, String)> = aloft
        .iter()
        .map(|aircraft| {
            let side = if aircraft.sample.x < Length::ZERO {
                "left"
            } else {
                "right"
            };
            let place = format!(
                "{} {} {side}",
                aircraft.aircraft,
                distance(aircraft.sample.x)
            );
            let figure = naming::figure_name(session, &aircraft.key);
            match naming::next_pass(session, aircraft) {
                Some((key, point, expected)) => {
                    let then = if *key == aircraft.key {
                        String::new()
                    } else {
                        format!(", then {}", naming::figure_name(session, key))
                    };
                    let text = format!(
                        "{place}, {} in {}, {} estimated {}, {}; {figure}{then}",
                        naming::point_words(point),
                        to_go(expected.at - session.now()),
                        scene.clock.text(expected.at, 0),
                        naming::spread(expected.spread),
                        naming::lateness(expected.at, session.planned_point(key, point)),
                    );
                    (expected.at, text)
                }
                None => (Instant::NEVER, format!("{place}, passes no more; {figure}")),
            }
        })
        .collect();
    said.sort();
    said.into_iter().map(|(_, text)| text).collect()
}

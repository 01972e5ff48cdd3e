//! The display from above while it is flown: crowd at the bottom, its right to the right, one scale both ways.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier, Style};
use ratatui::symbols::Marker;
use ratatui::text::Line;
use ratatui::widgets::Widget;
use ratatui::widgets::canvas::{self, Canvas, Points};

use super::facts::PracticeFacts;
use crate::flight::PathSample;
use crate::live::Session;
use crate::practice::sky::Craft;
use crate::screens::facts::Scene;
use crate::screens::text::{put, width};
use crate::screens::theme::Styles;
use crate::show::{Name, PointName};
use crate::timeline::moments::sample_at;
use crate::units::quantity::NAUTICAL_MILE;

/// A planned path has a dot this often, m: less often than one that has been flown, which is a line.
const DOT_EVERY: f64 = 3.0;
/// At least this much of the display line is shown on each side of centre, m.
const LEAST: f64 = 0.6 * NAUTICAL_MILE;

/// A part of the site, in metres of its frame.
#[derive(Debug, Clone, Copy)]
struct Window {
    x: [f64; 2],
    y: [f64; 2],
}

/// Draws the map.
pub(super) fn draw(
    scene: &Scene,
    facts: &PracticeFacts,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    let [map, scale] = [
        Rect {
            height: area.height.saturating_sub(1),
            ..area
        },
        Rect {
            y: area.bottom().saturating_sub(1),
            height: area.height.min(1),
            ..area
        },
    ];
    if map.width < 20 || map.height < 6 {
        return;
    }
    let session = scene.session;
    let planned = planned(session, facts);
    let line = session.show().site.line_distance.m();
    let window = Window::around(&planned, facts, line).fitted(map);
    let dots = window.metres_per_dot(map) * DOT_EVERY;
    let planned: Vec<(f64, f64)> = planned.into_iter().flat_map(|p| dotted(p, dots)).collect();
    let colour = |style: Style| style.fg.unwrap_or(Color::Reset);
    let ground = move |context: &mut canvas::Context| {
        let level = |y: f64, every: f64| -> Vec<(f64, f64)> {
            let step = dots / DOT_EVERY * every;
            let count = ((window.x[1] - window.x[0]) / step) as usize;
            let at = |i: usize| (window.x[0] + (i as f64 + 0.5) * step, y);
            (0..=count).map(at).collect()
        };
        let edge = colour(styles.edge);
        for (points, colour) in [
            (level(0.0, 1.0), edge),
            (level(line, 2.0), edge),
            (planned.clone(), colour(styles.quiet)),
        ] {
            let coords = &points[..];
            context.draw(&Points {
                coords,
                color: colour,
            });
        }
        let centre = canvas::Line::new(0.0, 0.0, 0.0, line, edge);
        context.draw(&centre);
        context.layer();
        for trail in &facts.trails {
            for pair in trail.windows(2) {
                let [x, y] = place(&pair[0].1);
                let [to_x, to_y] = place(&pair[1].1);
                context.draw(&canvas::Line::new(x, y, to_x, to_y, colour(styles.flight)));
            }
        }
    };
    Canvas::default()
        .marker(Marker::Braille)
        .background_color(styles.base.bg.unwrap_or(Color::Reset))
        .x_bounds(window.x)
        .y_bounds(window.y)
        .paint(ground)
        .render(map, buffer);
    let cells = Cells { window, area: map };
    cells.name_lines(styles, buffer);
    cells.name_gates(session, facts, line, styles, buffer);
    for craft in &facts.aloft {
        cells.craft(craft, styles, buffer);
    }
    cells.distances(scale, styles, buffer);
}

/// The way the figures being flown were planned: of each aircraft in the air.
fn planned<'a>(session: &'a Session, facts: &PracticeFacts) -> Vec<&'a [PathSample]> {
    let is_flown = |key: &Name| facts.aloft.iter().any(|craft| craft.key == *key);
    let figures = session.figures().iter().filter(|f| is_flown(&f.key));
    let parts = figures.flat_map(|figure| figure.parts.iter());
    parts.map(|part| &part.path[..]).collect()
}

fn place(sample: &PathSample) -> [f64; 2] {
    [sample.x.m(), sample.y.m()]
}

/// Places along a path, so many metres apart.
fn dotted(path: &[PathSample], every: f64) -> Vec<(f64, f64)> {
    let mut dots = Vec::new();
    let mut left = 0.0;
    for pair in path.windows(2) {
        let ([x, y], [to_x, to_y]) = (place(&pair[0]), place(&pair[1]));
        let step = (to_x - x).hypot(to_y - y);
        while step > 0.0 && left <= step {
            let share = left / step;
            dots.push((x + share * (to_x - x), y + share * (to_y - y)));
            left += every;
        }
        left -= step;
    }
    dots
}

impl Window {
    /// Crowd centre, the present figures as planned, and what has been flown of them.
    fn around(planned: &[&[PathSample]], facts: &PracticeFacts, line: f64) -> Window {
        let least = Window {
            x: [-LEAST, LEAST],
            y: [0.0, 2.0 * line],
        };
        let aloft = facts.aloft.iter().map(|craft| &craft.sample);
        let samples = planned.iter().copied().flatten().chain(aloft);
        samples.map(place).fold(least, |window, [x, y]| Window {
            x: [window.x[0].min(x), window.x[1].max(x)],
            y: [window.y[0].min(y), window.y[1].max(y)],
        })
    }

    /// With a margin, filling an area at one scale both ways: a cell of the terminal is twice as high as wide.
    fn fitted(self, area: Rect) -> Window {
        let [left, right] = self.x;
        let [near, far] = self.y;
        let (columns, rows) = (f64::from(area.width), 2.0 * f64::from(area.height));
        let per_column =
            (1.08 * (right - left) / columns).max(1.1 * (far - near) / (rows - 4.0).max(1.0));
        let (wide, high) = (per_column * columns, per_column * rows);
        // What is left over is air beyond the figure: the crowd stays at the bottom, with a row for its names.
        let bottom = near - 1.5 * high / f64::from(area.height);
        let middle = 0.5 * (left + right);
        Window {
            x: [middle - 0.5 * wide, middle + 0.5 * wide],
            y: [bottom, bottom + high],
        }
    }

    /// A cell is two dots of braille wide.
    fn metres_per_dot(&self, area: Rect) -> f64 {
        (self.x[1] - self.x[0]) / (2.0 * f64::from(area.width))
    }
}

/// The map's cells, for what is written on it.
struct Cells {
    window: Window,
    area: Rect,
}

impl Cells {
    /// The cell of a place; `None` beyond the map.
    fn at(&self, [x, y]: [f64; 2]) -> Option<(u16, u16)> {
        let share = |value: f64, [from, to]: [f64; 2]| (value - from) / (to - from);
        let (right, up) = (share(x, self.window.x), share(y, self.window.y));
        let within = (0.0..=1.0).contains(&right) && (0.0..=1.0).contains(&up);
        let column = (right * f64::from(self.area.width - 1)).round() as u16;
        let row = ((1.0 - up) * f64::from(self.area.height - 1)).round() as u16;
        within.then_some((self.area.x + column, self.area.y + row))
    }

    /// Text that begins at a cell, or ends there where it would not fit; not over other text.
    fn write(&self, (x, y): (u16, u16), text: &str, style: Style, buffer: &mut Buffer) {
        let wide = width(text) as u16;
        let from = x
            .min(self.area.right().saturating_sub(wide))
            .max(self.area.x);
        let area = Rect {
            x: from,
            y,
            width: wide.min(self.area.right().saturating_sub(from)),
            height: 1,
        };
        put(buffer, area, 0, Line::styled(text.to_owned(), style));
    }

    fn name_lines(&self, styles: &Styles, buffer: &mut Buffer) {
        let Some((centre, row)) = self.at([0.0, 0.0]) else {
            return;
        };
        let under = (row + 1).min(self.area.bottom().saturating_sub(1));
        self.write((centre, under), "▲ crowd centre", styles.edge, buffer);
        // Nothing is flown below the crowd line: both lines are named there, at the end with more room.
        let lines = ["crowd line; the display line is above it", "crowd line"];
        let left = usize::from(centre.saturating_sub(self.area.x + 2));
        let right = usize::from(self.area.right().saturating_sub(centre + 17));
        let name = lines
            .into_iter()
            .find(|name| width(name) <= left.max(right));
        let Some(name) = name else {
            return;
        };
        let x = if left >= right {
            self.area.x
        } else {
            self.area.right().saturating_sub(width(name) as u16)
        };
        self.write((x, under), name, styles.edge, buffer);
    }

    /// Gates of the figures being flown: a mark on the display line with its number.
    fn name_gates(
        &self,
        session: &Session,
        facts: &PracticeFacts,
        line: f64,
        styles: &Styles,
        buffer: &mut Buffer,
    ) {
        for craft in &facts.aloft {
            for (n, x) in gates(session, &craft.key) {
                if let Some(cell) = self.at([x, line]) {
                    self.write(cell, &format!("┼{n}"), styles.strong, buffer);
                }
            }
        }
    }

    /// An arrow the way it flies, its name beside it.
    fn craft(&self, craft: &Craft, styles: &Styles, buffer: &mut Buffer) {
        let Some((x, y)) = self.at(place(&craft.sample)) else {
            return;
        };
        let style = styles.flight.add_modifier(Modifier::REVERSED);
        if let Some(cell) = buffer.cell_mut((x, y)) {
            cell.set_symbol(arrow(craft.towards_mps)).set_style(style);
        }
        let name = format!(" {}", craft.aircraft);
        let room = self.area.right().saturating_sub(x + 1);
        let over = if usize::from(room) < width(&name) {
            (
                x.saturating_sub(width(&name) as u16),
                y.saturating_sub(1).max(self.area.y),
            )
        } else {
            (x + 1, y.saturating_sub(1).max(self.area.y))
        };
        self.write(over, &name, styles.flight, buffer);
    }

    /// Nautical miles from centre along the lower edge.
    fn distances(&self, area: Rect, styles: &Styles, buffer: &mut Buffer) {
        let wide = (self.window.x[1] - self.window.x[0]) / NAUTICAL_MILE;
        let steps = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0];
        let fits = |step: &&f64| wide / **step * 8.0 <= f64::from(area.width);
        let step = steps.iter().find(fits).copied().unwrap_or(50.0);
        let first = (self.window.x[0] / NAUTICAL_MILE / step).ceil() as i32;
        let last = (self.window.x[1] / NAUTICAL_MILE / step).floor() as i32;
        for n in first..=last {
            let miles = f64::from(n) * step;
            let text = match n {
                0 => "0".to_owned(),
                _ if step < 1.0 => format!("{:.1}", miles.abs()),
                _ => format!("{:.0}", miles.abs()),
            };
            if let Some((x, _)) = self.at([miles * NAUTICAL_MILE, 0.0]) {
                let at = x.saturating_sub(width(&text) as u16 / 2);
                self.write((at, area.y), &text, styles.edge, buffer);
            }
        }
        let x = area.right().saturating_sub(4);
        self.write((x, area.y), " nmi", styles.edge, buffer);
    }
}

/// The gates of a figure: number, and where along the display line, m.
fn gates(session: &Session, key: &Name) -> Vec<(usize, f64)> {
    let figure = session.figures().iter().find(|figure| figure.key == *key);
    let points = figure.map_or(&[][..], |figure| &figure.points);
    let path = figure.map_or(&[][..], |figure| figure.path());
    points
        .iter()
        .filter_map(|point| match point.point {
            PointName::Gate(n) => Some((usize::from(n), sample_at(path, point.after)?.x.m())),
            _ => None,
        })
        .collect()
}

/// The way something moves on the map; a diamond where it hardly moves.
fn arrow([x, y]: [f64; 2]) -> &'static str {
    const WAYS: [&str; 8] = ["→", "↗", "↑", "↖", "←", "↙", "↓", "↘"];
    if x.hypot(y) < 2.0 {
        return "◆";
    }
    let eighth = (y.atan2(x) / std::f64::consts::FRAC_PI_4).round() as i32;
    WAYS[eighth.rem_euclid(8) as usize]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arrows_point_where_it_goes_on_the_map() {
        assert_eq!(arrow([100.0, 0.0]), "→");
        assert_eq!(arrow([-100.0, 5.0]), "←");
        assert_eq!(arrow([70.0, 70.0]), "↗");
        assert_eq!(arrow([0.0, -90.0]), "↓");
        assert_eq!(arrow([0.3, 0.3]), "◆");
    }

    #[test]
    fn one_scale_both_ways_and_everything_is_in_it() {
        let window = Window {
            x: [-9_000.0, 4_000.0],
            y: [0.0, 2_000.0],
        };
        for (width, height) in [(48, 16), (120, 40)] {
            let area = Rect::new(0, 0, width, height);
            let fitted = window.fitted(area);
            let per_column = (fitted.x[1] - fitted.x[0]) / f64::from(width);
            let per_row = (fitted.y[1] - fitted.y[0]) / f64::from(height);
            assert!((per_row / per_column - 2.0).abs() < 1e-9);
            assert!(fitted.x[0] < window.x[0] && window.x[1] < fitted.x[1]);
            assert!(fitted.y[0] < window.y[0] && window.y[1] < fitted.y[1]);
        }
    }
}

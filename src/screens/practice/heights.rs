//! Height and speed by the clock while it is flown: as the show expects it, and as it really is.

use ratatui::buffer::Buffer;
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Style};
use ratatui::symbols::Marker;
use ratatui::text::Line;
use ratatui::widgets::Widget;
use ratatui::widgets::canvas::{self, Canvas, Points};

use super::facts::PracticeFacts;
use crate::flight::PathSample;
use crate::live::Session;
use crate::screens::facts::Scene;
use crate::screens::naming;
use crate::screens::text::{cut, put, width};
use crate::screens::theme::Styles;
use crate::timeline::FigureTimes;
use crate::timeline::moments::sample_at;
use crate::units::quantity::{FOOT, KNOT};
use crate::units::{Instant, Span};

/// Room for the labels of the value axes, columns.
const LABELS: u16 = 8;
/// At least so much of what was, and of what comes, is drawn.
const AROUND: Span = Span::from_ms(45_000);
/// What is expected has a dot in every so many columns of braille: less often than what is flown, which is a line.
const DOT_EVERY: usize = 3;
/// Rows of names there are at most.
const NAMES: usize = 2;

/// What a panel shows.
struct Quantity {
    name: &'static str,
    unit: &'static str,
    /// Of a sample, in that unit, where it is known.
    of: fn(&PathSample) -> Option<f64>,
    /// The axis ends at a multiple of this.
    step: f64,
}

const HEIGHT: Quantity = Quantity {
    name: "height",
    unit: "ft",
    of: |sample| Some(sample.z.m() / FOOT),
    step: 500.0,
};
const SPEED: Quantity = Quantity {
    name: "ground speed",
    unit: "kt",
    // Nobody says how fast an aircraft holds.
    of: |sample| Some(sample.ground_speed.mps() / KNOT).filter(|kt| *kt > 0.0),
    step: 50.0,
};

/// Draws both, one above the other on one time axis.
pub(super) fn draw(
    scene: &Scene,
    facts: &PracticeFacts,
    area: Rect,
    styles: &Styles,
    buffer: &mut Buffer,
) {
    if area.width < 30 || area.height < 8 {
        return;
    }
    let span = Window::around(scene.session, facts);
    let figures = span.figures(scene.session);
    let drawn = Rect {
        x: area.x + LABELS,
        width: area.width - LABELS,
        ..area
    };
    let names = named(scene.session, &figures, &span, drawn);
    let rows = names.iter().map(|name| name.row + 1).max().unwrap_or(0);
    let [named, height, speed, clock] = drawn.layout(&Layout::vertical([
        Constraint::Length(rows as u16),
        Constraint::Fill(1),
        Constraint::Fill(1),
        Constraint::Length(1),
    ]));
    for name in &names {
        let line = Line::styled(name.text.clone(), styles.strong);
        let from = named.x + name.from;
        let place = Rect {
            x: from,
            width: named.right().saturating_sub(from),
            ..named
        };
        put(buffer, place, name.row as u16, line);
    }
    for (quantity, panel) in [(HEIGHT, height), (SPEED, speed)] {
        let panel = Panel {
            quantity,
            span: &span,
            area: panel,
        };
        panel.draw(scene.session, facts, &figures, styles, buffer);
    }
    times(scene, &span, clock, styles, buffer);
}

/// The part of the show that is drawn.
struct Window {
    from: Instant,
    until: Instant,
    now: Instant,
}

impl Window {
    /// The figures being flown, whole, and what is just before and after now.
    fn around(session: &Session, facts: &PracticeFacts) -> Window {
        let now = session.now();
        let flown = facts.aloft.iter();
        let flown = || {
            flown
                .clone()
                .filter_map(|craft| session.times_of(&craft.key))
        };
        let from = flown().map(FigureTimes::start);
        let until = flown().map(FigureTimes::end);
        Window {
            from: from.fold(now - AROUND, Instant::min),
            until: until.fold(now + AROUND, Instant::max),
            now,
        }
    }

    /// Where an instant is, from 0 to 1.
    fn share(&self, at: Instant) -> f64 {
        (at - self.from).s() / (self.until - self.from).s()
    }

    fn at(&self, share: f64) -> Instant {
        self.from + (self.until - self.from) * share
    }

    fn column(&self, at: Instant, area: Rect) -> u16 {
        (self.share(at).clamp(0.0, 1.0) * f64::from(area.width.saturating_sub(1))).round() as u16
    }

    /// The figures expected in it.
    fn figures<'a>(&self, session: &'a Session) -> Vec<&'a FigureTimes> {
        let figures = session.moments().figures.iter();
        let within = |times: &&FigureTimes| {
            !times.held && times.start() < self.until && times.end() > self.from
        };
        figures.filter(within).collect()
    }
}

/// A name over the chart.
struct Named {
    from: u16,
    row: usize,
    text: String,
}

/// The figures' names where they begin, each cut where the next of its row begins; what finds no row is left out.
fn named(session: &Session, figures: &[&FigureTimes], span: &Window, area: Rect) -> Vec<Named> {
    let mut figures = figures.to_vec();
    figures.sort_by_key(|times| times.start());
    let mut names: Vec<Named> = Vec::new();
    for times in figures {
        let from = span.column(times.start(), area);
        let free = |row: &usize| {
            let last = names.iter().rev().find(|name| name.row == *row);
            last.is_none_or(|last| last.from + 3 < from)
        };
        let Some(row) = (0..NAMES).find(free) else {
            continue;
        };
        if let Some(before) = names.iter_mut().rev().find(|name| name.row == row) {
            before.text = cut(&before.text, usize::from(from - before.from - 1));
        }
        let room = usize::from(area.width - from);
        let name = format!("╷{}", naming::figure_name(session, &times.key));
        names.push(Named {
            from,
            row,
            text: cut(&name, room),
        });
    }
    names
}

/// One of the two.
struct Panel<'a> {
    quantity: Quantity,
    span: &'a Window,
    area: Rect,
}

impl Panel<'_> {
    fn draw(
        &self,
        session: &Session,
        facts: &PracticeFacts,
        figures: &[&FigureTimes],
        styles: &Styles,
        buffer: &mut Buffer,
    ) {
        let expected = self.expected(session, figures);
        let flown: Vec<Vec<(f64, f64)>> = facts.trails.iter().map(|t| self.flown(t)).collect();
        let most = expected.iter().chain(flown.iter().flatten());
        let most = most.map(|(_, value)| *value).fold(0.0, f64::max);
        let step = self.quantity.step;
        let top = ((most / step).floor() + 1.0) * step;
        let now = self.span.share(self.span.now);
        let colour = |style: Style| style.fg.unwrap_or(Color::Reset);
        let (edge, quiet, flight) = (
            colour(styles.edge),
            colour(styles.quiet),
            colour(styles.flight),
        );
        let columns = usize::from(self.area.width) * 2;
        Canvas::default()
            .marker(Marker::Braille)
            .background_color(styles.base.bg.unwrap_or(Color::Reset))
            .x_bounds([0.0, 1.0])
            .y_bounds([0.0, top])
            .paint(|context| {
                let ground: Vec<(f64, f64)> = (0..columns)
                    .map(|i| (i as f64 / columns as f64, 0.0))
                    .collect();
                for (coords, color) in [(&ground[..], edge), (&expected[..], quiet)] {
                    context.draw(&Points { coords, color });
                }
                context.draw(&canvas::Line::new(now, 0.0, now, top, edge));
                context.layer();
                for pair in flown.iter().flat_map(|line| line.windows(2)) {
                    let [(x, y), (to_x, to_y)] = [pair[0], pair[1]];
                    context.draw(&canvas::Line::new(x, y, to_x, to_y, flight));
                }
            })
            .render(self.area, buffer);
        self.label(top, styles, buffer);
    }

    /// What is expected, at every few columns: how far along the chart, and the value.
    fn expected(&self, session: &Session, figures: &[&FigureTimes]) -> Vec<(f64, f64)> {
        let columns = usize::from(self.area.width) * 2;
        let mut dots = Vec::new();
        for times in figures {
            let flown = session.figures().iter().find(|f| f.key == times.key);
            for part in flown.iter().flat_map(|figure| figure.parts.iter()) {
                for column in (0..columns).step_by(DOT_EVERY) {
                    let share = column as f64 / columns as f64;
                    let at = self.span.at(share);
                    if !(times.start()..times.end()).contains(&at) {
                        continue;
                    }
                    let sample = sample_at(&part.path, times.after_at(at));
                    if let Some(value) = sample.as_ref().and_then(self.quantity.of) {
                        dots.push((share, value));
                    }
                }
            }
        }
        dots
    }

    /// What was really flown of it.
    fn flown(&self, trail: &[(Instant, PathSample)]) -> Vec<(f64, f64)> {
        let known = trail.iter().filter(|(at, _)| *at >= self.span.from);
        let values = known.filter_map(|(at, sample)| {
            let value = (self.quantity.of)(sample)?;
            Some((self.span.share(*at), value))
        });
        values.collect()
    }

    /// What it is and what its ends are, to the left of it.
    fn label(&self, top: f64, styles: &Styles, buffer: &mut Buffer) {
        let beside = Rect {
            x: self.area.x - LABELS,
            width: LABELS - 1,
            ..self.area
        };
        let unit = self.quantity.unit;
        let last = beside.height.saturating_sub(1);
        for (row, text) in [(0, format!("{top:.0} {unit}")), (last, format!("0 {unit}"))] {
            let line = Line::styled(text, styles.edge).right_aligned();
            put(buffer, beside, row, line);
        }
        let mut words = self.quantity.name.split(' ');
        for row in 1..last {
            if let Some(word) = words.next() {
                let line = Line::styled(word, styles.quiet).right_aligned();
                put(buffer, beside, row, line);
            }
        }
    }
}

/// The clock under the chart, now among it.
fn times(scene: &Scene, span: &Window, area: Rect, styles: &Styles, buffer: &mut Buffer) {
    let write = |at: Instant, style: Style, buffer: &mut Buffer| {
        let text = scene.clock.text(at, 0);
        let wide = width(&text) as u16;
        let middle = span.column(at, area);
        let from = middle
            .saturating_sub(wide / 2)
            .min(area.width.saturating_sub(wide));
        let place = Rect {
            x: area.x + from,
            width: wide.min(area.width),
            ..area
        };
        put(buffer, place, 0, Line::styled(text, style));
        from..from + wide
    };
    let now = write(span.now, styles.strong, buffer);
    for end in [span.from, span.until] {
        // Not over now.
        let wide = scene.clock.text(end, 0).chars().count() as u16 + 2;
        let at = span.column(end, area);
        if at + wide < now.start || at > now.end + wide {
            write(end, styles.edge, buffer);
        }
    }
}

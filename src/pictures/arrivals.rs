//! The arrival strip: every point of every figure on a time axis, broken into lines like a score.

use super::kit::drawing::label_size;
use super::kit::ink::{INK, style};
use super::kit::letters::fitted;
use super::kit::rows::{Item, rows};
use super::kit::scale::time_step;
use super::kit::{Area, Drawing, Fill, Marker, Pen, Point, Scale, Side};
use super::legend::{MARGIN, SMALL, TEXT, WIDE, begun, finished};
use super::programme::{Part, Programme, point_name};
use crate::show::{OwnPoint, PointName};
use crate::timeline::Expected;

/// How much of the show stands on one line, s; more where there would be too many lines.
const LINE: f64 = 120.0;
const MOST_LINES: f64 = 60.0;
/// Right of the axis, for labels of what is at its end.
const OVERHANG: f64 = 190.0;
const NAME_ROW: f64 = 17.0;
const POINT_ROW: f64 = 17.0;
const BAR: f64 = 14.0;
/// Letters of a pass at crowd centre.
const PASS: f64 = 14.0;

/// A stretch of the strip on the page.
struct Stave {
    /// From when to when, s.
    from: f64,
    until: f64,
    time: Scale,
}

/// A point of a figure on a stave.
struct Mark {
    at: f64,
    spread: [f64; 2],
    /// Whether either end of the spread is on the stave.
    ends: [bool; 2],
    point: PointName,
    text: String,
    size: f64,
}

impl Mark {
    /// Where its text begins: clear of its sign and of its spread.
    fn text_from(&self) -> f64 {
        (self.at + 9.0).max(self.spread[1] + 5.0)
    }
}

/// Draws the strip.
pub fn strip(programme: &Programme) -> String {
    let title = programme.heading("arrivals");
    let description = format!(
        "When each figure is expected, by {}. {}",
        programme.clock_name(),
        said(programme)
    );
    let mut drawing = begun(&title, &description);
    legend([MARGIN, 62.0], &mut drawing);
    let mut top = 84.0;
    for stave in staves(programme) {
        top = draw(programme, &stave, top, &mut drawing);
    }
    finished(drawing, top - 18.0)
}

/// The passes in words.
fn said(programme: &Programme) -> String {
    let passes = programme.parts.iter().flat_map(|part| {
        let points = part.times.points.iter();
        points
            .filter(|(point, _)| matches!(point, PointName::Abeam(_)))
            .map(|(point, expected)| {
                format!(
                    "{} {} at {}, give or take {:.1} s",
                    part.numbered(),
                    point_name(point),
                    programme.clock(expected.at),
                    expected.spread.s()
                )
            })
    });
    let passes: Vec<String> = passes.collect();
    passes.join("; ")
}

/// The strip in lines; each begins at a round time.
fn staves(programme: &Programme) -> Vec<Stave> {
    let [from, until] = programme.span();
    let line = LINE.max(time_step((until - from) / MOST_LINES));
    let round = programme.ticks([from - line, from], line / 4.0);
    let first = round.last().copied().unwrap_or(from);
    let count = ((until - first) / line).ceil().max(1.0) as usize;
    (0..count)
        .map(|i| {
            let from = first + i as f64 * line;
            let until = from + line;
            let time = Scale::new([from, until], [MARGIN, WIDE - MARGIN - OVERHANG]);
            Stave { from, until, time }
        })
        .collect()
}

/// One stave: for each aircraft its figures, then the time. Gives where it ends.
fn draw(programme: &Programme, stave: &Stave, top: f64, drawing: &mut Drawing) -> f64 {
    let aircraft = programme.aircraft();
    let mut below = top;
    for &one in &aircraft {
        let parts: Vec<&Part> = programme
            .parts
            .iter()
            .filter(|part| part.aircraft.contains(&one) && stave.shows(part))
            .collect();
        if parts.is_empty() {
            continue;
        }
        if aircraft.len() > 1 {
            below += 16.0;
            let name = programme.name_of(one);
            drawing.text([MARGIN, below], Side::From, SMALL, name);
        }
        below = figures(programme, stave, (one, &parts), below, drawing);
    }
    axis(programme, stave, below + 6.0, drawing)
}

impl Stave {
    fn shows(&self, part: &Part) -> bool {
        part.times.start().s() < self.until && part.times.end().s() >= self.from
    }

    /// Where a time is, held to the stave.
    fn held(&self, s: f64) -> f64 {
        self.time.at(s.clamp(self.from, self.until))
    }
}

/// The figures of one aircraft: names, bars, points. Gives where they end.
fn figures(
    programme: &Programme,
    stave: &Stave,
    (aircraft, parts): (usize, &[&Part]),
    top: f64,
    drawing: &mut Drawing,
) -> f64 {
    let edge = Pen {
        wide: 1.5,
        ..style(aircraft).pen
    };
    let bar_top = names(programme, stave, parts, top, drawing);
    for part in parts {
        bar(stave, part, edge, bar_top, drawing);
    }
    let marks: Vec<Mark> = parts
        .iter()
        .flat_map(|part| marks(programme, stave, (aircraft, part)))
        .collect();
    points(&marks, bar_top + BAR, drawing)
}

/// Name and times of each figure above its bar; gives where they end.
fn names(
    programme: &Programme,
    stave: &Stave,
    parts: &[&Part],
    top: f64,
    drawing: &mut Drawing,
) -> f64 {
    let texts: Vec<String> = parts
        .iter()
        .map(|part| named(programme, stave, part))
        .collect();
    let items: Vec<Item> = parts
        .iter()
        .zip(&texts)
        .map(|(part, text)| {
            let at = stave.held(part.times.start().s());
            Item {
                at,
                from: at,
                until: at + 4.0 + label_size(text, TEXT).0,
            }
        })
        .collect();
    let found = rows(&items);
    let count = found.iter().max().map_or(0, |row| row + 1);
    let bottom = top + 4.0 + NAME_ROW * count as f64;
    for ((item, row), text) in items.iter().zip(&found).zip(&texts) {
        let y = bottom - NAME_ROW * (*row as f64 + 1.0);
        drawing.line(
            &[[item.at, y + 2.0], [item.at, bottom]],
            Pen::solid(INK, 0.7),
        );
        drawing.text([item.at + 4.0, y + 12.0], Side::From, TEXT, text);
    }
    bottom
}

/// Number, name and times of a figure; less of the times where the page ends.
fn named(programme: &Programme, stave: &Stave, part: &Part) -> String {
    let [from, until] = [part.times.start(), part.times.end()].map(|at| programme.clock(at));
    let name = part.numbered();
    let said = if part.times.start().s() < stave.from {
        [
            format!("{name}, goes on to {until}"),
            format!("{name}, to {until}"),
        ]
    } else {
        [
            format!("{name}, {from} to {until}"),
            format!("{name}, {from}"),
        ]
    };
    let room = WIDE - stave.held(part.times.start().s()) - 12.0;
    let fits = |text: &&String| label_size(text, TEXT).0 <= room;
    let found = said.iter().find(fits);
    found.map_or_else(|| fitted(&name, TEXT, room), String::clone)
}

/// A figure's time, and in it when it is too loud to talk over.
fn bar(stave: &Stave, part: &Part, edge: Pen, top: f64, drawing: &mut Drawing) {
    let [from, until] = [part.times.start(), part.times.end()].map(|at| stave.held(at.s()));
    let area = Area {
        left: from,
        top,
        wide: until - from,
        high: BAR,
    };
    let timed = part.flown.path().len() < 2;
    let fill = timed.then_some(Fill::Dotted);
    drawing.area(area, fill, Some(edge));
    for (loud, quiet) in &part.times.hush {
        let [left, right] = [stave.held(loud.s()), stave.held(quiet.s())];
        if right > left {
            let hush = Area {
                left,
                top: top + 2.0,
                wide: right - left,
                high: BAR - 4.0,
            };
            drawing.area(hush, Some(Fill::Slanted), None);
        }
    }
    let ends = [part.times.start(), part.times.end()].map(|at| at.s());
    for s in ends
        .into_iter()
        .filter(|s| (stave.from..=stave.until).contains(s))
    {
        let x = stave.time.at(s);
        drawing.line(
            &[[x, top - 3.0], [x, top + BAR + 3.0]],
            Pen::solid(INK, 1.5),
        );
    }
}

/// The points below the bars, each with its spread; gives where they end.
fn points(marks: &[Mark], bar_bottom: f64, drawing: &mut Drawing) -> f64 {
    let items: Vec<Item> = marks
        .iter()
        .map(|mark| Item {
            at: mark.at,
            from: mark.spread[0].min(mark.at - 6.0),
            until: mark.text_from() + label_size(&mark.text, mark.size).0,
        })
        .collect();
    let found = rows(&items);
    let count = found.iter().max().map_or(0, |row| row + 1);
    for (mark, row) in marks.iter().zip(&found) {
        let y = bar_bottom + 14.0 + POINT_ROW * *row as f64;
        point(mark, [mark.at, y], bar_bottom, drawing);
    }
    bar_bottom + 8.0 + POINT_ROW * count as f64
}

/// The points of a figure as one of its aircraft comes to them, all but start and end, which its bar shows: those
/// of the figure; if it flies apart from the first, the crossing and its own passes.
fn points_of(programme: &Programme, aircraft: usize, part: &Part) -> Vec<(PointName, Expected)> {
    let of_figure = part.times.points.iter().cloned();
    let mut others = part.flown.parts.iter().skip(1);
    let id = programme.show.aircraft.get(aircraft).map(|one| &one.id);
    let Some(id) = id.filter(|id| others.any(|other| other.aircraft.contains(id))) else {
        let is_end = |point: &PointName| matches!(point, PointName::Start | PointName::End);
        return of_figure.filter(|(point, _)| !is_end(point)).collect();
    };
    let pass = |n| {
        let own = PointName::Own(id.clone(), OwnPoint::Abeam(n));
        Some((PointName::Abeam(n), part.times.expected(&own)?))
    };
    of_figure
        .filter(|(point, _)| *point == PointName::Cross)
        .chain((1..=u8::MAX).map_while(pass))
        .collect()
}

/// What of a figure is marked on a stave.
fn marks(programme: &Programme, stave: &Stave, (aircraft, part): (usize, &Part)) -> Vec<Mark> {
    points_of(programme, aircraft, part)
        .iter()
        .filter(|(_, expected)| (stave.from..stave.until).contains(&expected.at.s()))
        .map(|(point, expected)| {
            let is_pass = matches!(point, PointName::Abeam(_));
            let (at, spread) = (expected.at.s(), expected.spread.s());
            let clock = programme.clock(expected.at);
            Mark {
                at: stave.time.at(at),
                spread: [at - spread, at + spread].map(|s| stave.held(s)),
                ends: [at - spread > stave.from, at + spread < stave.until],
                point: point.clone(),
                text: format!("{} {clock} ±{spread:.1} s", point_name(point)),
                size: if is_pass { PASS } else { SMALL },
            }
        })
        .collect()
}

/// A point: a line down from its bar, its sign, its spread, its name.
fn point(mark: &Mark, [x, y]: Point, bar_bottom: f64, drawing: &mut Drawing) {
    let is_pass = matches!(mark.point, PointName::Abeam(_));
    let (top, wide) = if is_pass {
        (bar_bottom - BAR - 3.0, 3.0)
    } else {
        (bar_bottom, 0.7)
    };
    drawing.line(&[[x, top], [x, y]], Pen::solid(INK, wide));
    whisker(mark.spread, mark.ends, y, drawing);
    sign(&mark.point, [x, y], drawing);
    let baseline = y + 0.36 * mark.size;
    drawing.text(
        [mark.text_from(), baseline],
        Side::From,
        mark.size,
        &mark.text,
    );
}

fn whisker(spread: [f64; 2], ends: [bool; 2], y: f64, drawing: &mut Drawing) {
    drawing.line(&spread.map(|x| [x, y]), Pen::solid(INK, 1.0));
    for (x, is_end) in spread.into_iter().zip(ends) {
        if is_end {
            drawing.line(&[[x, y - 4.0], [x, y + 4.0]], Pen::solid(INK, 1.0));
        }
    }
}

fn sign(point: &PointName, [x, y]: Point, drawing: &mut Drawing) {
    match point {
        PointName::Abeam(_) => drawing.marker(Marker::Circle, [x, y], 6.0, INK),
        PointName::Inbound => {
            drawing.head([x + 4.0, y], [1.0, 0.0], 9.0, INK);
        }
        _ => drawing.marker(Marker::Diamond, [x, y], 3.0, INK),
    }
}

/// Round times under a stave; gives where they end.
fn axis(programme: &Programme, stave: &Stave, y: f64, drawing: &mut Drawing) -> f64 {
    let [from, until] = [stave.time.at(stave.from), stave.time.at(stave.until)];
    let length = stave.until - stave.from;
    drawing.line(&[[from, y], [until, y]], Pen::solid(INK, 1.0));
    for s in programme.ticks([stave.from, stave.until], length / 24.0) {
        let x = stave.time.at(s);
        drawing.line(&[[x, y], [x, y + 3.0]], Pen::solid(INK, 0.7));
    }
    for s in programme.ticks([stave.from, stave.until], length / 4.0) {
        let x = stave.time.at(s);
        drawing.line(&[[x, y], [x, y + 6.0]], Pen::solid(INK, 1.2));
        drawing.text([x, y + 17.0], Side::Over, SMALL, &programme.tick_label(s));
    }
    y + 38.0
}

/// What the signs mean, in one line.
fn legend([left, y]: Point, drawing: &mut Drawing) {
    let mut x = left;
    let entry = |x: f64, text: &str, drawing: &mut Drawing| {
        drawing.text([x + 40.0, y + 4.0], Side::From, TEXT, text);
        x + 40.0 + label_size(text, TEXT).0 + 22.0
    };
    let swatch = |x: f64| Area {
        left: x,
        top: y - 7.0,
        wide: 32.0,
        high: 14.0,
    };
    sign(&PointName::Inbound, [x + 16.0, y], drawing);
    x = entry(x, "inbound", drawing);
    sign(&PointName::Gate(1), [x + 16.0, y], drawing);
    x = entry(x, "gate", drawing);
    sign(&PointName::Abeam(1), [x + 16.0, y], drawing);
    x = entry(x, "abeam: passes crowd centre", drawing);
    whisker([x, x + 32.0], [true; 2], y, drawing);
    x = entry(x, "one spread each way", drawing);
    drawing.area(swatch(x), Some(Fill::Slanted), None);
    x = entry(x, "too loud to talk over", drawing);
    drawing.area(swatch(x), Some(Fill::Dotted), Some(Pen::solid(INK, 0.7)));
    entry(x, "only timed", drawing);
}

//! Drift: lateness through the show, and how much each figure brought.

use super::{MARGIN, SMALL, TEXT, Told, WIDE, axes, lateness};
use crate::debrief::drift::Drift;
use crate::debrief::seen::How;
use crate::pictures::kit::ink::{FAINT, INK};
use crate::pictures::kit::letters::fitted;
use crate::pictures::kit::scale::{multiples, round_step, trimmed};
use crate::pictures::kit::{Area, Drawing, Fill, Marker, Pen, Point, Scale, Side};
use crate::pictures::programme::Programme;
use crate::units::Span;

const LEFT: f64 = MARGIN + 46.0;
const HIGH: f64 = 190.0;
const ROW: f64 = 18.0;
/// Room for the names of the figures.
const NAMES: f64 = 220.0;

pub(super) fn picture(told: &Told, names: &str) -> String {
    let said: Vec<String> = told
        .went
        .drift
        .iter()
        .map(|drift| format!("{} {}", told.name_of(&drift.key), lateness(drift.gained())))
        .collect();
    let description = format!(
        "Above, how late the show was against the time; below, how much later it was for each figure: {}.",
        said.join(", ")
    );
    let mut drawing = Drawing::new("Drift", &description, WIDE).on_a_page(names);
    let below = through(told, 24.0, &mut drawing);
    let below = gained(told, below + 34.0, &mut drawing);
    drawing.finish(below + 12.0)
}

/// Lateness against time; gives where it ends.
fn through(told: &Told, top: f64, drawing: &mut Drawing) -> f64 {
    let programme = Programme::of(told.show, told.plan);
    let points: Vec<(f64, f64, How)> = told
        .went
        .points
        .iter()
        .filter_map(|flown| Some((flown.at.s(), flown.late()?.s(), flown.how)))
        .collect();
    let Some((first, last)) = points.first().zip(points.last()) else {
        drawing.text(
            [MARGIN, top],
            Side::From,
            TEXT,
            "Nothing planned was flown.",
        );
        return top;
    };
    let reach = [first.0, last.0.max(first.0 + 1.0)];
    let [least, most] = bounds(points.iter().map(|point| point.1));
    let area = Area {
        left: LEFT,
        top,
        wide: WIDE - MARGIN - LEFT,
        high: HIGH,
    };
    let time = Scale::new(reach, [area.left, area.right()]);
    let value = Scale::new([least, most], [area.bottom(), area.top]);
    axes::times(&programme, area, reach, &time, drawing);
    axes::values(area, [least, most], 6.0, signed, drawing);
    drawing.text([MARGIN, top - 10.0], Side::From, TEXT, "late, s");
    legend([LEFT + 120.0, top - 14.0], drawing);
    drawing.line(
        &[[area.left, value.at(0.0)], [area.right(), value.at(0.0)]],
        Pen::solid(INK, 1.0),
    );
    drawing.area(area, None, Some(Pen::solid(INK, 0.8)));
    let line: Vec<Point> = points
        .iter()
        .map(|(s, late, _)| [time.at(*s), value.at(*late)])
        .collect();
    drawing.line(&line, Pen::dashed(INK, 1.0));
    for (at, (_, _, how)) in line.iter().zip(&points) {
        match how {
            How::Marked => drawing.marker(Marker::Circle, *at, 4.5, INK),
            How::Logged => drawing.marker(Marker::Square, *at, 4.5, INK),
            How::Estimated | How::Assumed | How::Sent => {}
        }
    }
    area.bottom() + 18.0
}

fn legend([x, y]: Point, drawing: &mut Drawing) {
    drawing.marker(Marker::Circle, [x, y], 4.5, INK);
    drawing.text([x + 10.0, y + 4.0], Side::From, SMALL, "marked");
    drawing.marker(Marker::Square, [x + 90.0, y], 4.5, INK);
    drawing.text(
        [x + 100.0, y + 4.0],
        Side::From,
        SMALL,
        "from a position log",
    );
    drawing.line(&[[x + 240.0, y], [x + 280.0, y]], Pen::dashed(INK, 1.0));
    drawing.text(
        [x + 288.0, y + 4.0],
        Side::From,
        SMALL,
        "between, as estimated",
    );
}

/// A bar for each figure; gives where they end.
fn gained(told: &Told, top: f64, drawing: &mut Drawing) -> f64 {
    let drift = &told.went.drift;
    if drift.is_empty() {
        return top;
    }
    drawing.text(
        [MARGIN, top - 8.0],
        Side::From,
        TEXT,
        "gained by each figure, s",
    );
    let [least, most] = bounds(drift.iter().map(|drift| drift.gained().s()));
    let value = Scale::new([least, most], [MARGIN + NAMES, WIDE - MARGIN - 60.0]);
    let bottom = top + ROW * drift.len() as f64;
    for tick in multiples(least, most, round_step((most - least) / 8.0), 0.0) {
        let x = value.at(tick);
        drawing.grid([x, top], [x, bottom]);
        drawing.text([x, bottom + 14.0], Side::Over, SMALL, &signed(tick));
    }
    for (row, drift) in drift.iter().enumerate() {
        bar(told, drift, top + ROW * row as f64, &value, drawing);
    }
    let zero = value.at(0.0);
    drawing.line(&[[zero, top], [zero, bottom]], Pen::solid(INK, 1.0));
    bottom + 16.0
}

/// A figure's bar: grey where something of it was seen, dotted where it lies between others.
fn bar(told: &Told, drift: &Drift, y: f64, value: &Scale, drawing: &mut Drawing) {
    let [zero, end] = [0.0, drift.gained().s()].map(|s| value.at(s));
    let area = Area {
        left: zero.min(end),
        top: y + 3.0,
        wide: (end - zero).abs(),
        high: ROW - 6.0,
    };
    let fill = if drift.seen {
        Fill::Plain(FAINT)
    } else {
        Fill::Dotted
    };
    let name = fitted(told.name_of(&drift.key), SMALL, NAMES - 12.0);
    drawing.text([MARGIN, y + 13.0], Side::From, SMALL, &name);
    drawing.area(area, Some(fill), Some(Pen::solid(INK, 0.8)));
    let (x, side) = if drift.gained() < Span::ZERO {
        (area.left - 4.0, Side::Until)
    } else {
        (area.right() + 4.0, Side::From)
    };
    drawing.text([x, y + 13.0], side, SMALL, &signed(drift.gained().s()));
}

/// The least and the most of them and zero, with a little room.
fn bounds(values: impl Iterator<Item = f64>) -> [f64; 2] {
    let [least, most] = values.fold([0.0_f64, 0.0_f64], |[least, most], value| {
        [least.min(value), most.max(value)]
    });
    let room = (0.08 * (most - least)).max(0.5);
    [least - room, most + room]
}

fn signed(value: f64) -> String {
    let text = trimmed((value * 10.0).round() / 10.0);
    match text.strip_prefix('-') {
        Some("0") => "0".into(),
        Some(rest) => format!("−{rest}"),
        None if text == "0" => text,
        None => format!("+{text}"),
    }
}

//! One figure: from above, from the crowd where it climbs or descends, and its points in a table.

use super::kit::drawing::label_size;
use super::kit::ink::INK;
use super::kit::letters::fitted;
use super::kit::{Area, Drawing, Pen, Point, Side};
use super::legend::{MARGIN, SMALL, TEXT, WIDE, bearings, begun, finished, who};
use super::map::{MARK_EVERY, Map, Window, label};
use super::programme::{Part, Programme, point_name, side_of};
use super::side;
use crate::flight::PathSample;
use crate::show::PointName;
use crate::timeline::Expected;
use crate::units::Span;
use crate::units::quantity::KNOT;

/// Draws one figure's sheet.
pub fn sheet(programme: &Programme, part: &Part) -> String {
    let title = programme.heading(&part.numbered());
    let [from, until] = [part.times.start(), part.times.end()].map(|at| programme.clock(at));
    let description = format!(
        "{} from above, the crowd at the bottom, from {from} to {until}. {}",
        part.numbered(),
        said(programme, part)
    );
    let mut drawing = begun(&title, &description);
    let times = format!("{from} to {until}");
    drawing.text([MARGIN, 58.0], Side::From, TEXT, &times);
    let line = programme.show.site.line_distance.m();
    let window = Window::around(line, part.samples());
    let window = side::widened(window, part).framed(0.16, 0.55);
    let map = Map::new(window, [MARGIN, 70.0], WIDE - 2.0 * MARGIN);
    from_above(programme, part, &map, &mut drawing);
    let mut below = map.area.bottom() + 30.0;
    if !side::is_level(part.samples()) {
        below = side::view(part, &map, below, &mut drawing);
    }
    let below = bearings(programme, &map, below + 10.0, &mut drawing);
    let below = who(programme, &part.aircraft, MARK_EVERY, below, &mut drawing);
    let below = table(programme, part, below + 16.0, &mut drawing);
    finished(drawing, below)
}

/// The points in words.
fn said(programme: &Programme, part: &Part) -> String {
    let points: Vec<String> = rows(programme, part)
        .into_iter()
        .map(|row| format!("{} at {}: {}, {}", row[0], row[1], row[4], row[6]))
        .collect();
    points.join("; ")
}

fn from_above(programme: &Programme, part: &Part, map: &Map, drawing: &mut Drawing) {
    let line = programme.show.site.line_distance.m();
    map.ground(drawing, line);
    map.distances(drawing, SMALL);
    map.path(drawing, part);
    map.start_ring(drawing, part);
    let mut placer = map.placer(line);
    for line in map.lines(part) {
        placer.avoid(&line);
    }
    let points = placed_points(part);
    for (_, sample) in &points {
        placer.keep_free(around(map.place(sample)));
    }
    for (names, sample) in &points {
        let place = map.place(sample);
        drawing.ring(place, 3.0, Pen::solid(INK, 1.5));
        label(drawing, &mut placer, &[place], &[names], TEXT, true);
    }
    map.name_ground(drawing, &mut placer, line, SMALL);
}

fn around([x, y]: Point) -> Area {
    let at = Area {
        left: x,
        top: y,
        wide: 0.0,
        high: 0.0,
    };
    at.grown(4.0)
}

/// Points with where they are; those at one place named together.
fn placed_points(part: &Part) -> Vec<(String, PathSample)> {
    let mut placed: Vec<(String, PathSample)> = Vec::new();
    for Shown { point, sample, .. } in shown(part) {
        let name = point_name(&point);
        let here = |(_, other): &&mut (String, PathSample)| {
            (other.x - sample.x).abs().m() < 1.0
                && (other.y - sample.y).abs().m() < 1.0
                && (other.z - sample.z).abs().m() < 1.0
        };
        match placed.iter_mut().find(here) {
            Some((names, _)) => *names += &format!(", {name}"),
            None => placed.push((name, sample)),
        }
    }
    placed
}

/// A point as it is shown.
struct Shown {
    point: PointName,
    expected: Expected,
    after: Span,
    sample: PathSample,
}

/// The points of the figure, and those of its aircraft that fly apart from the first.
fn shown(part: &Part) -> Vec<Shown> {
    let points = part.flown.points.iter();
    let of_figure = points.filter_map(|flown| {
        Some(Shown {
            point: flown.point.clone(),
            expected: part.times.expected(&flown.point)?,
            after: flown.after,
            sample: part.sample_at(flown.after)?,
        })
    });
    let own = part.own_points().into_iter().map(|own| Shown {
        point: own.point,
        expected: own.expected,
        after: own.after,
        sample: own.sample,
    });
    of_figure.chain(own).collect()
}

const HEAD: [&str; 7] = [
    "point",
    "at",
    "spread",
    "after its start",
    "from crowd centre",
    "height",
    "speed over the ground",
];

/// A row for each point.
fn rows(programme: &Programme, part: &Part) -> Vec<[String; 7]> {
    let row = |shown: Shown| {
        [
            point_name(&shown.point),
            programme.clock(shown.expected.at),
            format!("±{:.1} s", shown.expected.spread.s()),
            format!("{:.1} s", shown.after.s()),
            side_of(shown.sample.x),
            format!("{} ft", shown.sample.z.whole_feet()),
            speed(&shown.sample),
        ]
    };
    shown(part).into_iter().map(row).collect()
}

/// Nobody says how fast an aircraft holds.
fn speed(sample: &PathSample) -> String {
    match sample.ground_speed.mps() {
        0.0 => "-".into(),
        mps => format!("{:.0} kt", mps / KNOT),
    }
}

/// The points of the figure; gives where they end.
fn table(programme: &Programme, part: &Part, top: f64, drawing: &mut Drawing) -> f64 {
    let body = rows(programme, part);
    let head = HEAD.map(str::to_owned);
    let all = std::iter::once(&head).chain(&body);
    let mut y = top;
    for (i, row) in all.enumerate() {
        y += 17.0;
        let mut x = MARGIN;
        for (cell, title) in row.iter().zip(HEAD) {
            let (least, _) = label_size(title, TEXT);
            let wide = least.max(90.0);
            drawing.text([x, y], Side::From, TEXT, &fitted(cell, TEXT, wide));
            x += wide + 18.0;
        }
        if i == 0 {
            y += 5.0;
            drawing.line(&[[MARGIN, y], [x - 18.0, y]], Pen::solid(INK, 0.7));
        }
    }
    y
}

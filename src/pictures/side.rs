//! A figure as the crowd sees it: height against the way along the display line.

use super::kit::ink::{FAINT, INK};
use super::kit::scale::{multiples, round_step, trimmed};
use super::kit::smooth::smoothed;
use super::kit::{Area, Drawing, Pen, Placer, Point, Scale, Side};
use super::legend::{SMALL, TEXT};
use super::map::{MARK_EVERY, Map, Window, draw_line, label, marks};
use super::programme::{DrawnPath, Part};
use crate::flight::PathSample;
use crate::units::quantity::{FOOT, KNOT};

/// A figure that stays within this is level: from the crowd there is nothing to see of it, m.
const LEVEL: f64 = 15.0;
/// Such a view is drawn at least this high, in pixels; a flatter figure is drawn higher than it is.
const LEAST: f64 = 120.0;
/// The most height over width of such a view.
const TALLEST: f64 = 0.4;

/// Whether all that is flown is level.
pub fn is_level<'a>(flown: impl Iterator<Item = &'a PathSample>) -> bool {
    let [low, high] = reach(flown);
    high - low < LEVEL
}

/// Its least and greatest height, m.
pub fn reach<'a>(flown: impl Iterator<Item = &'a PathSample>) -> [f64; 2] {
    let heights = flown.map(|sample| sample.z.m());
    heights.fold([f64::MAX, f64::MIN], |[low, high], z| {
        [low.min(z), high.max(z)]
    })
}

/// The window, wide enough for the view below it not to be too tall.
pub fn widened(window: Window, part: &Part) -> Window {
    let [low, high] = shown(part);
    let more = 0.5 * ((high - low) / TALLEST - (window.right - window.left)).max(0.0);
    Window {
        left: window.left - more,
        right: window.right + more,
        ..window
    }
}

/// The heights to be shown of a figure: its own, and the ground.
fn shown(part: &Part) -> [f64; 2] {
    let [low, high] = reach(part.samples());
    [low.min(0.0), 1.1 * high.max(1.0)]
}

/// Draws a figure below a map, along the same line and to the same scale; a flat one higher than it is,
/// and says so. Gives where it ends.
pub fn view(part: &Part, map: &Map, top: f64, drawing: &mut Drawing) -> f64 {
    let heights = shown(part);
    let true_high = map.along().pixels_per() * (heights[1] - heights[0]);
    let area = Area {
        top: top + 26.0,
        high: true_high.max(LEAST),
        ..map.area
    };
    let up = Scale::new(heights, [area.bottom(), area.top]);
    let drawn = area.high / true_high;
    let times = if drawn > 1.05 {
        format!(", drawn {drawn:.1} times as high")
    } else {
        String::new()
    };
    let name = format!("As the crowd sees it: height above the site in ft{times}");
    drawing.text([area.left, area.top - 8.0], Side::From, TEXT, &name);
    let step = round_step(28.0 / (up.pixels_per().abs() * FOOT));
    for feet in multiples(heights[0] / FOOT, heights[1] / FOOT, step, 0.0) {
        let y = up.at(feet * FOOT);
        drawing.grid([area.left, y], [area.right(), y]);
        if y - area.top > 14.0 {
            let at = [area.left + 4.0, y - 3.0];
            drawing.text(at, Side::From, SMALL, &trimmed(feet));
        }
    }
    curve(part, map, area, heights, drawing);
    let place = |sample: &PathSample| [map.along().at(sample.x.m()), up.at(sample.z.m())];
    name_extremes(part, area, place, drawing);
    area.bottom()
}

/// The paths in an area below its map, between these heights.
pub fn curve(part: &Part, map: &Map, area: Area, heights: [f64; 2], drawing: &mut Drawing) {
    let up = Scale::new(heights, [area.bottom(), area.top]);
    let along = map.along();
    let [ground, centre] = [up.at(0.0), along.at(0.0)];
    drawing.area(area, None, Some(Pen::solid(FAINT, 1.0)));
    drawing.line(
        &[[area.left, ground], [area.right(), ground]],
        Pen::solid(INK, 2.0),
    );
    drawing.line(
        &[[centre, area.top], [centre, area.bottom()]],
        Pen::dashed(INK, 1.0),
    );
    let place = |sample: &PathSample| [along.at(sample.x.m()), up.at(sample.z.m())];
    drawing.begin(&part.numbered());
    for DrawnPath { style, path } in &part.paths {
        let points: Vec<Point> = path.iter().map(place).collect();
        for line in area.cut_line(&smoothed(&points)) {
            draw_line(drawing, &line, style.pen);
        }
        for mark in marks(path, MARK_EVERY).iter().map(place) {
            if area.has(mark) {
                drawing.marker(style.marker, mark, 3.0, style.pen.colour);
            }
        }
    }
    drawing.end();
}

/// Says how high and how fast the highest and the lowest place are.
fn name_extremes(
    part: &Part,
    area: Area,
    place: impl Fn(&PathSample) -> Point,
    drawing: &mut Drawing,
) {
    // The numbers of the heights stand at the left edge.
    let beside = Area {
        left: area.left + 60.0,
        wide: area.wide - 60.0,
        ..area
    };
    let points: Vec<Point> = part.samples().map(&place).collect();
    let mut placer = Placer::new(beside.grown(-2.0));
    placer.avoid(&points);
    let by_height = |a: &&PathSample, b: &&PathSample| a.z.m().total_cmp(&b.z.m());
    let ends = [
        part.samples().max_by(by_height),
        part.samples().min_by(by_height),
    ];
    for sample in ends.into_iter().flatten() {
        let speed = sample.ground_speed.mps() / KNOT;
        let text = format!("{} ft, {speed:.0} kt", sample.z.whole_feet());
        label(drawing, &mut placer, &[place(sample)], &[&text], TEXT, true);
    }
}

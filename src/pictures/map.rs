//! The display from above, to scale: crowd at the bottom, its right to the right.

use super::kit::drawing::label_size;
use super::kit::ink::{FAINT, INK};
use super::kit::placer::Placed;
use super::kit::scale::{multiples, round_step, trimmed};
use super::kit::smooth::smoothed;
use super::kit::{Area, Drawing, Fill, Pen, Placer, Point, Scale, Side};
use super::programme::{DrawnPath, Part, Programme};
use crate::flight::PathSample;
use crate::timeline::moments::sample_at;
use crate::units::Span;
use crate::units::quantity::NAUTICAL_MILE;

/// Between the marks that show how fast a path is flown, s.
pub const MARK_EVERY: f64 = 10.0;
/// Between arrowheads on a path, in pixels.
const HEADS_EVERY: f64 = 150.0;
/// A straight run-in is drawn from this far out at least, m.
const NEAR: f64 = 1.5 * NAUTICAL_MILE;
/// Turning more than this from one sample to the next is no straight run, rad.
const TURNING: f64 = 0.02;

/// A part of the site, in metres of its frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    pub left: f64,
    pub right: f64,
    pub near: f64,
    pub far: f64,
}

/// A part of the site in an area of a picture, at one scale both ways.
#[derive(Debug, Clone, Copy)]
pub struct Map {
    pub area: Area,
    x: Scale,
    y: Scale,
}

impl Window {
    /// Crowd centre and display line, and everything in `samples`.
    pub fn around<'a>(line: f64, samples: impl Iterator<Item = &'a PathSample>) -> Window {
        let least = Window {
            left: -line.max(200.0),
            right: line.max(200.0),
            near: 0.0,
            far: 1.5 * line,
        };
        samples.fold(least, |window, sample| Window {
            left: window.left.min(sample.x.m()),
            right: window.right.max(sample.x.m()),
            near: window.near.min(sample.y.m()),
            far: window.far.max(sample.y.m()),
        })
    }

    /// The same without what is far out and only flown straight in or out.
    pub fn without_run_ins(programme: &Programme) -> Window {
        let line = programme.show.site.line_distance.m();
        let shown = programme.flown().flat_map(|part| {
            part.paths.iter().flat_map(|drawn| {
                let path = drawn.path;
                let turns = move |i: usize| is_turning(path, i);
                (0..path.len())
                    .filter(move |&i| path[i].x.m().abs() <= NEAR || turns(i))
                    .map(|i| &path[i])
            })
        });
        Window::around(line, shown)
    }

    /// With a margin, and no flatter or taller than asked: height over width.
    pub fn framed(self, least: f64, most: f64) -> Window {
        let margin = 0.04 * (self.right - self.left).max(self.far - self.near);
        let [left, right] = [self.left - margin, self.right + margin];
        let [near, far] = [self.near - margin, self.far + margin];
        let (wide, high) = (right - left, far - near);
        let more_high = 0.5 * (least * wide - high).max(0.0);
        let more_wide = 0.5 * (high / most - wide).max(0.0);
        Window {
            left: left - more_wide,
            right: right + more_wide,
            near: near - more_high,
            far: far + more_high,
        }
    }

    /// Whether a sample is in it.
    pub fn holds(&self, sample: &PathSample) -> bool {
        (self.left..=self.right).contains(&sample.x.m())
            && (self.near..=self.far).contains(&sample.y.m())
    }

    /// Height over width.
    pub fn shape(&self) -> f64 {
        (self.far - self.near) / (self.right - self.left)
    }
}

/// Whether the path turns at a sample, seen from above.
fn is_turning(path: &[PathSample], i: usize) -> bool {
    let way = |a: usize, b: usize| {
        let (a, b) = (path.get(a)?, path.get(b)?);
        let [dx, dy] = [(b.x - a.x).m(), (b.y - a.y).m()];
        (dx.hypot(dy) > 1.0).then(|| dy.atan2(dx))
    };
    let before = i.checked_sub(1).and_then(|before| way(before, i));
    before.zip(way(i, i + 1)).is_some_and(|(before, after)| {
        let turned = (after - before).rem_euclid(std::f64::consts::TAU);
        turned.min(std::f64::consts::TAU - turned) > TURNING
    })
}

impl Map {
    /// A window at a place of a picture, this wide; as high as the scale makes it.
    pub fn new(window: Window, [left, top]: Point, wide: f64) -> Map {
        let area = Area {
            left,
            top,
            wide,
            high: wide * window.shape(),
        };
        Map {
            area,
            x: Scale::new([window.left, window.right], [area.left, area.right()]),
            y: Scale::new([window.near, window.far], [area.bottom(), area.top]),
        }
    }

    /// Labels on the map, over neither crowd line nor display line.
    pub fn placer(&self, line: f64) -> Placer {
        let mut placer = Placer::new(self.area.grown(-3.0));
        let [left, right] = [self.area.left, self.area.right()];
        for y in [self.at(0.0, 0.0)[1], self.at(0.0, line)[1]] {
            placer.avoid(&[[left, y], [right, y]]);
        }
        placer
    }

    /// Where a place of the site is.
    pub fn at(&self, x: f64, y: f64) -> Point {
        [self.x.at(x), self.y.at(y)]
    }

    /// Where a sample of a path is.
    pub fn place(&self, sample: &PathSample) -> Point {
        self.at(sample.x.m(), sample.y.m())
    }

    /// Along the line only: for what is drawn above or below the map.
    pub fn along(&self) -> Scale {
        self.x
    }

    /// Crowd, crowd line, crowd centre, display line.
    pub fn ground(&self, drawing: &mut Drawing, line: f64) {
        let [left, right] = [self.area.left, self.area.right()];
        let [centre, crowd] = self.at(0.0, 0.0);
        let [_, display] = self.at(0.0, line);
        drawing.area(self.area, None, Some(Pen::solid(FAINT, 1.0)));
        drawing.line(&[[left, crowd], [right, crowd]], Pen::solid(INK, 2.0));
        drawing.line(&[[left, display], [right, display]], Pen::dashed(INK, 1.0));
        drawing.line(&[[centre, crowd], [centre, display]], Pen::solid(INK, 1.0));
        let corners = [
            [centre, crowd - 1.0],
            [centre - 5.0, crowd + 8.0],
            [centre + 5.0, crowd + 8.0],
        ];
        drawing.shape(&corners, Fill::Plain(INK));
    }

    /// Names for the lines, where the placer has room at their ends.
    pub fn name_ground(&self, drawing: &mut Drawing, placer: &mut Placer, line: f64, size: f64) {
        let end = self.area.right();
        let [centre, crowd] = self.at(0.0, 0.0);
        let [_, display] = self.at(0.0, line);
        let spots = |y: f64| [[end - 70.0, y], [self.area.left + 70.0, y]];
        let named = [
            (spots(crowd), "crowd line"),
            (spots(display), "display line"),
            ([[centre, crowd + 6.0]; 2], "crowd centre"),
        ];
        for (near, name) in named {
            label(drawing, placer, &near, &[name], size, false);
        }
    }

    /// Distances from crowd centre along the lower edge, and what they are of.
    pub fn distances(&self, drawing: &mut Drawing, size: f64) {
        let y = self.area.bottom();
        let pixels_per_nmi = self.x.pixels_per() * NAUTICAL_MILE;
        let step = round_step(70.0 / pixels_per_nmi);
        let reach = |edge: f64| (edge - self.x.at(0.0)) / pixels_per_nmi;
        let ticks = multiples(
            reach(self.area.left + 25.0),
            reach(self.area.right() - 45.0),
            step,
            0.0,
        );
        for nmi in ticks {
            let x = self.x.at(nmi * NAUTICAL_MILE);
            drawing.line(&[[x, y], [x, y + 5.0]], Pen::solid(INK, 1.0));
            let text = if nmi.abs() < 0.5 * step {
                "centre".to_owned()
            } else {
                trimmed(nmi.abs())
            };
            drawing.text([x, y + 6.0 + size], Side::Over, size, &text);
        }
        drawing.text(
            [self.area.right(), y + 6.0 + size],
            Side::Until,
            size,
            "nmi",
        );
    }

    /// The paths of a figure with their arrowheads, and marks every ten seconds.
    pub fn path(&self, drawing: &mut Drawing, part: &Part) {
        drawing.begin(&part.numbered());
        for DrawnPath { style, path } in &part.paths {
            for line in self.lines_of(path) {
                draw_line(drawing, &line, style.pen);
            }
            for sample in marks(path, MARK_EVERY) {
                let [x, y] = self.place(&sample);
                if self.area.has([x, y]) {
                    drawing.marker(style.marker, [x, y], 3.0, style.pen.colour);
                }
            }
        }
        drawing.end();
    }

    /// A ring where each aircraft of a figure begins, if that is on the map.
    pub fn start_ring(&self, drawing: &mut Drawing, part: &Part) {
        for DrawnPath { style, path } in &part.paths {
            let begins = path.first().map(|first| self.place(first));
            if let Some(at) = begins.filter(|at| self.area.has(*at)) {
                drawing.ring(at, 4.0, Pen::solid(style.pen.colour, 1.5));
            }
        }
    }

    /// What of the paths of a figure is on the map.
    pub fn lines(&self, part: &Part) -> Vec<Vec<Point>> {
        let paths = part.paths.iter();
        paths.flat_map(|drawn| self.lines_of(drawn.path)).collect()
    }

    fn lines_of(&self, path: &[PathSample]) -> Vec<Vec<Point>> {
        let points: Vec<Point> = path.iter().map(|s| self.place(s)).collect();
        self.area.cut_line(&smoothed(&points))
    }
}

/// A label near one of some places, with a line to it where it stands off: the first of the texts that
/// stands on nothing, or else the last.
pub fn label(
    drawing: &mut Drawing,
    placer: &mut Placer,
    near: &[Point],
    texts: &[&str],
    size: f64,
    on_paper: bool,
) {
    let found = texts.iter().filter_map(|text| {
        let placed = placer.find(near, label_size(text, size))?;
        Some((*text, placed))
    });
    let found: Vec<(&str, Placed)> = found.collect();
    let clear = found.iter().find(|(_, placed)| placed.over == 0);
    let Some(&(text, placed)) = clear.or(found.last()) else {
        return;
    };
    placer.keep_free(placed.area);
    let [x, y] = placed.names;
    let area = placed.area;
    let end = [
        x.clamp(area.left, area.right()),
        y.clamp(area.top, area.bottom()),
    ];
    if (end[0] - x).hypot(end[1] - y) > 12.0 {
        drawing.line(&[[x, y], end], Pen::solid(INK, 0.6));
    }
    if on_paper {
        drawing.label(area, size, text);
    } else {
        let at = [area.middle()[0], area.top + 0.82 * area.high];
        drawing.text(at, Side::Over, size, text);
    }
}

/// A line with its arrowheads.
pub fn draw_line(drawing: &mut Drawing, line: &[Point], pen: Pen) {
    drawing.line(line, pen);
    for (tip, towards) in heads(line) {
        drawing.head(tip, towards, 11.0, pen.colour);
    }
}

/// Arrowheads along a line: in its middle, or one every so often; tip, and which way.
fn heads(line: &[Point]) -> Vec<(Point, Point)> {
    let steps: Vec<f64> = line
        .windows(2)
        .map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
        .collect();
    let long: f64 = steps.iter().sum();
    let count = (long / HEADS_EVERY).round().max(1.0);
    if long < 14.0 {
        return Vec::new();
    }
    let mut heads = Vec::new();
    let mut gone = 0.0;
    let mut next = long / count * 0.5;
    for (pair, step) in line.windows(2).zip(steps) {
        while step > 0.0 && gone + step >= next && heads.len() < count as usize {
            let share = (next - gone) / step;
            let [dx, dy] = [pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]];
            let place = [pair[0][0] + share * dx, pair[0][1] + share * dy];
            heads.push((place, [dx, dy]));
            next += long / count;
        }
        gone += step;
    }
    heads
}

/// Where a path is every so many seconds, as far as it moves.
pub fn marks(path: &[PathSample], every: f64) -> Vec<PathSample> {
    let moves = |pair: &&[PathSample]| pair[0].ground_speed.mps() > 0.0;
    let marked = path.windows(2).filter(moves).flat_map(|pair| {
        let [from, to] = [pair[0].after.s(), pair[1].after.s()];
        // A mark at the end of a step is the next one's.
        let times = multiples(from, to, every, 0.0).into_iter();
        times.filter(move |s| *s > 0.0 && (from..to).contains(s))
    });
    marked
        .filter_map(|s| sample_at(path, Span::from_s(s)))
        .collect()
}

//! Each flown figure by itself, small, all to one scale, with the others faint behind it.

use super::kit::ink::FAINT;
use super::kit::letters::fitted;
use super::kit::{Area, Drawing, Pen, Point, Side};
use super::legend::{MARGIN, TEXT, WIDE, begun, finished, who};
use super::map::{MARK_EVERY, Map, Window};
use super::programme::{Part, Programme, side_of};
use super::side;
use crate::units::Length;

/// Figures side by side.
const COLUMNS: usize = 3;
const GUTTER: f64 = 18.0;
const TITLE_ROW: f64 = 20.0;
/// Between the map and the view from the crowd.
const BETWEEN: f64 = 5.0;

/// Draws the sheet.
pub fn sheet(programme: &Programme) -> String {
    let title = programme.heading("figure by figure");
    let parts: Vec<&Part> = programme.flown().collect();
    let window = Window::without_run_ins(programme);
    let window = parts
        .iter()
        .fold(window, |window, part| side::widened(window, part));
    let window = window.framed(0.25, 0.7);
    let titles: Vec<String> = parts.iter().map(|part| titled(part, &window)).collect();
    let description = format!(
        "Each flown figure from above, the crowd at the bottom, all to one scale: {}.",
        titles.join("; ")
    );
    let mut drawing = begun(&title, &description);
    let top = who(
        programme,
        &programme.aircraft(),
        MARK_EVERY,
        50.0,
        &mut drawing,
    ) + 14.0;

    let wide = (WIDE - 2.0 * MARGIN - GUTTER * (COLUMNS - 1) as f64) / COLUMNS as f64;
    let heights = heights(&parts);
    let per_metre = wide / (window.right - window.left);
    let tall = heights.map_or(0.0, |[low, high]| per_metre * (high - low) + BETWEEN);
    let high = TITLE_ROW + wide * window.shape() + tall + 14.0;
    for (i, (part, title)) in parts.iter().zip(&titles).enumerate() {
        let left = MARGIN + (wide + GUTTER) * (i % COLUMNS) as f64;
        let top = top + high * (i / COLUMNS) as f64;
        drawing.text(
            [left, top + 12.0],
            Side::From,
            TEXT,
            &fitted(title, TEXT, wide),
        );
        let map = Map::new(window, [left, top + TITLE_ROW], wide);
        one(programme, part, &map, &mut drawing);
        if let Some(heights) = heights {
            let area = below(&map, tall);
            side::curve(part, &map, area, heights, &mut drawing);
        }
    }
    let rows = parts.len().div_ceil(COLUMNS);
    finished(drawing, top + high * rows as f64 - 14.0)
}

/// Name and height of a figure, and where it comes from or goes to where that is not shown.
fn titled(part: &Part, window: &Window) -> String {
    let path = part.flown.path();
    let out = |sample: Option<&_>, word: &str| {
        let sample = sample.filter(|sample| !window.holds(sample))?;
        Some(format!(", {word} {}", side_of(sample.x)))
    };
    let [low, high] = side::reach(part.samples()).map(|z| Length::from_m(z).whole_feet());
    let height = if side::is_level(part.samples()) {
        format!("{high} ft")
    } else {
        format!("{low} to {high} ft")
    };
    let from = out(path.first(), "from").unwrap_or_default();
    let to = out(path.last(), "to").unwrap_or_default();
    format!("{}, {height}{from}{to}", part.numbered())
}

/// From which to which height the views from the crowd go; none if every figure is level.
fn heights(parts: &[&Part]) -> Option<[f64; 2]> {
    if parts.iter().all(|part| side::is_level(part.samples())) {
        return None;
    }
    let all = parts.iter().map(|part| side::reach(part.samples()));
    let [low, high] = all.fold([0.0_f64, 1.0_f64], |all, [low, high]| {
        [all[0].min(low), all[1].max(high)]
    });
    Some([low, 1.1 * high])
}

fn below(map: &Map, tall: f64) -> Area {
    Area {
        top: map.area.bottom() + BETWEEN,
        high: tall - BETWEEN,
        ..map.area
    }
}

/// A figure on its map.
fn one(programme: &Programme, part: &Part, map: &Map, drawing: &mut Drawing) {
    let others: Vec<Vec<Point>> = programme
        .flown()
        .flat_map(|other| map.lines(other))
        .collect();
    for line in others {
        drawing.line(&line, Pen::solid(FAINT, 0.7));
    }
    map.ground(drawing, programme.show.site.line_distance.m());
    map.path(drawing, part);
    map.start_ring(drawing, part);
}

//! The whole display from above, with who is who and the list of figures.

use super::kit::{Drawing, Point};
use super::legend::{MARGIN, SMALL, TEXT, WIDE, bearings, begun, finished, key, who};
use super::map::{MARK_EVERY, Map, Window, label};
use super::programme::{Part, Programme};

/// Draws the sheet.
pub fn sheet(programme: &Programme) -> String {
    let title = programme.heading("plan");
    let description = format!(
        "The display from above, the crowd at the bottom: {} figures in order. {}",
        programme.parts.len(),
        said(programme)
    );
    let mut drawing = begun(&title, &description);
    let window = Window::without_run_ins(programme).framed(0.25, 0.45);
    let map = Map::new(window, [MARGIN, 56.0], WIDE - 2.0 * MARGIN);
    whole_display(programme, &map, &mut drawing);
    let below = bearings(programme, &map, map.area.bottom() + 40.0, &mut drawing);
    let below = who(
        programme,
        &programme.aircraft(),
        MARK_EVERY,
        below,
        &mut drawing,
    );
    let below = key(programme, below + 8.0, &mut drawing);
    finished(drawing, below)
}

/// The order of the display in words.
fn said(programme: &Programme) -> String {
    let figures: Vec<String> = programme
        .parts
        .iter()
        .map(|part| {
            format!(
                "{} at {}",
                part.numbered(),
                programme.clock(part.times.start())
            )
        })
        .collect();
    figures.join(", ")
}

/// Every path on one map, numbered and named.
fn whole_display(programme: &Programme, map: &Map, drawing: &mut Drawing) {
    let line = programme.show.site.line_distance.m();
    map.ground(drawing, line);
    map.distances(drawing, SMALL);
    let mut placer = map.placer(line);
    for part in programme.flown() {
        map.path(drawing, part);
        for line in map.lines(part) {
            placer.avoid(&line);
        }
    }
    map.name_ground(drawing, &mut placer, line, SMALL);
    for part in programme.flown() {
        let (name, number) = (part.numbered(), part.number.to_string());
        let texts = [name.as_str(), number.as_str()];
        label(drawing, &mut placer, &spots(map, part), &texts, TEXT, true);
    }
}

/// Places of a path where its name may stand.
fn spots(map: &Map, part: &Part) -> Vec<Point> {
    let points: Vec<Point> = map.lines(part).into_iter().flatten().collect();
    let at = |share: f64| points.get((share * points.len() as f64) as usize).copied();
    let shares = [0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9];
    shares.into_iter().filter_map(at).collect()
}

//! A figure from above: as planned and, where there are logs, as flown; when it was abeam.

use super::pass::{heading, off, passes, sample_of};
use super::{MARGIN, SMALL, TEXT, Told, WIDE, lateness};
use crate::debrief::passed::Passed;
use crate::debrief::trail::{Seen, Trail};
use crate::pictures::kit::ink::{INK, Style, style};
use crate::pictures::kit::letters::fitted;
use crate::pictures::kit::{Drawing, Pen, Placer, Point, Side};
use crate::pictures::map::{MARK_EVERY, Map, Window, draw_line, label};
use crate::pictures::programme::{Part, Programme, point_name};
use crate::show::{Name, PointName};

/// How a planned path is drawn beside a flown one.
pub(super) const PLANNED: Pen = Pen::dashed(INK, 1.2);
/// A row of the list of signs.
const ROW: f64 = 16.0;

pub(super) fn picture(told: &Told, key: &Name, names: &str) -> String {
    let programme = Programme::of(told.show, told.plan);
    let Some(part) = programme.parts.iter().find(|part| part.times.key == *key) else {
        return String::new();
    };
    let trails: Vec<&Trail> = told.trails_of(key).collect();
    let title = format!("{}, from above", heading(told, key));
    let description = description(told, key, &trails);
    let mut drawing = Drawing::new(&title, &description, WIDE).on_a_page(names);
    let line = told.show.site.line_distance.m();
    let window = around(Window::around(line, part.samples()), &trails).framed(0.14, 0.6);
    let map = Map::new(window, [MARGIN, 4.0], WIDE - 2.0 * MARGIN);
    map.ground(&mut drawing, line);
    map.distances(&mut drawing, SMALL);
    let mut placer = map.placer(line);
    for line in map.lines(part) {
        placer.avoid(&line);
    }
    if trails.is_empty() {
        map.path(&mut drawing, part);
    } else {
        for line in map.lines(part) {
            draw_line(&mut drawing, &line, PLANNED);
        }
        for trail in &trails {
            let style = style_of(told, &trail.aircraft);
            flown(trail, style, &map, &mut placer, &mut drawing);
        }
    }
    map.start_ring(&mut drawing, part);
    for (place, text) in instants(told, key, part, &map) {
        drawing.ring(place, 4.0, Pen::solid(INK, 2.0));
        label(&mut drawing, &mut placer, &[place], &[&text], TEXT, true);
    }
    map.name_ground(&mut drawing, &mut placer, line, SMALL);
    let below = signs(told, &trails, map.area.bottom() + 28.0, &mut drawing);
    drawing.finish(below)
}

/// As every aircraft is drawn, but solid: dashes are of what is planned.
pub(super) fn style_of(told: &Told, aircraft: &Name) -> Style {
    let style = style(told.aircraft(aircraft).0);
    Style {
        pen: Pen {
            dash: "",
            ..style.pen
        },
        ..style
    }
}

fn description(told: &Told, key: &Name, trails: &[&Trail]) -> String {
    let shown = if trails.is_empty() {
        "as planned"
    } else {
        "as planned, dashed, and as flown by position logs"
    };
    let flown = passes(told, key).map(|flown| {
        let (point, how) = (point_name(&flown.point), flown.how.word());
        format!("{point} {how} {}{}", told.clock(flown.at), off(flown))
    });
    let flown: Vec<String> = flown.collect();
    format!(
        "{} from above {shown}, the crowd at the bottom, its right to the right. Abeam crowd centre: {}.",
        told.name_of(key),
        flown.join("; ")
    )
}

/// The window, with everything flown in it.
fn around(window: Window, trails: &[&Trail]) -> Window {
    let seen = trails
        .iter()
        .flat_map(|trail| trail.stretches.iter().flatten());
    seen.fold(window, |window, seen| {
        let (x, y) = (seen.spot.along.m(), seen.spot.across.m());
        Window {
            left: window.left.min(x),
            right: window.right.max(x),
            near: window.near.min(y),
            far: window.far.max(y),
        }
    })
}

/// The way an aircraft flew, a mark every ten seconds.
fn flown(trail: &Trail, style: Style, map: &Map, placer: &mut Placer, drawing: &mut Drawing) {
    drawing.begin(&format!("{} as flown", trail.aircraft));
    let place = |seen: &Seen| map.at(seen.spot.along.m(), seen.spot.across.m());
    for stretch in &trail.stretches {
        let points: Vec<Point> = stretch.iter().map(place).collect();
        for line in map.area.cut_line(&points) {
            drawing.line(&line, style.pen);
            placer.avoid(&line);
        }
        let count = |seen: &Seen| (seen.at.s() / MARK_EVERY).floor();
        for pair in stretch.windows(2) {
            if count(&pair[0]) != count(&pair[1]) {
                drawing.marker(style.marker, place(&pair[1]), 3.0, style.pen.colour);
            }
        }
    }
    drawing.end();
}

/// Where it was to be abeam and where it was, each with when.
fn instants(told: &Told, key: &Name, part: &Part, map: &Map) -> Vec<(Point, String)> {
    let mut instants = Vec::new();
    for flown in passes(told, key) {
        let Some(sample) = sample_of(part, &flown.point) else {
            continue;
        };
        let place = map.place(&sample);
        let name = point_name(&flown.point);
        instants.extend(flown.planned.map(|at| {
            let text = format!("{name} planned {}", told.clock(at));
            (place, text)
        }));
        let logged: Vec<&Passed> = of_logs(told, key, &flown.point).collect();
        for passed in &logged {
            let at = map.at(0.0, passed.pass.distance.m());
            let who = told.aircraft(&passed.aircraft).1;
            let who = if logged.len() > 1 {
                short(who)
            } else {
                "flown"
            };
            let late = passed.planned.map(|planned| passed.at - planned);
            let late = late.map_or(String::new(), |late| format!(", {}", lateness(late)));
            instants.push((at, format!("{who} {}{late}", told.clock(passed.at))));
        }
        if logged.is_empty() {
            let text = format!(
                "{} {}{}",
                flown.how.word(),
                told.clock(flown.at),
                off(flown)
            );
            instants.push((place, text));
        }
    }
    instants
}

/// What logs say of a pass, gaps apart.
fn of_logs<'a>(
    told: &'a Told,
    key: &'a Name,
    point: &'a PointName,
) -> impl Iterator<Item = &'a Passed> {
    let passed = told.traced.passed.iter();
    passed.filter(move |one| one.key == *key && one.point == *point && one.pass.in_gap.is_none())
}

/// A name up to its first comma.
fn short(name: &str) -> &str {
    name.split(',').next().unwrap_or(name)
}

/// Which line is which; gives where that ends.
fn signs(told: &Told, trails: &[&Trail], top: f64, drawing: &mut Drawing) -> f64 {
    if trails.is_empty() {
        return top;
    }
    let mut y = top + 4.0;
    drawing.line(&[[MARGIN, y], [MARGIN + 50.0, y]], PLANNED);
    drawing.text([MARGIN + 58.0, y + 4.0], Side::From, SMALL, "as planned");
    let mut drawn: Vec<&Name> = trails.iter().map(|trail| &trail.aircraft).collect();
    drawn.dedup();
    for aircraft in drawn {
        y += ROW;
        let style = style_of(told, aircraft);
        drawing.line(&[[MARGIN, y], [MARGIN + 50.0, y]], style.pen);
        drawing.marker(style.marker, [MARGIN + 25.0, y], 3.0, style.pen.colour);
        let text = format!(
            "{} as flown, by its log; a mark every {MARK_EVERY:.0} s",
            told.aircraft(aircraft).1
        );
        let text = fitted(&text, SMALL, WIDE - 2.0 * MARGIN - 58.0);
        drawing.text([MARGIN + 58.0, y + 4.0], Side::From, SMALL, &text);
    }
    y + ROW
}

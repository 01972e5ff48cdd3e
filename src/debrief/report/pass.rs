//! A pass from above with its instants, and its speed and height against time.

use maud::Markup;

use super::tables::{self, maybe};
use super::{Told, axes, lateness};
use crate::debrief::seen::Flown;
use crate::flight::PathSample;
use crate::pictures::kit::ink::INK;
use crate::pictures::kit::scale::trimmed;
use crate::pictures::kit::{Area, Drawing, Marker, Pen, Point, Scale, Side};
use crate::pictures::legend::{MARGIN, SMALL, TEXT, WIDE};
use crate::pictures::map::{Map, Window, label};
use crate::pictures::programme::{Part, Programme, side_of};
use crate::show::{Anchor, Name, PointName};
use crate::units::Instant;
use crate::units::quantity::{FOOT, KNOT};

const LEFT: f64 = MARGIN + 46.0;
const PANEL: f64 = 120.0;

/// The passes that music was to meet, in order of time: by entry.
pub(super) fn to_show(told: &Told) -> Vec<Name> {
    let met = |key: &Name| {
        let figures = &told.went.folded.session.moments().figures;
        let Some(times) = figures.iter().find(|times| times.key == *key) else {
            return false;
        };
        told.show
            .tracks
            .iter()
            .filter_map(|track| track.meets.as_ref())
            .any(|meet| matches!(&meet.on.anchor, Anchor::Point { of, .. } if *of == times.id))
    };
    let programme = Programme::of(told.show, told.plan);
    let shown = programme
        .flown()
        .filter(|part| met(&part.times.key) && passes(told, &part.times.key).next().is_some());
    shown.map(|part| part.times.key.clone()).collect()
}

/// The passes of crowd centre of an entry, as flown.
fn passes<'a>(told: &'a Told, key: &'a Name) -> impl Iterator<Item = &'a Flown> {
    let passes = told.went.points.iter();
    passes.filter(move |flown| flown.key == *key && matches!(flown.point, PointName::Abeam(_)))
}

pub(super) fn heading(told: &Told, key: &Name) -> String {
    format!("{}: the pass", told.name_of(key))
}

/// The figure from above as planned, with when it was abeam.
pub(super) fn from_above(told: &Told, key: &Name, names: &str) -> String {
    let programme = Programme::of(told.show, told.plan);
    let Some(part) = programme.parts.iter().find(|part| part.times.key == *key) else {
        return String::new();
    };
    let said: Vec<String> = passes(told, key)
        .map(|flown| instants(told, flown).join(", "))
        .collect();
    let description = format!(
        "{} from above as planned, the crowd at the bottom, its right to the right. Abeam crowd centre: {}.",
        told.name_of(key),
        said.join("; ")
    );
    let mut drawing = Drawing::new(&heading(told, key), &description, WIDE).on_a_page(names);
    let line = told.show.site.line_distance.m();
    let window = Window::around(line, part.samples()).framed(0.14, 0.5);
    let map = Map::new(window, [MARGIN, 8.0], WIDE - 2.0 * MARGIN);
    map.ground(&mut drawing, line);
    map.distances(&mut drawing, SMALL);
    map.path(&mut drawing, part);
    map.start_ring(&mut drawing, part);
    let mut placer = map.placer(line);
    for line in map.lines(part) {
        placer.avoid(&line);
    }
    for flown in passes(told, key) {
        let Some(sample) = sample_of(part, &flown.point) else {
            continue;
        };
        let place = map.place(&sample);
        drawing.ring(place, 4.0, Pen::solid(INK, 2.0));
        for text in instants(told, flown) {
            label(&mut drawing, &mut placer, &[place], &[&text], TEXT, true);
        }
    }
    map.name_ground(&mut drawing, &mut placer, line, SMALL);
    drawing.finish(map.area.bottom() + 26.0)
}

/// When a pass was planned, and flown.
fn instants(told: &Told, flown: &Flown) -> Vec<String> {
    let planned = flown
        .planned
        .map(|at| format!("planned {}", told.clock(at)));
    let off = flown
        .late()
        .map_or(String::new(), |span| format!(", {}", lateness(span)));
    let was = format!("{} {}{off}", flown.how.word(), told.clock(flown.at));
    planned.into_iter().chain([was]).collect()
}

/// Where a point of a figure is on its planned path.
fn sample_of(part: &Part, point: &PointName) -> Option<PathSample> {
    let flown = part
        .flown
        .points
        .iter()
        .find(|flown| flown.point == *point)?;
    part.sample_at(flown.after)
}

/// One quantity of a path.
struct Quantity {
    name: &'static str,
    unit: &'static str,
    of: fn(&PathSample) -> Option<f64>,
}

const QUANTITIES: [Quantity; 2] = [
    Quantity {
        name: "Height above the site",
        unit: "ft",
        of: |sample| Some(sample.z.m() / FOOT),
    },
    Quantity {
        name: "Speed over the ground",
        unit: "kt",
        of: |sample| Some(sample.ground_speed.mps() / KNOT).filter(|knots| *knots > 0.0),
    },
];

/// Height and speed as planned, laid on when it was flown.
pub(super) fn heights(told: &Told, key: &Name, names: &str) -> String {
    let programme = Programme::of(told.show, told.plan);
    let moments = &told.went.folded.session.moments().figures;
    let part = programme.parts.iter().find(|part| part.times.key == *key);
    let times = moments.iter().find(|times| times.key == *key);
    let (Some(part), Some(times)) = (part, times) else {
        return String::new();
    };
    let description = format!(
        "Height and speed over the ground of {} against time, as planned but at the times it was flown; each pass is a \
         vertical line.",
        told.name_of(key)
    );
    let title = format!("{}: height and speed", told.name_of(key));
    let mut drawing = Drawing::new(&title, &description, WIDE).on_a_page(names);
    let reach = [
        times.start().s(),
        times.end().s().max(times.start().s() + 1.0),
    ];
    let time = Scale::new(reach, [LEFT, WIDE - MARGIN]);
    let mut top = 26.0;
    for quantity in &QUANTITIES {
        let area = Area {
            left: LEFT,
            top,
            wide: WIDE - MARGIN - LEFT,
            high: PANEL,
        };
        let samples: Vec<(f64, f64)> = part
            .samples()
            .filter_map(|sample| Some((times.instant_of(sample.after).s(), (quantity.of)(sample)?)))
            .collect();
        panel(
            &programme,
            quantity,
            area,
            &time,
            reach,
            &samples,
            &mut drawing,
        );
        for flown in passes(told, key) {
            let x = time.at(flown.at.s());
            drawing.line(&[[x, area.top], [x, area.bottom()]], Pen::solid(INK, 2.0));
            drawing.marker(Marker::Triangle, [x, area.bottom() - 4.0], 4.0, INK);
            let text = format!("{} {}", flown.point, told.clock(flown.at));
            let (x, side) = if x > WIDE / 2.0 {
                (x - 5.0, Side::Until)
            } else {
                (x + 5.0, Side::From)
            };
            drawing.text([x, area.top - 8.0], side, SMALL, &text);
        }
        top = area.bottom() + 44.0;
    }
    drawing.finish(top - 24.0)
}

fn panel(
    programme: &Programme,
    quantity: &Quantity,
    area: Area,
    time: &Scale,
    reach: [f64; 2],
    samples: &[(f64, f64)],
    drawing: &mut Drawing,
) {
    let most = samples.iter().map(|sample| sample.1).fold(1.0, f64::max) * 1.1;
    let value = Scale::new([0.0, most], [area.bottom(), area.top]);
    axes::times(programme, area, reach, time, drawing);
    axes::values(area, [0.0, most], 4.0, trimmed, drawing);
    let name = format!("{}, {}", quantity.name, quantity.unit);
    drawing.text([MARGIN, area.top - 8.0], Side::From, TEXT, &name);
    drawing.area(area, None, Some(Pen::solid(INK, 0.8)));
    let line: Vec<Point> = samples
        .iter()
        .map(|(s, v)| [time.at(*s), value.at(*v)])
        .collect();
    drawing.line(&line, Pen::solid(INK, 1.6));
}

/// The points of the figure: when, where, how high, how fast.
pub(super) fn table(told: &Told, key: &Name) -> Markup {
    let programme = Programme::of(told.show, told.plan);
    let part = programme.parts.iter().find(|part| part.times.key == *key);
    let flown = told.went.points.iter().filter(|flown| flown.key == *key);
    let rows: Vec<Vec<String>> =
        flown
            .map(|flown| {
                let sample = part.and_then(|part| sample_of(part, &flown.point));
                vec![
                    flown.point.to_string(),
                    maybe(flown.planned.map(|at: Instant| told.clock(at))),
                    told.clock(flown.at),
                    maybe(flown.late().map(lateness)),
                    flown.how.word().into(),
                    maybe(sample.map(|sample| side_of(sample.x))),
                    maybe(sample.and_then(|sample| {
                        Some(format!("{:.0} ft", (QUANTITIES[0].of)(&sample)?))
                    })),
                    maybe(sample.and_then(|sample| {
                        Some(format!("{:.0} kt", (QUANTITIES[1].of)(&sample)?))
                    })),
                ]
            })
            .collect();
    let columns = [
        "Point",
        "#Planned",
        "#Flown",
        "#Late",
        "Known",
        "#From centre",
        "#Planned height",
        "#Planned speed",
    ];
    tables::table(
        &format!("{}, point by point", told.name_of(key)),
        &columns,
        &rows,
    )
}

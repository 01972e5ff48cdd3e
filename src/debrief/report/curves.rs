//! Height and speed of a figure against time: as planned, at the times it was flown, and as flown by logs.

use super::above::{PLANNED, style_of};
use super::pass::{off, passes};
use super::{MARGIN, SMALL, TEXT, Told, WIDE, axes};
use crate::debrief::trail::{Seen, Trail};
use crate::flight::PathSample;
use crate::pictures::kit::drawing::label_size;
use crate::pictures::kit::ink::INK;
use crate::pictures::kit::rows::{Item, rows};
use crate::pictures::kit::scale::trimmed;
use crate::pictures::kit::{Area, Drawing, Marker, Pen, Point, Scale, Side};
use crate::pictures::programme::{Part, Programme, point_name};
use crate::show::Name;
use crate::timeline::FigureTimes;
use crate::units::quantity::{FOOT, KNOT};

/// Room for the labels of the values.
const LEFT: f64 = MARGIN + 44.0;
const PANEL: f64 = 120.0;
const ROW: f64 = 14.0;

/// One quantity of a path.
struct Quantity {
    name: &'static str,
    planned: fn(&PathSample) -> Option<f64>,
    flown: fn(&Seen) -> Option<f64>,
}

const QUANTITIES: [Quantity; 2] = [
    Quantity {
        name: "Height above the site, ft",
        planned: |sample| Some(sample.z.m() / FOOT),
        flown: |seen| Some(seen.height?.m() / FOOT),
    },
    Quantity {
        name: "Speed over the ground, kt",
        // Nobody says how fast an aircraft holds.
        planned: |sample| Some(sample.ground_speed.mps() / KNOT).filter(|knots| *knots > 0.0),
        flown: |seen| Some(seen.ground_speed?.mps() / KNOT),
    },
];

/// A line of one aircraft: values against time.
struct Curve {
    points: Vec<(f64, f64)>,
    pen: Pen,
}

pub(super) fn picture(told: &Told, key: &Name, names: &str) -> String {
    let programme = Programme::of(told.show, told.plan);
    let moments = &told.went.folded.session.moments().figures;
    let part = programme.parts.iter().find(|part| part.times.key == *key);
    let times = moments.iter().find(|times| times.key == *key);
    let (Some(part), Some(times)) = (part, times) else {
        return String::new();
    };
    let trails: Vec<&Trail> = told.trails_of(key).collect();
    let name = told.name_of(key);
    let flown = if trails.is_empty() {
        ""
    } else {
        ", and as flown by position logs, solid"
    };
    let description = format!(
        "Height and speed over the ground of {name} against time, as planned but at the times it was flown, dashed\
         {flown}; each pass is a vertical line."
    );
    let title = format!("{name}: height and speed");
    let mut drawing = Drawing::new(&title, &description, WIDE).on_a_page(names);
    let [from, until] = [times.start().s(), times.end().s()];
    let reach = [from, until.max(from + 1.0)];
    let time = Scale::new(reach, [LEFT, WIDE - MARGIN]);
    let top = pass_names(told, key, &time, &mut drawing);
    let mut below = top;
    let lines = if trails.is_empty() {
        "dashed: as planned, at the times it was flown"
    } else {
        "dashed: as planned, at the times it was flown; solid: as flown, by logs"
    };
    let at = [WIDE - MARGIN, top + 16.0];
    drawing.text(at, Side::Until, SMALL, lines);
    for quantity in &QUANTITIES {
        let area = Area {
            left: LEFT,
            top: below + 22.0,
            wide: WIDE - MARGIN - LEFT,
            high: PANEL,
        };
        let curves = curves(told, quantity, part, times, &trails);
        panel(
            &programme,
            quantity,
            area,
            (&time, reach),
            &curves,
            &mut drawing,
        );
        for flown in passes(told, key) {
            let x = time.at(flown.at.s());
            drawing.line(&[[x, area.top], [x, area.bottom()]], Pen::solid(INK, 1.6));
            drawing.marker(Marker::Triangle, [x, area.bottom() - 4.0], 4.0, INK);
        }
        below = area.bottom() + 22.0;
    }
    drawing.finish(below)
}

/// Each pass by name above the panels; gives where they end.
fn pass_names(told: &Told, key: &Name, time: &Scale, drawing: &mut Drawing) -> f64 {
    let named: Vec<(Item, String)> = passes(told, key)
        .map(|flown| {
            let name = point_name(&flown.point);
            let text = format!(
                "{name} {} {}{}",
                flown.how.word(),
                told.clock(flown.at),
                off(flown)
            );
            let wide = label_size(&text, SMALL).0;
            let at = time.at(flown.at.s());
            let from = (at - 0.5 * wide).clamp(MARGIN, WIDE - MARGIN - wide);
            let item = Item {
                at,
                from,
                until: from + wide,
            };
            (item, text)
        })
        .collect();
    let items: Vec<Item> = named.iter().map(|(item, _)| *item).collect();
    let found = rows(&items);
    let count = found.iter().max().map_or(0, |row| row + 1) as f64;
    for ((item, text), row) in named.iter().zip(found) {
        // The first row is nearest to the panels.
        let y = ROW * (count - row as f64);
        let at = [0.5 * (item.from + item.until), y];
        drawing.text(at, Side::Over, SMALL, text);
    }
    ROW * count
}

/// Every line of a panel: planned paths, then flown ones.
fn curves(
    told: &Told,
    quantity: &Quantity,
    part: &Part,
    times: &FigureTimes,
    trails: &[&Trail],
) -> Vec<Curve> {
    let planned = part.paths.iter().flat_map(|drawn| {
        let known = drawn.path.iter().map(|sample| {
            let at = times.instant_of(sample.after).s();
            Some((at, (quantity.planned)(sample)?))
        });
        unbroken(known, PLANNED)
    });
    let flown = trails.iter().flat_map(|trail| {
        let pen = style_of(told, &trail.aircraft).pen;
        let stretches = trail.stretches.iter();
        stretches.flat_map(move |stretch| {
            let known = stretch
                .iter()
                .map(|seen| Some((seen.at.s(), (quantity.flown)(seen)?)));
            unbroken(known, pen)
        })
    });
    planned.chain(flown).collect()
}

/// A line for each run of known values.
fn unbroken(known: impl Iterator<Item = Option<(f64, f64)>>, pen: Pen) -> Vec<Curve> {
    let known: Vec<Option<(f64, f64)>> = known.collect();
    let runs = known.split(Option::is_none);
    let runs = runs.map(|run| Curve {
        points: run.iter().copied().flatten().collect(),
        pen,
    });
    runs.filter(|curve| curve.points.len() > 1).collect()
}

fn panel(
    programme: &Programme,
    quantity: &Quantity,
    area: Area,
    (time, reach): (&Scale, [f64; 2]),
    curves: &[Curve],
    drawing: &mut Drawing,
) {
    let values = curves.iter().flat_map(|curve| &curve.points);
    let [least, most] = values.fold([0.0_f64, 1.0], |[least, most], (_, value)| {
        [least.min(*value), most.max(*value)]
    });
    let most = least + 1.1 * (most - least);
    let value = Scale::new([least, most], [area.bottom(), area.top]);
    axes::times(programme, area, reach, time, drawing);
    axes::values(area, [least, most], 4.0, trimmed, drawing);
    drawing.text([MARGIN, area.top - 6.0], Side::From, TEXT, quantity.name);
    drawing.area(area, None, Some(Pen::solid(INK, 0.8)));
    for curve in curves {
        let place = |(at, measured): &(f64, f64)| [time.at(*at), value.at(*measured)];
        let points: Vec<Point> = curve.points.iter().map(place).collect();
        for line in area.cut_line(&points) {
            drawing.line(&line, curve.pen);
        }
    }
}

//! Height and speed against time, one above the other on one time axis.

use super::kit::drawing::label_size;
use super::kit::ink::INK;
use super::kit::rows::{Item, rows};
use super::kit::scale::{multiples, round_step, trimmed};
use super::kit::{Area, Drawing, Fill, Marker, Pen, Point, Scale, Side};
use super::legend::{MARGIN, SMALL, TEXT, WIDE, begun, finished, key, who};
use super::map::marks;
use super::programme::{DrawnPath, Part, Programme, on_path};
use super::side;
use crate::flight::PathSample;
use crate::units::Length;
use crate::units::quantity::{FOOT, KNOT};

/// Room for the labels of the value axes.
const SIDE: f64 = 52.0;
/// Between the marks on a curve, s.
const MARK_EVERY: f64 = 30.0;
/// How high a panel is.
const PANEL: f64 = 210.0;
const ROW: f64 = 16.0;

/// What a panel shows.
struct Quantity {
    name: &'static str,
    /// Unit to the left and to the right, each with its size in SI.
    units: [(&'static str, f64); 2],
    /// Of a sample, in SI, where it is known.
    of: fn(&PathSample) -> Option<f64>,
}

const HEIGHT: Quantity = Quantity {
    name: "Height above the site",
    units: [("ft", FOOT), ("m", 1.0)],
    of: |sample| Some(sample.z.m()),
};
const SPEED: Quantity = Quantity {
    name: "Speed over the ground",
    units: [("kt", KNOT), ("m/s", 1.0)],
    // Nobody says how fast an aircraft holds.
    of: |sample| Some(sample.ground_speed.mps()).filter(|mps| *mps > 0.0),
};

/// Draws both.
pub fn chart(programme: &Programme) -> String {
    let title = programme.heading("height and speed");
    let description = format!(
        "Height above the site and speed over the ground against {}. {}",
        programme.clock_name(),
        said(programme)
    );
    let mut drawing = begun(&title, &description);
    let below = who(
        programme,
        &programme.aircraft(),
        MARK_EVERY,
        50.0,
        &mut drawing,
    );
    let pixels = [MARGIN + SIDE, WIDE - MARGIN - SIDE];
    let time = Scale::new(programme.span(), pixels);
    let top = names(programme, &time, below + 12.0, &mut drawing) + 40.0;
    let panels = [(HEIGHT, top), (SPEED, top + PANEL + 36.0)].map(|(quantity, top)| {
        let area = Area {
            left: pixels[0],
            top,
            wide: pixels[1] - pixels[0],
            high: PANEL,
        };
        (quantity, area)
    });
    for (quantity, area) in &panels {
        panel(programme, quantity, *area, &time, &mut drawing);
    }
    let bottom = panels[1].1.bottom();
    for s in programme.ticks(programme.span(), 70.0 / time.pixels_per()) {
        let x = time.at(s);
        drawing.text(
            [x, bottom + 18.0],
            Side::Over,
            SMALL,
            &programme.tick_label(s),
        );
    }
    drawing.text(
        [WIDE / 2.0, bottom + 36.0],
        Side::Over,
        TEXT,
        programme.clock_name(),
    );
    legend(bottom + 54.0, &mut drawing);
    let below = key(programme, bottom + 76.0, &mut drawing);
    finished(drawing, below)
}

/// What the curves say, in words.
fn said(programme: &Programme) -> String {
    let told: Vec<String> = programme
        .flown()
        .map(|part| {
            let reach = side::reach(part.samples());
            let [low, high] = reach.map(|z| Length::from_m(z).whole_feet());
            format!("{}: {low} to {high} ft", part.numbered())
        })
        .collect();
    told.join(", ")
}

/// The names of the figures where they begin, or their numbers where a name does not fit before the next;
/// none over another. Gives where they end.
fn names(programme: &Programme, time: &Scale, top: f64, drawing: &mut Drawing) -> f64 {
    let starts = programme.parts.iter();
    let starts: Vec<f64> = starts.map(|part| time.at(part.times.start().s())).collect();
    let room = |at: f64| {
        let next = starts.iter().copied().filter(|next| *next > at);
        next.fold(WIDE - MARGIN, f64::min) - at - 8.0
    };
    let texts: Vec<String> = programme
        .parts
        .iter()
        .zip(&starts)
        .map(|(part, &at)| {
            let name = part.numbered();
            if label_size(&name, TEXT).0 <= room(at) {
                name
            } else {
                part.number.to_string()
            }
        })
        .collect();
    let items: Vec<Item> = starts
        .iter()
        .zip(&texts)
        .map(|(&at, text)| Item {
            at,
            from: at,
            until: at + 4.0 + label_size(text, TEXT).0,
        })
        .collect();
    let found = rows(&items);
    let count = found.iter().max().map_or(0, |row| row + 1);
    let bottom = top + ROW * count as f64;
    for ((item, row), text) in items.iter().zip(&found).zip(&texts) {
        let y = bottom - ROW * (*row as f64 + 1.0);
        drawing.line(
            &[[item.at, y + 3.0], [item.at, bottom + 4.0]],
            Pen::solid(INK, 0.7),
        );
        drawing.text([item.at + 4.0, y + 12.0], Side::From, TEXT, text);
    }
    bottom
}

fn panel(
    programme: &Programme,
    quantity: &Quantity,
    area: Area,
    time: &Scale,
    drawing: &mut Drawing,
) {
    let values = programme
        .flown()
        .flat_map(|part| part.samples().filter_map(quantity.of));
    let [least, most] = values.fold([0.0_f64, 0.0_f64], |[least, most], value| {
        [least.min(value), most.max(value)]
    });
    let value = Scale::new(
        [least, (1.08 * most).max(least + 1.0)],
        [area.bottom(), area.top],
    );
    for part in programme
        .parts
        .iter()
        .filter(|part| part.flown.path().len() < 2)
    {
        let [from, until] = [part.times.start(), part.times.end()].map(|at| time.at(at.s()));
        let timed = Area {
            left: from,
            wide: until - from,
            ..area
        };
        drawing.area(timed, Some(Fill::Dotted), None);
    }
    for s in programme.ticks(programme.span(), 70.0 / time.pixels_per()) {
        drawing.grid([time.at(s), area.top], [time.at(s), area.bottom()]);
    }
    for (side, (unit, size)) in quantity.units.into_iter().enumerate() {
        axis(
            side,
            unit,
            size,
            &value,
            [least, 1.08 * most],
            area,
            drawing,
        );
    }
    let name = [area.left, area.top - 20.0];
    drawing.text(name, Side::From, TEXT, quantity.name);
    drawing.area(area, None, Some(Pen::solid(INK, 1.0)));
    for part in &programme.parts {
        for at in [part.times.start(), part.times.end()] {
            let x = time.at(at.s());
            drawing.line(&[[x, area.top], [x, area.bottom()]], Pen::solid(INK, 0.4));
        }
    }
    for part in programme.flown() {
        curve(part, quantity, &value, time, drawing);
    }
}

/// Ticks of one unit at one side: 0 left, 1 right.
fn axis(
    side: usize,
    unit: &str,
    size: f64,
    value: &Scale,
    [least, most]: [f64; 2],
    area: Area,
    drawing: &mut Drawing,
) {
    let pixels = value.pixels_per().abs() * size;
    let step = round_step(28.0 / pixels);
    let (edge, out, text_side) = match side {
        0 => (area.left, -5.0, Side::Until),
        _ => (area.right(), 5.0, Side::From),
    };
    for tick in multiples(least / size, most / size, step, 0.0) {
        let y = value.at(tick * size);
        if side == 0 {
            drawing.grid([area.left, y], [area.right(), y]);
        }
        drawing.line(&[[edge, y], [edge + out, y]], Pen::solid(INK, 1.0));
        let text = trimmed(tick);
        drawing.text([edge + 1.6 * out, y + 4.0], text_side, SMALL, &text);
    }
    drawing.text([edge + 1.6 * out, area.top - 8.0], text_side, SMALL, unit);
}

/// A curve for each path of a figure; its passes as discs.
fn curve(part: &Part, quantity: &Quantity, value: &Scale, time: &Scale, drawing: &mut Drawing) {
    drawing.begin(&part.numbered());
    let place = |sample: &PathSample| {
        let at = part.times.instant_of(sample.after);
        Some([time.at(at.s()), value.at((quantity.of)(sample)?)])
    };
    for DrawnPath { style, path } in &part.paths {
        let known: Vec<Option<Point>> = path.iter().map(place).collect();
        for stretch in known.split(Option::is_none) {
            let points: Vec<Point> = stretch.iter().copied().flatten().collect();
            drawing.line(&points, style.pen);
        }
        for at in marks(path, MARK_EVERY).iter().filter_map(place) {
            drawing.marker(style.marker, at, 3.0, style.pen.colour);
        }
    }
    for flown in part.flown.parts.iter() {
        let passes = flown.abeams.iter();
        let samples = passes.filter_map(|after| on_path(&flown.path, *after));
        for at in samples.filter_map(|sample| place(&sample)) {
            drawing.marker(Marker::Circle, at, 5.0, INK);
        }
    }
    drawing.end();
}

fn legend(y: f64, drawing: &mut Drawing) {
    drawing.marker(Marker::Circle, [MARGIN + SIDE + 8.0, y], 5.0, INK);
    drawing.text(
        [MARGIN + SIDE + 20.0, y + 4.0],
        Side::From,
        TEXT,
        "passes crowd centre",
    );
    let timed = Area {
        left: MARGIN + SIDE + 220.0,
        top: y - 7.0,
        wide: 30.0,
        high: 14.0,
    };
    drawing.area(timed, Some(Fill::Dotted), Some(Pen::solid(INK, 0.7)));
    drawing.text(
        [timed.right() + 8.0, y + 4.0],
        Side::From,
        TEXT,
        "only timed: no height or speed is known",
    );
}

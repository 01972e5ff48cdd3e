//! What explains a picture: the page and its letters, bearings, wind, scale, who is who, what is what.

use super::kit::drawing::label_size;
use super::kit::ink::{FAINT, INK, style};
use super::kit::letters::fitted;
use super::kit::scale::{round_step, trimmed};
use super::kit::{Drawing, Pen, Point, Side};
use super::map::Map;
use super::programme::Programme;
use crate::flight::wind::WindVector;
use crate::show::WindAt;
use crate::units::quantity::{FOOT, NAUTICAL_MILE};

/// The page: as wide as A4 across at 96 pixels an inch.
pub const WIDE: f64 = 1120.0;
pub const MARGIN: f64 = 30.0;
/// Sizes of letters.
pub const TITLE: f64 = 20.0;
pub const TEXT: f64 = 12.0;
pub const SMALL: f64 = 10.5;
/// Columns of the list of figures.
const COLUMNS: usize = 2;

/// What no picture may be taken for.
const CAUTION: &str = "Timing for words and music only; it clears nobody to do anything.";

/// A picture with its title on it.
pub fn begun(title: &str, description: &str) -> Drawing {
    let mut drawing = Drawing::new(title, description, WIDE);
    drawing.text([MARGIN, 40.0], Side::From, TITLE, title);
    drawing
}

/// The picture, everything of which ends at `below`, with its caution.
pub fn finished(mut drawing: Drawing, below: f64) -> String {
    let y = below + 26.0;
    drawing.text([MARGIN, y], Side::From, SMALL, CAUTION);
    drawing.finish(y + 16.0)
}

/// North, the wind by height, the scale; gives where they end.
pub fn bearings(programme: &Programme, map: &Map, top: f64, drawing: &mut Drawing) -> f64 {
    let bearing = programme.show.site.line_bearing.rad();
    let middle = [MARGIN + 24.0, top + 24.0];
    // North is `line_bearing` to the left of the crowd's right.
    let north = [bearing.cos(), -bearing.sin()];
    drawing.ring(middle, 20.0, Pen::solid(FAINT, 1.0));
    let end = |by: f64| [middle[0] + by * north[0], middle[1] + by * north[1]];
    drawing.arrow(end(-20.0), end(20.0), Pen::solid(INK, 1.5));
    drawing.text([MARGIN + 54.0, top + 20.0], Side::From, TEXT, "north");
    let along = format!(
        "right is {:03.0}°",
        programme.show.site.line_bearing.deg().rem_euclid(360.0)
    );
    drawing.text([MARGIN + 54.0, top + 36.0], Side::From, SMALL, &along);

    let winds = &programme.day.wind;
    for (row, wind) in winds.iter().enumerate() {
        wind_arrow(
            programme,
            wind,
            [MARGIN + 190.0, top + 10.0 + 26.0 * row as f64],
            drawing,
        );
    }
    scale_bar(map, [WIDE - MARGIN, top + 14.0], drawing);
    (top + 52.0).max(top + 26.0 * winds.len() as f64)
}

/// Where the air goes, and the words for it.
fn wind_arrow(programme: &Programme, wind: &WindAt, [x, y]: Point, drawing: &mut Drawing) {
    let blows = WindVector::new(wind.from, wind.speed, programme.show.site.line_bearing);
    let [dx, dy] = [blows.x.mps(), -blows.y.mps()];
    let strength = dx.hypot(dy);
    if strength > 0.0 {
        let [dx, dy] = [11.0 * dx / strength, 11.0 * dy / strength];
        drawing.arrow([x - dx, y - dy], [x + dx, y + dy], Pen::solid(INK, 1.5));
    }
    let feet = (wind.height.m() / FOOT).round();
    let from = wind.from.deg().round().rem_euclid(360.0);
    let text = if strength > 0.0 {
        format!(
            "wind at {feet} ft: from {from:03.0}°, {:.0} kt",
            wind.speed.kt()
        )
    } else {
        format!("wind at {feet} ft: calm")
    };
    drawing.text([x + 20.0, y + 4.0], Side::From, TEXT, &text);
}

/// A nautical mile and a kilometre, or what part of them is near a tenth of the page.
fn scale_bar(map: &Map, [right, y]: Point, drawing: &mut Drawing) {
    let rows = [(NAUTICAL_MILE, "nmi"), (1000.0, "km")];
    for (row, (metres, unit)) in rows.into_iter().enumerate() {
        let pixels = map.along().pixels_per() * metres;
        let size = round_step(60.0 / pixels);
        let text = format!("{} {unit}", trimmed(size));
        let y = y + 22.0 * row as f64;
        let (wide, _) = label_size(&text, TEXT);
        let end = right - wide - 4.0;
        let from = end - size * pixels;
        drawing.line(&[[from, y], [end, y]], Pen::solid(INK, 2.0));
        for x in [from, end] {
            drawing.line(&[[x, y - 4.0], [x, y + 4.0]], Pen::solid(INK, 1.0));
        }
        drawing.text([right, y + 4.0], Side::Until, TEXT, &text);
    }
}

/// Line and mark of each aircraft, a mark every so many seconds; gives where they end.
pub fn who(
    programme: &Programme,
    aircraft: &[usize],
    every: f64,
    top: f64,
    drawing: &mut Drawing,
) -> f64 {
    let column = (WIDE - 2.0 * MARGIN) / 2.0;
    for (i, &one) in aircraft.iter().enumerate() {
        let style = style(one);
        let x = MARGIN + column * (i % 2) as f64;
        let y = top + 12.0 + 18.0 * (i / 2) as f64;
        drawing.line(&[[x, y], [x + 60.0, y]], style.pen);
        for at in [20.0, 40.0] {
            drawing.marker(style.marker, [x + at, y], 3.0, style.pen.colour);
        }
        let marks = format!(", a mark every {every:.0} s");
        let room = column - 80.0 - label_size(&marks, TEXT).0;
        let text = fitted(programme.name_of(one), TEXT, room) + &marks;
        drawing.text([x + 68.0, y + 4.0], Side::From, TEXT, &text);
    }
    top + 18.0 * aircraft.len().div_ceil(2) as f64
}

/// Number, name and time of each figure, in columns; gives where they end.
pub fn key(programme: &Programme, top: f64, drawing: &mut Drawing) -> f64 {
    let column = (WIDE - 2.0 * MARGIN) / COLUMNS as f64;
    let rows = programme.parts.len().div_ceil(COLUMNS);
    for (i, part) in programme.parts.iter().enumerate() {
        let x = MARGIN + column * (i / rows) as f64;
        let y = top + 12.0 + 17.0 * (i % rows) as f64;
        let number = part.number.to_string();
        drawing.text([x + 18.0, y], Side::Until, TEXT, &number);
        let clock = programme.clock(part.times.start());
        drawing.text([x + 26.0, y], Side::From, TEXT, &clock);
        let timed = if part.flown.path().len() > 1 {
            ""
        } else {
            " (timed)"
        };
        let (wide, _) = label_size(timed, TEXT);
        let name = fitted(part.name, TEXT, column - 100.0 - wide);
        drawing.text([x + 90.0, y], Side::From, TEXT, &format!("{name}{timed}"));
    }
    top + 17.0 * rows as f64
}

//! The timeline: flight, words and music as planned, each above the same as it was, a few minutes to a picture.

use super::lanes::{Bar, Kind, Lane, Mark, lanes};
use super::{MARGIN, SMALL, TEXT, Told, WIDE, lateness};
use crate::pictures::kit::drawing::label_size;
use crate::pictures::kit::ink::{INK, PAPER};
use crate::pictures::kit::letters::fitted;
use crate::pictures::kit::rows::{Item, rows};
use crate::pictures::kit::scale::time_step;
use crate::pictures::kit::{Area, Drawing, Fill, Marker, Pen, Scale, Side};
use crate::pictures::programme::Programme;
use crate::units::{Instant, Span};

/// How much of the show stands on one picture, s; more where there would be too many.
const LINE: f64 = 180.0;
const MOST_PICTURES: f64 = 20.0;
/// How high a bar is, what is between that planned and that which was, and a row of names.
const BAR: f64 = 10.0;
const BETWEEN: f64 = 12.0;
const ROW: f64 = 14.0;
/// What really was: seen against white also without colour.
const WAS: Fill = Fill::Plain("#bdbdbd");

/// A stretch of the show on a picture.
struct Stave {
    from: f64,
    until: f64,
    time: Scale,
}

/// A picture for every few minutes in which there is something; `names` makes a picture's names its own.
pub(super) fn pictures(told: &Told, names: impl Fn(usize) -> String) -> Vec<String> {
    let programme = Programme::of(told.show, told.plan);
    let lanes = lanes(told);
    let staves = staves(&programme, &lanes);
    let each = staves.iter().enumerate();
    each.map(|(i, stave)| picture(told, &programme, &lanes, stave, i == 0, &names(i)))
        .collect()
}

fn staves(programme: &Programme, lanes: &[Lane]) -> Vec<Stave> {
    let reach = bars(lanes).map(Bar::reach);
    let [first, last] = reach.fold([f64::MAX, f64::MIN], |all, bar| {
        [all[0].min(bar[0]), all[1].max(bar[1])]
    });
    if first >= last {
        return Vec::new();
    }
    let line = LINE.max(time_step((last - first) / MOST_PICTURES));
    let round = programme.ticks([first - line, first], line / 6.0);
    let first = round.last().copied().unwrap_or(first);
    let count = ((last - first) / line).ceil() as usize;
    let staves = (0..count).map(|i| {
        let from = first + line * i as f64;
        Stave {
            from,
            until: from + line,
            time: Scale::new([from, from + line], [MARGIN, WIDE - MARGIN]),
        }
    });
    staves
        .filter(|stave| bars(lanes).any(|bar| stave.shows(bar)))
        .collect()
}

fn bars(lanes: &[Lane]) -> impl Iterator<Item = &Bar> {
    lanes.iter().flat_map(|lane| lane.rows.iter().flatten())
}

impl Stave {
    fn shows(&self, bar: &Bar) -> bool {
        let both = bar.planned.iter().chain(&bar.was);
        both.into_iter().any(|bar| self.part_of(*bar).is_some())
    }

    /// The part of a bar that is on it.
    fn part_of(&self, [from, until]: [f64; 2]) -> Option<[f64; 2]> {
        let part = [from.max(self.from), until.min(self.until)];
        (part[0] < part[1]).then_some(part)
    }

    fn has(&self, at: f64) -> bool {
        (self.from..self.until).contains(&at)
    }
}

fn picture(
    told: &Told,
    programme: &Programme,
    lanes: &[Lane],
    stave: &Stave,
    explained: bool,
    names: &str,
) -> String {
    let [from, until] = [stave.from, stave.until].map(|s| programme.clock(Instant::from_s(s)));
    let title = format!("Planned and flown, {from} to {until}");
    let description = format!(
        "Time runs to the right. In each lane what was planned is white, and what was is grey below it. {}",
        said(told, lanes, stave)
    );
    let mut drawing = Drawing::new(&title, &description, WIDE).on_a_page(names);
    let top = if explained { legend(&mut drawing) } else { 4.0 };
    let bottom = top + 18.0 + lanes.iter().map(|lane| height(lane, stave)).sum::<f64>();
    axis(programme, stave, [top, bottom], &mut drawing);
    let mut below = top + 18.0;
    for lane in lanes {
        below = draw_lane(lane, stave, below, &mut drawing);
    }
    drawing.finish(below + 4.0)
}

/// What is on it, in words.
fn said(told: &Told, lanes: &[Lane], stave: &Stave) -> String {
    let clock = |s: f64| told.clock(Instant::from_s(s));
    let told_lane = |lane: &Lane| {
        let bars = lane.rows.iter().flatten().filter(|bar| stave.shows(bar));
        let told: Vec<String> = bars
            .map(|bar| {
                let begun = match (bar.planned, bar.was) {
                    (Some(planned), Some(was)) => {
                        let late = lateness(Span::from_s(was[0] - planned[0]));
                        format!(" begun {}, {late}", clock(was[0]))
                    }
                    (None, Some(was)) => format!(" begun {}", clock(was[0])),
                    _ => String::new(),
                };
                let marks = bar.marks.iter().map(|mark| {
                    let late = mark.planned.map(|planned| Span::from_s(mark.was - planned));
                    let late = late.map_or(String::new(), |late| format!(", {}", lateness(late)));
                    let what = match mark.is {
                        Kind::Pass => "pass",
                        Kind::Hit => "hit",
                    };
                    format!("; {what} {}{late}", clock(mark.was))
                });
                format!("{}{begun}{}", bar.said(), marks.collect::<String>())
            })
            .collect();
        (!told.is_empty()).then(|| format!("{}: {}.", lane.name, told.join("; ")))
    };
    let lanes: Vec<String> = lanes.iter().filter_map(told_lane).collect();
    lanes.join(" ")
}

/// What the signs are; gives where it ends.
fn legend(drawing: &mut Drawing) -> f64 {
    let box_at = |x: f64| Area {
        left: x,
        top: 4.0,
        wide: 26.0,
        high: BAR,
    };
    let edge = Some(Pen::solid(INK, 0.8));
    let y = 13.0;
    let mut x = MARGIN;
    let explain = |x: &mut f64, drawing: &mut Drawing, text: &str| {
        drawing.text([*x + 32.0, y], Side::From, SMALL, text);
        *x += 44.0 + label_size(text, SMALL).0;
    };
    drawing.area(box_at(x), None, edge);
    explain(&mut x, drawing, "planned");
    drawing.area(box_at(x), Some(WAS), edge);
    explain(&mut x, drawing, "as it was");
    drawing.marker(Marker::Circle, [x + 8.0, 9.0], 3.5, INK);
    drawing.line(&[[x + 8.0, 9.0], [x + 20.0, 9.0]], Pen::solid(INK, 1.2));
    drawing.marker(Marker::Triangle, [x + 20.0, 9.0], 4.0, INK);
    explain(&mut x, drawing, "pass, planned and seen");
    drawing.line(&[[x + 2.0, 9.0], [x + 26.0, 9.0]], Pen::dashed(INK, 1.2));
    explain(&mut x, drawing, "not seen");
    drawing.marker(Marker::Diamond, [x + 14.0, 9.0], 4.0, INK);
    explain(&mut x, drawing, "hit heard");
    24.0
}

/// Round times above, and their lines through all lanes.
fn axis(programme: &Programme, stave: &Stave, [top, bottom]: [f64; 2], drawing: &mut Drawing) {
    let reach = [stave.from, stave.until];
    for s in programme.ticks(reach, 66.0 / stave.time.pixels_per()) {
        let x = stave.time.at(s);
        let label = programme.tick_label(s);
        let half = 0.5 * label_size(&label, SMALL).0;
        drawing.grid([x, top + 14.0], [x, bottom]);
        let x = x.clamp(half + 1.0, WIDE - half - 1.0);
        drawing.text([x, top + 10.0], Side::Over, SMALL, &label);
    }
}

/// What the names of a row are put to, and in which row of names each is.
fn labels(row: &[Bar], stave: &Stave) -> Vec<(Item, usize, String)> {
    let shown: Vec<(Item, String)> = row
        .iter()
        .filter_map(|bar| {
            let part = stave.part_of(bar.was.or(bar.planned)?);
            let part = part.or_else(|| stave.part_of(bar.planned?))?;
            let begins = bar.was.or(bar.planned)?[0];
            let name = bar.said();
            let name = if begins < stave.from {
                format!("… {name}")
            } else {
                name
            };
            let name = fitted(&name, SMALL, WIDE - 2.0 * MARGIN - 8.0);
            let wide = label_size(&name, SMALL).0;
            let at = stave.time.at(part[0]);
            // At the end of the picture it reaches back.
            let from = at.min(WIDE - MARGIN - wide);
            let item = Item {
                at,
                from,
                until: from + wide,
            };
            Some((item, name))
        })
        .collect();
    let items: Vec<Item> = shown.iter().map(|(item, _)| *item).collect();
    let found = rows(&items);
    let shown = shown.into_iter().zip(found);
    shown.map(|((item, name), row)| (item, row, name)).collect()
}

/// How many rows of names a row of bars has.
fn name_rows(row: &[Bar], stave: &Stave) -> f64 {
    let labels = labels(row, stave);
    labels.iter().map(|label| label.1 + 1).max().unwrap_or(0) as f64
}

/// How high a lane is; nothing where it is empty.
fn height(lane: &Lane, stave: &Stave) -> f64 {
    let shown = lane
        .rows
        .iter()
        .filter(|row| row.iter().any(|bar| stave.shows(bar)));
    let rows: f64 = shown
        .map(|row| 2.0 * BAR + BETWEEN + ROW * name_rows(row, stave) + 8.0)
        .sum();
    if rows > 0.0 { rows + ROW + 4.0 } else { 0.0 }
}

/// A lane; gives where it ends.
fn draw_lane(lane: &Lane, stave: &Stave, top: f64, drawing: &mut Drawing) -> f64 {
    if height(lane, stave) == 0.0 {
        return top;
    }
    let name = fitted(&lane.name, TEXT, WIDE - 2.0 * MARGIN);
    let (wide, high) = label_size(&name, TEXT);
    let heading = Area {
        left: MARGIN,
        top: top + 1.0,
        wide,
        high,
    };
    // The lines of the times do not go through it.
    drawing.area(heading, Some(Fill::Plain(PAPER)), None);
    drawing.text([MARGIN, top + ROW - 1.0], Side::From, TEXT, &name);
    let mut below = top + ROW + 4.0;
    for row in &lane.rows {
        if row.iter().any(|bar| stave.shows(bar)) {
            below = draw_row(row, stave, below, drawing);
        }
    }
    below
}

/// A row of bars and their names below; gives where it ends.
fn draw_row(row: &[Bar], stave: &Stave, top: f64, drawing: &mut Drawing) -> f64 {
    let was = top + BAR + BETWEEN;
    for bar in row {
        let both = [(bar.planned, top, None), (bar.was, was, Some(WAS))];
        for (bar, y, fill) in both {
            let Some([from, until]) = bar.and_then(|bar| stave.part_of(bar)) else {
                continue;
            };
            let [left, right] = [from, until].map(|s| stave.time.at(s));
            let area = Area {
                left,
                top: y,
                wide: right - left,
                high: BAR,
            };
            drawing.area(area, fill, Some(Pen::solid(INK, 0.8)));
        }
    }
    let names = was + BAR;
    for (item, row, name) in labels(row, stave) {
        let y = names + ROW * row as f64;
        if row > 0 {
            drawing.line(
                &[[item.at, names], [item.at, y + 3.0]],
                Pen::solid(INK, 0.6),
            );
        }
        // One that reaches back ends where there is room no more.
        let (x, side) = if item.from < item.at {
            (item.until, Side::Until)
        } else {
            (item.from, Side::From)
        };
        drawing.text([x, y + 0.8 * ROW], side, SMALL, &name);
    }
    let marks = row.iter().flat_map(|bar| &bar.marks);
    for mark in marks.filter(|mark| stave.has(mark.was)) {
        draw_mark(mark, stave, [top + BAR, was], drawing);
    }
    names + ROW * name_rows(row, stave) + 8.0
}

/// A pass from where it was planned to where it was, or a hit where it was heard.
fn draw_mark(mark: &Mark, stave: &Stave, [above, below]: [f64; 2], drawing: &mut Drawing) {
    let was = [stave.time.at(mark.was), below + 0.5 * BAR];
    if let Some(planned) = mark.planned.filter(|planned| stave.has(*planned)) {
        let from = [stave.time.at(planned), above - 0.5 * BAR];
        let pen = if mark.seen {
            Pen::solid(INK, 1.2)
        } else {
            Pen::dashed(INK, 1.2)
        };
        drawing.line(&[from, was], pen);
        drawing.marker(Marker::Circle, from, 3.5, INK);
    }
    let marker = match mark.is {
        Kind::Pass => Marker::Triangle,
        Kind::Hit => Marker::Diamond,
    };
    drawing.marker(marker, was, 4.0, INK);
}

//! How often something was how late: one row for each way it was done, on one axis.

use super::Picture;
use super::kit::ink::{FAINT, INK};
use super::kit::scale::{multiples, round_step, trimmed};
use super::kit::{Area, Drawing, Fill, Pen, Scale, Side};
use super::legend::{MARGIN, SMALL, TEXT, WIDE, begun, finished};

const BINS: f64 = 60.0;
const HIGH: f64 = 150.0;
const LEFT: f64 = MARGIN + 20.0;

/// One way, in words, and how late it was each time, s.
#[derive(Debug, Clone)]
pub struct Row {
    /// In words.
    pub name: String,
    /// How late, s; negative is early.
    pub late_s: Vec<f64>,
}

/// Draws them into the file `name`; what is within `within_s` of 0 counts as met. Once in a hundred it may lie
/// outside the axis: that is said.
pub fn histogram(name: &str, title: &str, rows: &[Row], within_s: f64) -> Picture {
    let reach = reach(rows, within_s);
    let step = 2.0 * reach / BINS;
    let said: Vec<String> = rows.iter().map(|row| told(row, within_s)).collect();
    let mut drawing = begun(title, &said.join("; "));
    let scale = Scale::new([-reach, reach], [LEFT, WIDE - MARGIN]);
    let mut top = 66.0;
    for (row, told) in rows.iter().zip(&said) {
        drawing.text([MARGIN, top], Side::From, TEXT, told);
        bars(row, [within_s, step], &scale, top + 12.0, &mut drawing);
        top += HIGH + 56.0;
    }
    let y = top - 26.0;
    for late in multiples(-reach, reach, round_step(reach / 6.0), 0.0) {
        let text = format!("{} s", trimmed(late));
        drawing.text([scale.at(late), y], Side::Over, SMALL, &text);
    }
    let axis = "early is left, late is right; between the dashed lines it is met";
    drawing.text([MARGIN, y + 20.0], Side::From, SMALL, axis);
    Picture {
        name: name.into(),
        svg: finished(drawing, y + 22.0),
    }
}

/// What the axis shows on each side of 0: all but the hundredth part that is furthest off.
fn reach(rows: &[Row], within_s: f64) -> f64 {
    let mut off: Vec<f64> = rows
        .iter()
        .flat_map(|row| &row.late_s)
        .map(|late| late.abs())
        .collect();
    off.sort_by(f64::total_cmp);
    let most = off.get(off.len() * 99 / 100).copied().unwrap_or(0.0);
    let step = round_step(most.max(2.0 * within_s).max(0.1) / 6.0);
    (most.max(2.0 * within_s) / step).ceil().max(1.0) * step
}

fn told(row: &Row, within_s: f64) -> String {
    let of = row.late_s.len();
    let met = row
        .late_s
        .iter()
        .filter(|late| late.abs() <= within_s)
        .count();
    let limit = trimmed(within_s);
    format!("{}: {met} of {of} within {limit} s", row.name)
}

fn bars(row: &Row, [within_s, step]: [f64; 2], scale: &Scale, top: f64, drawing: &mut Drawing) {
    let bottom = top + HIGH;
    let mut counts = vec![0_usize; BINS as usize];
    let first = -step * BINS / 2.0;
    for late in &row.late_s {
        let bin = ((late - first) / step).floor();
        if bin >= 0.0
            && let Some(count) = counts.get_mut(bin as usize)
        {
            *count += 1;
        }
    }
    let most = counts.iter().copied().max().unwrap_or(0).max(1) as f64;
    for (bin, count) in counts.iter().enumerate().filter(|(_, count)| **count > 0) {
        let left = scale.at(first + bin as f64 * step);
        let high = HIGH * *count as f64 / most;
        let area = Area {
            left,
            top: bottom - high,
            wide: step * scale.pixels_per(),
            high,
        };
        drawing.area(area, Some(Fill::Plain(FAINT)), Some(Pen::solid(INK, 0.7)));
    }
    let right = WIDE - MARGIN;
    drawing.line(&[[LEFT, bottom], [right, bottom]], Pen::solid(INK, 1.0));
    for limit in [-within_s, within_s] {
        let x = scale.at(limit);
        let pen = Pen::dashed(INK, 1.5);
        drawing.line(&[[x, top], [x, bottom]], pen);
    }
}

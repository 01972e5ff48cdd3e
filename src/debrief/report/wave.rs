//! A hit against the instant it was to meet: the music around it as it was played, and where the aircraft was abeam.

use super::{MARGIN, SMALL, TEXT, Told, WIDE};
use crate::debrief::fold::Playing;
use crate::debrief::music::Hit;
use crate::pictures::kit::ink::{FAINT, INK};
use crate::pictures::kit::scale::multiples;
use crate::pictures::kit::{Area, Drawing, Fill, Pen, Point, Scale, Side};
use crate::units::Span;

/// How much is shown before and after, s.
const AROUND: f64 = 8.0;
const HIGH: f64 = 120.0;
/// Pixels to a column of the outline.
const COLUMN: f64 = 2.0;

pub(super) fn heading(told: &Told, hit: &Hit) -> String {
    format!(
        "Hit {} of {} against the flight",
        hit.hit,
        told.track(hit.track)
    )
}

pub(super) fn picture(told: &Told, hit: &Hit, names: &str) -> String {
    let miss = hit.miss();
    let word = if miss < Span::ZERO { "before" } else { "after" };
    let summary = format!(
        "heard at {}, {:.2} s {word} the instant it was to meet at {}",
        told.clock(hit.heard),
        miss.abs().s(),
        told.clock(hit.wanted)
    );
    let description = format!(
        "The loudness of the music from {AROUND} s before that instant to {AROUND} s after it; the hit was {summary}."
    );
    let title = heading(told, hit);
    let mut drawing = Drawing::new(&title, &description, WIDE).on_a_page(names);
    let area = Area {
        left: MARGIN,
        top: 44.0,
        wide: WIDE - 2.0 * MARGIN,
        high: HIGH,
    };
    let time = Scale::new([-AROUND, AROUND], [area.left, area.right()]);
    for s in multiples(-AROUND, AROUND, 1.0, 0.0) {
        drawing.grid([time.at(s), area.top], [time.at(s), area.bottom()]);
        let text = match s {
            0.0 => "0 s".to_owned(),
            s if s > 0.0 => format!("+{s:.0}"),
            s => format!("−{:.0}", -s),
        };
        let x = time.at(s).clamp(area.left + 10.0, area.right() - 10.0);
        drawing.text([x, area.bottom() + 15.0], Side::Over, SMALL, &text);
    }
    outline(told, hit, area, &mut drawing);
    drawing.area(area, None, Some(Pen::solid(INK, 0.8)));
    let [wanted, heard] = [0.0, miss.s().clamp(-AROUND, AROUND)].map(|s| time.at(s));
    drawing.line(
        &[[wanted, area.top - 22.0], [wanted, area.bottom()]],
        Pen::solid(INK, 2.5),
    );
    drawing.line(
        &[[heard, area.top - 6.0], [heard, area.bottom()]],
        Pen::dashed(INK, 2.0),
    );
    // Each on its own line, so that they stand clear however near the two are.
    drawing.text(
        [wanted + 6.0, area.top - 26.0],
        Side::From,
        TEXT,
        "to be met: the aircraft (solid)",
    );
    let (x, side) = if heard < wanted {
        (heard - 6.0, Side::Until)
    } else {
        (heard + 6.0, Side::From)
    };
    drawing.text(
        [x, area.top - 8.0],
        side,
        TEXT,
        &format!("hit heard, {:+.2} s (dashed)", miss.s()).replace('-', "−"),
    );
    drawing.finish(area.bottom() + 22.0)
}

/// The outline of what was played, by the clock: where it went back or was bent, so is this.
fn outline(told: &Told, hit: &Hit, area: Area, drawing: &mut Drawing) {
    let middle = area.middle()[1];
    drawing.line(
        &[[area.left, middle], [area.right(), middle]],
        Pen::solid(FAINT, 0.5),
    );
    let outline = told.outlines.get(hit.track).and_then(Option::as_ref);
    let (Some(outline), Some(playing)) = (outline, playing_of(told, hit)) else {
        let text = "the track's file is not there to draw";
        return drawing.text([area.left + 8.0, middle - 6.0], Side::From, TEXT, text);
    };
    let meet_at = told
        .show
        .tracks
        .get(hit.track)
        .and_then(|track| track.meets.as_ref());
    let Some(reached) = meet_at.and_then(|meet| playing.course.reaches(meet.hit_at)) else {
        return;
    };
    let columns = (area.wide / COLUMN) as usize;
    let step = 2.0 * AROUND / columns as f64;
    let mut upper: Vec<Point> = Vec::with_capacity(2 * columns);
    let mut lower: Vec<Point> = Vec::with_capacity(columns);
    for column in 0..columns {
        // From the hit as it was heard: what stands at it is what was heard then.
        let since = Span::from_s(-AROUND + step * column as f64) - hit.miss();
        let after = reached + since;
        let silent = after < Span::ZERO || playing.start + after > playing.end;
        let (low, high) = if silent {
            (0.0, 0.0)
        } else {
            let place = playing.course.place_at(after);
            let slice = outline.slice(place, place + Span::from_s(step), 1);
            slice.first().copied().unwrap_or_default()
        };
        let x = area.left + COLUMN * column as f64;
        let half = 0.48 * area.high;
        upper.push([x, middle - f64::from(high) * half]);
        lower.push([x, middle - f64::from(low) * half]);
    }
    upper.extend(lower.into_iter().rev());
    drawing.shape(&upper, Fill::Plain("#7f7f7f"));
}

fn playing_of<'a>(told: &'a Told, hit: &Hit) -> Option<&'a Playing> {
    let mut playings = told.went.folded.playings.iter();
    playings.rfind(|playing| playing.track == hit.track && playing.start <= hit.heard)
}

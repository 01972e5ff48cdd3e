//! The timeline: flight, words and music as planned, above the same as they were.

use super::{Told, lateness};
use crate::debrief::seen::How;
use crate::pictures::kit::drawing::label_size;
use crate::pictures::kit::ink::{FAINT, INK};
use crate::pictures::kit::letters::fitted;
use crate::pictures::kit::{Area, Drawing, Fill, Marker, Pen, Scale, Side};
use crate::pictures::legend::{MARGIN, SMALL, WIDE};
use crate::pictures::programme::Programme;
use crate::show::PointName;
use crate::timeline::Version;
use crate::units::Instant;

/// How much of the show stands on one line, s.
const LINE: f64 = 240.0;
const LANE: f64 = 20.0;
/// Room for the names of the lanes.
const NAMES: f64 = 60.0;
const AXIS: f64 = 22.0;

/// Something that lasts.
struct Bar {
    from: f64,
    until: f64,
    name: String,
}

/// Flight, words, music.
type Lanes = [Vec<Bar>; 3];

const LANES: [&str; 3] = ["flight", "words", "music"];

pub(super) fn picture(told: &Told, names: &str) -> String {
    let programme = Programme::of(told.show, told.plan);
    let (planned, flown) = (planned(told), flown(told));
    let all = || planned.iter().chain(&flown).flatten();
    let from = all().map(|bar| bar.from).fold(f64::MAX, f64::min);
    let until = all().map(|bar| bar.until).fold(f64::MIN, f64::max);
    let description = format!(
        "Time runs to the right. Above each axis flight, words and music as planned; below it as they were. {}",
        said(told)
    );
    let mut drawing = Drawing::new("Planned and flown", &description, WIDE).on_a_page(names);
    if from >= until {
        return drawing.finish(10.0);
    }
    let count = ((until - from) / LINE).ceil().max(1.0);
    let mut top = 6.0;
    for line in 0..count as usize {
        let begins = from + LINE * line as f64;
        // The last line is as wide as the others, so that a second is as long on all of them.
        let time = Scale::new([begins, begins + LINE], [MARGIN + NAMES, WIDE - MARGIN]);
        let reach = [begins, (begins + LINE).min(until)];
        top = stave(
            told,
            &programme,
            [&planned, &flown],
            reach,
            &time,
            top,
            &mut drawing,
        );
    }
    drawing.finish(top)
}

/// The passes, in words.
fn said(told: &Told) -> String {
    let passes = told
        .went
        .points
        .iter()
        .filter(|flown| matches!(flown.point, PointName::Abeam(_)));
    let passes: Vec<String> = passes
        .map(|flown| {
            let off = flown
                .late()
                .map_or(String::new(), |span| format!(", {}", lateness(span)));
            format!(
                "{} {} at {}{off}",
                told.name_of(&flown.key),
                flown.point,
                told.clock(flown.at)
            )
        })
        .collect();
    passes.join("; ")
}

fn planned(told: &Told) -> Lanes {
    let (show, plan) = (told.show, told.plan);
    let flight = plan.moments.figures.iter().map(|times| Bar {
        from: times.start().s(),
        until: times.end().s(),
        name: told.name_of(&times.key).to_owned(),
    });
    let words = show
        .blocks
        .iter()
        .zip(&plan.layout.blocks)
        .filter_map(|(block, laid)| {
            let said = laid.version != Version::LeftOut;
            bar(
                laid.starts.instant().filter(|_| said)?,
                laid.ends?,
                block.id.as_str(),
            )
        });
    let music = show
        .tracks
        .iter()
        .zip(&plan.layout.tracks)
        .filter_map(|(track, laid)| bar(laid.starts.instant()?, laid.ends?, track.id.as_str()));
    [flight.collect(), words.collect(), music.collect()]
}

fn flown(told: &Told) -> Lanes {
    let (folded, show) = (&told.went.folded, told.show);
    let begun = folded
        .session
        .moments()
        .figures
        .iter()
        .filter(|times| !times.held);
    let flight = begun.filter_map(|times| {
        let until = times.end().min(folded.end);
        (times.start() < until).then(|| Bar {
            from: times.start().s(),
            until: until.s(),
            name: told.name_of(&times.key).to_owned(),
        })
    });
    let words = folded.spoken.iter().filter_map(|spoken| {
        let id = show.blocks.get(spoken.block)?.id.as_str();
        bar(spoken.from, spoken.until?, id)
    });
    let music = told.went.sounded.iter();
    let music = music.filter_map(|s| bar(s.from, s.from + s.lasted, told.track(s.track)));
    [flight.collect(), words.collect(), music.collect()]
}

fn bar(from: Instant, until: Instant, name: &str) -> Option<Bar> {
    (until > from).then(|| Bar {
        from: from.s(),
        until: until.s(),
        name: name.to_owned(),
    })
}

/// One line; gives where it ends.
fn stave(
    told: &Told,
    programme: &Programme,
    lanes: [&Lanes; 2],
    [from, until]: [f64; 2],
    time: &Scale,
    top: f64,
    drawing: &mut Drawing,
) -> f64 {
    let axis = top + 3.0 * LANE + 4.0;
    let below = axis + AXIS;
    let bottom = below + 3.0 * LANE;
    for s in programme.ticks([from, until], 60.0 / time.pixels_per()) {
        let x = time.at(s);
        drawing.grid([x, top], [x, bottom]);
        if x < WIDE - MARGIN - 25.0 {
            drawing.text(
                [x, axis + 14.0],
                Side::Over,
                SMALL,
                &programme.tick_label(s),
            );
        }
    }
    for (half, lanes) in lanes.into_iter().enumerate() {
        for (row, bars) in lanes.iter().enumerate() {
            // Flight is nearest to the axis on both sides of it.
            let y = if half == 0 {
                axis - LANE * (row as f64 + 1.0) - 2.0
            } else {
                below + LANE * row as f64
            };
            drawing.text([MARGIN, y + 14.0], Side::From, SMALL, LANES[row]);
            for bar in bars
                .iter()
                .filter(|bar| bar.until > from && bar.from < until)
            {
                draw(bar, [from, until], half, time, y, drawing);
            }
        }
    }
    let what = [("planned", top - 1.0), ("flown", bottom + 11.0)];
    for (text, y) in what {
        drawing.text([WIDE - MARGIN, y + 2.0], Side::Until, SMALL, text);
    }
    links(told, [from, until], time, [axis - 2.0, below], drawing);
    bottom + 34.0
}

/// A bar, as far as it is on its line; planned ones are white, flown ones dotted.
fn draw(
    bar: &Bar,
    [from, until]: [f64; 2],
    half: usize,
    time: &Scale,
    y: f64,
    drawing: &mut Drawing,
) {
    let [left, right] = [bar.from.max(from), bar.until.min(until)].map(|s| time.at(s));
    let area = Area {
        left,
        top: y,
        wide: right - left,
        high: LANE - 3.0,
    };
    let fill = if half == 0 {
        None
    } else {
        Some(Fill::Plain("#e4e4e4"))
    };
    drawing.area(area, fill, Some(Pen::solid(INK, 0.8)));
    let room = area.wide - 8.0;
    if room > label_size("…", SMALL).0 {
        let text = fitted(&bar.name, SMALL, room);
        drawing.text([left + 4.0, y + 12.5], Side::From, SMALL, &text);
    }
}

/// From each pass as planned to the same as flown.
fn links(
    told: &Told,
    [from, until]: [f64; 2],
    time: &Scale,
    [above, below]: [f64; 2],
    drawing: &mut Drawing,
) {
    let passes = told
        .went
        .points
        .iter()
        .filter(|flown| matches!(flown.point, PointName::Abeam(_)));
    for flown in passes {
        let Some(planned) = flown.planned else {
            continue;
        };
        let on = |at: Instant| (from..=until).contains(&at.s());
        if !on(planned) || !on(flown.at) {
            continue;
        }
        let [a, b] = [planned, flown.at].map(|at| time.at(at.s()));
        let pen = match flown.how {
            How::Marked | How::Logged => Pen::solid(INK, 1.5),
            _ => Pen::dashed(FAINT, 1.5),
        };
        drawing.line(&[[a, above], [b, below]], pen);
        drawing.marker(Marker::Triangle, [b, below + 3.0], 3.5, INK);
        drawing.marker(Marker::Circle, [a, above - 1.0], 3.0, INK);
    }
}

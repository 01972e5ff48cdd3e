//! The card for when every computer is dead: when to start and fade each track, by a stop-watch that is
//! started as the aircraft goes inbound.

use maud::{Markup, html};

use super::planned::{self, Planned, signed};
use crate::pictures::programme::{Part, point_name};
use crate::show::{PointName, TimeExpression};
use crate::timeline::CueTime;
use crate::units::{Instant, Span};

/// Letters a card may be set in.
struct Size {
    class: &'static str,
    /// How high the head of a part is, a row without its lines, and a line, mm.
    head: f64,
    row: f64,
    line: f64,
    /// How many letters go on a line.
    letters: usize,
}

/// From large to small, as `sheet.css` sets them.
const SIZES: [Size; 4] = [
    Size {
        class: "roomy",
        head: 10.1,
        row: 2.2,
        line: 5.9,
        letters: 62,
    },
    Size {
        class: "close",
        head: 9.0,
        row: 2.2,
        line: 4.9,
        letters: 75,
    },
    Size {
        class: "tight",
        head: 6.5,
        row: 0.8,
        line: 3.95,
        letters: 92,
    },
    Size {
        class: "tiny",
        head: 5.9,
        row: 0.8,
        line: 3.45,
        letters: 104,
    },
];
/// What the page has for the parts when the title is one line, and what each line of the title takes, mm.
const PAGE: f64 = 178.0;
const TITLE_LINE: f64 = 9.0;
const TITLE_LETTERS: usize = 40;

/// What is done by one running of the watch.
struct Watch<'a> {
    /// The figure whose inbound starts it; `None`: show zero does.
    part: Option<&'a Part<'a>>,
    zero: Instant,
    rows: Vec<Row>,
}

/// Something to do, or to be seen.
struct Row {
    at: Instant,
    text: Markup,
    done: bool,
}

/// The card.
pub(super) fn card(planned: &Planned) -> Markup {
    let watches = watches(planned);
    let title = planned.show.title.chars().count() / TITLE_LETTERS;
    let room = PAGE - TITLE_LINE * title as f64;
    let fits = |size: &&Size| size.high(&watches) <= room;
    let [.., smallest] = &SIZES;
    let size = SIZES.iter().find(fits).unwrap_or(smallest);
    html! {
        p.note {
            "Start the watch at the instant each part is headed by, and begin each track when the watch says so. "
            "What stands before zero goes by the clock. Everything is as planned for this wind; the abeam says "
            "how long the run-in should take. On a knock-it-off fade everything."
        }
        div class=(size.class) {
            @if !watches.is_empty() { (table(planned, &watches)) }
            (others(planned))
        }
    }
}

impl Size {
    /// How high all parts are, mm.
    fn high(&self, watches: &[Watch]) -> f64 {
        let row = |row: &Row| {
            let lines = letters(&row.text).div_ceil(self.letters);
            self.row + self.line * lines as f64
        };
        let part = |watch: &Watch| self.head + watch.rows.iter().map(row).sum::<f64>();
        watches.iter().map(part).sum()
    }
}

/// How many letters are seen of some markup.
fn letters(markup: &Markup) -> usize {
    let pieces = markup.0.split('<');
    let seen = pieces.map(|piece| piece.split_once('>').map_or(piece, |(_, seen)| seen));
    seen.map(|seen| seen.chars().count()).sum()
}

/// The figures whose inbound starts a track, in order of time, and show zero for the rest.
fn watches<'a>(planned: &'a Planned<'a>) -> Vec<Watch<'a>> {
    let mut watches: Vec<Watch<'a>> = Vec::new();
    for i in 0..planned.show.tracks.len() {
        let Some(starts) = played_at(planned, i) else {
            continue;
        };
        let part = hangs_on(planned, i);
        let zero = part.and_then(inbound).unwrap_or(Instant::ZERO);
        let same =
            |watch: &&mut Watch| watch.part.map(|part| part.number) == part.map(|part| part.number);
        let rows = rows(planned, i, starts);
        match watches.iter_mut().find(same) {
            Some(watch) => watch.rows.extend(rows),
            None => watches.push(Watch {
                part,
                zero,
                rows: rows.into_iter().chain(passes(part)).collect(),
            }),
        }
    }
    for watch in &mut watches {
        watch.rows.sort_by_key(|row| row.at);
    }
    watches.sort_by_key(|watch| watch.zero);
    watches
}

/// When a track starts, if it is played at a time.
fn played_at(planned: &Planned, i: usize) -> Option<Instant> {
    let laid = &planned.plan.layout.tracks[i];
    let left_out = laid.meeting.is_some_and(|meeting| meeting.left_out);
    laid.starts.instant().filter(|_| !left_out)
}

/// The figure a track is started by, if it has an inbound.
fn hangs_on<'a>(planned: &'a Planned<'a>, i: usize) -> Option<&'a Part<'a>> {
    let track = &planned.show.tracks[i];
    let meets = track.meets.as_ref().map(|meet| &meet.on);
    let time: &TimeExpression = meets.or(track.starts.as_ref())?;
    let part = planned.part_of(planned.show.figure_of(time)?)?;
    inbound(part).map(|_| part)
}

/// For a track that show zero starts: the last inbound before it, and how long after that it starts.
fn since<'a>(planned: &'a Planned<'a>, i: usize, starts: Instant) -> Option<(&'a Part<'a>, Span)> {
    let parts = planned.programme.parts.iter();
    let before = parts.filter_map(|part| Some((part, starts - inbound(part)?)));
    let last = before
        .filter(|(_, after)| *after >= Span::ZERO)
        .min_by_key(|(_, after)| *after);
    last.filter(|_| hangs_on(planned, i).is_none())
}

fn inbound(part: &Part) -> Option<Instant> {
    part.times
        .expected(&PointName::Inbound)
        .map(|expected| expected.at)
}

/// What is done about a track: start it, fade it.
fn rows(planned: &Planned, i: usize, starts: Instant) -> Vec<Row> {
    let (track, laid) = (&planned.show.tracks[i], &planned.plan.layout.tracks[i]);
    let level = track
        .level
        .map_or_else(|| "level as it is".into(), planned::level);
    let start = Row {
        at: starts,
        done: true,
        text: html! {
            strong { "Start " (track.id) } " (" (track.file) ") from " (laid.entry.clock(1)) ", " (level)
            @if track.fade_in > Span::ZERO { ", fade in " (track.fade_in) }
            @if let Some((part, after)) = since(planned, i, starts) {
                "; " strong { (signed(after, 1)) " from " (part.numbered()) " inbound" }
            }
            @if let Some((meet, falls)) = track.meets.as_ref().zip(planned.hit_falls(i)) {
                "; " (meet.hit) " comes " ((falls - starts).clock(1)) " later, on " (planned.said(&meet.on))
            }
        },
    };
    let fade = laid.fades.map(|at| Row {
        at,
        done: true,
        text: html! { strong { "Fade " (track.id) } " over " (track.fade_out) },
    });
    std::iter::once(start).chain(fade).collect()
}

/// The passes of a figure, to be seen.
fn passes(part: Option<&Part>) -> Vec<Row> {
    let points = part.into_iter().flat_map(|part| &part.times.points);
    let passes = points.filter(|(point, _)| matches!(point, PointName::Abeam(_)));
    passes
        .map(|(point, expected)| Row {
            at: expected.at,
            done: false,
            text: html! { (point_name(point)) },
        })
        .collect()
}

fn table(planned: &Planned, watches: &[Watch]) -> Markup {
    html! {
        table.watch {
            caption { "Music by the stop-watch" }
            thead { tr {
                th scope="col" { "Watch" }
                th scope="col" { "Do" }
                th scope="col" { "Planned" }
            } }
            @for watch in watches { tbody {
                tr.zero {
                    th scope="rowgroup" colspan="2" { "Watch from " strong { (zero(planned, watch)) } }
                    td.number { (planned.clock(watch.zero)) }
                }
                @for row in &watch.rows {
                    tr class=(if row.done { "do" } else { "see" }) {
                        th scope="row" { (signed(row.at - watch.zero, 1)) }
                        td { (row.text) }
                        td.number { (planned.clock(row.at)) }
                    }
                }
            } }
        }
    }
}

/// What starts the watch.
fn zero(planned: &Planned, watch: &Watch) -> String {
    match (watch.part, &planned.show.zero) {
        (Some(part), _) => format!("{} inbound", part.numbered()),
        (None, Some(zero)) => format!("show zero, {}", planned.said(zero)),
        (None, None) => "show zero".into(),
    }
}

/// Tracks that no watch starts.
fn others(planned: &Planned) -> Markup {
    let tracks = planned.show.tracks.iter().zip(&planned.plan.layout.tracks);
    let by_hand: Vec<String> = tracks
        .filter(|(_, laid)| laid.starts == CueTime::Free)
        .map(|(track, _)| format!("{} ({})", track.id, track.file))
        .collect();
    html! {
        @if !by_hand.is_empty() { p.note { "Whenever it is wanted: " (by_hand.join(", ")) "." } }
    }
}

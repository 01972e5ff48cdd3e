//! The cue sheet beside a mix: what is when, by the show, by the clock and in the file.

use std::sync::Arc;

use super::super::opened::Opened;
use super::tape::Tape;
use super::voice::SpokenBlock;
use crate::live::offline::sounds;
use crate::show::PointName;
use crate::sound::Media;
use crate::timeline::clock::told;
use crate::units::{Instant, Span};

const HEAD: [&str; 7] = [
    "file_s", "show_s", "show", "clock", "timecode", "cue", "what",
];

/// A line of the sheet.
pub struct Row {
    at: Instant,
    cue: String,
    what: String,
}

/// Everything that has an instant, in order of time; words that are `spoken` in the mix as long as that takes.
pub fn rows(opened: &Opened, media: &[Option<Arc<Media>>], spoken: &[SpokenBlock]) -> Vec<Row> {
    let mut rows = track_rows(opened, media);
    rows.extend(spoken_rows(opened, spoken));
    rows.extend(flown_rows(opened));
    rows.sort_by_key(|row| row.at);
    rows
}

fn row(at: Instant, cue: &str, what: impl Into<String>) -> Row {
    Row {
        at,
        cue: cue.into(),
        what: what.into(),
    }
}

fn track_rows(opened: &Opened, media: &[Option<Arc<Media>>]) -> Vec<Row> {
    let mut rows = Vec::new();
    let laid = opened.plan.layout.tracks.iter().zip(media);
    for (track, (laid, media)) in opened.show.tracks.iter().zip(laid) {
        let Some((start, end)) = media.as_ref().and_then(|media| sounds(laid, media)) else {
            continue;
        };
        rows.push(row(start, track.id.as_str(), "track starts"));
        for (hit, place) in &track.hits {
            if let Some(at) = laid.course.reaches(*place).map(|after| start + after)
                && at < end
            {
                rows.push(row(at, track.id.as_str(), format!("hit {hit}")));
            }
        }
        if let Some(fades) = laid.fades {
            rows.push(row(fades, track.id.as_str(), "track fades"));
        }
        rows.push(row(end, track.id.as_str(), "track ends"));
    }
    rows
}

fn spoken_rows(opened: &Opened, spoken: &[SpokenBlock]) -> Vec<Row> {
    let (show, layout) = (&opened.show, &opened.plan.layout);
    let blocks = show.blocks.iter().zip(&layout.blocks);
    let blocks = blocks.filter_map(|(block, laid)| {
        let planned = (laid.starts.instant()?, laid.ends?);
        let spoken = spoken.iter().find(|spoken| block.id == *spoken.block);
        let (starts, ends) = spoken.map_or(planned, |spoken| {
            (
                Instant::from_s(spoken.start_s),
                Instant::from_s(spoken.end_s),
            )
        });
        let id = block.id.as_str();
        Some([row(starts, id, "words begin"), row(ends, id, "words end")])
    });
    let silences = layout.silences.iter().filter_map(|(from, until)| {
        let from = row(from.instant()?, "silence", "begins");
        Some([from, row(until.instant()?, "silence", "ends")])
    });
    let calls = show.calls.iter().zip(&layout.calls);
    let calls = calls.filter_map(|(call, at)| {
        Some(row(
            at.instant()?,
            call.id.as_str(),
            format!("call: {}", call.text),
        ))
    });
    blocks.chain(silences).flatten().chain(calls).collect()
}

fn flown_rows(opened: &Opened) -> Vec<Row> {
    let figures = opened.plan.moments.figures.iter();
    let points = figures.flat_map(|figure| {
        let points = figure.points.iter();
        points.filter_map(|(point, expected)| {
            let wanted = matches!(point, PointName::Inbound | PointName::Abeam(_));
            wanted.then(|| row(expected.at, figure.key.as_str(), point.to_string()))
        })
    });
    points.collect()
}

fn cells(tape: &Tape, row: &Row) -> [String; 7] {
    let show = &tape.opened.show;
    // A silence between two times of a second is told to the thousandth.
    let s = |span: Span| format!("{:.3}", span.s());
    [
        s(row.at - tape.zero),
        s(row.at - Instant::ZERO),
        row.at.to_string(),
        show.start.map_or(String::new(), |_| told(show, row.at)),
        tape.label(row.at).unwrap_or_default(),
        row.cue.clone(),
        row.what.clone(),
    ]
}

/// The sheet as comma-separated values (RFC 4180).
pub fn csv(tape: &Tape, rows: &[Row]) -> String {
    let quoted = |cell: String| {
        if cell.contains([',', '"', '\n', '\r']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell
        }
    };
    let line = |cells: [String; 7]| cells.map(quoted).join(",") + "\r\n";
    let head = line(HEAD.map(str::to_owned));
    head + &rows
        .iter()
        .map(|row| line(cells(tape, row)))
        .collect::<String>()
}

/// The sheet as a page to read.
pub fn markdown(tape: &Tape, rows: &[Row]) -> String {
    let line = |cells: [String; 7]| {
        let cells = cells.map(|cell| cell.replace('|', "\\|").replace('\n', " "));
        format!("| {} |\n", cells.join(" | "))
    };
    let heads = [
        "in the file, s",
        "show, s",
        "show",
        "clock",
        "timecode",
        "cue",
        "what",
    ];
    let mut text = format!("# {}\n\n", tape.opened.show.title);
    text += "Planned times: on the day the aircraft decides.\n\n";
    text += &line(heads.map(str::to_owned));
    text += &line(["---:", "---:", "---:", "---", "---", "---", "---"].map(str::to_owned));
    text + &rows
        .iter()
        .map(|row| line(cells(tape, row)))
        .collect::<String>()
}

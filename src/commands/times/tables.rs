//! The times of a show as people read them: one table after another.

use super::super::opened::Opened;
use super::{MeetRow, Report};
use crate::commands::table::table;
use crate::flight::left_out;
use crate::units::Instant;

/// The report as people read it.
pub(super) fn tables(report: &Report, opened: &Opened) -> String {
    let heading = format!(
        "{}, profile {}; ± one standard deviation, s\n",
        report.title, report.profile
    );
    [
        heading,
        figure_table(report, opened),
        part_table(report),
        block_table(report),
        track_table(report, opened),
        call_table(report),
        silence_table(report),
    ]
    .into_iter()
    .filter(|text| !text.is_empty())
    .collect::<Vec<_>>()
    .join("\n")
}

fn figure_table(report: &Report, opened: &Opened) -> String {
    let rows = report.figures.iter().map(|figure| {
        let abeams = figure.abeam_s.iter().zip(&figure.abeam_spread_s);
        [
            figure.id.clone(),
            within(figure.start_s, figure.start_spread_s),
            maybe_within(figure.inbound_s, figure.inbound_spread_s),
            list(abeams.map(|(s, spread)| within(*s, *spread))),
            list(figure.heard_s.iter().map(|s| clock(*s))),
            within(figure.end_s, figure.end_spread_s),
        ]
    });
    let head = ["figure", "start", "inbound", "abeam", "heard", "end"];
    let left_out = left_out(&opened.show, &opened.profile);
    let notes = left_out
        .iter()
        .map(|(figure, why)| format!("{}: left out, {why}\n", figure.id));
    table(head, rows) + &notes.collect::<String>()
}

/// Where aircraft of a figure part, what each part comes to by itself: `FIGURE.AIRCRAFT.abeam` in the document.
fn part_table(report: &Report) -> String {
    let parted = report
        .figures
        .iter()
        .filter(|figure| figure.parts.len() > 1);
    let rows = parted.flat_map(|figure| {
        figure.parts.iter().map(|part| {
            let abeams = part.abeam_s.iter().zip(&part.abeam_spread_s);
            [
                figure.id.clone(),
                part.aircraft.join(" "),
                list(abeams.map(|(s, spread)| within(*s, *spread))),
                list(part.heard_s.iter().map(|s| clock(*s))),
                maybe(figure.crosses_s),
                within(part.end_s, part.end_spread_s),
            ]
        })
    });
    table(
        ["figure", "aircraft", "abeam", "heard", "cross", "end"],
        rows,
    )
}

fn block_table(report: &Report) -> String {
    let rows = report.blocks.iter().map(|block| {
        let slack = block.slack_s;
        let chance = block.choice.chance;
        [
            block.id.clone(),
            maybe_within(block.start_s, block.start_spread_s),
            maybe(block.end_s),
            slack.map_or_else(|| "-".into(), |s| format!("{s:.1} s")),
            chance.map_or_else(|| "-".into(), |chance| format!("{:.0} %", chance * 100.0)),
            block.choice.version.into(),
        ]
    });
    let head = ["block", "start", "end", "slack", "chance", "version"];
    let notes = report.blocks.iter().filter_map(|block| {
        let because = block.choice.because.as_ref()?;
        Some(format!("{}: {because}\n", block.id))
    });
    table(head, rows) + &notes.collect::<String>()
}

fn track_table(report: &Report, opened: &Opened) -> String {
    let tracks = report.tracks.iter().zip(&opened.show.tracks);
    let rows = tracks.map(|(track, of)| {
        let made = |said: fn(&MeetRow) -> String| track.meet.as_ref().map_or("-".into(), said);
        let meets = of.meets.as_ref().map(|meet| meet.on.anchor.to_string());
        [
            track.id.clone(),
            maybe_within(track.start_s, track.start_spread_s),
            maybe(track.hit_s),
            maybe(track.end_s),
            made(|meet| meet.rounds.to_string()),
            made(|meet| format!("{:.3}", meet.rate)),
            made(|meet| format!("{:.2} s", meet.miss_s)),
            meets.unwrap_or_else(|| "-".into()),
        ]
    });
    let head = [
        "track", "start", "hit", "end", "bars", "rate", "miss", "meets",
    ];
    table(head, rows)
}

fn call_table(report: &Report) -> String {
    let rows = report.calls.iter();
    table(
        ["call", "at"],
        rows.map(|call| [call.id.clone(), maybe_within(call.at_s, call.spread_s)]),
    )
}

fn silence_table(report: &Report) -> String {
    let rows = report.silences.iter().enumerate();
    let rows = rows.map(|(i, silence)| {
        [
            (i + 1).to_string(),
            maybe_within(silence.start_s, silence.start_spread_s),
            maybe_within(silence.end_s, silence.end_spread_s),
        ]
    });
    table(["silence", "start", "end"], rows)
}

fn clock(s: f64) -> String {
    Instant::from_s(s).to_string()
}

fn maybe(s: Option<f64>) -> String {
    s.map_or_else(|| "-".into(), clock)
}

/// A time and its spread: `2:27.4 ±6.3`.
fn within(s: f64, spread_s: f64) -> String {
    format!("{} ±{spread_s:.1}", clock(s))
}

fn maybe_within(s: Option<f64>, spread_s: Option<f64>) -> String {
    match (s, spread_s) {
        (Some(s), Some(spread_s)) => within(s, spread_s),
        _ => maybe(s),
    }
}

fn list(times: impl Iterator<Item = String>) -> String {
    let times: Vec<String> = times.collect();
    if times.is_empty() {
        "-".into()
    } else {
        times.join(" ")
    }
}

//! `abeam times`: every figure, block and track of a show on one clock.

use clap::Args;
use serde::Serialize;

use super::opened::{FaultRow, Opened, ShowArgs, fault_rows, print_faults};
use super::{Failure, print, print_json};
use crate::flight::FlownFigure;
use crate::show::{Name, PointName};
use crate::timeline::{FigureTimes, Version};
use crate::units::{Instant, Span};

/// Says when everything happens, for the day's wind and temperature
#[derive(Debug, Args)]
pub struct Times {
    #[command(flatten)]
    show: ShowArgs,
    /// One JSON object instead of tables
    #[arg(long)]
    json: bool,
}

/// Times are seconds after show zero.
#[derive(Serialize)]
struct Report {
    title: String,
    profile: String,
    figures: Vec<FigureRow>,
    blocks: Vec<BlockRow>,
    tracks: Vec<TrackRow>,
    calls: Vec<CallRow>,
    silences: Vec<SilenceRow>,
    faults: Vec<FaultRow>,
}

#[derive(Serialize)]
struct FigureRow {
    id: String,
    start_s: f64,
    inbound_s: Option<f64>,
    abeam_s: Vec<f64>,
    abeam_spread_s: Vec<f64>,
    heard_s: Vec<f64>,
    crosses_s: Option<f64>,
    end_s: f64,
    hush_s: Vec<[f64; 2]>,
    /// What its aircraft fly apart from one another; one where they fly as one.
    parts: Vec<PartRow>,
}

#[derive(Serialize)]
struct PartRow {
    aircraft: Vec<String>,
    abeam_s: Vec<f64>,
    end_s: f64,
}

#[derive(Serialize)]
struct BlockRow {
    id: String,
    version: &'static str,
    start_s: Option<f64>,
    end_s: Option<f64>,
    slack_s: Option<f64>,
}

#[derive(Serialize)]
struct TrackRow {
    id: String,
    start_s: Option<f64>,
    hit_s: Option<f64>,
    end_s: Option<f64>,
    meet: Option<MeetRow>,
}

#[derive(Serialize)]
struct MeetRow {
    rounds: u32,
    rate: f64,
    miss_s: f64,
}

#[derive(Serialize)]
struct CallRow {
    id: String,
    at_s: Option<f64>,
}

#[derive(Serialize)]
struct SilenceRow {
    start_s: Option<f64>,
    end_s: Option<f64>,
}

impl Times {
    /// Prints the times; faults go to standard error unless JSON carries them.
    pub fn run(self) -> Result<(), Failure> {
        let opened = self.show.open(self.json)?;
        let report = report(&opened);
        if self.json {
            print_json(&report)?;
        } else {
            print(&tables(&report, &opened))?;
            print_faults(&opened.show.source, &opened.faults);
        }
        if opened.is_faulty() {
            Err(Failure::Faults)
        } else {
            Ok(())
        }
    }
}

fn report(opened: &Opened) -> Report {
    let (show, plan) = (&opened.show, &opened.plan);
    let seconds = |at: Option<Instant>| at.map(Instant::s);
    Report {
        title: show.title.clone(),
        profile: opened.profile.to_string(),
        figures: plan
            .moments
            .figures
            .iter()
            .zip(&plan.flight.figures)
            .map(|(times, flown)| figure_row(times, flown))
            .collect(),
        blocks: show
            .blocks
            .iter()
            .zip(&plan.layout.blocks)
            .map(|(block, laid)| BlockRow {
                id: block.id.to_string(),
                version: match laid.version {
                    Version::Full => "full",
                    Version::Short => "short",
                },
                start_s: seconds(laid.starts.instant()),
                end_s: seconds(laid.ends),
                slack_s: laid.slack.map(|slack| slack.s()),
            })
            .collect(),
        tracks: (0..show.tracks.len())
            .map(|i| track_row(opened, i))
            .collect(),
        calls: show
            .calls
            .iter()
            .zip(&plan.layout.calls)
            .map(|(call, at)| CallRow {
                id: call.id.to_string(),
                at_s: seconds(at.instant()),
            })
            .collect(),
        silences: plan
            .layout
            .silences
            .iter()
            .map(|(from, until)| SilenceRow {
                start_s: seconds(from.instant()),
                end_s: seconds(until.instant()),
            })
            .collect(),
        faults: fault_rows(&show.source, &opened.faults),
    }
}

fn figure_row(figure: &FigureTimes, flown: &FlownFigure) -> FigureRow {
    let instant = |after: Span| figure.instant_of(after).s();
    let abeams: Vec<_> = (1..=u8::MAX)
        .map_while(|n| figure.expected(&PointName::Abeam(n)))
        .collect();
    FigureRow {
        id: figure.key.to_string(),
        start_s: figure.start().s(),
        inbound_s: figure
            .expected(&PointName::Inbound)
            .map(|inbound| inbound.at.s()),
        abeam_s: abeams.iter().map(|abeam| abeam.at.s()).collect(),
        abeam_spread_s: abeams.iter().map(|abeam| abeam.spread.s()).collect(),
        heard_s: (1..=u8::MAX)
            .map_while(|n| figure.expected(&PointName::Heard(n)))
            .map(|heard| heard.at.s())
            .collect(),
        crosses_s: figure.expected(&PointName::Cross).map(|cross| cross.at.s()),
        end_s: figure.end().s(),
        hush_s: figure
            .hush
            .iter()
            .map(|(from, until)| [from.s(), until.s()])
            .collect(),
        parts: flown
            .parts
            .iter()
            .map(|part| PartRow {
                aircraft: part.aircraft.iter().map(Name::to_string).collect(),
                abeam_s: part.abeams.iter().map(|after| instant(*after)).collect(),
                end_s: instant(part.ends),
            })
            .collect(),
    }
}

fn track_row(opened: &Opened, i: usize) -> TrackRow {
    let track = &opened.show.tracks[i];
    let laid = &opened.plan.layout.tracks[i];
    let start = laid.starts.instant();
    let length = opened.plan.facts.track_lengths[i];
    let hit = track.meets.as_ref().map(|meet| meet.hit_at);
    TrackRow {
        id: track.id.to_string(),
        start_s: start.map(Instant::s),
        hit_s: start
            .zip(hit)
            .map(|(start, hit)| (start + (hit - laid.entry)).s()),
        // Without a file nobody knows how long it is.
        end_s: laid.ends.filter(|_| length > Span::ZERO).map(Instant::s),
        meet: laid.meeting.map(|meeting| MeetRow {
            // A meet is made by its start alone: no rounds are added and nothing is bent.
            rounds: 0,
            rate: 1.0,
            miss_s: meeting.miss.s(),
        }),
    }
}

/// The report as people read it.
fn tables(report: &Report, opened: &Opened) -> String {
    let heading = format!("{}, profile {}\n", report.title, report.profile);
    [
        heading,
        figure_table(report),
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

fn figure_table(report: &Report) -> String {
    let head = [
        "figure", "start", "inbound", "abeam", "spread", "heard", "end",
    ];
    let rows = report.figures.iter().map(|figure| {
        let spread = figure.abeam_spread_s.first();
        [
            figure.id.clone(),
            clock(figure.start_s),
            maybe(figure.inbound_s),
            list(&figure.abeam_s),
            spread.map_or_else(|| "-".into(), |s| format!("±{s:.1} s")),
            list(&figure.heard_s),
            clock(figure.end_s),
        ]
    });
    table(head, rows)
}

/// Where aircraft of a figure part, each part's own passes.
fn part_table(report: &Report) -> String {
    let parted = report
        .figures
        .iter()
        .filter(|figure| figure.parts.len() > 1);
    let rows = parted.flat_map(|figure| {
        figure.parts.iter().map(|part| {
            [
                figure.id.clone(),
                part.aircraft.join(" "),
                list(&part.abeam_s),
                maybe(figure.crosses_s),
                clock(part.end_s),
            ]
        })
    });
    table(["figure", "aircraft", "abeam", "cross", "end"], rows)
}

fn block_table(report: &Report) -> String {
    let rows = report.blocks.iter().map(|block| {
        let slack = block.slack_s;
        [
            block.id.clone(),
            maybe(block.start_s),
            maybe(block.end_s),
            slack.map_or_else(|| "-".into(), |s| format!("{s:.1} s")),
            block.version.into(),
        ]
    });
    table(["block", "start", "end", "slack", "version"], rows)
}

fn track_table(report: &Report, opened: &Opened) -> String {
    let tracks = report.tracks.iter().zip(&opened.show.tracks);
    let rows = tracks.map(|(track, of)| {
        let miss = track.meet.as_ref().map(|meet| meet.miss_s);
        let meets = of.meets.as_ref().map(|meet| meet.on.anchor.to_string());
        [
            track.id.clone(),
            maybe(track.start_s),
            maybe(track.hit_s),
            maybe(track.end_s),
            miss.map_or_else(|| "-".into(), |s| format!("{s:.2} s")),
            meets.unwrap_or_else(|| "-".into()),
        ]
    });
    table(["track", "start", "hit", "end", "miss", "meets"], rows)
}

fn call_table(report: &Report) -> String {
    let rows = report.calls.iter();
    table(
        ["call", "at"],
        rows.map(|call| [call.id.clone(), maybe(call.at_s)]),
    )
}

fn silence_table(report: &Report) -> String {
    let rows = report.silences.iter().enumerate();
    let rows = rows.map(|(i, silence)| {
        [
            (i + 1).to_string(),
            maybe(silence.start_s),
            maybe(silence.end_s),
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

fn list(times: &[f64]) -> String {
    match times {
        [] => "-".into(),
        times => times
            .iter()
            .map(|s| clock(*s))
            .collect::<Vec<_>>()
            .join(" "),
    }
}

/// Rows under a head, each column as wide as its widest cell, names to the left and the rest to the
/// right; nothing where there are no rows.
fn table<const N: usize>(head: [&str; N], rows: impl Iterator<Item = [String; N]>) -> String {
    let rows: Vec<[String; N]> = rows.collect();
    if rows.is_empty() {
        return String::new();
    }
    let rows: Vec<[String; N]> = std::iter::once(head.map(str::to_owned))
        .chain(rows)
        .collect();
    let wide = |column: usize| {
        let cells = rows.iter().map(|row| row[column].chars().count());
        cells.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..N).map(wide).collect();
    let mut text = String::new();
    for row in &rows {
        for (i, (cell, width)) in row.iter().zip(&widths).enumerate() {
            if i == 0 {
                text += &format!("{cell:<width$}");
            } else {
                text += &format!("  {cell:>width$}");
            }
        }
        text.push('\n');
    }
    text
}

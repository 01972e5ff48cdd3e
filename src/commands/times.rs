//! `abeam times`: every figure, block and track of a show on one clock.

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::opened::{Choice, FaultRow, Opened, ShowArgs, fault_rows, print_faults};
use super::plot::plot;
use super::{Failure, print, print_json};
use crate::flight::FlownFigure;
use crate::show::{Name, PointName, TimeExpression};
use crate::timeline::spread::time_of_track;
use crate::timeline::{Expected, FigureTimes, spread_of};
use crate::units::{Instant, Span};

/// Says when everything happens, for the day's wind and temperature
#[derive(Debug, Args)]
pub struct Times {
    #[command(flatten)]
    show: ShowArgs,
    /// One JSON object instead of tables
    #[arg(long)]
    json: bool,
    /// Draw the display into this folder as well, as SVG: from above, height and speed, arrivals
    #[arg(long, value_name = "DIR")]
    plot: Option<PathBuf>,
}

/// Times are seconds after show zero, spreads one standard deviation of them before anything is seen.
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
    start_spread_s: f64,
    inbound_s: Option<f64>,
    inbound_spread_s: Option<f64>,
    gates_s: Vec<f64>,
    gates_spread_s: Vec<f64>,
    abeam_s: Vec<f64>,
    abeam_spread_s: Vec<f64>,
    heard_s: Vec<f64>,
    crosses_s: Option<f64>,
    end_s: f64,
    end_spread_s: f64,
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
    #[serde(flatten)]
    choice: Choice,
    start_s: Option<f64>,
    start_spread_s: Option<f64>,
    end_s: Option<f64>,
    slack_s: Option<f64>,
}

#[derive(Serialize)]
struct TrackRow {
    id: String,
    start_s: Option<f64>,
    start_spread_s: Option<f64>,
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
    spread_s: Option<f64>,
}

#[derive(Serialize)]
struct SilenceRow {
    start_s: Option<f64>,
    start_spread_s: Option<f64>,
    end_s: Option<f64>,
    end_spread_s: Option<f64>,
}

impl Times {
    /// Prints the times; faults go to standard error unless JSON carries them.
    pub fn run(self) -> Result<(), Failure> {
        let opened = self.show.open(self.json)?;
        if let Some(folder) = &self.plot {
            plot(&opened, folder)?;
        }
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
    let spread = |time: Option<&TimeExpression>| spread_of(show, &plan.moments, time?).map(Span::s);
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
            .enumerate()
            .map(|(i, (block, laid))| BlockRow {
                id: block.id.to_string(),
                choice: opened.choice(i),
                start_s: seconds(laid.starts.instant()),
                start_spread_s: spread(block.starts.as_ref()),
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
                spread_s: spread(Some(&call.when)),
            })
            .collect(),
        silences: show
            .silences
            .iter()
            .zip(&plan.layout.silences)
            .map(|(silence, (from, until))| SilenceRow {
                start_s: seconds(from.instant()),
                start_spread_s: spread(Some(&silence.from)),
                end_s: seconds(until.instant()),
                end_spread_s: spread(Some(&silence.until)),
            })
            .collect(),
        faults: fault_rows(&show.source, &opened.faults),
    }
}

fn figure_row(figure: &FigureTimes, flown: &FlownFigure) -> FigureRow {
    let instant = |after: Span| figure.instant_of(after).s();
    let all = |point: fn(u8) -> PointName| -> Vec<Expected> {
        let numbered = (1..=u8::MAX).map(point);
        numbered
            .map_while(|point| figure.expected(&point))
            .collect()
    };
    let at = |all: &[Expected]| all.iter().map(|expected| expected.at.s()).collect();
    let spreads = |all: &[Expected]| all.iter().map(|expected| expected.spread.s()).collect();
    // A gate that the run-in does not meet is a fault, and not in the list.
    let gates: Vec<Expected> = (1..=u8::MAX)
        .filter_map(|n| figure.expected(&PointName::Gate(n)))
        .collect();
    let abeams = all(PointName::Abeam);
    let inbound = figure.expected(&PointName::Inbound);
    let spread = |point| figure.expected(&point).map_or(0.0, |e| e.spread.s());
    FigureRow {
        id: figure.key.to_string(),
        start_s: figure.start().s(),
        start_spread_s: spread(PointName::Start),
        inbound_s: inbound.map(|inbound| inbound.at.s()),
        inbound_spread_s: inbound.map(|inbound| inbound.spread.s()),
        gates_s: at(&gates),
        gates_spread_s: spreads(&gates),
        abeam_s: at(&abeams),
        abeam_spread_s: spreads(&abeams),
        heard_s: at(&all(PointName::Heard)),
        crosses_s: figure.expected(&PointName::Cross).map(|cross| cross.at.s()),
        end_s: figure.end().s(),
        end_spread_s: spread(PointName::End),
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
        start_spread_s: time_of_track(track)
            .and_then(|time| spread_of(&opened.show, &opened.plan.moments, time))
            .map(Span::s),
        hit_s: start
            .zip(hit.and_then(|hit| laid.course.reaches(hit)))
            .map(|(start, after)| (start + after).s()),
        // Without a file nobody knows how long it is.
        end_s: laid.ends.filter(|_| length > Span::ZERO).map(Instant::s),
        meet: laid.meeting.map(|meeting| MeetRow {
            rounds: meeting.rounds,
            rate: meeting.rate,
            miss_s: meeting.miss.s(),
        }),
    }
}

/// The report as people read it.
fn tables(report: &Report, opened: &Opened) -> String {
    let heading = format!(
        "{}, profile {}; ± one standard deviation, s\n",
        report.title, report.profile
    );
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
    table(
        ["figure", "start", "inbound", "abeam", "heard", "end"],
        rows,
    )
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
                list(part.abeam_s.iter().map(|s| clock(*s))),
                figure.crosses_s.map_or_else(|| "-".into(), clock),
                clock(part.end_s),
            ]
        })
    });
    table(["figure", "aircraft", "abeam", "cross", "end"], rows)
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
        let miss = track.meet.as_ref().map(|meet| meet.miss_s);
        let meets = of.meets.as_ref().map(|meet| meet.on.anchor.to_string());
        [
            track.id.clone(),
            maybe_within(track.start_s, track.start_spread_s),
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

/// Rows under a head, each column as wide as its widest cell, names to the left and the rest to the
/// right; nothing where there are no rows.
pub(super) fn table<const N: usize>(
    head: [&str; N],
    rows: impl Iterator<Item = [String; N]>,
) -> String {
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

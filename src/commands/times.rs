//! `abeam times`: every figure, block and track of a show on one clock.

mod tables;

use std::path::PathBuf;

use clap::Args;
use serde::Serialize;

use super::opened::{Choice, FaultRow, Opened, ShowArgs, fault_rows, print_faults};
use super::plot::plot;
use super::{Failure, print, print_json};
use crate::flight::{FlownFigure, FlownPart};
use crate::pictures::pictures;
use crate::show::{Name, OwnPoint, PointName, TimeExpression};
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
    abeam_spread_s: Vec<f64>,
    heard_s: Vec<f64>,
    end_s: f64,
    end_spread_s: f64,
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
            plot(&pictures(&opened.show, &opened.plan), folder)?;
        }
        let report = report(&opened);
        if self.json {
            print_json(&report)?;
        } else {
            print(&tables::tables(&report, &opened))?;
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
            .map(|part| part_row(figure, part))
            .collect(),
    }
}

fn part_row(figure: &FigureTimes, part: &FlownPart) -> PartRow {
    let expected = |point: OwnPoint| {
        let aircraft = part.aircraft.first()?;
        figure.expected(&PointName::Own(aircraft.clone(), point))
    };
    let all = |point: fn(u8) -> OwnPoint| -> Vec<Expected> {
        (1..=u8::MAX).map_while(|n| expected(point(n))).collect()
    };
    let (abeams, heard) = (all(OwnPoint::Abeam), all(OwnPoint::Heard));
    let end = expected(OwnPoint::End);
    PartRow {
        aircraft: part.aircraft.iter().map(Name::to_string).collect(),
        abeam_s: abeams.iter().map(|abeam| abeam.at.s()).collect(),
        abeam_spread_s: abeams.iter().map(|abeam| abeam.spread.s()).collect(),
        heard_s: heard.iter().map(|heard| heard.at.s()).collect(),
        end_s: end.map_or(figure.end(), |end| end.at).s(),
        end_spread_s: end.map_or(0.0, |end| end.spread.s()),
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

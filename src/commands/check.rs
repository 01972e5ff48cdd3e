//! `abeam check`: what is wrong with a show.

use std::io::{stderr, stdin};
use std::path::Path;

use clap::Args;
use rayon::prelude::*;
use serde::Serialize;

use super::held::Held;
use super::opened::{Choice, FaultRow, Opened, ShowArgs, fault_rows, print_faults};
use super::read_aloud::{narrator_who_took, time_blocks, to_write, told, write};
use super::{Failure, print, print_json};
use crate::show::{Fault, Severity, Track, VampStep};
use crate::sound::{Level, gauge_through};
use crate::timeline::Way;
use crate::timeline::meet::Means;
use crate::timeline::meet::chances::{Chances, chances};
use crate::units::{Instant, Span};

/// Says what is wrong with a show: words that do not fit, music that misses its meet, a slot overrun
#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    show: ShowArgs,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
    /// Time the narrator: read blocks out at the keyboard, and see what that makes of the fit
    #[arg(long, conflicts_with = "json")]
    read_aloud: bool,
    /// With --read-aloud: write the narrator's rate and spread into the document; its comments stay
    #[arg(long, requires = "read_aloud")]
    write: bool,
}

#[derive(Serialize)]
struct Report {
    title: String,
    profile: String,
    meets: Vec<MeetRow>,
    vamps: Vec<VampRow>,
    blocks: Vec<BlockRow>,
    faults: Vec<FaultRow>,
}

/// Of the arrivals within 5 s of the plan, the share (0 to 1) that a meet makes.
#[derive(Serialize)]
struct MeetRow {
    track: String,
    on: String,
    /// Known just before the track starts.
    made_before_start: f64,
    /// Known just after it has.
    made_while_playing: f64,
}

/// Where the bars are that a track goes round by.
#[derive(Serialize)]
struct VampRow {
    track: String,
    /// "document" or "gauge".
    bars_from: &'static str,
    bar_s: f64,
    first_bar_s: f64,
}

#[derive(Serialize)]
struct BlockRow {
    id: String,
    #[serde(flatten)]
    choice: Choice,
}

/// A block less likely to fit than this is told of.
const UNSURE: f64 = 0.9;

impl Check {
    /// Prints the faults on standard error and a summary on standard output; or both as JSON there.
    pub fn run(self) -> Result<(), Failure> {
        let mut opened = self.show.open(self.json)?;
        if self.read_aloud {
            let write_to = self.write.then_some(&*self.show.show);
            return read_aloud(&opened, self.show.mirrored, write_to);
        }
        let heard = heard_faults(&opened);
        opened.faults.extend(heard);
        let source = &opened.show.source;
        if self.json {
            print_json(&Report {
                title: opened.show.title.clone(),
                profile: opened.profile.to_string(),
                meets: meets(&opened),
                vamps: vamps(&opened),
                blocks: block_rows(&opened),
                faults: fault_rows(source, &opened.faults),
            })?;
        } else {
            print_faults(source, &opened.faults);
            print(
                &(words(&opened)
                    + &summary(&opened)
                    + "\n"
                    + &meets_told(&opened)
                    + &vamps_told(&opened)),
            )?;
        }
        if opened.is_faulty() {
            Err(Failure::Faults)
        } else {
            Ok(())
        }
    }
}

/// The narrator at the keyboard: what to read goes to standard error, what came of it to standard output, and into the
/// document where that is asked.
fn read_aloud(opened: &Opened, mirrored: bool, write_to: Option<&Path>) -> Result<(), Failure> {
    let begun = std::time::Instant::now();
    let now = || Instant::from_us(i64::try_from(begun.elapsed().as_micros()).unwrap_or(i64::MAX));
    let timed = time_blocks(&opened.show, &mut stdin().lock(), now, &mut stderr())
        .map_err(|error| Failure::Outside(format!("the keyboard: {error}")))?;
    let narrator = narrator_who_took(opened, &timed);
    print(&told(opened, mirrored, &timed, narrator.as_ref()))?;
    match (narrator, write_to) {
        (Some(narrator), Some(document)) => print(&write(document, &narrator)?),
        (Some(narrator), None) => print(&to_write(&narrator)),
        (None, _) => Ok(()),
    }
}

/// What is told of tracks only when all of their sound is read: that it is cut short, damaged on the way, or cannot be
/// brought to its level.
fn heard_faults(opened: &Opened) -> Vec<Fault> {
    let lengths = &opened.plan.facts.track_lengths;
    let tracks: Vec<_> = opened
        .show
        .tracks
        .iter()
        .zip(&opened.media)
        .zip(lengths)
        // What cannot be opened at all has been told.
        .filter(|(_, length)| **length > Span::ZERO)
        .filter_map(|((track, file), _)| Some((track, file.as_deref()?)))
        .collect();
    tracks
        .par_iter()
        .flat_map_iter(|(track, file)| heard(track, file))
        .collect()
}

fn heard(track: &Track, file: &Path) -> Vec<Fault> {
    let gauge = match gauge_through(file, &Level::from(track)) {
        Ok(gauge) => gauge,
        Err(error) => {
            let message = format!("\"{}\" cannot be played: {error}", track.id);
            return vec![Fault::error(track.at.clone(), message)];
        }
    };
    let damage = (gauge.lost > Span::ZERO).then(|| {
        let message = format!(
            "\"{}\": {} of it is damaged and will be silent",
            track.id, gauge.lost
        );
        Fault::advice(track.at.clone(), message).help("copy the file again")
    });
    let held = Held::of(track, &gauge).map(|held| held.advice(track));
    damage.into_iter().chain(held).collect()
}

/// Every meet that is planned to be made, and which arrivals it can make.
fn meets(opened: &Opened) -> Vec<MeetRow> {
    let tracks = opened.show.tracks.iter().zip(&opened.plan.layout.tracks);
    let rows = tracks.filter_map(|(track, laid)| {
        let (means, meeting) = (Means::of(track)?, laid.meeting?);
        let way = Way {
            start: meeting.start,
            course: laid.course.clone(),
            left_out: meeting.left_out,
        };
        let Chances { before, playing } = chances(&means, &way, meeting.wanted);
        Some(MeetRow {
            track: track.id.to_string(),
            on: means.meet.on.anchor.to_string(),
            made_before_start: before,
            made_while_playing: playing,
        })
    });
    rows.collect()
}

fn meets_told(opened: &Opened) -> String {
    let meets = meets(opened);
    if meets.is_empty() {
        return String::new();
    }
    let percent = |share: f64| format!("{:.0} %", (share * 100.0).floor());
    let lines = meets.iter().map(|meet| {
        format!(
            "  \"{}\" meets {}: {} known before it starts, {} known once it plays\n",
            meet.track,
            meet.on,
            percent(meet.made_before_start),
            percent(meet.made_while_playing)
        )
    });
    let head = "Of the arrivals within 5 s of the plan each meet makes\n";
    head.to_owned() + &lines.collect::<String>()
}

fn vamps(opened: &Opened) -> Vec<VampRow> {
    let tracks = opened.show.tracks.iter().zip(&opened.gauged);
    let rows = tracks.filter_map(|(track, gauged)| {
        let by_bars = track.vamp.is_some_and(|vamp| vamp.step == VampStep::Bar);
        let bars = track.bars.filter(|_| by_bars)?;
        Some(VampRow {
            track: track.id.to_string(),
            bars_from: if *gauged { "gauge" } else { "document" },
            bar_s: bars.length.s(),
            first_bar_s: bars.first.s(),
        })
    });
    rows.collect()
}

fn vamps_told(opened: &Opened) -> String {
    let lines = vamps(opened).into_iter().map(|vamp| {
        let source = match vamp.bars_from {
            "gauge" => "as they were heard: check the joins by ear",
            _ => "as the document says",
        };
        format!(
            "\"{}\" goes round by bars of {:.3} s, {source}\n",
            vamp.track, vamp.bar_s
        )
    });
    lines.collect()
}

fn block_rows(opened: &Opened) -> Vec<BlockRow> {
    let blocks = opened.show.blocks.iter().enumerate();
    blocks
        .map(|(i, block)| BlockRow {
            id: block.id.to_string(),
            choice: opened.choice(i),
        })
        .collect()
}

/// A line for each block that is not said in full, or that may well not fit.
pub(super) fn words(opened: &Opened) -> String {
    let told = block_rows(opened).into_iter().filter_map(|row| {
        let Choice {
            version,
            chance,
            because,
        } = row.choice;
        let unsure = chance.filter(|chance| *chance < UNSURE);
        if version == "full" && unsure.is_none() {
            return None;
        }
        let text = match version {
            "full" => "full text",
            "short" => "short text",
            version => version,
        };
        let fits = chance.map(|chance| format!("fits {:.0} times in 100", chance * 100.0));
        let parts = std::iter::once(text.to_owned()).chain(fits).chain(because);
        Some(format!(
            "{}: {}\n",
            row.id,
            parts.collect::<Vec<_>>().join("; ")
        ))
    });
    told.collect()
}

fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        0 => format!("no {many}"),
        1 => format!("1 {one}"),
        _ => format!("{count} {many}"),
    }
}

fn summary(opened: &Opened) -> String {
    let show = &opened.show;
    let errors = opened
        .faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .count();
    let advice = opened.faults.len() - errors;
    format!(
        "{}, profile {}: {}, {}, {}; {}, {}",
        show.title,
        opened.profile,
        counted(opened.plan.entries.len(), "figure", "figures"),
        counted(show.blocks.len(), "block", "blocks"),
        counted(show.tracks.len(), "track", "tracks"),
        counted(errors, "error", "errors"),
        counted(advice, "piece of advice", "pieces of advice"),
    )
}

//! `abeam gauge`: how long and loud tracks are, how high they peak, and where their beats lie.

use std::collections::BTreeMap;
use std::io::IsTerminal;
use std::path::PathBuf;

use clap::Args;
use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use serde::Serialize;

use super::{Failure, print, print_json};
use crate::sound::{Pulse, SoundError, Survey, kept_survey};
use crate::units::{Gain, Loudness, Span, Tempo};

/// Measures tracks: length, loudness (EBU R 128), true peak, tempo, beats and bars, silence, clipping.
///
/// What was measured is kept in the user's cache folder, by what is in the file.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Sound files: WAV, AIFF, FLAC, MP3, Ogg Vorbis, M4A, CAF, MKV.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// One JSON object instead of a table, with every beat.
    #[arg(long)]
    json: bool,
}

type Measured = (PathBuf, Result<Survey, SoundError>);

impl Arguments {
    /// Measures the files side by side, reports those that could be read, then fails if any could not.
    pub(super) fn run(self) -> Result<(), Failure> {
        let measured = measure(self.files);
        if self.json {
            print_json(&report(&measured))?;
        } else {
            print(&text(&measured))?;
        }
        let unread: Vec<_> = measured
            .iter()
            .filter_map(|(_, survey)| survey.as_ref().err())
            .collect();
        match unread.as_slice() {
            [] => Ok(()),
            errors => Err(Failure::Outside(lines(errors.iter()))),
        }
    }
}

fn measure(files: Vec<PathBuf>) -> Vec<Measured> {
    let bars = MultiProgress::with_draw_target(if std::io::stderr().is_terminal() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    });
    let folder = cache_folder();
    let measured = files
        .into_par_iter()
        .map(|file| {
            let bar = bars.add(ProgressBar::new(STEPS).with_style(style()));
            bar.set_message(file.display().to_string());
            let survey = kept_survey(&file, &folder, &mut |share| {
                bar.set_position((share * STEPS as f32) as u64);
            });
            bar.finish_and_clear();
            (file, survey)
        })
        .collect();
    // A bar that cannot be cleared is no reason to fail.
    let _ = bars.clear();
    measured
}

/// Where surveys are kept.
pub(super) fn cache_folder() -> PathBuf {
    dirs::cache_dir()
        .unwrap_or_else(std::env::temp_dir)
        .join("abeam")
        .join("surveys")
}

/// Steps of a progress bar.
const STEPS: u64 = 1000;

fn style() -> ProgressStyle {
    ProgressStyle::with_template("{bar:30} {percent:>3} % {msg}")
        .unwrap_or_else(|_| ProgressStyle::default_bar())
}

fn lines<T: ToString>(items: impl Iterator<Item = T>) -> String {
    items
        .map(|item| item.to_string())
        .collect::<Vec<_>>()
        .join("\n")
}

const HEADINGS: [&str; 8] = [
    "length",
    "loudness LUFS",
    "range LU",
    "true peak dBTP",
    "max 0.4 s LUFS",
    "max 3 s LUFS",
    "beats a minute",
    "file",
];

/// The numbers of all files one under another, then what else is to be said of each.
fn text(measured: &[Measured]) -> String {
    let read: Vec<_> = measured
        .iter()
        .filter_map(|(file, survey)| Some((file, survey.as_ref().ok()?)))
        .collect();
    if read.is_empty() {
        return String::new();
    }
    let mut text = table(&read);
    for (file, survey) in read {
        text += &format!("\n{}\n", file.display());
        for (what, words) in remarks(survey) {
            text += &format!("  {what:<12} {words}\n");
        }
    }
    text
}

fn table(read: &[(&PathBuf, &Survey)]) -> String {
    let cells = read.iter().map(|(file, survey)| {
        let gauge = &survey.gauge;
        [
            gauge.duration.clock(1),
            loudness(gauge.integrated),
            level(gauge.range),
            level(gauge.true_peak),
            loudness(gauge.momentary_max),
            loudness(gauge.short_term_max),
            number(survey.pulse.tempo.map(Tempo::bpm)),
            file.display().to_string(),
        ]
    });
    let rows: Vec<_> = std::iter::once(HEADINGS.map(str::to_owned))
        .chain(cells)
        .collect();
    let mut text = String::new();
    for row in &rows {
        let (last, columns) = row.split_last().expect("eight columns");
        for (i, cell) in columns.iter().enumerate() {
            let width = rows
                .iter()
                .map(|row| row[i].chars().count())
                .max()
                .unwrap_or(0);
            text += &format!("{cell:>width$}  ");
        }
        text += last;
        text.push('\n');
    }
    text
}

/// What a technician should know of a file beside its numbers.
fn remarks(survey: &Survey) -> Vec<(&'static str, String)> {
    let edges = &survey.edges;
    let mut remarks = vec![("beats", beats(&survey.pulse))];
    if let Some(bar) = survey.loudest_bar {
        let (from, until) = (bar.from.clock(1), bar.until.clock(1));
        let lufs = loudness(Some(bar.loudness));
        remarks.push(("loudest bar", format!("{from} to {until}, {lufs} LUFS")));
    }
    remarks.push(("silence", silence(survey)));
    remarks.push((
        "clipping",
        match edges.clipped_runs {
            0 => "none".into(),
            1 => format!("in one place, {} samples", edges.clipped_samples),
            runs => format!("in {runs} places, {} samples", edges.clipped_samples),
        },
    ));
    if survey.gauge.lost > Span::ZERO {
        let lost = survey.gauge.lost.s();
        remarks.push(("damage", format!("{lost:.2} s of it is silent")));
    }
    remarks
}

fn silence(survey: &Survey) -> String {
    let edges = &survey.edges;
    if edges.head == survey.gauge.duration {
        return "all of it".into();
    }
    let (head, tail) = (edges.head.s(), edges.tail.s());
    format!("{head:.2} s before, {tail:.2} s after")
}

fn beats(pulse: &Pulse) -> String {
    let (Some(first), Some(last)) = (pulse.beats.first(), pulse.beats.last()) else {
        return "none found".into();
    };
    let (count, from, until) = (pulse.beats.len(), first.clock(1), last.clock(1));
    let mut words = format!("{count}, {from} to {until}");
    if let (Some(bar), Some(beats)) = (pulse.downbeats.first(), usual_metre(pulse)) {
        words += &format!("; mostly {beats} in a bar, the first at {}", bar.clock(2));
    }
    words
}

/// The number of beats that most bars have.
fn usual_metre(pulse: &Pulse) -> Option<usize> {
    let counts = pulse.downbeats.windows(2).map(|bar| {
        let before = |at: Span| pulse.beats.partition_point(|beat| *beat < at);
        before(bar[1]) - before(bar[0])
    });
    let mut bars = BTreeMap::<usize, usize>::new();
    counts.for_each(|beats| *bars.entry(beats).or_default() += 1);
    Some(bars.into_iter().max_by_key(|(_, bars)| *bars)?.0)
}

fn loudness(loudness: Option<Loudness>) -> String {
    number(loudness.map(Loudness::lufs))
}

fn level(level: Option<Gain>) -> String {
    number(level.map(Gain::db))
}

fn number(value: Option<f64>) -> String {
    value.map_or("–".into(), |value| {
        let text = format!("{value:.1}");
        if text == "-0.0" { "0.0".into() } else { text }
    })
}

#[derive(Serialize)]
struct Report {
    files: Vec<FileReport>,
    unread: Vec<Unread>,
}

#[derive(Serialize)]
struct FileReport {
    path: String,
    duration_s: f64,
    sample_rate_hz: u32,
    channels: u16,
    integrated_lufs: Option<f64>,
    momentary_max_lufs: Option<f64>,
    short_term_max_lufs: Option<f64>,
    range_lu: Option<f64>,
    true_peak_dbtp: Option<f64>,
    tempo_bpm: Option<f64>,
    beats_s: Vec<f64>,
    downbeats_s: Vec<f64>,
    loudest_bar: Option<BarReport>,
    silence_head_s: f64,
    silence_tail_s: f64,
    clipped_runs: u64,
    clipped_samples: u64,
    lost_s: f64,
}

#[derive(Serialize)]
struct BarReport {
    from_s: f64,
    until_s: f64,
    lufs: f64,
}

#[derive(Serialize)]
struct Unread {
    path: String,
    reason: String,
}

fn report(measured: &[Measured]) -> Report {
    let mut report = Report {
        files: Vec::new(),
        unread: Vec::new(),
    };
    for (path, survey) in measured {
        let path = path.display().to_string();
        match survey {
            Ok(survey) => report.files.push(file_report(path, survey)),
            Err(error) => report.unread.push(Unread {
                path,
                reason: error.to_string(),
            }),
        }
    }
    report
}

fn file_report(path: String, survey: &Survey) -> FileReport {
    let (gauge, edges, pulse) = (&survey.gauge, &survey.edges, &survey.pulse);
    let seconds = |times: &[Span]| times.iter().map(|at| at.s()).collect();
    FileReport {
        path,
        duration_s: gauge.duration.s(),
        sample_rate_hz: gauge.sample_rate,
        channels: gauge.channels,
        integrated_lufs: gauge.integrated.map(Loudness::lufs),
        momentary_max_lufs: gauge.momentary_max.map(Loudness::lufs),
        short_term_max_lufs: gauge.short_term_max.map(Loudness::lufs),
        range_lu: gauge.range.map(Gain::db),
        true_peak_dbtp: gauge.true_peak.map(Gain::db),
        tempo_bpm: pulse.tempo.map(Tempo::bpm),
        beats_s: seconds(&pulse.beats),
        downbeats_s: seconds(&pulse.downbeats),
        loudest_bar: survey.loudest_bar.map(|bar| BarReport {
            from_s: bar.from.s(),
            until_s: bar.until.s(),
            lufs: bar.loudness.lufs(),
        }),
        silence_head_s: edges.head.s(),
        silence_tail_s: edges.tail.s(),
        clipped_runs: edges.clipped_runs,
        clipped_samples: edges.clipped_samples,
        lost_s: gauge.lost.s(),
    }
}

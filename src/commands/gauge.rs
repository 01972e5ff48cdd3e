//! `abeam gauge`: how loud tracks are, how long, and how high they peak.

use std::io::IsTerminal;
use std::path::PathBuf;

use clap::Args;
use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use serde::Serialize;

use super::{Failure, print, print_json};
use crate::sound::{Gauge, SoundError, gauge_file};
use crate::units::{Gain, Loudness, Span};

/// Measures tracks: length, loudness (EBU R 128), loudness range, true peak.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Sound files: WAV, AIFF, FLAC, MP3, Ogg Vorbis, M4A, CAF, MKV.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// One JSON object instead of a table.
    #[arg(long)]
    json: bool,
}

type Measured = (PathBuf, Result<Gauge, SoundError>);

impl Arguments {
    /// Measures the files side by side, reports those that could be read, then fails if any could not.
    pub(super) fn run(self) -> Result<(), Failure> {
        let measured = measure(self.files);
        if self.json {
            print_json(&report(&measured))?;
        } else {
            print(&table(&measured))?;
        }
        let unread: Vec<_> = measured
            .iter()
            .filter_map(|(_, gauge)| gauge.as_ref().err())
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
    let measured = files
        .into_par_iter()
        .map(|file| {
            let bar = bars.add(ProgressBar::new(STEPS).with_style(style()));
            bar.set_message(file.display().to_string());
            let gauge = gauge_file(&file, &mut |share| {
                bar.set_position((share * STEPS as f32) as u64);
            });
            bar.finish_and_clear();
            (file, gauge)
        })
        .collect();
    // A bar that cannot be cleared is no reason to fail.
    let _ = bars.clear();
    measured
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

const HEADINGS: [&str; 7] = [
    "length",
    "loudness LUFS",
    "range LU",
    "true peak dBTP",
    "max 0.4 s LUFS",
    "max 3 s LUFS",
    "file",
];

fn table(measured: &[Measured]) -> String {
    let read: Vec<_> = measured
        .iter()
        .filter_map(|(file, gauge)| Some((file, gauge.as_ref().ok()?)))
        .collect();
    if read.is_empty() {
        return String::new();
    }
    let rows = read.iter().map(|(file, gauge)| {
        [
            gauge.duration.clock(1),
            loudness(gauge.integrated),
            level(gauge.range),
            level(gauge.true_peak),
            loudness(gauge.momentary_max),
            loudness(gauge.short_term_max),
            file.display().to_string() + &note(gauge),
        ]
    });
    let rows: Vec<[String; 7]> = std::iter::once(HEADINGS.map(str::to_owned))
        .chain(rows)
        .collect();
    let mut text = String::new();
    for row in &rows {
        let (last, columns) = row.split_last().expect("seven columns");
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
fn note(gauge: &Gauge) -> String {
    if gauge.lost > Span::ZERO {
        format!(" (damaged: {:.2} s of it is silent)", gauge.lost.s())
    } else {
        String::new()
    }
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
    lost_s: f64,
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
    for (path, gauge) in measured {
        let path = path.display().to_string();
        match gauge {
            Ok(gauge) => report.files.push(file_report(path, gauge)),
            Err(error) => report.unread.push(Unread {
                path,
                reason: error.to_string(),
            }),
        }
    }
    report
}

fn file_report(path: String, gauge: &Gauge) -> FileReport {
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
        lost_s: gauge.lost.s(),
    }
}

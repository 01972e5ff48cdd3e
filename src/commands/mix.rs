//! `abeam mix`: the soundtrack in a file, at planned times.

mod report;
mod sheet;
mod tape;
mod voice;

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};

use clap::{Args, ValueEnum};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use rayon::prelude::*;
use signal_hook::consts::{SIGHUP, SIGINT, SIGTERM};

use super::opened::{Opened, ShowArgs, print_faults};
use super::{Failure, aside, print, print_json};
use crate::live::offline::{Words, sounds};
use crate::sound::mix::{Depth, Kind};
use crate::sound::timecode::FrameRate;
use crate::sound::{Level, Media};
use crate::units::{Gain, Instant, Loudness, Span};
use report::{Damage, Report};
use tape::{Reel, Tape};
use voice::{SpokenBlock, Voice};

/// Frames a second of what is written.
const RATE: u32 = 48_000;

const CAUTION: &str = "\
CAUTION
  Everything in this file is where it was planned: it follows no aircraft. It is
  for practice, for pictures and as a reserve. No aircraft is to be flown to it;
  on the day `abeam show` lets the music wait for the aircraft.";

/// Writes the whole soundtrack to a file as it is planned: placed, levelled, faded, ducked under the words
#[derive(Debug, Args)]
#[command(after_help = CAUTION, after_long_help = CAUTION)]
pub struct Mix {
    #[command(flatten)]
    show: ShowArgs,
    /// The file to write: a name ending in .wav or .flac; a cue sheet is written beside it
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Bits a sample; 32 is floating point, in a .wav only
    #[arg(long, default_value = "24")]
    bits: Bits,
    /// A file for each track too, as long as the whole: together they are the mix before it is limited
    #[arg(long, value_name = "DIR")]
    stems: Option<PathBuf>,
    /// A third channel with linear timecode: 24, 25, 29.97 (drop frame) or 30 frames a second
    #[arg(long, value_name = "RATE")]
    timecode: Option<FrameRate>,
    /// Speak the script into its gaps, to hear whether it fits; needs espeak-ng
    #[arg(long)]
    voice: bool,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Bits {
    #[value(name = "16")]
    B16,
    #[value(name = "24")]
    B24,
    #[value(name = "32")]
    B32,
}

impl Mix {
    /// Mixes, writes, and says what came of it. A show with faults is mixed as far as it can be, with exit code 1.
    pub(super) fn run(self) -> Result<(), Failure> {
        let kind = self.kind()?;
        let opened = self.show.open(self.json)?;
        print_faults(&opened.show.source, &opened.faults);
        self.spare_tracks(&opened, kind)?;
        self.make_room_for_stems()?;
        let voice = self.voice.then(|| voice::speak(&opened)).transpose()?;
        let (words, spoken) =
            voice.map_or_else(Default::default, |Voice { words, blocks }| (words, blocks));
        let bar = progress_bar();
        let media = load(&opened, &bar)?;
        let (zero, end) = extent(&opened, &media, &words);
        let tape = Tape {
            opened: &opened,
            media: &media,
            words: &words,
            zero,
            frames: ((end - zero).s() * f64::from(RATE)).round() as u64,
            rate: RATE,
            kind,
            depth: self.depth(),
            timecode: self.timecode,
            stopped: asked_to_stop()?,
        };
        if !tape.fits() {
            return Err(Failure::Usage(format!(
                "{} would be longer than a .wav file can be: give it a name ending in .flac",
                self.output.display()
            )));
        }
        let reel = tape.write(&self.output, &bar)?;
        self.write_sheets(&tape, &spoken)?;
        if let Some(folder) = &self.stems {
            tape.write_stems(folder, &bar)?;
        }
        bar.finish_and_clear();
        self.say(&tape, &reel, spoken)?;
        if opened.is_faulty() {
            return Err(Failure::Faults);
        }
        Ok(())
    }

    fn depth(&self) -> Depth {
        match self.bits {
            Bits::B16 => Depth::B16,
            Bits::B24 => Depth::B24,
            Bits::B32 => Depth::Float,
        }
    }

    fn kind(&self) -> Result<Kind, Failure> {
        let kind = Kind::of(&self.output).ok_or_else(|| {
            Failure::Usage(format!(
                "-o {}: write a name ending in .wav or .flac",
                self.output.display()
            ))
        })?;
        if kind == Kind::Flac && self.depth() == Depth::Float {
            return Err(Failure::Usage(
                "--bits 32 is floating point, which a .flac cannot hold: write --bits 24, or a name ending in .wav"
                    .into(),
            ));
        }
        Ok(kind)
    }

    /// Refuses to write over what the show is made of.
    fn spare_tracks(&self, opened: &Opened, kind: Kind) -> Result<(), Failure> {
        let stems = self.stems.iter().flat_map(|folder| {
            let tracks = opened.show.tracks.iter();
            tracks.map(move |track| tape::stem(folder, track.id.as_str(), kind))
        });
        let stems: Vec<PathBuf> = stems.collect();
        if stems.iter().any(|stem| is_same_place(stem, &self.output)) {
            return Err(Failure::Usage(format!(
                "-o {}: that is also the stem of a track: give the mix another name, or the stems another folder",
                self.output.display()
            )));
        }
        for file in std::iter::once(self.output.clone()).chain(stems) {
            let Ok(place) = file.canonicalize() else {
                continue;
            };
            let is_it = |track: &PathBuf| track.canonicalize().is_ok_and(|track| track == place);
            if opened.media.iter().flatten().any(is_it) {
                return Err(Failure::Usage(format!(
                    "{} is a track of the show: write the mix somewhere else",
                    file.display()
                )));
            }
        }
        Ok(())
    }

    /// The folder of the stems, before the long work begins.
    fn make_room_for_stems(&self) -> Result<(), Failure> {
        let Some(folder) = &self.stems else {
            return Ok(());
        };
        std::fs::create_dir_all(folder).map_err(|error| {
            Failure::Outside(format!(
                "--stems {}: {error}: name a folder that can be written",
                folder.display()
            ))
        })
    }

    fn write_sheets(&self, tape: &Tape, spoken: &[SpokenBlock]) -> Result<(), Failure> {
        let rows = sheet::rows(tape.opened, tape.media, spoken);
        let files = [
            (self.sheet("csv"), sheet::csv(tape, &rows)),
            (self.sheet("md"), sheet::markdown(tape, &rows)),
        ];
        for (file, text) in files {
            aside::write(&file, text.as_bytes()).map_err(|error| outside(&file, error))?;
        }
        Ok(())
    }

    /// The cue sheet's file: `lake.flac` has `lake.cues.csv`.
    fn sheet(&self, ending: &str) -> PathBuf {
        self.output.with_extension(format!("cues.{ending}"))
    }

    fn say(&self, tape: &Tape, reel: &Reel, spoken: Vec<SpokenBlock>) -> Result<(), Failure> {
        let (unplayed, held) = (tape.unplayed(), report::held(tape));
        if self.json {
            return print_json(&Report {
                file: self.output.display().to_string(),
                begins_s: tape.zero.s(),
                duration_s: reel.gauge.duration.s(),
                sample_rate_hz: RATE,
                channels: tape.channels(),
                integrated_lufs: reel.gauge.integrated.map(Loudness::lufs),
                true_peak_dbtp: reel.gauge.true_peak.map(Gain::db),
                limited_db: reel.lowest.db().abs(),
                first_timecode: tape.label(tape.zero),
                damaged: tape
                    .damaged()
                    .into_iter()
                    .map(|(track, lost)| Damage {
                        track,
                        lost_s: lost.s(),
                    })
                    .collect(),
                unplayed,
                held,
                spoken,
            });
        }
        let number = |value: Option<f64>| value.map_or("–".into(), |value| format!("{value:.1}"));
        let mut text = format!(
            "{}: {} long, from {} of the show\n  {} LUFS, true peak {} dBTP, limited by {:.1} dB at most\n",
            self.output.display(),
            reel.gauge.duration.clock(1),
            tape.zero,
            number(reel.gauge.integrated.map(Loudness::lufs)),
            number(reel.gauge.true_peak.map(Gain::db)),
            reel.lowest.db().abs(),
        );
        if let Some(label) = tape.label(tape.zero) {
            text += &format!("  timecode on channel 3 from {label}\n");
        }
        for block in spoken {
            text += &report::spoken_told(&block);
        }
        for (id, lost) in tape.damaged() {
            text += &format!("  {lost} of \"{id}\" is damaged and silent: copy its file again\n");
        }
        for held in held {
            text += &format!("  {}\n", held.told());
        }
        for id in unplayed {
            text += &format!("  without \"{id}\", which has no planned time\n");
        }
        print(&text)
    }
}

/// Becomes true when a signal asks for an end, which from here on does not come before what is half written is taken away.
fn asked_to_stop() -> Result<Arc<AtomicBool>, Failure> {
    let stopped = Arc::new(AtomicBool::new(false));
    for signal in [SIGHUP, SIGINT, SIGTERM] {
        signal_hook::flag::register(signal, stopped.clone())
            .map_err(|error| Failure::Outside(format!("signals cannot be attended to: {error}")))?;
    }
    Ok(stopped)
}

/// Whether two files that need not be there have one place: the folders they are in, and their names.
fn is_same_place(a: &Path, b: &Path) -> bool {
    let folder = |file: &Path| {
        let folder = file
            .parent()
            .filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new("."));
        folder
            .canonicalize()
            .unwrap_or_else(|_| folder.to_path_buf())
    };
    a.file_name() == b.file_name() && folder(a) == folder(b)
}

fn outside(file: &Path, error: impl std::fmt::Display) -> Failure {
    Failure::Outside(format!("{}: {error}", file.display()))
}

/// Steps of the progress bar.
const STEPS: u64 = 1_000;
/// The share of the work that loading is, about.
const LOADING: f64 = 0.5;

fn progress_bar() -> ProgressBar {
    let target = if std::io::stderr().is_terminal() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    };
    let style = ProgressStyle::with_template("{bar:30} {percent:>3} % {msg}")
        .unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::with_draw_target(Some(STEPS), target).with_style(style)
}

/// Every track, ready to play; a show whose tracks are not all there has no soundtrack.
fn load(opened: &Opened, bar: &ProgressBar) -> Result<Vec<Option<Arc<Media>>>, Failure> {
    if opened.media.iter().any(Option::is_none) {
        return Err(Failure::Faults);
    }
    let tracks: Vec<_> = opened.show.tracks.iter().zip(&opened.media).collect();
    let done: Vec<AtomicU64> = tracks.iter().map(|_| AtomicU64::new(0)).collect();
    tracks
        .par_iter()
        .zip(&done)
        .map(|((track, file), mine)| {
            let Some(file) = file else {
                return Ok(None);
            };
            let mut progress = |share: f32| {
                mine.store((share * STEPS as f32) as u64, Relaxed);
                let all: u64 = done.iter().map(|done| done.load(Relaxed)).sum();
                bar.set_position((all as f64 / done.len() as f64 * LOADING) as u64);
            };
            Media::load(file, RATE, Level::from(*track), &mut progress)
                .map(|media| Some(Arc::new(media)))
                .map_err(|error| Failure::Outside(error.to_string()))
        })
        .collect()
}

/// From where to where the file reaches, whole seconds: everything that sounds, is said or is flown.
fn extent(opened: &Opened, media: &[Option<Arc<Media>>], words: &[Words]) -> (Instant, Instant) {
    let layout = &opened.plan.layout;
    let tracks = layout.tracks.iter().zip(media);
    let tracks = tracks.filter_map(|(laid, media)| sounds(laid, media.as_ref()?));
    let blocks = layout.blocks.iter();
    let blocks = blocks.filter_map(|block| Some((block.starts.instant()?, block.ends?)));
    let figures = opened.plan.moments.figures.iter();
    let figures = figures.map(|figure| (figure.start(), figure.end()));
    let words = words.iter().map(|words| (words.at, words.ends()));
    let all = tracks.chain(blocks).chain(figures).chain(words);
    let (from, until) = all.fold((Instant::ZERO, Instant::ZERO), |(from, until), (a, b)| {
        (from.min(a), until.max(b))
    });
    let second = |at: Instant, up: bool| {
        let s = if up { at.s().ceil() } else { at.s().floor() };
        Instant::from_s(s)
    };
    (second(from, false), second(until, true) + Span::from_s(1.0))
}

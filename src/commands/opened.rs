//! A show document opened for a verb: loaded, its tracks found, planned for a profile and a day.

mod bars;

use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use serde::Serialize;

use super::{Failure, print_json};
use crate::flight::wind;
use crate::script;
use crate::show::load::{LoadError, Loaded, load};
use crate::show::report::{Look, report};
use crate::show::{Day, Fault, Name, Severity, Show, Source};
use crate::sound;
use crate::timeline::{Facts, Plan, Version, why};
use crate::units::{Share, Span, Temperature};

/// What a verb may say about the show it opens.
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// The show document, a .toml file
    pub show: PathBuf,
    /// The profile flown, instead of the one the document names
    #[arg(long, value_name = "NAME")]
    pub profile: Option<String>,
    /// The wind at every height, instead of the document's: true bearing it blows from, and speed
    #[arg(long, value_name = "240/15kt")]
    pub wind: Option<String>,
    /// Air temperature at the site, instead of the document's
    #[arg(long, value_name = "24 C")]
    pub temperature: Option<String>,
    /// Every figure flown from the other side than the document says
    #[arg(long)]
    pub mirrored: bool,
}

/// A show, planned.
pub struct Opened {
    /// The show.
    pub show: Arc<Show>,
    /// Its plan.
    pub plan: Arc<Plan>,
    /// The profile it is planned for.
    pub profile: Name,
    /// The file of each track, where there is one.
    pub media: Vec<Option<PathBuf>>,
    /// Of each track, whether its bars are what gauging heard; otherwise they are the document's.
    pub gauged: Vec<bool>,
    /// Everything wrong with it, or worth knowing.
    pub faults: Vec<Fault>,
}

impl ShowArgs {
    /// Loads and plans the show. A document with faults has been explained: on standard error, or as the
    /// `faults` of an object on standard output where JSON is wanted.
    pub fn open(&self, json: bool) -> Result<Opened, Failure> {
        let Loaded { mut show, advice } = match load(&self.show) {
            Ok(loaded) => loaded,
            Err(LoadError::Outside(why)) => return Err(Failure::Outside(why)),
            Err(LoadError::Faults(source, faults)) => {
                if json {
                    let faults = fault_rows(&source, &faults);
                    print_json(&Refused { faults })?;
                } else {
                    print_faults(&source, &faults);
                }
                return Err(Failure::Faults);
            }
        };
        let profile = self.profile_of(&show)?;
        let mut faults = advice;
        let day = self.day_of(&show)?;
        let (media, lengths) = find_tracks(&show, &self.show, &mut faults);
        let gauged = bars::gauge_bars(&mut show, &media);
        let facts = Facts {
            readings: script::readings(&show),
            track_lengths: lengths,
        };
        let plan = if self.mirrored {
            Plan::mirrored(&show, &profile, &day, facts)
        } else {
            Plan::new(&show, &profile, &day, facts)
        };
        faults.extend(plan.faults.iter().cloned());
        Ok(Opened {
            show: Arc::new(show),
            plan: Arc::new(plan),
            profile,
            media,
            gauged,
            faults,
        })
    }

    fn profile_of(&self, show: &Show) -> Result<Name, Failure> {
        let Some(wanted) = &self.profile else {
            return Ok(show.profile.clone());
        };
        let names: Vec<&str> = show
            .profiles
            .iter()
            .map(|profile| profile.name.as_str())
            .collect();
        if names.contains(&wanted.as_str()) {
            return Ok(wanted.as_str().into());
        }
        Err(Failure::Usage(format!(
            "the show has no profile \"{wanted}\": write --profile with one of {}",
            names.join(", ")
        )))
    }

    /// The document's day, with what the command line says instead.
    fn day_of(&self, show: &Show) -> Result<Day, Failure> {
        let mut day = show.day.clone();
        if let Some(wind) = &self.wind {
            let wind = wind::read_wind(wind)
                .map_err(|error| Failure::Usage(format!("--wind: {error}")))?;
            day.wind = vec![wind];
            if let Some(report) = &mut day.metar {
                report.gives_wind = false;
            }
        }
        if let Some(temperature) = &self.temperature {
            day.temperature = temperature
                .parse::<Temperature>()
                .map_err(|error| Failure::Usage(format!("--temperature: {error}")))?;
            if let Some(report) = &mut day.metar {
                report.gives_temperature = false;
            }
        }
        Ok(day)
    }
}

impl Opened {
    /// Whether anything is wrong, advice apart.
    pub fn is_faulty(&self) -> bool {
        self.faults
            .iter()
            .any(|fault| fault.severity == Severity::Error)
    }
}

/// A fault in JSON; line and column count from 1, `null` where it has no place in the document.
#[derive(Serialize)]
pub struct FaultRow {
    severity: &'static str,
    message: String,
    help: String,
    line: Option<usize>,
    column: Option<usize>,
}

/// How a block is to be said, in JSON.
#[derive(Serialize)]
pub struct Choice {
    /// "full", "short", "left out".
    pub version: &'static str,
    /// The chance that it is over before it must stop, 0 to 1; `null` where nothing follows.
    pub chance: Option<f64>,
    /// What made a shorter version necessary, or what it runs into.
    pub because: Option<String>,
}

impl Opened {
    /// How the `i`th block is to be said.
    pub fn choice(&self, i: usize) -> Choice {
        let laid = &self.plan.layout.blocks[i];
        Choice {
            version: match laid.version {
                Version::Full => "full",
                Version::Short => "short",
                Version::LeftOut => "left out",
            },
            chance: laid.chance.map(Share::whole),
            because: why(&self.show, &self.plan.moments, &self.plan.layout, i),
        }
    }
}

/// What is printed of a show that cannot be planned.
#[derive(Serialize)]
struct Refused {
    faults: Vec<FaultRow>,
}

/// Faults as JSON has them.
pub fn fault_rows(source: &Source, faults: &[Fault]) -> Vec<FaultRow> {
    let rows = faults.iter().map(|fault| {
        let place = fault.at.as_ref().map(|at| source.line_column(at.start));
        FaultRow {
            severity: match fault.severity {
                Severity::Error => "error",
                Severity::Advice => "advice",
            },
            message: fault.message.clone(),
            help: fault.help.clone(),
            line: place.map(|(line, _)| line),
            column: place.map(|(_, column)| column),
        }
    });
    rows.collect()
}

/// Prints faults on standard error, dressed for where that goes.
pub fn print_faults(source: &Source, faults: &[Fault]) {
    if faults.is_empty() {
        return;
    }
    let terminal = std::io::stderr().is_terminal();
    let no_colour = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let width = crossterm::terminal::size().map_or(80, |(columns, _)| usize::from(columns));
    let text = report(source, faults, Look::suiting(terminal, no_colour), width);
    // Nothing is left to say it on when standard error is closed.
    let _ = write!(std::io::stderr(), "{text}");
}

/// The file and length of each track; what is missing or unreadable is a fault.
fn find_tracks(
    show: &Show,
    document: &Path,
    faults: &mut Vec<Fault>,
) -> (Vec<Option<PathBuf>>, Vec<Span>) {
    let mut files = Vec::new();
    let mut lengths = Vec::new();
    for track in &show.tracks {
        let places = media_places(document, &track.file);
        let file = places.iter().find(|place| place.is_file()).cloned();
        let mut length = Span::ZERO;
        match &file {
            None => faults.push(
                Fault::error(
                    track.at.clone(),
                    format!("\"{}\": there is no file {}", track.id, track.file),
                )
                .help(format!("put it at {}", places[0].display())),
            ),
            Some(path) => match sound::probe(path) {
                Ok(facts) => {
                    length = facts.duration;
                    faults.extend(beyond_end(track, length));
                }
                Err(error) => {
                    let message = format!("\"{}\" cannot be played: {error}", track.id);
                    faults.push(Fault::error(track.at.clone(), message));
                }
            },
        }
        files.push(file);
        lengths.push(length);
    }
    (files, lengths)
}

/// Where a track may be: in `media` beside the document's folder, in `media` in it, or beside the document.
fn media_places(document: &Path, file: &str) -> [PathBuf; 3] {
    let folder = document.parent().unwrap_or(Path::new(""));
    // `cues/show.toml` has its folder's parent at `""`, which is this folder.
    let above = match folder.file_name() {
        Some(_) => folder.parent().unwrap_or(Path::new("")).to_path_buf(),
        None => folder.join(".."),
    };
    [
        above.join("media").join(file),
        folder.join("media").join(file),
        folder.join(file),
    ]
}

/// Hits, entries, vamps, loops and cuts that lie beyond the end of their track.
fn beyond_end(track: &crate::show::Track, length: Span) -> Vec<Fault> {
    let hits = track
        .hits
        .iter()
        .map(|(name, at)| (format!("hit \"{name}\""), *at));
    let entries = track.entries.iter().map(|at| ("an entry".to_owned(), *at));
    let vamp = track
        .vamp
        .iter()
        .map(|vamp| ("its vamp".to_owned(), vamp.to));
    let looped = track.looped.iter();
    let looped = looped.map(|looped| ("its loop".to_owned(), looped.to));
    let cuts = track.cuts.iter().map(|cut| ("a cut".to_owned(), cut.to));
    hits.chain(entries)
        .chain(vamp)
        .chain(looped)
        .chain(cuts)
        .filter(|(_, at)| *at > length)
        .map(|(what, at)| {
            let message = format!(
                "\"{}\": {what} at {} is outside the track, which is {} long",
                track.id,
                at.clock(3),
                length.clock(3)
            );
            Fault::error(track.at.clone(), message)
                .help("a hit, entry, vamp, loop or cut lies inside its track")
        })
        .collect()
}

//! `abeam practice`: a show run as on the day, its aircraft simulated.

mod rows;

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use jiff::Timestamp;

use rows::Rows;

use super::feed::FeedArgs;
use super::opened::{Opened, ShowArgs};
use super::operator::Operator;
use super::show::{CAUTIONS, check_free, header_of, journal_name, state_folder};
use super::{Failure, print, print_json, terminal};
use crate::flight::wind;
use crate::live::clock::{Reading, ShowClock};
use crate::live::journal::{self, Header};
use crate::live::playout::{Output, read_machine_settings, stderr_to};
use crate::live::stage::{From, Stage};
use crate::practice::errors::{Errors, HeldUp, WindError, other_day};
use crate::practice::rehearsal::{BEFORE, Rehearsal};
use crate::practice::{Sky, surprise};
use crate::show::{Anchor, Day, Name, PointName};
use crate::units::{Span, Speed};

/// The slowest and the fastest pace.
const PACES: [f64; 2] = [1.0, 60.0];

/// Practises a show: the same screens, words and music, flown by simulated aircraft
///
/// The aircraft fly as planned but for chance: crews a little fast or slow, holds a little long, a wind that is
/// not the forecast's. What differed is in the report that is printed at the end.
#[derive(Debug, Args)]
#[command(after_long_help = CAUTIONS, after_help = CAUTIONS)]
pub struct Practice {
    #[command(flatten)]
    show: ShowArgs,
    /// Practise one figure by itself, from where it begins; everything before is flown as planned
    #[arg(long, value_name = "FIGURE")]
    figure: Option<String>,
    /// How many times as fast as real the show runs, 1 to 60; music is heard at real speed
    #[arg(long, value_name = "TIMES", default_value_t = 1.0)]
    speed: f64,
    /// Who keys marks and words: you, or the simulator as a narrator would
    #[arg(long, value_enum, default_value_t = Marks::Hand)]
    marks: Marks,
    /// The number that chance is drawn from; the same number flies the same show
    #[arg(long, value_name = "NUMBER")]
    seed: Option<u64>,
    /// Nothing is left to chance: only what is said here differs from the plan
    #[arg(long)]
    as_planned: bool,
    /// So much more headwind than planned on the run-in of the figure practised, or of the first that music meets
    #[arg(
        long,
        value_name = "15kt",
        allow_hyphen_values = true,
        conflicts_with = "real_wind"
    )]
    headwind: Option<Speed>,
    /// The wind as it really is at every height; the show is planned with the document's
    #[arg(long, value_name = "240/15kt")]
    real_wind: Option<String>,
    /// An inbound that is later than it should be
    #[arg(long, value_name = "FIGURE=TIME", value_parser = figure_and_time)]
    late: Vec<(Name, Span)>,
    /// A figure that is not flown
    #[arg(long, value_name = "FIGURE")]
    drop: Vec<String>,
    /// A wait for weather before a figure
    #[arg(long, value_name = "FIGURE=TIME", value_parser = figure_and_time)]
    hold_up: Option<(Name, Span)>,
    /// So many of these three more, drawn by chance and not told before
    #[arg(long, value_name = "HOW MANY", default_value_t = 0)]
    surprises: usize,
    /// Run without sound
    #[arg(long)]
    silent: bool,
    #[command(flatten)]
    feed: FeedArgs,
    /// One JSON object instead of the report, once it is left
    #[arg(long)]
    json: bool,
    /// The journal to write, in place of the last practice's
    #[arg(long, value_name = "FILE")]
    journal: Option<PathBuf>,
}

/// Who keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Marks {
    /// Whoever practises
    Hand,
    /// The simulator
    Auto,
}

/// Reads `memorial=8 s`.
fn figure_and_time(text: &str) -> Result<(Name, Span), String> {
    let (figure, time) = text
        .split_once('=')
        .ok_or("write it as a figure and a time: \"memorial=8 s\"")?;
    let time = time.trim().parse::<Span>().map_err(|e| e.to_string())?;
    Ok((figure.trim().into(), time))
}

impl Practice {
    /// Runs the practice until it is left, then prints what came of it.
    pub(super) fn run(self) -> Result<(), Failure> {
        if !(PACES[0]..=PACES[1]).contains(&self.speed) {
            return Err(Failure::Usage("--speed takes a number from 1 to 60".into()));
        }
        let opened = self.show.open(self.json)?;
        let (errors, day) = self.differences(&opened)?;
        let figure = self
            .figure
            .as_deref()
            .map(|key| entry(&opened, key))
            .transpose()?;
        let told = self.told(&opened, &errors);
        let (path, header) = self.journal_of(&opened)?;
        let output = self.output()?;
        let positions = self.feed.open(&opened, 0.0)?;
        let outside = |error| Failure::Outside(format!("the terminal: {error}"));
        let mut operator = Operator::attend().map_err(outside)?;
        let log = state_folder()?.join("abeam.log");
        let report = {
            // The audio library writes to standard error from the moment the output is opened.
            let _guard = stderr_to(&log).ok();
            let sky = Sky::new(
                &opened.show,
                &opened.plan,
                errors.clone(),
                day,
                figure.clone(),
            );
            let before = opened.plan.moments.begin().min(sky.moments().begin()) - BEFORE;
            let start = figure.as_ref().and_then(|key| sky.flown().start(key));
            let begins = start.unwrap_or(before);
            let clock = ShowClock::new(Reading::now(), begins, 0.0);
            let from = From::Beginning(clock, path.clone(), header.clone());
            let mut stage = Stage::new(
                &opened.show,
                &opened.plan,
                from,
                output,
                opened.media.clone(),
            );
            if let Some(positions) = positions {
                stage.follow(positions);
            }
            let mut rehearsal = Rehearsal::new(stage, sky, (path, header), figure);
            rehearsal.simulate_narrator(self.marks == Marks::Auto);
            terminal::practise(rehearsal, self.speed, &mut operator)
        };
        let report = report.map_err(outside)?;
        if self.json {
            return print_json(&Rows::of(&opened.show, &errors, &told, &report.account));
        }
        print(&format!("{}\n", [told, report.lines].concat().join("\n")))
    }

    /// The machine's output; none for a silent practice.
    fn output(&self) -> Result<Option<Output>, Failure> {
        if self.silent {
            return Ok(None);
        }
        read_machine_settings().map(Some).map_err(Failure::Outside)
    }

    /// What differs from the plan, and the day as it really is.
    fn differences(&self, opened: &Opened) -> Result<(Errors, Day), Failure> {
        let (show, plan) = (&opened.show, &opened.plan);
        let seed = self.seed.unwrap_or_else(|| {
            // Short enough to be typed again.
            Timestamp::now().as_microsecond().unsigned_abs() % 10_000
        });
        let mut errors = if self.as_planned {
            Errors {
                seed,
                ..Errors::none()
            }
        } else {
            Errors::drawn(seed)
        };
        if let Some(headwind) = self.headwind {
            errors.wind = WindError::Stated(self.against(opened, headwind)?);
        }
        for (key, by) in &self.late {
            errors.late.push((entry(opened, key.as_str())?, *by));
        }
        for key in &self.drop {
            errors.dropped.push(entry(opened, key)?);
        }
        if let Some((key, lasts)) = &self.hold_up {
            if self.figure.as_deref() == Some(key.as_str()) {
                return Err(Failure::Usage(format!(
                    "--hold-up: \"{key}\" is practised from where it begins; hold up one after it"
                )));
            }
            errors.held_up = Some(HeldUp {
                before: entry(opened, key.as_str())?,
                lasts: *lasts,
            });
        }
        let from = self.figure.as_deref().map(Name::from);
        surprise::surprise(&mut errors, plan, from.as_ref(), self.surprises);
        let mut day = other_day(&plan.day, &show.site, errors.along());
        if let Some(wind) = &self.real_wind {
            let wind = wind::read_wind(wind)
                .map_err(|error| Failure::Usage(format!("--real-wind: {error}")))?;
            day.wind = vec![wind];
        }
        Ok((errors, day))
    }

    /// A headwind on the run-in of the figure practised as a wind along the line.
    fn against(&self, opened: &Opened, headwind: Speed) -> Result<Speed, Failure> {
        let key = self.run_in(opened)?;
        let figures = &opened.plan.flight.figures;
        let figure = figures.iter().find(|figure| figure.key == key);
        let passes = figure.and_then(|figure| {
            let abeam = |point: &&crate::flight::FlownPoint| point.point == PointName::Abeam(1);
            figure.points.iter().find(abeam)
        });
        match passes.map(|point| point.along.mps()) {
            Some(along) if along != 0.0 => Ok(headwind * -along.signum()),
            _ => Err(Failure::Usage(format!(
                "--headwind: \"{key}\" has no run-in; say --figure with one that passes crowd centre"
            ))),
        }
    }

    /// The figure practised, or else the first that music meets, or the first of all.
    fn run_in(&self, opened: &Opened) -> Result<Name, Failure> {
        if let Some(key) = &self.figure {
            return entry(opened, key);
        }
        let met =
            opened
                .show
                .tracks
                .iter()
                .filter_map(|track| match &track.meets.as_ref()?.on.anchor {
                    Anchor::Point { of, .. } => Some(of.clone()),
                    _ => None,
                });
        let mut flown = met.filter(|of| opened.plan.entries.iter().any(|e| e.key == *of));
        let first = opened.plan.entries.first().map(|entry| entry.key.clone());
        let found = flown.next().or(first);
        found.ok_or_else(|| Failure::Usage("the show flies no figure".into()))
    }

    /// What differed, for the head of the report.
    fn told(&self, opened: &Opened, errors: &Errors) -> Vec<String> {
        let name = |key: &Name| {
            let figure = opened.show.figure(key);
            figure.map_or_else(|| key.to_string(), |figure| figure.name.clone())
        };
        let mut told = vec!["What differed from the plan".to_owned()];
        match (&self.real_wind, self.headwind) {
            (Some(wind), _) => told.push(format!("  wind: {wind} at every height")),
            (None, Some(headwind)) => {
                let run_in = self
                    .run_in(opened)
                    .map_or_else(|_| String::new(), |key| name(&key));
                let word = if headwind < Speed::ZERO {
                    "less"
                } else {
                    "more"
                };
                told.push(format!(
                    "  wind: {:.0} kt {word} headwind on the run-in of {run_in}",
                    headwind.kt().abs()
                ));
            }
            (None, None) if errors.along() != Speed::ZERO => {
                let along = errors.along();
                let side = if along < Speed::ZERO { "left" } else { "right" };
                told.push(format!(
                    "  wind: {:.1} kt more towards the crowd's {side}",
                    along.kt().abs()
                ));
            }
            (None, None) => {}
        }
        for (key, by) in &errors.late {
            told.push(format!("  {}: inbound {:.0} s late", name(key), by.s()));
        }
        for key in &errors.dropped {
            told.push(format!("  {}: not flown", name(key)));
        }
        if let Some(held) = &errors.held_up {
            let lasts = held.lasts.clock(0);
            told.push(format!(
                "  held up for {lasts} before {}",
                name(&held.before)
            ));
        }
        if errors.pilot {
            let seed = errors.seed;
            told.push(format!("  chance: --seed {seed} flies the same again"));
        }
        if told.len() == 1 {
            told.push("  nothing".into());
        }
        told
    }

    /// The journal of the practice, where none of a show on the day is.
    fn journal_of(&self, opened: &Opened) -> Result<(PathBuf, Header), Failure> {
        let path = match &self.journal {
            Some(path) => path.clone(),
            None => practice_folder()?.join(journal_name(opened)),
        };
        check_free(&path)?;
        if path.exists() && !is_of_a_practice(&path) {
            return Err(Failure::Usage(format!(
                "{} is no journal of a practice, and stays as it is: give --journal another name",
                path.display()
            )));
        }
        // A journal left by the last practice has nothing that is gone on with.
        if path.exists() {
            std::fs::remove_file(&path)
                .map_err(|error| Failure::Outside(format!("{}: {error}", path.display())))?;
        }
        let header = Header {
            practice: true,
            ..header_of(opened, &self.show)
        };
        Ok((path, header))
    }
}

/// The entry of the programme that is called so.
fn entry(opened: &Opened, key: &str) -> Result<Name, Failure> {
    let entries = &opened.plan.entries;
    let found = entries.iter().find(|entry| entry.key == *key);
    found.map(|entry| entry.key.clone()).ok_or_else(|| {
        let names: Vec<&str> = entries.iter().map(|entry| entry.key.as_str()).collect();
        Failure::Usage(format!(
            "the programme has no figure \"{key}\": write one of {}",
            names.join(", ")
        ))
    })
}

fn practice_folder() -> Result<PathBuf, Failure> {
    let folder = state_folder()?.join("practice");
    std::fs::create_dir_all(&folder)
        .map_err(|error| Failure::Outside(format!("{}: {error}", folder.display())))?;
    Ok(folder)
}

fn is_of_a_practice(path: &Path) -> bool {
    journal::read(path).is_ok_and(|record| record.header.practice)
}

//! The command line: one file a verb.

mod arrival;
mod aside;
mod check;
mod debrief;
mod facts;
mod feed;
mod gauge;
mod held;
mod mix;
mod new;
mod odds;
mod opened;
mod operator;
mod plot;
mod read_aloud;
mod practice;
mod sheet;
mod show;
mod spotter;
mod table;
mod terminal;
mod times;

use std::io::Write;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use serde::Serialize;

/// Makes a flying display meet its narration and its music.
#[derive(Debug, Parser)]
#[command(name = "abeam", version, about, max_term_width = 100)]
pub struct CommandLine {
    #[command(subcommand)]
    verb: Verb,
}

#[derive(Debug, Subcommand)]
enum Verb {
    Arrival(arrival::Arrival),
    Check(check::Check),
    Debrief(debrief::Debrief),
    Gauge(gauge::Arguments),
    Mix(mix::Mix),
    New(new::New),
    Odds(odds::Arguments),
    Practice(practice::Practice),
    Sheet(sheet::Sheet),
    Show(show::Run),
    Times(times::Times),
}

/// Why a verb did not do its work.
#[derive(Debug)]
pub enum Failure {
    /// The show has faults; they have been printed. Exit code 1.
    Faults,
    /// The command line asks for something that cannot be. Exit code 2.
    Usage(String),
    /// Something outside failed: a file, a device. Exit code 3.
    Outside(String),
}

impl CommandLine {
    /// Runs the verb.
    pub fn run(self) -> Result<(), Failure> {
        match self.verb {
            Verb::Arrival(arrival) => arrival.run(),
            Verb::Check(check) => check.run(),
            Verb::Debrief(debrief) => debrief.run(),
            Verb::Gauge(gauge) => gauge.run(),
            Verb::Mix(mix) => mix.run(),
            Verb::New(new) => new.run(),
            Verb::Odds(odds) => odds.run(),
            Verb::Practice(practice) => practice.run(),
            Verb::Sheet(sheet) => sheet.run(),
            Verb::Show(show) => show.run(),
            Verb::Times(times) => times.run(),
        }
    }
}

/// Prints on standard output.
fn print(text: &str) -> Result<(), Failure> {
    std::io::stdout()
        .write_all(text.as_bytes())
        .map_err(|error| Failure::Outside(format!("standard output: {error}")))
}

/// Prints one JSON object on standard output.
fn print_json(value: &impl Serialize) -> Result<(), Failure> {
    let text =
        serde_json::to_string_pretty(value).map_err(|error| Failure::Outside(error.to_string()))?;
    print(&(text + "\n"))
}

impl Failure {
    /// Says what went wrong on standard error and gives the exit code.
    pub fn report(self) -> ExitCode {
        let (code, message) = match self {
            Failure::Faults => return ExitCode::from(1),
            Failure::Usage(message) => (2, message),
            Failure::Outside(message) => (3, message),
        };
        // Nothing is left to say it on when standard error is closed.
        let _ = writeln!(std::io::stderr(), "abeam: {message}");
        ExitCode::from(code)
    }
}

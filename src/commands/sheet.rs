//! `abeam sheet`: a plan on paper.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::opened::{ShowArgs, print_faults};
use super::{Failure, aside, print};
use crate::sheets::{MARK, Reader, sheet};

/// Prints a show on paper, for whoever reads it: one HTML file that needs nothing but itself, for A4
///
/// Open it in a browser and print it, or save it as PDF: a browser built on Chromium 131 or later numbers
/// the pages and puts the caution at the foot of each.
///
/// CAUTION: timing for words and music only. It is no flight instrument, clears nobody to do anything and
/// must never be used to steer an aircraft towards the music: the music waits for the aircraft. The
/// display director, air traffic control and the crew's own rules decide.
#[derive(Debug, Args)]
pub(super) struct Sheet {
    #[command(flatten)]
    show: ShowArgs,
    /// Who reads it
    #[arg(long = "for", value_name = "READER")]
    reader: ReadBy,
    /// Write it into this file instead of standard output
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ReadBy {
    /// The narrator: the script, when to stop talking, the prepared words
    Stand,
    /// The audio technician: tracks, levels, hits, fades and calls in order of time
    Desk,
    /// The display team: figures, gates, calls, and the run-ins in other winds
    Team,
    /// Whoever starts the music when every computer is dead: tracks by a stop-watch, on one page
    Stopwatch,
}

impl Sheet {
    /// Writes the sheet; a show with faults has them on its sheet and on standard error.
    pub(super) fn run(self) -> Result<(), Failure> {
        let opened = self.show.open(false)?;
        let reader = match self.reader {
            ReadBy::Stand => Reader::Stand,
            ReadBy::Desk => Reader::Desk,
            ReadBy::Team => Reader::Team,
            ReadBy::Stopwatch => Reader::Stopwatch,
        };
        let text = sheet(reader, &opened.show, &opened.plan, &opened.faults);
        match &self.output {
            None => print(&text)?,
            Some(file) if aside::is_of_others(file, MARK) => {
                return Err(Failure::Usage(format!(
                    "{} is there already and is no sheet by abeam: name another file for -o",
                    file.display()
                )));
            }
            Some(file) => aside::write(file, text.as_bytes())
                .map_err(|error| Failure::Outside(format!("{}: {error}", file.display())))?,
        }
        print_faults(&opened.show.source, &opened.faults);
        if opened.is_faulty() {
            Err(Failure::Faults)
        } else {
            Ok(())
        }
    }
}

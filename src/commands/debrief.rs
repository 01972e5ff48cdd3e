//! `abeam debrief`: what really happened, beside the plan.

mod document;
mod logs;
mod rights;
mod rows;
mod text;
mod write;

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;

use super::opened::Opened;
use super::{Failure, aside, print, print_json};
use crate::debrief::fold::{Folded, fold};
use crate::debrief::passed;
use crate::debrief::report::{self, Told};
use crate::debrief::traced::Traced;
use crate::debrief::{Lessons, Went};
use crate::live::journal::{self, Record};
use crate::show::Track;
use crate::sound::{self, Overview};
use crate::units::Span;
use document::Flown;

/// Stretches a second in an outline: two to a column of the page.
const OUTLINE: u32 = 100;

/// Says what really happened in a show, beside the plan, and what the plan could learn from it
///
/// Corrections change the times of the plan, never how anything is flown: the music waits for the aircraft.
#[derive(Debug, Args)]
pub(super) struct Debrief {
    /// The journal of a show; several of one show are learned from together
    #[arg(required = true, value_name = "JOURNAL")]
    journals: Vec<PathBuf>,
    /// The document that was flown; by default the one the journal names, where it lies near
    #[arg(long, value_name = "FILE")]
    show: Option<PathBuf>,
    /// A position log (GPX, NMEA, CSV) and whose it is; as often as there are logs, for one journal
    #[arg(long, value_name = "AIRCRAFT=FILE")]
    track: Vec<String>,
    /// Write the corrections into the document, whose comments and layout stay
    #[arg(long)]
    write: bool,
    /// One JSON object instead of text
    #[arg(long)]
    json: bool,
    /// All of it on one page with pictures, which needs nothing but itself
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// What was played, for returns to rights societies, as CSV
    #[arg(long, value_name = "FILE.csv")]
    rights: Option<PathBuf>,
}

/// A journal and the show it is of.
pub(super) struct Read {
    /// Its name.
    pub name: String,
    /// The show as it was planned.
    pub opened: Opened,
    /// What should be known of it before it is believed.
    pub notes: Vec<String>,
    /// How it went.
    pub went: Went,
    /// What position logs say of it.
    pub traced: Traced,
}

impl Debrief {
    /// Reads the journals, reports, and writes what is asked for.
    pub(super) fn run(self) -> Result<(), Failure> {
        if !self.track.is_empty() && self.journals.len() > 1 {
            return Err(Failure::Usage(
                "position logs are of one show: give --track with one journal".into(),
            ));
        }
        let read = self.read()?;
        let Some(last) = read.last() else {
            return Ok(());
        };
        let went: Vec<&Went> = read.iter().map(|read| &read.went).collect();
        let lessons = Lessons::of(&last.opened.show, &went);
        if self.json {
            print_json(&rows::report(&read, &lessons))?;
        } else {
            say_notes(&read);
            print(&text::report(&read, &lessons))?;
        }
        if let Some(file) = &self.html {
            if aside::is_of_others(file, report::MARK) {
                return Err(Failure::Usage(format!(
                    "{} is there already and is no debrief by abeam: name another file for --html",
                    file.display()
                )));
            }
            let told: Vec<Told> = read.iter().map(told).collect();
            write(file, &report::page(&told, &lessons))?;
        }
        if let Some(file) = &self.rights {
            write(file, &rights::csv(&read))?;
        }
        if self.write {
            let document = Path::new(&*last.opened.show.source.name);
            let done = write::write(document, &lessons.corrections)?;
            // Nothing is left to say it on when standard error is closed.
            let _ = std::io::stderr().write_all(done.as_bytes());
        }
        Ok(())
    }

    /// Every journal with the show it names, folded.
    fn read(&self) -> Result<Vec<Read>, Failure> {
        let mut read: Vec<Read> = Vec::new();
        for path in &self.journals {
            let record = record(path)?;
            // Journals of one debrief are of one document.
            let given = self.show.as_deref().or(read
                .first()
                .map(|read| Path::new(&*read.opened.show.source.name)));
            let Flown { opened, notes } = document::open(path, &record, given, self.json)?;
            let folded = fold(&opened.show, &opened.plan, &record);
            let day = logs::day_of(folded.wall_us);
            let (logs, of_logs) = logs::read(&opened.show, &self.track, day)?;
            let clock = record.first_clock().filter(|_| !logs.is_empty());
            let traced = clock.map_or(Traced::default(), |clock| {
                Traced::of(&opened.show, &folded, clock, &logs)
            });
            let went = Went::of(folded, &record, &passed::logged(&traced.passed));
            let missing = logs::missing(&opened.show, &traced);
            read.push(Read {
                name: path.display().to_string(),
                notes: [
                    notes,
                    of_file(path),
                    of_record(&record, &went),
                    of_logs,
                    missing,
                ]
                .concat(),
                traced,
                opened,
                went,
            });
        }
        Ok(read)
    }
}

fn record(path: &Path) -> Result<Record, Failure> {
    let record = journal::read(path)
        .map_err(|error| Failure::Outside(format!("{}: {error}", path.display())))?;
    if record.first_clock().is_none() {
        return Err(Failure::Outside(format!(
            "{}: the show was never opened, so there is nothing to tell of",
            path.display()
        )));
    }
    Ok(record)
}

/// Sealed files of a journal that were changed after they were sealed.
fn of_file(path: &Path) -> Vec<String> {
    let chain = journal::chain(path).unwrap_or_default();
    let changed = match chain.broken {
        1 => "1 of its files was changed after it was sealed".to_owned(),
        more => format!("{more} of its files were changed after they were sealed"),
    };
    (chain.broken > 0).then_some(changed).into_iter().collect()
}

/// What a journal says of its own worth.
fn of_record(record: &Record, went: &Went) -> Vec<String> {
    let folded = &went.folded;
    let mut notes = Vec::new();
    if folded.torn > 0 {
        notes.push(format!(
            "{} line(s) could not be read and are left out",
            folded.torn
        ));
    }
    if folded.practice {
        notes.push("a practice: nobody flew, and nothing is learned from it".into());
    } else if folded.rate != 1.0 {
        notes.push(format!(
            "a rehearsal, {} times as fast as the clock",
            folded.rate
        ));
    }
    if !record.is_closed() {
        notes.push("the show was not closed: it is told as far as the journal goes".into());
    }
    for (died, opened) in &folded.dead {
        notes.push(format!(
            "nothing is known from {died} to {opened} of the show: the program was not running"
        ));
    }
    notes.extend(endless(folded));
    if !folded.playings.is_empty() && record.heard().next().is_none() {
        notes.push("nothing says what was heard: music is told as it was sent".into());
    }
    notes
}

/// Tracks played of which nothing says when they ended: no file tells how long they are, and nobody faded them.
fn endless(folded: &Folded) -> Vec<String> {
    let lengths = &folded.session.plan().facts.track_lengths;
    let tracks = folded.session.show().tracks.iter().enumerate();
    let endless = tracks.filter(|(i, _)| {
        let unknown = lengths.get(*i).is_none_or(|length| *length == Span::ZERO);
        let mut playings = folded.playings.iter();
        unknown && playings.any(|playing| playing.track == *i && playing.fade.is_none())
    });
    let note = |(_, track): (usize, &Track)| {
        format!(
            "the file of {} could not be read: it is counted as heard to the end of the journal",
            track.id
        )
    };
    endless.map(note).collect()
}

/// A show as the page tells of it.
fn told(one: &Read) -> Told<'_> {
    Told {
        journal: &one.name,
        date: text::date(&one.went),
        show: &one.opened.show,
        plan: &one.opened.plan,
        profile: &one.opened.profile,
        notes: &one.notes,
        went: &one.went,
        traced: &one.traced,
        outlines: outlines(one),
    }
}

/// Outlines of the tracks whose hits were to meet something; of one that cannot be read there is none to draw.
fn outlines(one: &Read) -> Vec<Option<Overview>> {
    let met = |track: usize| one.went.hits.iter().any(|hit| hit.track == track);
    let outline = |(track, file): (usize, &Option<PathBuf>)| {
        let file = file.as_ref().filter(|_| met(track))?;
        let pcm = sound::decode(file, &mut |_| {}).ok()?;
        Some(Overview::new(&pcm, OUTLINE))
    };
    one.opened
        .media
        .par_iter()
        .enumerate()
        .map(outline)
        .collect()
}

fn say_notes(read: &[Read]) {
    for one in read {
        for note in &one.notes {
            // Nothing is left to say it on when standard error is closed.
            let _ = writeln!(std::io::stderr(), "{}: {note}", one.name);
        }
    }
}

/// Writes a file that is asked for by name.
fn write(file: &Path, text: &str) -> Result<(), Failure> {
    aside::write(file, text.as_bytes())
        .map_err(|error| Failure::Outside(format!("{}: {error}", file.display())))
}

//! `abeam show`: runs a show live.

mod journals;
mod lines;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::ZonedDateTime;
use jiff::civil;

use super::feed::FeedArgs;
use super::opened::{Opened, ShowArgs, print_faults};
use super::operator::Operator;
use super::spotter::Spotter;
use super::{Failure, terminal};
use crate::live::clock::{Reading, ShowClock};
use crate::live::journal::{Header, Record};
use crate::live::playout::{Output, read_machine_settings, stderr_to};
use crate::live::stage::{From, Stage};
use crate::show::{Severity, Show};
use crate::units::{Instant, Span};
pub(super) use journals::{check_free, header_of, journal_name, state_folder};
use journals::{cut_short, default_journal, idle, set_aside, track_hashes};

/// What every live verb says in its help.
pub(super) const CAUTIONS: &str = "\
CAUTIONS
  Timing for words and music only. This is no flight instrument: it clears
  nobody to do anything, and it must never be used to steer an aircraft
  towards the music. The music waits for the aircraft.
  The display director, air traffic control and the crew's own rules decide.
  Separation distances and heights are those of the authority's permission,
  not of this program. It must not fire pyrotechnics.
  On a knock-it-off or an emergency, one key (k) fades everything and brings
  up the prepared words. Before inbound it may say when to leave the hold for
  a planned time; after that it gives the crew no timing advice.";

/// A show that follows the clock on the wall is never further from it than this.
const SAME_CLOCK: Span = Span::from_ms(2_000);

/// A show is not begun by the clock this long after its start.
const LATEST: Span = Span::from_ms(3_600_000);

/// After this a show that was cut short is not gone on with unasked: it may be yesterday's rehearsal.
const STALE: Span = Span::from_ms(3_600_000);

/// Runs a show live: words, music and the aircraft on one clock
#[derive(Debug, Args)]
#[command(after_long_help = CAUTIONS, after_help = CAUTIONS)]
pub struct Run {
    #[command(flatten)]
    show: ShowArgs,
    /// Begin now, with the show clock at this time of the show, whatever the time of day: "-20 s", "9:30"
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    from: Option<Span>,
    /// Rehearse with the show clock running this many times as fast; nothing is heard
    #[arg(long, value_name = "TIMES")]
    fast: Option<f64>,
    /// Run without sound
    #[arg(long)]
    silent: bool,
    #[command(flatten)]
    feed: FeedArgs,
    /// The journal to write, or to go on with; by default in the user's state folder
    #[arg(long, value_name = "FILE")]
    journal: Option<PathBuf>,
    /// Begin anew, even where a journal says this show was cut short; that journal is set aside
    #[arg(long)]
    fresh: bool,
    /// Check the lines instead: a tone, left and right told apart by count, headphones after the programme
    #[arg(long, conflicts_with_all = ["from", "fast", "silent"])]
    line_check: bool,
}

impl Run {
    /// Runs the show until it is left.
    pub(super) fn run(self) -> Result<(), Failure> {
        let opened = self.show.open(false)?;
        if self.line_check {
            return self.check_lines(&opened);
        }
        let errors: Vec<_> = opened
            .faults
            .iter()
            .filter(|fault| fault.severity == Severity::Error)
            .cloned()
            .collect();
        if !errors.is_empty() {
            // A show with faults can still be run: on the day, that is for people to decide.
            print_faults(&opened.show.source, &errors);
        }
        let output = self.output()?;
        let positions = self.feed.open(&opened, self.fast.unwrap_or(1.0))?;
        let outside = |error| Failure::Outside(format!("the terminal: {error}"));
        let mut operator = Operator::attend().map_err(outside)?;
        let Some(begin) = self.begin(&opened, &mut operator)? else {
            return Ok(());
        };
        let log = state_folder()?.join("abeam.log");
        let left = {
            // The audio library writes to standard error from the moment the output is opened.
            let _guard = stderr_to(&log).ok();
            let media = opened.media.clone();
            let mut stage = Stage::new(&opened.show, &opened.plan, begin, output, media);
            if let Some(positions) = positions {
                stage.follow(positions);
            }
            let spotter = Spotter::new(self.show.show.clone());
            terminal::run(stage, &mut operator, spotter)
        };
        if let Some(unwritten) = left.map_err(outside)? {
            eprintln!("{}", unwritten.write());
        }
        Ok(())
    }

    /// Checks the lines, unless the crowd may be listening: while the show runs, or is to go on.
    fn check_lines(&self, opened: &Opened) -> Result<(), Failure> {
        let path = self.journal_path(opened)?;
        check_free(&path)?;
        if !self.fresh
            && let Some(record) = cut_short(&path)?
            && !self.is_stale(&record)
        {
            return Err(Failure::Usage(format!(
                "{} is of a show that was cut short and is to go on: a tone would be heard in it. Say --fresh to \
                 check the lines all the same",
                path.display()
            )));
        }
        lines::check_lines(read_machine_settings().map_err(Failure::Outside)?)
    }

    fn journal_path(&self, opened: &Opened) -> Result<PathBuf, Failure> {
        match &self.journal {
            Some(path) => Ok(path.clone()),
            None => default_journal(opened),
        }
    }

    /// The machine's output; none for a silent show or a fast one.
    fn output(&self) -> Result<Option<Output>, Failure> {
        if let Some(rate) = self.fast
            && !(rate.is_finite() && (0.1..=1_000.0).contains(&rate))
        {
            return Err(Failure::Usage(
                "--fast takes a number from 0.1 to 1000, such as 60".into(),
            ));
        }
        if self.silent || self.fast.is_some() {
            return Ok(None);
        }
        read_machine_settings().map(Some).map_err(Failure::Outside)
    }

    /// Where the show begins: with a journal that was cut short, or anew; `None` if it was left before.
    fn begin(&self, opened: &Opened, operator: &mut Operator) -> Result<Option<From>, Failure> {
        let header = header_of(opened, &self.show);
        let path = self.journal_path(opened)?;
        let rate = self.fast.unwrap_or(1.0);
        check_free(&path)?;
        if !self.fresh
            && let Some(record) = cut_short(&path)?
            // What was begun with --from and cut short long ago is a rehearsal nobody is in any more.
            && !(self.from.is_some() && self.is_stale(&record))
        {
            self.check_same_show(&path, &record, &header, rate)?;
            self.check_same_clock(&path, &record, &opened.show)?;
            return Ok(Some(From::Journal(path, record)));
        }
        let Some((reading, at)) = self.zero_hour(&opened.show, operator)? else {
            return Ok(None);
        };
        if path.exists() {
            set_aside(&path)?;
        }
        let header = Header {
            tracks_blake3: track_hashes(opened),
            ..header
        };
        Ok(Some(From::Beginning(
            ShowClock::new(reading, at, rate),
            path,
            header,
        )))
    }

    /// Refuses a rehearsal's journal for a show that is to follow the clock on the wall.
    fn check_same_clock(&self, path: &Path, record: &Record, show: &Show) -> Result<(), Failure> {
        let reading = Reading::now();
        let written = record.clock(&reading).filter(|clock| clock.rate == 1.0);
        let (None, Some(start), Some(clock)) = (self.from, show.start, written) else {
            return Ok(());
        };
        let apart = (clock.at(&reading) - (Instant::ZERO + since(start, &reading)?)).abs();
        if apart <= SAME_CLOCK {
            return Ok(());
        }
        Err(Failure::Usage(format!(
            "{} is of a show that was cut short and did not follow the clock on the wall: begin as it was \
             begun, with --from, to go on with it, or say --fresh to follow the clock",
            path.display()
        )))
    }

    /// Whether a journal is of this very show, and the show is to be gone on with.
    fn check_same_show(
        &self,
        path: &Path,
        record: &Record,
        header: &Header,
        rate: f64,
    ) -> Result<(), Failure> {
        let refuse = |what: String| {
            let path = path.display();
            Err(Failure::Usage(format!(
                "{path} is of a show that was cut short{what}, or say --fresh to begin anew"
            )))
        };
        if record.header.practice {
            return Err(Failure::Usage(format!(
                "{} is of a practice: give the show another --journal",
                path.display()
            )));
        }
        let of = |header: &Header| Header {
            // The music goes on with whatever files there are now.
            tracks_blake3: BTreeMap::new(),
            ..header.clone()
        };
        if of(&record.header) != of(header) {
            return refuse(
                ", with another version of the document, another profile or another day: \
                 put that back to go on with it"
                    .into(),
            );
        }
        let written = record.first_clock().map_or(rate, |clock| clock.rate);
        if written != rate && written == 1.0 {
            return refuse(", and was no rehearsal: leave --fast out to go on with it".into());
        }
        if written != rate {
            return refuse(format!(
                ", a rehearsal: say --fast {written} to go on with it"
            ));
        }
        if self.is_stale(record) {
            return refuse(format!(
                " {} ago: say --journal {} to go on with it",
                idle(record).clock(0),
                path.display()
            ));
        }
        Ok(())
    }

    /// Whether a show was cut short so long ago that it is not gone on with unasked.
    fn is_stale(&self, record: &Record) -> bool {
        self.journal.is_none() && idle(record) > STALE
    }

    /// An instant, and where the show clock stands at it; `None` if somebody left before the time hack.
    fn zero_hour(
        &self,
        show: &Show,
        operator: &mut Operator,
    ) -> Result<Option<(Reading, Instant)>, Failure> {
        if let Some(from) = self.from {
            return Ok(Some((Reading::now(), Instant::ZERO + from)));
        }
        let Some(start) = show.start else {
            let hack = terminal::await_hack(&show.title, operator)
                .map_err(|error| Failure::Outside(format!("the terminal: {error}")))?;
            return Ok(hack.map(|reading| (reading, Instant::ZERO)));
        };
        let reading = Reading::now();
        let since = since(start, &reading)?;
        if since > LATEST {
            return Err(Failure::Usage(format!(
                "the show was to start at {start}, {} ago: say --from \"-1 min\" to begin it now",
                since.clock(0)
            )));
        }
        Ok(Some((reading, Instant::ZERO + since)))
    }
}

/// How long after its start a show is at `reading`, by the clock on the wall.
fn since(start: civil::Time, reading: &Reading) -> Result<Span, Failure> {
    let now = ZonedDateTime::now();
    let zero = now
        .date()
        .to_datetime(start)
        .to_zoned_datetime(now.time_zone().clone())
        .map_err(|error| Failure::Outside(format!("the start of the show: {error}")))?;
    Ok(nearest_start(Span::from_us(
        reading.wall_us - zero.timestamp().as_microsecond(),
    )))
}

/// A span since a time of day, taken since yesterday's until six hours after it: people set up in the
/// morning for the evening, and a show begun before midnight is not over just after it.
fn nearest_start(span: Span) -> Span {
    const DAY: i64 = 86_400_000_000;
    const AFTER: i64 = DAY / 4;
    Span::from_us((span.us() - AFTER).rem_euclid(DAY) + AFTER - DAY)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_start_is_this_evenings_in_the_morning_and_last_nights_just_after_midnight() {
        let since = |hours: f64| nearest_start(Span::from_s(hours * 3_600.0)).s() / 3_600.0;
        assert_eq!(since(-12.75), -12.75);
        assert_eq!(since(-17.5), -17.5);
        assert_eq!(since(-23.75), 0.25);
        assert_eq!(since(5.5), 5.5);
        assert_eq!(since(6.5), -17.5);
    }
}

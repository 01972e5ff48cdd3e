//! The stage: a session between the machine's clock and its devices.
//!
//! Events are journaled before their effects show; effects are named in the journal before they leave. Only
//! what takes sound away waits for no disk: it is done first. A journal that cannot be written is said so,
//! and the show goes on.

mod desk;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::clock::{Reading, ShowClock};
use super::event::{Effect, Event, What};
use super::journal::{Header, Journal, Line, Record, Stamped};
use super::playout::Output;
use super::session::Session;
use crate::show::Show;
use crate::timeline::Plan;
use crate::units::{Instant, Span};

pub use desk::{Desk, Loading};

/// A session begins this long before the display, so that what leads up to it is in it.
const BEFORE: Span = Span::from_ms(600_000);

/// A running show and everything it touches.
pub struct Stage {
    session: Session,
    clock: ShowClock,
    journal: Option<Journal>,
    /// The id of the last effect that left.
    sent: u64,
    desk: Desk,
    warnings: Vec<String>,
}

/// Where the show begins: a new journal, or one to go on with.
pub enum From {
    /// A show that begins now, with the show clock so.
    Beginning(ShowClock, PathBuf, Header),
    /// A show that was cut short.
    Journal(PathBuf, Record),
}

impl Stage {
    /// Sets the stage. A journal that cannot be begun is a warning.
    pub fn new(
        show: &Arc<Show>,
        plan: &Arc<Plan>,
        from: From,
        output: Option<Output>,
        media: Vec<Option<PathBuf>>,
    ) -> Stage {
        match from {
            From::Beginning(clock, path, header) => {
                let session = Session::new(show.clone(), plan.clone(), begins(plan, clock.at));
                let desk = Desk::new(&session, clock.at, output, media);
                let mut stage = Stage::set(session, clock, 0, desk);
                let journal = Journal::create(&path, &header);
                stage.take_journal(journal);
                stage.fly_as_planned();
                // Last: a journal that was never opened is begun anew, and half of a past is none.
                stage.write(&Line::Opened(stage.clock.clone()));
                stage
            }
            From::Journal(path, record) => {
                Stage::resumed(show, plan, &path, &record, (output, media))
            }
        }
    }

    fn set(session: Session, clock: ShowClock, sent: u64, desk: Desk) -> Stage {
        Stage {
            session,
            clock,
            journal: None,
            sent,
            desk,
            warnings: Vec::new(),
        }
    }

    /// A show begun in the middle has flown as planned until there. What it would have done by then is
    /// noted as done; music comes in where it should be.
    fn fly_as_planned(&mut self) {
        for event in self.session.planned_marks(self.clock.at) {
            let reading = self.clock.reading.clone();
            let stamped = Stamped {
                reading,
                event: event.clone(),
            };
            self.write(&Line::Event(stamped));
            let effects = self.session.apply(&event);
            self.note_sent(&effects);
        }
        let effects = self.session.apply(&Event {
            at: self.clock.at,
            what: What::Tick,
        });
        self.note_sent(&effects);
    }

    /// Folds the journal, finds the show clock, sends what was due meanwhile and not sent, and lets the music
    /// in again.
    fn resumed(
        show: &Arc<Show>,
        plan: &Arc<Plan>,
        path: &Path,
        record: &Record,
        (output, media): (Option<Output>, Vec<Option<PathBuf>>),
    ) -> Stage {
        let reading = Reading::now();
        let fallback = || ShowClock::new(reading.clone(), Instant::ZERO, 1.0);
        let first = record.first_clock().map_or(Instant::ZERO, |clock| clock.at);
        let first = begins(plan, first);
        let clock = record.clock(&reading).unwrap_or_else(fallback);
        let mut session = Session::new(show.clone(), plan.clone(), first);
        let mut effects: Vec<Effect> = record
            .events()
            .flat_map(|event| session.apply(event))
            .collect();
        let at = clock.at(&reading);
        let clock = ShowClock::new(reading, at.max(session.now()), clock.rate);
        effects.extend(session.apply(&Event {
            at: clock.at,
            what: What::Tick,
        }));
        let desk = Desk::new(&session, clock.at, output, media);
        let mut stage = Stage::set(session, clock, record.last_sent(), desk);
        stage
            .warnings
            .push(format!("gone on with the journal {}", path.display()));
        if at < stage.clock.at {
            stage.warnings.push(
                "the machine's clock is behind the journal: the show goes on from its last event"
                    .into(),
            );
        }
        if record.torn > 0 {
            stage.warnings.push(format!(
                "{} torn line(s) of the journal were dropped",
                record.torn
            ));
        }
        stage.take_journal(Journal::reopen(path));
        stage.write(&Line::Opened(stage.clock.clone()));
        stage.note_sent(&effects);
        stage
    }

    fn take_journal(&mut self, journal: io::Result<Journal>) {
        match journal {
            Ok(journal) => self.journal = Some(journal),
            Err(error) => self.warnings.push(format!(
                "no journal: {error}; after a crash this show cannot be resumed"
            )),
        }
    }

    /// Something happened, now.
    pub fn happen(&mut self, what: What) {
        let reading = Reading::now();
        let event = Event {
            at: self.clock.at(&reading).max(self.session.now()),
            what,
        };
        let line = Line::Event(Stamped {
            reading,
            event: event.clone(),
        });
        if event.what.is_silencing() {
            let effects = self.session.apply(&event);
            for effect in &effects {
                self.desk.perform(effect, &self.session, &self.clock);
            }
            self.write(&line);
            self.note_sent(&effects);
        } else {
            self.write(&line);
            let effects = self.session.apply(&event);
            self.perform(&effects);
        }
    }

    /// Lets time pass. Ticks are not journaled.
    pub fn tick(&mut self) {
        let effects = self.session.apply(&Event {
            at: self.clock.now(),
            what: What::Tick,
        });
        self.perform(&effects);
        self.desk.settle(&self.session, &self.clock);
        self.note_heard();
    }

    /// Ends the show on purpose: what sounds goes out, and the journal is closed.
    pub fn close(mut self) {
        self.write(&Line::Closed(Reading::now()));
        self.desk.close();
    }

    fn perform(&mut self, effects: &[Effect]) {
        for effect in effects {
            let silencing = effect.act.is_silencing();
            if silencing {
                self.desk.perform(effect, &self.session, &self.clock);
            }
            self.note_sent(std::slice::from_ref(effect));
            if !silencing {
                self.desk.perform(effect, &self.session, &self.clock);
            }
        }
    }

    /// Takes down what playout has really played.
    fn note_heard(&mut self) {
        for heard in self.desk.take_heard() {
            self.write(&Line::Heard(heard));
        }
        if let Some(counts) = self.desk.take_counts() {
            self.write(&Line::Output(counts));
        }
    }

    /// Names effects in the journal, each once.
    fn note_sent(&mut self, effects: &[Effect]) {
        for effect in effects {
            if effect.id > self.sent {
                self.sent = effect.id;
                self.write(&Line::Sent(effect.id));
            }
        }
    }

    fn write(&mut self, line: &Line) {
        let Some(journal) = &mut self.journal else {
            return;
        };
        if let Err(error) = journal.append(line) {
            let warning =
                format!("the journal cannot be written ({error}): the show goes on without it");
            if !self.warnings.contains(&warning) {
                self.warnings.push(warning);
            }
        }
    }

    /// The running show.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The show clock.
    pub fn clock(&self) -> &ShowClock {
        &self.clock
    }

    /// Tracks and output.
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    /// What the user should know of journal and files, oldest first.
    pub fn warnings(&self) -> impl Iterator<Item = &str> {
        self.warnings
            .iter()
            .map(String::as_str)
            .chain(self.desk.warnings())
    }
}

/// Where a session begins, live or folded again, whose show clock is first read at `at`: before anything is planned.
pub fn begins(plan: &Plan, at: Instant) -> Instant {
    at.min(plan.moments.begin() - BEFORE)
}

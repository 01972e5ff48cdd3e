//! The stage: a session between the machine's clock and its devices.
//!
//! Events are journaled before their effects show; effects are named in the journal before they leave. Only
//! what takes sound away waits for no disk: it is done first. A journal that cannot be written is said so,
//! and the show goes on.

mod audition;
mod desk;
mod journaling;
mod listening;
mod loading;

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::clock::{Reading, ShowClock};
use super::event::{Effect, Event, What};
use super::journal::{Header, Journal, Line, Record, Stamped};
use super::playout::Output;
use super::positions::Positions;
use super::session::{Mode, Session};
use crate::show::Show;
use crate::timeline::Plan;
use crate::units::{Instant, Span};

pub use desk::Desk;
pub use loading::Loading;

/// A session begins this long before the display, so that what leads up to it is in it.
const BEFORE: Span = Span::from_ms(600_000);

/// A running show and everything it touches.
pub struct Stage {
    session: Session,
    clock: ShowClock,
    journal: Option<Journal>,
    /// The file it is written to, and what that is of.
    file: Option<(PathBuf, Header)>,
    /// What has happened so far, ticks apart.
    past: Vec<Event>,
    /// The id of the last effect that left.
    sent: u64,
    desk: Desk,
    positions: Option<Positions>,
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
                stage.file = Some((path, header));
                // A show begun in the middle has flown as planned until there.
                let past = stage.session.planned_marks(stage.clock.at);
                stage.take_past(&stage.clock.clone(), past);
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
            file: None,
            past: Vec::new(),
            sent,
            desk,
            positions: None,
            warnings: Vec::new(),
        }
    }

    /// Takes what happened before the show clock was set. What the show would have done by then is noted
    /// as done; music comes in where it should be.
    fn take_past(&mut self, clock: &ShowClock, past: Vec<Event>) {
        for event in &past {
            let reading = clock.reading.clone();
            let stamped = Stamped {
                reading,
                event: event.clone(),
            };
            self.write(&Line::Event(stamped));
            let effects = self.session.apply(event);
            self.note_sent(&effects);
        }
        self.past = past;
        let effects = self.session.apply(&Event {
            at: clock.at,
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
        let past: Vec<Event> = record.events().cloned().collect();
        let mut effects: Vec<Effect> = past.iter().flat_map(|event| session.apply(event)).collect();
        let at = clock.at(&reading);
        let clock = ShowClock::new(reading, at.max(session.now()), clock.rate);
        effects.extend(session.apply(&Event {
            at: clock.at,
            what: What::Tick,
        }));
        let desk = Desk::new(&session, clock.at, output, media);
        let mut stage = Stage::set(session, clock, record.last_sent(), desk);
        stage.past = past;
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
        stage.go_on_writing(path, record);
        stage.write(&Line::Opened(stage.clock.clone()));
        stage.note_sent(&effects);
        if stage.is_accident() && record.awaits_seal() {
            stage.seal();
        }
        stage
    }

    /// Something happened, now.
    pub fn happen(&mut self, what: What) {
        let reading = Reading::now();
        let at = self.clock.at(&reading);
        self.take(reading, at, what);
    }

    /// Something happened, or time passed, at an instant that is not ahead; before it whatever came by itself.
    pub fn take_at(&mut self, at: Instant, what: What) {
        if what == What::Tick {
            self.tick_to(at);
        } else {
            self.take(Reading::now(), at, what);
        }
    }

    fn take(&mut self, reading: Reading, at: Instant, what: What) {
        let event = Event {
            at: at.max(self.session.now()),
            what,
        };
        self.past.push(event.clone());
        let line = Line::Event(Stamped {
            reading,
            event: event.clone(),
        });
        let was_accident = self.is_accident();
        if event.what.is_silencing() {
            let effects = self.session.apply(&event);
            for effect in &effects {
                self.desk.perform(effect, &self.session, &self.clock);
            }
            self.write(&line);
            self.note_sent(&effects);
            if self.is_accident() && !was_accident {
                self.seal();
            }
        } else {
            self.write(&line);
            let effects = self.session.apply(&event);
            self.perform(&effects);
        }
    }

    fn is_accident(&self) -> bool {
        matches!(self.session.mode(), Mode::Accident { .. })
    }

    /// Follows an aircraft by its positions from now on.
    pub fn follow(&mut self, positions: Positions) {
        self.positions = Some(positions);
    }

    /// Lets time pass, and takes what positions say. Ticks are not journaled.
    pub fn tick(&mut self) {
        self.hear_positions();
        self.tick_to(self.clock.now());
    }

    /// Takes what positions say.
    pub fn hear_positions(&mut self) {
        let polled = self
            .positions
            .as_mut()
            .map(|positions| positions.poll(&self.clock));
        for what in polled.into_iter().flatten() {
            self.happen(what);
        }
    }

    fn tick_to(&mut self, at: Instant) {
        let effects = self.session.apply(&Event {
            at,
            what: What::Tick,
        });
        self.perform(&effects);
        self.desk.settle(&self.session, &self.clock);
        self.note_heard();
    }

    /// Lets the show clock run on so many times as fast, not at all for 0. Music is only heard at its own speed:
    /// at any other it goes out, and comes in again where it should be.
    pub fn set_rate(&mut self, rate: f64) {
        self.set_clock(ShowClock::new(Reading::now(), self.session.now(), rate));
    }

    fn set_clock(&mut self, clock: ShowClock) {
        self.clock = clock;
        self.write(&Line::Opened(self.clock.clone()));
        self.desk.follow(&self.session, &self.clock);
        if let Some(positions) = &mut self.positions {
            positions.follow_clock(&self.clock);
        }
    }

    /// Takes the show to an instant with only `past` behind it, in a journal of its own that takes the place
    /// of whatever was at `path`.
    pub fn restart(&mut self, at: Instant, past: Vec<Event>, path: &Path, header: &Header) {
        let (show, plan) = self.session.shared();
        let first = begins(&plan, past.first().map_or(at, |event| event.at));
        self.session = Session::new(show, plan, first);
        self.desk.silence();
        self.journal = None;
        let removed = std::fs::remove_file(path);
        let begun = match removed {
            Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
            _ => Journal::create(path, header),
        };
        self.take_journal(begun);
        self.sent = 0;
        let clock = ShowClock::new(Reading::now(), at, self.clock.rate);
        self.take_past(&clock, past);
        self.set_clock(clock);
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

    /// The running show.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// What has happened so far, ticks apart.
    pub fn past(&self) -> &[Event] {
        &self.past
    }

    /// The show clock.
    pub fn clock(&self) -> &ShowClock {
        &self.clock
    }

    /// Tracks and output.
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    /// Tracks and output, for what is heard on the headphones and is no part of the show.
    pub fn desk_mut(&mut self) -> &mut Desk {
        &mut self.desk
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

//! A show being practised: a stage whose aircraft are simulated, whose clock can run faster, stand, and go back.

use std::path::PathBuf;

use super::account::{Account, Practised};
use super::hindsight;
use super::player::{Player, Playing, Unseen};
use super::report::report;
use super::sky::{Seen, Sky};
use crate::live::journal::Header;
use crate::live::{Event, Session, Stage, What};
use crate::show::Name;
use crate::units::{Instant, Span};

/// The paces there are, show seconds in a second.
const PACES: [f64; 7] = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0];
/// After what was practised has been flown, so that what follows a pass is in it.
const AFTER: Span = Span::from_ms(15_000);
/// Before the display begins.
pub const BEFORE: Span = Span::from_ms(20_000);

/// A show being practised.
pub struct Rehearsal {
    stage: Stage,
    sky: Sky,
    player: Player,
    /// Where its journal is, and what it begins with.
    journal: (PathBuf, Header),
    /// Whether the simulator keys what a narrator would.
    simulated: bool,
    pace: f64,
    paused: bool,
    /// From when on somebody practises.
    from: Instant,
    /// The entry that is practised by itself, if one is.
    only: Option<Name>,
    report: Option<Told>,
}

/// What came of a practice.
#[derive(Debug, Clone)]
pub struct Told {
    /// In figures.
    pub account: Account,
    /// In words, line by line.
    pub lines: Vec<String>,
}

impl Playing for Stage {
    fn session(&self) -> &Session {
        Stage::session(self)
    }

    fn happens(&mut self, event: Event) {
        self.take_at(event.at, event.what);
    }
}

impl Rehearsal {
    /// A practice on a stage that has just been set, of one entry if one is given; the clock stands until it is
    /// let go.
    pub fn new(
        stage: Stage,
        sky: Sky,
        journal: (PathBuf, Header),
        only: Option<Name>,
    ) -> Rehearsal {
        let from = stage.session().now();
        let mut rehearsal = Rehearsal {
            player: Player::new(&sky, from),
            stage,
            sky,
            journal,
            simulated: false,
            pace: 1.0,
            paused: true,
            from,
            only,
            report: None,
        };
        rehearsal.follow_pace();
        rehearsal
    }

    /// Lets the clock run so many times as fast.
    pub fn run_at(&mut self, pace: f64) {
        self.pace = pace;
        self.paused = false;
        self.follow_pace();
    }

    /// The clock stands, or runs again; after a report the show goes on.
    pub fn pause(&mut self) {
        self.paused = !self.paused;
        if self.report.take().is_some() {
            (self.only, self.paused) = (None, false);
            self.from = self.stage.session().now();
        }
        self.follow_pace();
    }

    /// The clock runs at the next pace above, or below.
    pub fn change_pace(&mut self, faster: bool) {
        let next = if faster {
            PACES.into_iter().find(|pace| *pace > self.pace)
        } else {
            PACES.into_iter().rev().find(|pace| *pace < self.pace)
        };
        self.pace = next.unwrap_or(self.pace);
        self.follow_pace();
    }

    fn follow_pace(&mut self) {
        let rate = if self.paused { 0.0 } else { self.pace };
        self.stage.set_rate(rate);
    }

    /// Whether the simulator keys what a narrator would, from now on.
    pub fn simulate_narrator(&mut self, simulated: bool) {
        self.simulated = simulated;
        self.player = Player::new(&self.sky, self.stage.session().now());
    }

    /// Once more from the hold: of the figure being flown, or of the last one that had one.
    pub fn once_more(&mut self) {
        let now = self.stage.session().now();
        let last = self.sky.last_hold(now).cloned();
        if let Some(key) = self.only.clone().or(last) {
            self.go_to(&key);
            self.only = Some(key);
        }
    }

    /// To where an entry begins: what came after that has not happened; what lies between is played by the
    /// simulator.
    pub fn go_to(&mut self, key: &Name) {
        let Some(start) = self.sky.flown().start(key) else {
            return;
        };
        let past = self.past_until(start);
        let (path, header) = &self.journal;
        self.stage.restart(start, past, path, header);
        self.sky.follow(self.stage.session(), self.stage.past());
        self.player = Player::new(&self.sky, start);
        (self.from, self.only, self.report) = (start, None, None);
        self.paused = false;
        self.follow_pace();
    }

    fn past_until(&self, start: Instant) -> Vec<Event> {
        let past = self.stage.past();
        let now = self.stage.session().now();
        if start <= now {
            return past
                .iter()
                .filter(|event| event.at < start)
                .cloned()
                .collect();
        }
        let mut unseen = Unseen {
            session: hindsight::fold(&self.sky, past, now).session,
            past: past.to_vec(),
        };
        Player::new(&self.sky, now).play(&mut unseen, &self.sky.truth(), start);
        unseen.past
    }

    /// Lets time pass: what the simulator keys is keyed, each at its instant.
    pub fn tick(&mut self) {
        if self.report.is_none() {
            self.stage.hear_positions();
        }
        let now = self.stage.clock().now();
        let now = self.ends().map_or(now, |end| now.min(end));
        if self.simulated {
            self.player.play(&mut self.stage, &self.sky.truth(), now);
        } else {
            self.stage.take_at(now, What::Tick);
        }
        self.follow_keys();
        if self.report.is_none() && self.ends().is_some_and(|end| end <= now) {
            self.end();
        }
    }

    /// Something happened, now.
    pub fn happen(&mut self, what: What) {
        self.stage.happen(what);
        self.follow_keys();
    }

    fn follow_keys(&mut self) {
        let (session, past) = (self.stage.session(), self.stage.past());
        if self.sky.follow(session, past) {
            self.player = Player::new(&self.sky, self.stage.session().now());
        }
    }

    /// When what is practised is over.
    fn ends(&self) -> Option<Instant> {
        if self.report.is_some() {
            return None;
        }
        let flown = match &self.only {
            Some(key) => self.sky.end_of(key),
            None => self.sky.flown().end(),
        };
        flown.map(|end| end + AFTER)
    }

    /// The run is over: the clock stands, and the report is up.
    fn end(&mut self) {
        self.report = Some(self.report_so_far());
        self.paused = true;
        self.follow_pace();
    }

    /// What came of it so far.
    pub fn report_so_far(&self) -> Told {
        if let Some(report) = &self.report {
            return report.clone();
        }
        let practised = Practised {
            sky: &self.sky,
            past: self.stage.past(),
            from: self.from,
            until: self.stage.session().now(),
        };
        let account = practised.account();
        Told {
            lines: report(&self.sky, &account),
            account,
        }
    }

    /// What came of the run, once it is over.
    pub fn report(&self) -> Option<&[String]> {
        self.report.as_ref().map(|told| &told.lines[..])
    }

    /// Show seconds in a second; `None` while the clock stands.
    pub fn pace(&self) -> Option<f64> {
        (!self.paused).then_some(self.pace)
    }

    /// Whether the simulator keys what a narrator would.
    pub fn is_simulated(&self) -> bool {
        self.simulated
    }

    /// What somebody could have keyed since the practice began, oldest first.
    pub fn seen(&self) -> Vec<Seen> {
        let session = self.stage.session();
        let mut seen = self.sky.seen(session, session.now());
        seen.retain(|seen| seen.at >= self.from);
        seen
    }

    /// The latest thing said over the radio since the practice began, and when.
    pub fn radio(&self) -> Option<(Instant, String)> {
        let said = self.sky.radio(self.stage.session().now());
        said.filter(|(at, _)| *at >= self.from)
    }

    /// The stage.
    pub fn stage(&self) -> &Stage {
        &self.stage
    }

    /// What is really flown.
    pub fn sky(&self) -> &Sky {
        &self.sky
    }

    /// Ends the practice.
    pub fn close(self) {
        self.stage.close();
    }
}

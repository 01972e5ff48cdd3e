//! The session: a running show as a fold over its events. It reads no clock and touches no device.
//!
//! `apply` first runs every deadline at or before the event, each at its own instant, then the event. So
//! ticks may come at any spacing, and replaying a journal gives the same effects with the same ids.

mod ask;
mod chains;
mod change;
mod cues;
mod emergency;
mod expect;
mod hands;
mod marks;
mod meets;
mod positions;
mod pool;
mod reading;
mod view;
mod wording;
mod words;

use std::collections::BTreeMap;
use std::sync::Arc;

use super::event::{Act, Effect, Event, Halt, PointOf, What};
use crate::flight::{self, Entry, Flight};
use crate::show::{Name, Severity, Show};
use crate::timeline::{Expected, Facts, Layout, Moments, Plan, Version};
use crate::units::{Gain, Instant, Span};

pub use crate::timeline::meet::LEAD;
pub use ask::Ask;
use chains::Chains;
pub use change::Orphan;
pub(crate) use cues::BLOCK_GRACE;
pub use cues::{BlockCue, CallCue, SilenceCue, TrackCue};
pub use expect::Learned;
pub(crate) use expect::is_awaited;
pub use hands::DUCK_HOLD;
pub(crate) use hands::SHORTEST_FADE;
pub use marks::TakenMark;
pub(crate) use marks::parallax;
pub use pool::Filler;
use positions::Followed;
pub use reading::{Place, StopFor, Waiting};
pub use view::{Aloft, Next, NextKind};

/// What depends on "still not happened" is re-solved on this grid.
pub(crate) const GRID: Span = Span::from_ms(250);
/// The two keys that leave an accident must come within this.
pub const RELEASE_WITHIN: Span = Span::from_ms(10_000);

/// What a cue is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CueState {
    /// Its time is to come.
    #[default]
    Ahead,
    /// Its time has come; somebody or something is about to begin it.
    Due,
    /// Going on.
    Running,
    /// Over.
    Done,
    /// Not going to happen.
    Dropped,
}

/// How the show is going.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mode {
    /// As it should.
    Running,
    /// Held up since an instant.
    Delayed(Instant),
    /// Knocked off: the prepared words are up.
    KnockedOff(Instant),
    /// Held up, or ended early, since an instant: the prepared words for that are up.
    Halted(Instant, Halt),
    /// An accident: only the approved statement is up.
    Accident {
        /// Since when.
        since: Instant,
        /// When the first of the two keys that leave it was pressed.
        release: Option<Instant>,
    },
}

/// One entry of the programme as it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Flying {
    /// What is flown.
    pub entry: Entry,
    /// Whether it is left out.
    pub dropped: bool,
    /// When it was broken off, if it was.
    pub broken: Option<Instant>,
    /// Whether the show is held up before it.
    pub held: bool,
    /// When it was told to start after a delay or a break, if it was.
    pub restart: Option<Instant>,
}

/// A running show.
#[derive(Debug, Clone)]
pub struct Session {
    show: Arc<Show>,
    plan: Arc<Plan>,
    /// As the plan has them, late edits apart.
    facts: Facts,
    now: Instant,
    mode: Mode,
    armed: bool,
    duck_latched: bool,
    /// How far the machine's clock is behind the last time hack.
    hack: Option<Span>,
    /// Show zero, by that hack.
    zero: Instant,
    ducked: bool,
    programme: Vec<Flying>,
    flight: Flight,
    chains: Chains,
    marks: Vec<TakenMark>,
    /// How much has happened that can move something: no ticks, no position that tells nothing new, nothing that
    /// is only of the words.
    happened: u64,
    ask: Option<Ask>,
    /// The run-in that positions follow, and the last one they left.
    followed: Option<Followed>,
    astray: Option<PointOf>,
    audible: Vec<Instant>,
    moments: Moments,
    /// Figures whose start waits for something outside their chain, as last estimated.
    starts: BTreeMap<usize, Expected>,
    learned: Vec<Learned>,
    layout: Layout,
    blocks: Vec<BlockCue>,
    tracks: Vec<TrackCue>,
    calls: Vec<CallCue>,
    silences: Vec<SilenceCue>,
    effects: Vec<Effect>,
    effect_count: u64,
    notices: Vec<(Instant, String)>,
    /// The next block and its version, as last laid.
    next_words: Option<(usize, Version)>,
}

impl Session {
    /// A show about to run as planned; `now` is where the show clock stands.
    pub fn new(show: Arc<Show>, plan: Arc<Plan>, now: Instant) -> Session {
        let programme: Vec<Flying> = plan
            .entries
            .iter()
            .map(|entry| Flying::new(entry.clone()))
            .collect();
        let mut session = Session {
            now,
            mode: Mode::Running,
            armed: true,
            duck_latched: false,
            hack: None,
            zero: Instant::ZERO,
            ducked: false,
            chains: Chains::of(&show, &plan.flight, &programme),
            programme,
            facts: plan.facts.clone(),
            flight: plan.flight.clone(),
            marks: Vec::new(),
            happened: 0,
            ask: None,
            followed: None,
            astray: None,
            audible: Vec::new(),
            moments: plan.moments.clone(),
            starts: BTreeMap::new(),
            learned: Vec::new(),
            layout: plan.layout.clone(),
            blocks: vec![BlockCue::default(); show.blocks.len()],
            tracks: vec![TrackCue::default(); show.tracks.len()],
            calls: vec![CallCue::default(); show.calls.len()],
            silences: vec![SilenceCue::default(); show.silences.len()],
            effects: Vec::new(),
            effect_count: 0,
            notices: Vec::new(),
            next_words: None,
            show,
            plan,
        };
        session.expect();
        session
    }

    /// Takes an event and gives what the show does because of it and of the time that has passed.
    pub fn apply(&mut self, event: &Event) -> Vec<Effect> {
        let at = event.at.max(self.now);
        self.run_until(at);
        self.take(&event.what);
        self.settle();
        std::mem::take(&mut self.effects)
    }

    /// The next instant at which something happens by itself, as things stand.
    pub fn next_deadline(&self) -> Option<Instant> {
        self.next_look().into_iter().chain(self.next_cue()).min()
    }

    fn next_cue(&self) -> Option<Instant> {
        let ahead = |deadline: &Instant| *deadline > self.now;
        self.cue_deadlines().filter(ahead).min()
    }

    /// Runs every deadline up to `at`, each at its own instant.
    fn run_until(&mut self, at: Instant) {
        self.settle();
        loop {
            let look = self.next_look();
            let next = look.into_iter().chain(self.next_cue()).min();
            let Some(deadline) = next.filter(|next| *next <= at) else {
                break;
            };
            self.now = deadline;
            if look == Some(deadline) {
                self.expect();
            }
            self.settle();
        }
        self.now = at;
    }

    fn take(&mut self, what: &What) {
        let of_words = matches!(what, What::Read { .. } | What::Reword { .. });
        let of_clock = matches!(what, What::Tick | What::Hack { moves: false, .. });
        let of_positions = matches!(what, What::Position(_) | What::Feed { .. });
        if !(of_words || of_clock || of_positions) {
            self.happened += 1;
        }
        match what {
            What::Tick => {}
            What::Mark(mark) => self.take_mark(mark),
            What::Position(position) => self.take_position(position),
            What::Feed { says } => self.notice(format!("Positions: {says}")),
            What::UndoMark => self.undo_mark(),
            What::ShiftMark { by } => self.shift_mark(*by),
            What::Dismiss => self.ask = None,
            What::Delay => self.delay(),
            What::Resume => self.resume(),
            What::Drop { .. }
            | What::Reinstate { .. }
            | What::Repeat { .. }
            | What::Insert { .. }
            | What::Swap { .. }
            | What::Mirror { .. }
            | What::Profile { .. } => self.change(what),
            What::Audible => {
                self.audible.push(self.now);
                self.expect();
            }
            What::BeginBlock { block } => self.begin_block(block),
            What::EndBlock => self.end_block(),
            What::Read { phrase } => self.read_to(*phrase),
            What::SkipBlock { block } => self.skip_block(block),
            What::Reword { block, short, text } => self.reword(block, *short, text),
            What::Duck { latched } => self.duck_latched = *latched,
            What::StartTrack { track } => self.start_by_hand(track),
            What::FadeTrack { track } => self.fade_by_hand(track),
            What::Level { track, gain_db } => self.set_level(track, *gain_db),
            What::Arm { armed } => self.arm(*armed),
            What::Hack { by, moves } => self.take_hack(*by, *moves),
            What::KnockItOff => self.knock_it_off(),
            What::Halt { why } => self.halt(*why),
            What::Accident => self.accident(),
            What::Release => self.release(),
        }
    }

    /// Brings every cue to where its time says it is, until nothing more moves.
    fn settle(&mut self) {
        while self.move_cues() {
            self.lay();
        }
        self.follow_duck();
    }

    fn delay(&mut self) {
        if self.mode != Mode::Running {
            return;
        }
        self.mode = Mode::Delayed(self.now);
        self.hold_unflown();
        self.hold_music_up(self.show.delay_music);
        self.notice("Held up after the present figure".into());
        self.expect();
    }

    /// Holds up all that has not begun to be flown.
    fn hold_unflown(&mut self) {
        for i in self.unflown() {
            self.programme[i].held = true;
        }
    }

    fn resume(&mut self) {
        if !matches!(self.mode, Mode::Delayed(_)) {
            return;
        }
        self.mode = Mode::Running;
        self.restart_first_unflown();
        for flying in &mut self.programme {
            flying.held = false;
        }
        self.leave_vamps();
        self.notice("The show goes on".into());
        self.expect();
    }

    fn arm(&mut self, armed: bool) {
        if armed && !matches!(self.mode, Mode::Running | Mode::Delayed(_)) {
            return;
        }
        self.armed = armed;
        let word = if armed { "armed" } else { "disarmed" };
        self.notice(format!("Automatic starts {word}"));
    }

    /// Takes a time hack: what hangs on the clock or on show zero comes earlier by as much as the machine's clock is
    /// behind it. The show clock itself never jumps.
    fn take_hack(&mut self, by: Span, moves: bool) {
        self.hack = Some(by);
        if moves {
            self.zero = Instant::ZERO - by;
            self.expect();
        }
    }

    fn set_level(&mut self, track: &Name, gain_db: f64) {
        let Some(i) = self.show.tracks.iter().position(|t| t.id == *track) else {
            return;
        };
        // Beyond these a fader has no travel left.
        let gain = Gain::from_db(if gain_db.is_finite() {
            gain_db.clamp(-60.0, 12.0)
        } else {
            0.0
        });
        self.tracks[i].gain = gain;
        self.emit(self.now, Act::Level { track: i, gain });
    }

    fn emit(&mut self, at: Instant, act: Act) {
        self.effect_count += 1;
        self.effects.push(Effect {
            id: self.effect_count,
            at,
            act,
        });
    }

    /// Says something to whoever looks at a screen.
    fn notice(&mut self, text: String) {
        const KEPT: usize = 50;
        if self.notices.len() >= KEPT {
            self.notices.remove(0);
        }
        self.notices.push((self.now, text));
    }

    /// Flies the programme anew after it has changed.
    fn refly(&mut self) {
        let entries: Vec<Entry> = self
            .programme
            .iter()
            .filter(|flying| !flying.dropped)
            .map(|flying| flying.entry.clone())
            .collect();
        self.flight = flight::fly(&self.show, &self.plan.day, &entries);
        self.chains = Chains::of(&self.show, &self.flight, &self.programme);
        self.starts.clear();
        let errors = self
            .flight
            .faults
            .iter()
            .filter(|f| f.severity == Severity::Error);
        let cannot: Vec<String> = errors.map(|fault| fault.message.clone()).collect();
        for message in cannot {
            self.notice(format!("Not flown as written: {message}"));
        }
        self.expect();
    }
}

impl Flying {
    fn new(entry: Entry) -> Flying {
        Flying {
            entry,
            dropped: false,
            broken: None,
            held: false,
            restart: None,
        }
    }
}

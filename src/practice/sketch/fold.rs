//! One show after another, sketched.

use super::hooks::{Due, Hook, Time};
use super::music::Playing;
use super::outlook::Outlook;
use super::score::Score;
use crate::live::session::{BLOCK_GRACE, CueState, GRID};
use crate::live::{Mark, MarkKind, What};
use crate::practice::errors::Errors;
use crate::practice::flown::Flown;
use crate::practice::keying::{self, Keyed};
use crate::practice::narrator::{Narrator, REACTION, Words};
use crate::practice::outcome::{Came, Notes, Outcome, Truth};
use crate::practice::run::MARGIN;
use crate::script::fit::Problem;
use crate::show::Keep;
use crate::timeline::Version;
use crate::units::Instant;

/// A show being sketched; used again for the next.
pub(super) struct Fold<'s> {
    pub(super) score: &'s Score<'s>,
    pub(super) outlook: Outlook<'s>,
    pub(super) now: Instant,
    /// Until then every cue has been moved.
    settled: Instant,
    /// How much has happened that may turn music.
    pub(super) happened: u64,
    pub(super) blocks: Vec<Saying>,
    pub(super) tracks: Vec<Playing>,
    /// Which flying of its figure each silence serves, from 0.
    pub(super) silences: Vec<usize>,
    /// The best versions of all blocks, as last chosen; the question, to be asked again.
    pub(super) versions: Vec<Version>,
    pub(super) problem: Problem<'s>,
    notes: Notes,
    /// What the narrator is about to do, and when.
    next: Option<(Instant, Say)>,
}

/// How far a block is.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Saying {
    pub(super) state: CueState,
    /// Which flying of its figure it serves, from 0.
    pub(super) round: usize,
    pub(super) since: Option<Instant>,
    pub(super) ended: Option<Instant>,
    /// Which words, once begun.
    pub(super) version: Option<Version>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Say {
    Begin(usize),
    End,
}

/// A show as it is really flown.
struct Flying<'a> {
    truth: Truth<'a>,
    flown: &'a Flown,
    narrator: Narrator,
}

impl<'s> Fold<'s> {
    pub(super) fn new(score: &'s Score<'s>) -> Self {
        Fold {
            outlook: Outlook::new(score),
            now: Instant::ZERO,
            settled: Instant::ZERO,
            happened: 0,
            blocks: vec![Saying::default(); score.blocks.len()],
            tracks: vec![Playing::default(); score.tracks.len()],
            silences: vec![0; score.silences.len()],
            versions: vec![Version::default(); score.blocks.len()],
            problem: score.problem(),
            notes: Notes::default(),
            next: None,
            score,
        }
    }

    /// Sketches a show that differs from its plan by `errors`.
    pub(super) fn run(&mut self, errors: &Errors) -> Outcome {
        let Score {
            show, plan, walk, ..
        } = self.score;
        let flown = walk.fly(errors);
        let moments = flown.moments(&plan.flight);
        let marks = keying::marks(show, &plan.flight, &flown, errors, Keyed::Plainly);
        let marks = marks.into_iter().filter_map(|event| match event.what {
            What::Mark(mark) => Some(mark),
            _ => None,
        });
        let marks: Vec<Mark> = marks.collect();
        let flying = Flying {
            truth: Truth {
                show,
                moments: &moments,
            },
            flown: &flown,
            narrator: Narrator::of(show, errors),
        };
        self.begin(plan.moments.begin().min(moments.begin()) - MARGIN);
        self.play(
            &flying,
            &marks,
            flown.end().unwrap_or(Instant::ZERO) + MARGIN,
        );
        flying.truth.outcome(&self.notes)
    }

    fn begin(&mut self, now: Instant) {
        self.now = now;
        self.happened = 0;
        self.blocks.fill(Saying::default());
        self.tracks.fill(Playing::default());
        self.silences.fill(0);
        self.versions.fill(Version::default());
        self.notes.tracks.clear();
        self.notes.blocks.clear();
        self.next = None;
        self.outlook.begin(now);
        self.choose_where_times_hang_on_words();
        self.settle();
    }

    fn play(&mut self, flying: &Flying<'_>, marks: &[Mark], end: Instant) {
        let mut marks = marks.iter().peekable();
        loop {
            let spoken = self.next.map(|(at, _)| at);
            let mark = marks.peek().map(|mark| mark.observed);
            let keyed = spoken
                .into_iter()
                .chain(mark)
                .chain([end])
                .min()
                .unwrap_or(end);
            if let Some(now) = self.next_tick(keyed) {
                self.now = now;
                self.look_by(now);
                self.settle();
            } else if keyed == end && spoken != Some(end) && mark != Some(end) {
                break;
            } else {
                self.now = keyed;
                self.look_by(keyed);
                if spoken == Some(keyed) {
                    self.speak(flying);
                } else if let Some(mark) = marks.next() {
                    self.mark(flying, mark);
                }
            }
            self.listen();
            if self.somebody_waits_to_speak() {
                self.choose_versions();
            }
        }
    }

    /// The next instant, up to `until`, at which something happens by itself. Waiting in vain only makes what is
    /// expected later, so nothing comes before it would as things stand: they are looked at again just before
    /// that, until it comes.
    fn next_tick(&mut self, until: Instant) -> Option<Instant> {
        loop {
            let due = self.first_due();
            let by = due.map_or(until, |due| due.min(until));
            let turning = (0..self.tracks.len()).any(|i| self.may_turn(i));
            if turning && self.outlook.still_until < by {
                let next = grid_after(self.outlook.looked.max(self.outlook.still_until));
                if next <= by {
                    return Some(next);
                }
            }
            let due = due.filter(|due| *due <= until)?;
            let look = grid_before(due);
            if look <= self.outlook.looked || look < self.outlook.still_until {
                return Some(due.max(self.now));
            }
            self.now = look;
            self.look(look);
        }
    }

    /// Takes the last look there is by `now`, if it can show anything.
    fn look_by(&mut self, now: Instant) {
        let look = grid_before(now);
        if look > self.outlook.looked && look >= self.outlook.still_until {
            self.look(look);
        }
    }

    fn look(&mut self, now: Instant) {
        self.outlook.look(now);
        if self.score.hangs_on_words || self.somebody_waits_to_speak() {
            self.choose_versions();
        }
    }

    /// Whether a block is due that is not about to begin: it lapses if that goes on for long.
    fn somebody_waits_to_speak(&self) -> bool {
        (0..self.blocks.len()).any(|i| self.waits_to_be_said(i))
    }

    fn waits_to_be_said(&self, i: usize) -> bool {
        let is_next = matches!(self.next, Some((_, Say::Begin(next))) if next == i);
        self.blocks[i].state == CueState::Due && !is_next
    }

    /// Where times hang on the ends of words, every version counts all the time; elsewhere only as words begin.
    fn choose_where_times_hang_on_words(&mut self) {
        if self.score.hangs_on_words {
            self.choose_versions();
        }
    }

    /// The next instant at which a cue moves by itself, as things stand.
    fn first_due(&self) -> Option<Instant> {
        let blocks = (0..self.blocks.len()).filter_map(|i| self.block_due(i));
        let tracks = (0..self.tracks.len()).filter_map(|i| self.track_due(i));
        let silences = (0..self.silences.len()).filter_map(|i| self.silence_over(i));
        let due = blocks.chain(tracks).chain(silences);
        due.filter(|due| *due > self.settled).min()
    }

    fn block_due(&self, i: usize) -> Option<Instant> {
        match self.blocks[i].state {
            CueState::Ahead => self.block_start(i).instant(),
            CueState::Due if self.waits_to_be_said(i) => self
                .last_word(i, self.versions[i])
                .map(|end| end + BLOCK_GRACE),
            CueState::Due | CueState::Running | CueState::Done | CueState::Dropped => None,
        }
    }

    /// Moves every cue whose time has come.
    fn settle(&mut self) {
        loop {
            for i in 0..self.blocks.len() {
                let may_go = self.score.show.blocks[i].keep < Keep::Must;
                let ahead = self.blocks[i].state == CueState::Ahead;
                if may_go && ahead && self.is_now(self.block_due(i)) {
                    self.choose_version(i);
                }
            }
            let mut moved = false;
            for i in 0..self.blocks.len() {
                moved |= self.is_now(self.block_due(i)) && self.move_block(i);
                moved |= self.block_comes_again(i);
            }
            for i in 0..self.tracks.len() {
                moved |= self.move_track(i);
            }
            for i in 0..self.silences.len() {
                moved |= self.silence_comes_again(i);
            }
            if !moved {
                break;
            }
            self.choose_where_times_hang_on_words();
        }
        self.settled = self.now;
        self.note_blocks();
    }

    /// Whether the time of something has come.
    pub(super) fn is_now(&self, due: Option<Instant>) -> bool {
        due.is_some_and(|due| due <= self.now)
    }

    fn move_block(&mut self, i: usize) -> bool {
        let block = &mut self.blocks[i];
        block.state = match block.state {
            CueState::Ahead if self.versions[i] != Version::LeftOut => CueState::Due,
            CueState::Ahead | CueState::Due => CueState::Done,
            _ => return false,
        };
        true
    }

    fn note_blocks(&mut self) {
        for (i, block) in self.blocks.iter().enumerate() {
            let came = !matches!(block.state, CueState::Ahead | CueState::Dropped);
            let this = (i, block.round);
            if came && !self.notes.blocks.iter().any(|came| came.block == this) {
                self.notes.blocks.push(Came {
                    block: this,
                    due: self.now,
                    version: (block.state == CueState::Done).then_some(Version::LeftOut),
                    pieces: Vec::new(),
                });
            }
        }
    }

    /// A mark is keyed; where it fits no point, somebody says which was meant.
    fn mark(&mut self, flying: &Flying<'_>, mark: &Mark) {
        self.outlook
            .mark(mark, || meant(self.score, flying.flown, mark));
        self.happened += 1;
        self.look(self.now);
        self.settle();
    }

    /// When nobody speaks or is about to, the block that is due since longest is next.
    fn listen(&mut self) {
        if matches!(self.next, Some((_, Say::End))) {
            return;
        }
        let due = |i: &usize| self.blocks[*i].state == CueState::Due;
        let blocks = (0..self.blocks.len()).filter(due);
        let next = blocks.min_by_key(|i| (self.block_start(*i).instant(), *i));
        let next = next.map(Say::Begin);
        self.next = match (next, self.next) {
            (Some(say), Some((at, same))) if say == same => Some((at, say)),
            (Some(say), _) => Some((self.now + REACTION, say)),
            (None, _) => None,
        };
    }

    fn speak(&mut self, flying: &Flying<'_>) {
        self.happened += 1;
        match self.next.take() {
            Some((_, Say::Begin(i))) => self.begin_block(i, flying),
            Some((_, Say::End)) => {
                let running = |block: &&mut Saying| block.state == CueState::Running;
                if let Some(block) = self.blocks.iter_mut().find(running) {
                    block.state = CueState::Done;
                    block.ended = Some(self.now);
                }
                self.choose_where_times_hang_on_words();
                self.settle();
            }
            None => {}
        }
    }

    fn begin_block(&mut self, i: usize, flying: &Flying<'_>) {
        let (now, round) = (self.now, self.blocks[i].round);
        self.blocks[i].state = CueState::Running;
        self.blocks[i].since = Some(now);
        // Begun late, the full text may fit no more.
        self.choose_version(i);
        let version = self.versions[i];
        self.blocks[i].version = Some(version);
        self.settle();
        let words = Words::of(self.score.show, &self.score.plan.facts, i, version);
        let pieces: Vec<(Instant, Instant)> = words.map_or(Vec::new(), |words| {
            let waits = |time| flying.truth.instant(&self.notes, time, round);
            flying.narrator.pieces(words, now, waits).collect()
        });
        let end = pieces.last().map_or(now, |piece| piece.1);
        let mut came = self.notes.blocks.iter_mut();
        if let Some(came) = came.find(|came| came.block == (i, round)) {
            came.version = Some(version);
            came.pieces = pieces;
        }
        self.next = Some((end, Say::End));
    }

    /// When a time comes, as things stand.
    pub(super) fn due(&self, time: &Time) -> Due {
        let hook = match time.hook {
            Hook::Nothing => Due::Never,
            Hook::At(at) => Due::At(at),
            Hook::Flown(place) => Due::At(place.instant(&self.outlook.at)),
            Hook::BlockStart(i) => self.block_start(i),
            Hook::BlockEnd(i) => self.block_end(i),
            Hook::TrackStart(i) => self.track_start(i),
            Hook::TrackEnd(i) => self.track_end(i),
            Hook::Hit(i, place) => self.track_hit(i, place),
        };
        hook.later(time.offset)
    }

    pub(super) fn notes(&mut self) -> &mut Notes {
        &mut self.notes
    }
}

/// The point a mark was keyed for: of those of its kind, the one really passed nearest to it.
fn meant(score: &Score<'_>, flown: &Flown, mark: &Mark) -> Option<usize> {
    let passed = flown
        .figures
        .iter()
        .flat_map(|figure| &figure.points)
        .enumerate();
    let of_kind = passed.filter(|(_, (point, _))| MarkKind::is_of(mark.kind, point));
    let nearest = of_kind.min_by_key(|(_, (_, passed))| (*passed - mark.observed).abs());
    nearest.map(|(i, _)| i).filter(|i| *i < score.points.len())
}

/// The last look at or before an instant.
fn grid_before(at: Instant) -> Instant {
    Instant::from_us(at.us().div_euclid(GRID.us()).saturating_mul(GRID.us()))
}

/// The first look after an instant.
fn grid_after(at: Instant) -> Instant {
    grid_before(at) + GRID
}

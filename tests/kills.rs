//! A show killed outright again and again: each time it goes on at the right second, and in the end
//! everything was done once.
//!
//! Keys are pressed as in a show. A third of the kills come the very moment a line of the journal appears, a
//! third just before something happens by itself, with nothing running until after it, and the others at
//! any time, also while the program is starting. More than the usual few kills:
//! `ABEAM_KILLS=100 cargo test --release --test kills -- --nocapture`; `ABEAM_SEED` gives the dice.
//!
//! What is looked at is the journal: which effects left the machine, each named there just before it does.
//! An effect that left without being named would not be seen here: `rejoin` looks at what was played.

use std::io::{Read, Write};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant as Wall};

use abeam::live::clock::{Reading, ShowClock};
use abeam::live::journal::{self, Line, Record};
use abeam::live::{Act, CueState, Effect, Event, Mark, MarkKind, Session, What};
use abeam::script::readings;
use abeam::show::{PointName, Show, load};
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};
use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};

const SHOW: &str = "cues/lantern-lake.toml";
/// Show seconds in a second.
const RATE: &str = "60";
/// How long a program may take to show or do anything: one that takes longer has stopped.
const PATIENCE: Duration = Duration::from_secs(60);
/// Keys are pressed to within this of when they should be, in seconds of the show.
const AROUND: Span = Span::from_ms(3_000);

#[test]
fn killed_at_any_instant_a_show_goes_on_and_does_everything_once() {
    let number = |name: &str| std::env::var(name).ok().and_then(|text| text.parse().ok());
    let kills = number("ABEAM_KILLS").unwrap_or(12);
    let seed = number("ABEAM_SEED").unwrap_or(Reading::now().wall_us as u64);
    println!("ABEAM_SEED={seed}");
    let mut dice = Dice(seed);
    let display = Display::load();
    let mut done = 0;
    let mut shows = 0;
    while done < kills {
        let folder = tempfile::tempdir().expect("a folder");
        let mut run = Run::begin(&display, folder.path(), &mut dice);
        let killed = run.play(kills - done);
        let record = run.finish();
        let said = check(&display, &record, run.end());
        done += killed;
        shows += 1;
        println!(
            "show {shows}: {killed} kills ({} at a line, {} over an effect), {said}",
            run.at_a_line, run.over_an_effect
        );
    }
    println!("{done} kills in {shows} shows");
}

/// A disk that fills up, as a limit to how long files may grow: the line that no longer fits is torn.
#[test]
fn on_a_full_disk_the_show_goes_on_and_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("full.journal");
    // In blocks of 512 bytes: the first line and some events fit.
    let limit = "trap '' XFSZ; ulimit -f 4; exec \"$0\" \"$@\"";
    let program = env!("CARGO_BIN_EXE_abeam");
    let file = path.display().to_string();
    let show = [
        "show",
        SHOW,
        "--fast",
        RATE,
        "--from",
        "-2 min",
        "--journal",
        &file,
    ];
    let mut arguments = vec!["-c", limit, program];
    arguments.extend(show);
    let mut life = Life::start("sh", &arguments, folder.path());
    life.until("a journal", || path.exists());
    life.key("b");
    let mut pressed = 0;
    life.until_screen("that the journal cannot be written", |life, screen| {
        // Cut off at the edge of the screen or not.
        let told = screen.contains("the journal cannot be written");
        if !told {
            life.key("d");
            pressed += 1;
            std::thread::sleep(Duration::from_millis(30));
        }
        told
    });
    assert_eq!(
        std::fs::metadata(&path).expect("the journal").len(),
        4 * 512
    );
    let read = journal::read(&path).expect("a journal");
    assert!(read.torn <= 1 && pressed > read.events().count());
    // The show goes on: its clock runs, and it is left as ever.
    life.leave();
}

/// The display at Lantern Lake as the program plans it.
struct Display {
    show: Arc<Show>,
    plan: Arc<Plan>,
    /// When something happens by itself, flown and marked as planned.
    by_itself: Vec<Instant>,
}

impl Display {
    fn load() -> Display {
        let here = Path::new(env!("CARGO_MANIFEST_DIR"));
        let show = load::load(&here.join(SHOW)).expect("the display").show;
        let length = |file: &str| {
            let facts = abeam::sound::probe(&here.join("media").join(file));
            facts.expect("a track").duration
        };
        let facts = Facts {
            readings: readings(&show),
            track_lengths: show
                .tracks
                .iter()
                .map(|track| length(&track.file))
                .collect(),
        };
        let plan = Plan::new(&show, &show.profile, &show.day, facts);
        let mut display = Display {
            show: Arc::new(show),
            plan: Arc::new(plan),
            by_itself: Vec::new(),
        };
        let (show, plan) = (display.show.clone(), display.plan.clone());
        let mut session = Session::new(show, plan, Instant::from_s(-120.0));
        let mut effects = Vec::new();
        for (at, key) in display.marks() {
            let kind = match key {
                "n" => MarkKind::Inbound,
                _ => MarkKind::Abeam,
            };
            let what = What::Mark(Mark {
                kind,
                observed: at,
                point: None,
            });
            effects.extend(session.apply(&Event { at, what }));
        }
        effects.extend(session.apply(&Event {
            at: display.end(),
            what: What::Tick,
        }));
        display.by_itself = effects.iter().map(|effect| effect.at).collect();
        display
    }

    /// The marks somebody keys who sees everything when it is planned, in order.
    fn marks(&self) -> Vec<(Instant, &'static str)> {
        let mut marks = Vec::new();
        for figure in &self.plan.moments.figures {
            for (point, expected) in &figure.points {
                match point {
                    PointName::Inbound => marks.push((expected.at, "n")),
                    PointName::Abeam(_) => marks.push((expected.at, "a")),
                    _ => {}
                }
            }
        }
        marks.sort();
        marks
    }

    /// When everything is over.
    fn end(&self) -> Instant {
        let last = self.plan.moments.figures.iter().map(|figure| figure.end());
        last.max().expect("a figure") + Span::from_s(120.0)
    }

    /// What a session does with a journal's events until `end`.
    fn fold(&self, record: &Record, end: Instant) -> (Session, Vec<Effect>) {
        let first = record.first_clock().expect("an opened journal").at;
        let mut session = Session::new(self.show.clone(), self.plan.clone(), first);
        let mut effects = Vec::new();
        for event in record.events().filter(|event| event.at <= end) {
            effects.extend(session.apply(event));
        }
        effects.extend(session.apply(&Event {
            at: end,
            what: What::Tick,
        }));
        (session, effects)
    }
}

/// One show, in several lives.
struct Run<'a> {
    display: &'a Display,
    dice: &'a mut Dice,
    folder: &'a Path,
    life: Life,
    /// What the journal held when the last life ended.
    journal: Vec<u8>,
    /// The show clock as the first life fixed it.
    clock: ShowClock,
    keys: Vec<(Instant, &'static str)>,
    next_key: usize,
    at_a_line: usize,
    over_an_effect: usize,
}

impl<'a> Run<'a> {
    fn begin(display: &'a Display, folder: &'a Path, dice: &'a mut Dice) -> Run<'a> {
        let mut run = Run {
            display,
            folder,
            life: start(folder, &["--from", "-2 min"]),
            journal: Vec::new(),
            clock: ShowClock::new(Reading::now(), Instant::ZERO, 1.0),
            keys: keys(display, dice),
            next_key: 0,
            at_a_line: 0,
            over_an_effect: 0,
            dice,
        };
        run.until_opened();
        let record = run.record();
        run.clock = record.first_clock().expect("an opened journal").clone();
        run
    }

    fn end(&self) -> Instant {
        self.display.end()
    }

    /// Kills and starts again, at most so often; how often it was.
    fn play(&mut self, most: u64) -> u64 {
        let mut killed = 0;
        while killed < most && self.clock.now() < self.end() {
            // How long nothing runs after the kill.
            let mut away = Span::ZERO;
            match self.dice.below(3) {
                0 => {
                    let long = self.dice_ms(1_500);
                    self.press_for(long);
                }
                1 => {
                    self.until_opened();
                    let long = self.dice_ms(800);
                    self.press_for(long);
                    self.wait_for_a_line();
                    self.at_a_line += 1;
                }
                _ => {
                    self.until_opened();
                    let long = self.dice_ms(300);
                    self.press_for(long);
                    let soon = self.clock.now() + AROUND;
                    let next = self.display.by_itself.iter().find(|at| **at > soon);
                    if let Some(&at) = next {
                        self.press_until(|run| run.clock.now() > at - AROUND);
                        away = at + AROUND - self.clock.now();
                        self.over_an_effect += 1;
                    }
                }
            }
            self.life.kill();
            killed += 1;
            self.keep_journal();
            std::thread::sleep(Duration::from_secs_f64(
                (away / self.clock.rate).s().max(0.0),
            ));
            let before = Reading::now();
            self.life = start(self.folder, &[]);
            if self.dice.below(4) > 0 {
                self.until_opened();
                self.check_opened(&before);
            }
        }
        killed
    }

    /// Until something is written after a key has been pressed, and a little longer than that.
    fn wait_for_a_line(&mut self) {
        let length = self.length();
        self.life.key("d");
        let begun = Wall::now();
        while self.length() == length && begun.elapsed() < Duration::from_millis(500) {
            std::hint::spin_loop();
        }
        // Half of the time at once: most likely before what the line causes has been named.
        let later = self.dice.below(300).saturating_sub(150);
        let until = Wall::now() + Duration::from_micros(later);
        while Wall::now() < until {
            std::hint::spin_loop();
        }
    }

    fn dice_ms(&mut self, end: u64) -> Duration {
        Duration::from_millis(self.dice.below(end))
    }

    /// Presses the keys of the show for a while.
    fn press_for(&mut self, long: Duration) {
        let until = Wall::now() + long;
        self.press_until(|_| Wall::now() >= until);
    }

    /// Presses the keys of the show until `over`.
    fn press_until(&mut self, over: impl Fn(&Self) -> bool) {
        while !over(self) {
            while let Some((_, key)) = self
                .keys
                .get(self.next_key)
                .filter(|(at, _)| *at <= self.clock.now())
            {
                self.life.key(key);
                self.next_key += 1;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    /// What was written stays as it was written.
    fn keep_journal(&mut self) {
        let journal = std::fs::read(self.path()).expect("the journal");
        assert!(
            journal.starts_with(&self.journal),
            "the journal was rewritten"
        );
        self.journal = journal;
    }

    /// The show clock of a life begun after `before` is that of the first: by how far the boot-time clock
    /// has gone on since. Every life rounds once to a microsecond of the show, and a show has fewer than a
    /// thousand lives: a millisecond.
    fn check_opened(&self, before: &Reading) {
        let now = Reading::now();
        let record = self.record();
        let opened = record.lines.iter().rev().find_map(|line| match line {
            Line::Opened(clock) => Some(clock),
            _ => None,
        });
        let opened = opened.expect("an opened journal");
        // It was fixed in this life, at a reading taken in it.
        assert!((before.boot_us..=now.boot_us).contains(&opened.reading.boot_us));
        assert_eq!(opened.rate, self.clock.rate);
        let should = self.clock.at(&opened.reading);
        assert!(
            (opened.at - should).abs() <= Span::from_ms(1),
            "went on at {}, not {should}",
            opened.at
        );
    }

    fn until_opened(&self) {
        let opened = |bytes: &[u8]| {
            let text = String::from_utf8_lossy(bytes);
            text.matches("{\"opened\":").count()
        };
        let before = opened(&self.journal);
        self.life.until("an opened journal", || {
            std::fs::read(self.path())
                .is_ok_and(|journal| opened(&journal) > before && journal.ends_with(b"\n"))
        });
    }

    /// Lets the show end and leaves it.
    fn finish(&mut self) -> Record {
        let end = self.end();
        self.press_until(|run| run.clock.now() > end);
        self.until_opened();
        self.life.leave();
        self.record()
    }

    fn record(&self) -> Record {
        journal::read(&self.path()).expect("a journal")
    }

    fn length(&self) -> u64 {
        std::fs::metadata(self.path()).map_or(0, |facts| facts.len())
    }

    fn path(&self) -> std::path::PathBuf {
        self.folder.join("show.journal")
    }
}

/// The keys of a show: every mark, and words, ducking and talking at any time; now and then it is held up.
fn keys(display: &Display, dice: &mut Dice) -> Vec<(Instant, &'static str)> {
    let mut keys = display.marks();
    let mut at = Instant::from_s(-110.0);
    while at < display.end() {
        at += Span::from_ms(2_000 + dice.below(10_000) as i64);
        match dice.below(40) {
            0 => {
                keys.push((at, "w"));
                keys.push((at + Span::from_s(15.0), "c"));
            }
            1..16 => keys.push((at, "\x1b[6~")),
            16..22 => keys.push((at, "t")),
            _ => keys.push((at, "d")),
        }
    }
    keys.sort();
    keys
}

/// Everything that was to be done was done, once; says what it was.
fn check(display: &Display, record: &Record, end: Instant) -> String {
    assert_eq!(record.torn, 0);
    let Some(Line::Closed(closed)) = record.lines.last() else {
        panic!("the journal is not closed");
    };
    let sent: Vec<u64> = record
        .lines
        .iter()
        .filter_map(|line| match line {
            Line::Sent(id) => Some(*id),
            _ => None,
        })
        .collect();
    assert_eq!(sent, (1..=sent.len() as u64).collect::<Vec<_>>());
    // What a session does with the same events: all of it until the show was over, and perhaps some of what
    // a show held up for long still had to do when it was left.
    let last = record
        .events()
        .last()
        .map_or(end, |event| event.at.max(end));
    let (session, effects) = display.fold(record, last);
    let clock = record.first_clock().expect("an opened journal");
    let (_, until_left) = display.fold(record, clock.at(closed));
    let ids: Vec<u64> = until_left.iter().map(|effect| effect.id).collect();
    assert_eq!(sent, ids[..sent.len().min(ids.len())]);
    assert!(
        sent.len() >= effects.len(),
        "{} were lost",
        effects.len() - sent.len()
    );
    // Cues of a stated time come whatever is marked.
    for (call, cue) in display.show.calls.iter().zip(session.calls()) {
        let stated = call.id == "slot-closes";
        assert!(
            !stated || cue.state == CueState::Done,
            "{} was lost",
            call.id
        );
    }
    let mut starts = vec![0; display.show.tracks.len()];
    for effect in &effects {
        if let Act::Start { track, .. } = effect.act {
            starts[track] += 1;
        }
    }
    assert!(
        starts.iter().all(|&times| times <= 1),
        "started: {starts:?}"
    );
    format!(
        "{} events, {} effects, {} tracks started",
        record.events().count(),
        sent.len(),
        starts.iter().sum::<usize>()
    )
}

/// A life of the show whose journal is in `folder`.
fn start(folder: &Path, more: &[&str]) -> Life {
    let journal = folder.join("show.journal").display().to_string();
    let mut arguments = vec!["show", SHOW, "--fast", RATE, "--journal", &journal];
    arguments.extend(more);
    let mut life = Life::start(env!("CARGO_BIN_EXE_abeam"), &arguments, folder);
    // The first key takes the cautions away.
    life.key("b");
    life
}

/// The program in a terminal, from its start to its end; killed when dropped.
struct Life {
    child: Box<dyn Child + Send + Sync>,
    keys: Box<dyn Write + Send>,
    screen: Arc<std::sync::Mutex<vt100::Parser>>,
    _master: Box<dyn MasterPty + Send>,
}

impl Life {
    fn start(program: &str, arguments: &[&str], folder: &Path) -> Life {
        let size = PtySize {
            rows: 40,
            cols: 160,
            ..PtySize::default()
        };
        let pair = native_pty_system().openpty(size).expect("a terminal");
        let mut command = CommandBuilder::new(program);
        command.args(arguments);
        command.cwd(env!("CARGO_MANIFEST_DIR"));
        command.env("XDG_STATE_HOME", folder);
        command.env("TERM", "xterm-256color");
        let child = pair.slave.spawn_command(command).expect("the program");
        let keys = pair.master.take_writer().expect("its keys");
        let mut output = pair.master.try_clone_reader().expect("its screen");
        let screen = Arc::new(std::sync::Mutex::new(parser(size)));
        let seeing = screen.clone();
        std::thread::spawn(move || {
            let mut buffer = [0; 65_536];
            while let Ok(length @ 1..) = output.read(&mut buffer) {
                seeing.lock().expect("a screen").process(&buffer[..length]);
            }
        });
        Life {
            child,
            keys,
            screen,
            _master: pair.master,
        }
    }

    fn key(&mut self, key: &str) {
        self.keys.write_all(key.as_bytes()).expect("a terminal");
    }

    fn screen(&self) -> String {
        self.screen.lock().expect("a screen").screen().contents()
    }

    fn until(&self, what: &str, mut is_so: impl FnMut() -> bool) {
        let begun = Wall::now();
        while !is_so() {
            let screen = self.screen();
            assert!(begun.elapsed() < PATIENCE, "never {what}:\n{screen}");
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    fn until_screen(&mut self, what: &str, mut is_so: impl FnMut(&mut Life, &str) -> bool) {
        let begun = Wall::now();
        loop {
            let screen = self.screen();
            if is_so(self, &screen) {
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "never {what}:\n{screen}");
        }
    }

    /// SIGKILL, and nothing gentler before it.
    fn kill(&mut self) {
        let id = self.child.process_id().expect("a running program");
        let id = rustix::process::Pid::from_raw(id.cast_signed()).expect("an id");
        rustix::process::kill_process(id, rustix::process::Signal::KILL).expect("to be killed");
        self.child.wait().expect("its end");
    }

    /// Leaves the program by its keys, pressed until they are heard.
    fn leave(&mut self) {
        let begun = Wall::now();
        loop {
            // A key that finds the program gone has come too late.
            let _ = self.keys.write_all(b"q\r");
            std::thread::sleep(Duration::from_millis(50));
            if let Some(status) = self.child.try_wait().expect("its end") {
                assert!(status.success(), "{status:?}:\n{}", self.screen());
                return;
            }
            assert!(begun.elapsed() < PATIENCE, "not left:\n{}", self.screen());
        }
    }
}

impl Drop for Life {
    fn drop(&mut self) {
        if let Ok(None) = self.child.try_wait() {
            self.kill();
        }
    }
}

fn parser(size: PtySize) -> vt100::Parser {
    let positive = |n| std::num::NonZeroU16::new(n).expect("a screen of some size");
    vt100::Parser::new(positive(size.rows), positive(size.cols), 0)
}

/// Numbers nobody chose (Steele, Lea, Flood: "Fast splittable pseudorandom number generators", 2014).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % end
    }
}

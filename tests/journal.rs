//! The journal: what is written is read back, whatever happened while it was written, and folding it gives
//! the show that was.

mod rehearsal;

use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

use abeam::live::clock::{Reading, ShowClock};
use abeam::live::journal::{self, Header, Journal, Line, Record, Stamped};
use abeam::live::stage::{From, Stage};
use abeam::live::{Effect, Event, Mark, MarkKind, PointOf, Session, What};
use abeam::show::{Name, PointName};
use abeam::units::{Instant, Span};
use assert_cmd::Command;
use proptest::prelude::*;
use tempfile::TempDir;

fn header() -> Header {
    Header {
        abeam_journal: journal::FORMAT,
        title: "Rehearsal".into(),
        profile: "high".into(),
        show_blake3: "00".into(),
        wind: None,
        temperature: None,
        mirrored: false,
        practice: false,
        tracks_blake3: BTreeMap::from([("hymn".into(), "11".into())]),
    }
}

fn reading(boot_id: &str, boot_s: i64, wall_s: i64) -> Reading {
    Reading {
        boot_id: boot_id.into(),
        boot_us: boot_s * 1_000_000,
        wall_us: wall_s * 1_000_000,
    }
}

fn event(s: f64, what: What) -> Event {
    Event {
        at: Instant::from_s(s),
        what,
    }
}

/// A line of an event at a second of a show whose clock stood at zero at `reading("a", 0, 0)`.
fn line(event: Event) -> Line {
    Line::Event(Stamped {
        reading: Reading {
            boot_id: "a".into(),
            boot_us: event.at.us(),
            wall_us: event.at.us(),
        },
        event,
    })
}

fn opened(s: f64) -> Line {
    let clock = ShowClock::new(reading("a", 0, 0), Instant::ZERO, 1.0);
    let at = Instant::from_s(s);
    Line::Opened(ShowClock::new(
        Reading {
            boot_us: at.us(),
            wall_us: at.us(),
            ..clock.reading
        },
        at,
        1.0,
    ))
}

/// A journal of `lines` in a folder of its own.
fn written(lines: &[Line]) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("show.journal");
    let mut journal = Journal::create(&path, &header()).expect("a journal");
    for line in lines {
        journal.append(line).expect("room");
    }
    (folder, path)
}

/// A name of anything, quotes and line breaks too.
fn any_name() -> impl Strategy<Value = Name> {
    any::<String>().prop_map(Name::from)
}

fn any_span() -> impl Strategy<Value = Span> {
    any::<i64>().prop_map(Span::from_us)
}

fn any_instant() -> impl Strategy<Value = Instant> {
    any::<i64>().prop_map(Instant::from_us)
}

fn any_mark() -> impl Strategy<Value = Mark> {
    let kinds = vec![MarkKind::Abeam, MarkKind::Inbound, MarkKind::Gate];
    let points = prop_oneof![
        Just(PointName::Start),
        Just(PointName::Inbound),
        Just(PointName::Cross),
        Just(PointName::End),
        (1..=255_u8).prop_map(PointName::Abeam),
        (1..=255_u8).prop_map(PointName::Heard),
        (1..=255_u8).prop_map(PointName::Gate),
        "[b-d][a-z_]{3,8}".prop_map(|hit| PointName::Hit(hit.into())),
    ];
    let point = (any_name(), points).prop_map(|(key, point)| PointOf { key, point });
    (
        prop::sample::select(kinds),
        any_instant(),
        prop::option::of(point),
    )
        .prop_map(|(kind, observed, point)| Mark {
            kind,
            observed,
            point,
        })
}

/// Every kind of event, with anything in it.
fn any_what() -> impl Strategy<Value = What> {
    let name = any_name;
    prop_oneof![
        Just(What::Tick),
        any_mark().prop_map(What::Mark),
        Just(What::UndoMark),
        any_span().prop_map(|by| What::ShiftMark { by }),
        Just(What::Dismiss),
        Just(What::Delay),
        Just(What::Resume),
        name().prop_map(|key| What::Drop { key }),
        name().prop_map(|key| What::Reinstate { key }),
        name().prop_map(|figure| What::Repeat { figure }),
        (name(), prop::option::of(name()))
            .prop_map(|(figure, before)| What::Insert { figure, before }),
        (name(), name()).prop_map(|(first, second)| What::Swap { first, second }),
        name().prop_map(|key| What::Mirror { key }),
        name().prop_map(|name| What::Profile { name }),
        prop_oneof![
            Just(What::Audible),
            name().prop_map(|block| What::BeginBlock { block }),
            Just(What::EndBlock),
            name().prop_map(|block| What::SkipBlock { block }),
            any::<bool>().prop_map(|latched| What::Duck { latched }),
            name().prop_map(|track| What::StartTrack { track }),
            name().prop_map(|track| What::FadeTrack { track }),
            (name(), prop::num::f64::NORMAL)
                .prop_map(|(track, gain_db)| What::Level { track, gain_db }),
            any::<bool>().prop_map(|armed| What::Arm { armed }),
            Just(What::KnockItOff),
            Just(What::Accident),
            Just(What::Release),
        ],
    ]
}

fn any_reading() -> impl Strategy<Value = Reading> {
    (any::<String>(), any::<i64>(), any::<i64>()).prop_map(|(boot_id, boot_us, wall_us)| Reading {
        boot_id,
        boot_us,
        wall_us,
    })
}

fn any_line() -> impl Strategy<Value = Line> {
    let event = (any_reading(), any_instant(), any_what()).prop_map(|(reading, at, what)| {
        Line::Event(Stamped {
            reading,
            event: Event { at, what },
        })
    });
    let opened = (any_reading(), any_instant(), prop::num::f64::NORMAL)
        .prop_map(|(reading, at, rate)| Line::Opened(ShowClock::new(reading, at, rate)));
    prop_oneof![
        8 => event,
        1 => opened,
        1 => any::<u64>().prop_map(Line::Sent),
        1 => any_reading().prop_map(Line::Closed),
    ]
}

/// Something that may happen in the rehearsal display, at a second of it.
fn happening() -> impl Strategy<Value = (f64, What)> {
    let figures = vec![
        "arrival",
        "slow-pass",
        "memorial",
        "departure",
        "memorial#2",
    ];
    let figure = || prop::sample::select(figures.clone()).prop_map(Name::from);
    let track = || prop::sample::select(vec!["overture", "hymn", "sting"]).prop_map(Name::from);
    let block = || {
        prop::sample::select(vec!["welcome", "slow-words", "memorial-words"]).prop_map(Name::from)
    };
    let mark = |kind| move |s: f64| rehearsal::mark(kind, s);
    let what = prop_oneof![
        4 => Just(None).boxed(),
        1 => Just(Some(What::UndoMark)).boxed(),
        1 => (-900..900_i64).prop_map(|ms| Some(What::ShiftMark { by: Span::from_ms(ms) })).boxed(),
        1 => Just(Some(What::Delay)).boxed(),
        2 => Just(Some(What::Resume)).boxed(),
        1 => figure().prop_map(|key| Some(What::Drop { key })).boxed(),
        1 => figure().prop_map(|key| Some(What::Reinstate { key })).boxed(),
        1 => figure().prop_map(|figure| Some(What::Repeat { figure })).boxed(),
        1 => figure().prop_map(|key| Some(What::Mirror { key })).boxed(),
        1 => Just(Some(What::Profile { name: "low".into() })).boxed(),
        1 => block().prop_map(|block| Some(What::BeginBlock { block })).boxed(),
        1 => Just(Some(What::EndBlock)).boxed(),
        1 => block().prop_map(|block| Some(What::SkipBlock { block })).boxed(),
        1 => any::<bool>().prop_map(|latched| Some(What::Duck { latched })).boxed(),
        1 => track().prop_map(|track| Some(What::StartTrack { track })).boxed(),
        1 => track().prop_map(|track| Some(What::FadeTrack { track })).boxed(),
        1 => (track(), -70.0..20.0).prop_map(|(track, gain_db)| Some(What::Level { track, gain_db })).boxed(),
        1 => any::<bool>().prop_map(|armed| Some(What::Arm { armed })).boxed(),
        1 => Just(Some(What::KnockItOff)).boxed(),
        2 => Just(Some(What::Release)).boxed(),
    ];
    let kinds = vec![MarkKind::Abeam, MarkKind::Inbound, MarkKind::Gate];
    (-100.0..500.0, what, prop::sample::select(kinds))
        .prop_map(move |(s, what, kind)| (s, what.unwrap_or_else(|| mark(kind)(s))))
}

fn in_order<T>(mut list: Vec<(f64, T)>) -> Vec<(f64, T)> {
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    list
}

fn rehearsal_session() -> Session {
    let (show, plan) = rehearsal::plan("high");
    Session::new(show, plan, Instant::from_s(-120.0))
}

fn apply_all(session: &mut Session, events: impl IntoIterator<Item = Event>) -> Vec<Effect> {
    let effects = events.into_iter().map(|event| session.apply(&event));
    effects.collect::<Vec<_>>().concat()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn every_line_is_read_back_as_it_was_written(
        lines in prop::collection::vec(any_line(), 0..60),
    ) {
        let (_folder, path) = written(&lines);
        let record = journal::read(&path).expect("a journal");
        prop_assert_eq!(record, Record { header: header(), lines, torn: 0 });
    }

    #[test]
    fn a_kill_anywhere_doubles_and_loses_nothing(
        events in prop::collection::vec(happening(), 0..25).prop_map(in_order),
        ticks in prop::collection::vec(-120.0..600.0, 0..60),
        killed in -119.0..590.0_f64,
        away in 0.0..60.0_f64,
    ) {
        // While the program is away nothing is keyed.
        let keyed = events.iter().filter(|(s, _)| !(killed..=killed + away).contains(s));
        let all: Vec<(f64, What)> = in_order(
            ticks.iter().map(|&s| (s, What::Tick)).chain(keyed.cloned()).collect(),
        );
        // Both are looked at when whoever is away longest is back.
        let end = event(f64::max(600.0, killed + away), What::Tick);
        let mut whole = rehearsal_session();
        let live = all.iter().map(|(s, what)| event(*s, what.clone()));
        let uncut = apply_all(&mut whole, live.chain([end.clone()]));

        // The same, killed: what was keyed before is in the journal, ticks are not.
        let mut lines = vec![opened(-120.0)];
        let mut session = rehearsal_session();
        let mut done = Vec::new();
        for (s, what) in all.iter().filter(|(s, _)| *s < killed) {
            let event = event(*s, what.clone());
            if *what != What::Tick {
                lines.push(line(event.clone()));
            }
            let effects = session.apply(&event);
            lines.extend(effects.iter().map(|effect| Line::Sent(effect.id)));
            done.extend(effects);
        }
        let (_folder, path) = written(&lines);
        let record = journal::read(&path).expect("a journal");
        let mut session = rehearsal_session();
        let again = record.events().cloned().chain([event(killed + away, What::Tick)]);
        let again = apply_all(&mut session, again);
        prop_assert_eq!(&again[..done.len()], &done[..]);
        let last = record.last_sent();
        done.extend(again.into_iter().filter(|effect| effect.id > last));
        let rest = all.iter().filter(|(s, _)| *s > killed + away);
        let rest = rest.map(|(s, what)| event(*s, what.clone()));
        done.extend(apply_all(&mut session, rest.chain([end])));

        prop_assert_eq!(done, uncut);
        prop_assert_eq!(session.tracks(), whole.tracks());
        prop_assert_eq!(session.calls(), whole.calls());
        prop_assert_eq!(session.blocks(), whole.blocks());
        prop_assert_eq!(session.marks(), whole.marks());
        prop_assert_eq!(session.programme(), whole.programme());
        prop_assert_eq!(session.mode(), whole.mode());
        prop_assert_eq!(session.notices(), whole.notices());
    }
}

#[test]
fn a_torn_last_line_is_dropped_and_counted() {
    let lines = [
        opened(-120.0),
        line(event(1.0, What::Duck { latched: true })),
        Line::Sent(1),
        line(event(2.0, What::KnockItOff)),
    ];
    let (_folder, path) = written(&lines);
    let whole = std::fs::read(&path).expect("the journal");
    let last = whole[..whole.len() - 1]
        .iter()
        .rposition(|&byte| byte == b'\n')
        .expect("a line")
        + 1;
    for cut in last + 1..whole.len() - 1 {
        std::fs::write(&path, &whole[..cut]).expect("the journal");
        let record = journal::read(&path).expect("a journal");
        assert_eq!(record.lines, lines[..3], "cut at {cut}");
        assert_eq!(record.torn, 1, "cut at {cut}");
    }
    // Without its line break alone the line is whole.
    std::fs::write(&path, &whole[..whole.len() - 1]).expect("the journal");
    let record = journal::read(&path).expect("a journal");
    assert_eq!((&record.lines[..], record.torn), (&lines[..], 0));
}

#[test]
fn a_torn_line_does_not_swallow_the_next() {
    let first = [opened(-120.0), line(event(1.0, What::Delay))];
    let (_folder, path) = written(&first);
    let mut file = std::fs::OpenOptions::new()
        .append(true)
        .open(&path)
        .expect("the journal");
    file.write_all(b"{\"event\":{\"boot_id\":\"a\",\"boo")
        .expect("room");
    let next = [line(event(2.0, What::Resume)), Line::Sent(3)];
    let mut journal = Journal::reopen(&path).expect("the journal");
    for line in &next {
        journal.append(line).expect("room");
    }
    drop(journal);
    let record = journal::read(&path).expect("a journal");
    assert_eq!(record.lines, [first, next].concat());
    assert_eq!(record.torn, 1);
}

#[test]
fn a_line_is_with_the_system_before_append_returns() {
    let (_folder, path) = written(&[]);
    let mut journal = Journal::reopen(&path).expect("the journal");
    for id in 1..20 {
        journal.append(&Line::Sent(id)).expect("room");
        assert_eq!(journal::read(&path).expect("a journal").last_sent(), id);
    }
}

#[test]
fn a_running_shows_journal_is_its_own() {
    let (_folder, path) = written(&[opened(-120.0)]);
    assert!(!journal::is_in_use(&path).expect("a file"));
    let journal = Journal::reopen(&path).expect("the journal");
    assert!(journal::is_in_use(&path).expect("a file"));
    assert!(Journal::reopen(&path).is_err());
    drop(journal);
    assert!(!journal::is_in_use(&path).expect("a file"));
}

#[test]
fn after_a_restart_of_the_machine_the_wall_clock_finds_the_show() {
    let record = Record {
        header: header(),
        lines: vec![
            Line::Opened(ShowClock::new(
                reading("a", 1_000, 50_000),
                Instant::from_s(-60.0),
                1.0,
            )),
            // The wall clock was set by half an hour meanwhile; the boot-time clock was not.
            Line::Event(Stamped {
                reading: reading("a", 1_100, 51_900),
                event: event(40.0, What::Delay),
            }),
            Line::Sent(1),
        ],
        torn: 0,
    };
    let now = reading("b", 20, 51_990);
    let clock = record.clock(&now).expect("an opened journal");
    assert_eq!(clock.at(&now), Instant::from_s(130.0));
    // Without a restart it is the boot-time clock alone.
    let now = reading("a", 1_200, 7);
    let clock = record.clock(&now).expect("an opened journal");
    assert_eq!(clock.at(&now), Instant::from_s(140.0));
}

/// A stage with nothing to be heard, resumed from `record` at `path`.
fn resumed(path: &Path, record: Record) -> Stage {
    let (show, plan) = rehearsal::plan("high");
    let media = vec![None; show.tracks.len()];
    Stage::new(
        &show,
        &plan,
        From::Journal(path.into(), record),
        None,
        media,
    )
}

/// A record of a show that began `ago` seconds ago at `from` seconds, with `events`.
fn cut_short(from: f64, ago: f64, events: &[(f64, What)]) -> Record {
    let mut then = Reading::now();
    then.boot_us -= (ago * 1e6) as i64;
    then.wall_us -= (ago * 1e6) as i64;
    let clock = ShowClock::new(then, Instant::from_s(from), 1.0);
    let mut lines = vec![Line::Opened(clock.clone())];
    for (s, what) in events {
        let mut reading = clock.reading.clone();
        reading.boot_us += ((s - from) * 1e6) as i64;
        reading.wall_us += ((s - from) * 1e6) as i64;
        lines.push(Line::Event(Stamped {
            reading,
            event: event(*s, what.clone()),
        }));
    }
    Record {
        header: header(),
        lines,
        torn: 0,
    }
}

/// A journal on disk with the lines of `record`.
fn on_disk(record: &Record) -> (TempDir, PathBuf) {
    written(&record.lines)
}

#[test]
fn a_stage_goes_on_where_the_show_is_and_says_what_was_torn() {
    let mut record = cut_short(-100.0, 90.0, &[(-30.0, What::Duck { latched: true })]);
    record.torn = 1;
    let (_folder, path) = on_disk(&record);
    let stage = resumed(&path, record);
    // Ninety seconds on, and however long this machine took.
    assert!(stage.clock().at >= Instant::from_s(-10.0));
    assert!(stage.session().is_duck_latched());
    let said: Vec<&str> = stage.warnings().collect();
    assert!(
        said.iter().any(|said| said.contains("1 torn line")),
        "{said:?}"
    );
    drop(stage);
    let after = journal::read(&path).expect("a journal");
    // The duck of −30 s, whose name the kill had swallowed.
    assert_eq!(
        after.lines[2..]
            .iter()
            .filter(|line| matches!(line, Line::Sent(1)))
            .count(),
        1
    );
    assert!(matches!(after.lines[2], Line::Opened(_)));
}

/// Or a kill between the two would leave an effect nobody knows the cause of.
#[test]
fn an_event_is_written_before_its_effects_are_named() {
    let record = cut_short(-100.0, 1.0, &[]);
    let (_folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    let mut keyed = vec![
        What::Duck { latched: true },
        What::KnockItOff,
        What::Level {
            track: "hymn".into(),
            gain_db: -1.0,
        },
    ];
    for what in &keyed {
        stage.happen(what.clone());
    }
    drop(stage);
    let after = journal::read(&path).expect("a journal");
    let (ids, events): (Vec<&Line>, Vec<&Line>) = after.lines[2..]
        .iter()
        .partition(|line| matches!(line, Line::Sent(_)));
    assert_eq!(ids, [&Line::Sent(1), &Line::Sent(2), &Line::Sent(3)]);
    assert_eq!(events.len(), 3);
    for pair in after.lines[2..].chunks(2) {
        let [Line::Event(stamped), Line::Sent(_)] = pair else {
            panic!("{pair:?}");
        };
        assert_eq!(stamped.event.what, keyed.remove(0));
    }
}

#[test]
fn a_machine_whose_clock_went_back_goes_on_from_the_last_event() {
    let mut record = cut_short(-100.0, 90.0, &[(-30.0, What::Audible)]);
    // The machine has been restarted, and its wall clock stands where it stood an hour before.
    for line in &mut record.lines {
        if let Line::Opened(ShowClock { reading, .. }) | Line::Event(Stamped { reading, .. }) = line
        {
            reading.boot_id = "another".into();
            reading.wall_us += 3_600_000_000;
        }
    }
    let (_folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    assert_eq!(stage.clock().at, Instant::from_s(-30.0));
    assert!(
        stage
            .warnings()
            .any(|said| said.contains("clock is behind"))
    );
    let before = stage.session().now();
    std::thread::sleep(std::time::Duration::from_millis(20));
    stage.tick();
    assert!(stage.session().now() > before, "the show stands still");
}

#[cfg(target_os = "linux")]
#[test]
fn on_a_full_disk_a_warning_is_given_and_the_show_goes_on() {
    let record = cut_short(-100.0, 1.0, &[]);
    let mut stage = resumed(Path::new("/dev/full"), record);
    stage.happen(What::Duck { latched: true });
    stage.happen(What::KnockItOff);
    stage.tick();
    assert!(stage.session().is_ducked());
    assert!(!stage.session().is_armed());
    let said = stage
        .warnings()
        .filter(|said| said.contains("cannot be written"));
    let said: Vec<&str> = said.collect();
    assert_eq!(said.len(), 1, "said once: {said:?}");
    assert!(said[0].contains("goes on"), "{said:?}");
}

/// Nothing is written to a device that cannot be synced; that it was not is told at the next line, once.
#[cfg(target_os = "linux")]
#[test]
fn what_could_not_be_synced_is_told_at_the_next_line() {
    let mut journal = Journal::reopen(Path::new("/dev/null")).expect("a device");
    journal
        .append(&Line::Sent(1))
        .expect("nothing has been synced yet");
    let begun = std::time::Instant::now();
    let mut told = None;
    while told.is_none() && begun.elapsed().as_secs() < 60 {
        told = journal.append(&Line::Sent(2)).err();
    }
    // Linux cannot sync a device of characters (fsync(2): EINVAL).
    let told = told.expect("an error").kind();
    assert_eq!(told, std::io::ErrorKind::InvalidInput);
}

#[test]
fn no_journal_is_a_warning() {
    let folder = tempfile::tempdir().expect("a folder");
    let (show, plan) = rehearsal::plan("high");
    let clock = ShowClock::new(Reading::now(), Instant::from_s(-100.0), 1.0);
    let path = folder.path().join("no such folder").join("show.journal");
    let begin = From::Beginning(clock, path, header());
    let mut stage = Stage::new(&show, &plan, begin, None, vec![None; show.tracks.len()]);
    stage.happen(What::Duck { latched: true });
    assert!(stage.session().is_ducked());
    assert!(
        stage
            .warnings()
            .any(|said| said.contains("cannot be resumed"))
    );
}

/// The program with a journal in `folder` of the display at Lantern Lake; what it says on standard error.
/// It gets no further than its terminal, which it has none of.
fn refusal(folder: &Path, journal: &str, more: &[&str]) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    command
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_STATE_HOME", folder)
        .args(["show", "cues/lantern-lake.toml", "--journal", journal])
        .args(more);
    let output = command.output().expect("the program");
    assert!(!output.status.success());
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// A journal of the display at Lantern Lake, as the program begins it; its text.
fn lantern_lake(folder: &Path, more: &[&str]) -> (String, String) {
    let path = folder.join("lake.journal");
    let name = path.display().to_string();
    let arguments = [&["--silent", "--from", "-2 min"], more].concat();
    // It ends because there is no terminal, which is as good as a kill.
    let said = refusal(folder, &name, &arguments);
    assert!(said.contains("terminal"), "{said}");
    let text = std::fs::read_to_string(&path).expect("a journal");
    (name, text)
}

#[test]
fn a_journal_of_something_else_is_refused_with_what_to_type() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    let (name, text) = lantern_lake(folder, &[]);
    let hash = {
        let record = journal::read(Path::new(&name)).expect("a journal");
        record.header.show_blake3
    };
    for (from, to, more, says) in [
        (&*hash, "00", &[][..], "another version of the document"),
        ("\"high\"", "\"low\"", &[], "another profile"),
        (
            "\"abeam_journal\":1",
            "\"abeam_journal\":2",
            &[],
            "another version of this program",
        ),
        ("\"title\"", "\"tilte\"", &[], "does not say which show"),
        ("", "", &["--profile", "low"], "another profile"),
        ("", "", &["--wind", "240/15kt"], "another day"),
        ("", "", &["--temperature", "9 C"], "another day"),
        ("", "", &["--fast", "60"], "leave --fast out"),
        ("\"rate\":1.0", "\"rate\":60.0", &[], "say --fast 60 "),
        // Begun by hand, it is no show that follows the clock on the wall.
        ("", "", &[], "did not follow the clock"),
    ] {
        let altered = text.replace(from, to);
        std::fs::write(&name, &altered).expect("the journal");
        let said = refusal(folder, &name, more);
        assert!(
            said.contains(says) && said.contains("--fresh"),
            "{from} {more:?}: {said}"
        );
        assert_eq!(
            std::fs::read_to_string(&name).expect("the journal"),
            altered
        );
    }
    // As it was, it is gone on with by the very command that began it; with `--fresh` whatever it was it is kept beside the new one.
    std::fs::write(&name, &text).expect("the journal");
    let said = refusal(folder, &name, &["--silent", "--from", "-2 min"]);
    assert!(said.contains("terminal"), "{said}");
    let record = journal::read(Path::new(&name)).expect("a journal");
    let times = record
        .lines
        .iter()
        .filter(|line| matches!(line, Line::Opened(_)));
    assert_eq!(times.count(), 2);
    let altered = "no journal at all\n";
    std::fs::write(&name, altered).expect("the journal");
    refusal(folder, &name, &["--silent", "--fresh", "--from", "-2 min"]);
    let kept = std::fs::read_dir(folder)
        .expect("the folder")
        .filter_map(|entry| std::fs::read_to_string(entry.expect("a file").path()).ok());
    assert!(kept.into_iter().any(|text| text == altered));
}

#[test]
fn a_journal_killed_before_its_first_line_was_out_is_begun_anew() {
    let folder = tempfile::tempdir().expect("a folder");
    let (name, text) = lantern_lake(folder.path(), &[]);
    let first = text.find('\n').expect("a line");
    for cut in [0, 1, first / 2, first, first + 1] {
        std::fs::write(&name, &text[..cut]).expect("the journal");
        let said = refusal(folder.path(), &name, &["--silent", "--from", "-2 min"]);
        assert!(said.contains("terminal"), "cut at {cut}: {said}");
        let record = journal::read(Path::new(&name)).expect("a journal");
        assert!(record.first_clock().is_some(), "cut at {cut}");
    }
}

#[test]
fn yesterdays_journal_is_not_gone_on_with_unasked() {
    let folder = tempfile::tempdir().expect("a folder");
    let (name, text) = lantern_lake(folder.path(), &[]);
    let record = journal::read(Path::new(&name)).expect("a journal");
    let written = record.last_wall_us().expect("an opened journal");
    let old = text.replace(
        &written.to_string(),
        &(written - 24 * 3_600_000_000).to_string(),
    );
    let default = folder.path().join("abeam").join(format!(
        "lantern-lake-{}.journal",
        &record.header.show_blake3[..8]
    ));
    std::fs::write(&default, old).expect("the journal");
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    command
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("XDG_STATE_HOME", folder.path())
        .args(["show", "cues/lantern-lake.toml", "--silent"]);
    let output = command.output().expect("the program");
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(
        said.contains("1440:0") && said.contains("--fresh"),
        "{said}"
    );
    assert!(
        said.contains(&format!("say --journal {}", default.display())),
        "{said}"
    );
}

#[cfg(target_os = "linux")]
#[test]
fn devices_and_running_shows_keep_their_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let said = refusal(folder.path(), "/dev/full", &["--fresh", "--from", "0 s"]);
    assert!(said.contains("the name of a file"), "{said}");
    assert!(Path::new("/dev/full").exists());
    let (name, _) = lantern_lake(folder.path(), &[]);
    let running = Journal::reopen(Path::new(&name)).expect("the journal");
    let said = refusal(folder.path(), &name, &["--fresh", "--from", "0 s"]);
    assert!(said.contains("a --journal of its own"), "{said}");
    drop(running);
}

#[test]
fn an_accident_seals_the_journal_and_the_show_goes_on_in_another_file() {
    let record = cut_short(-100.0, 1.0, &[(-99.5, What::Duck { latched: true })]);
    let (folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    stage.happen(What::Accident);
    let sealed = std::fs::read(&path).expect("the sealed file");
    for _ in 0..2 {
        stage.happen(What::Accident);
        stage.happen(What::Release);
    }
    assert_eq!(
        stage
            .warnings()
            .filter(|said| said.contains("seal"))
            .count(),
        0
    );
    drop(stage);
    assert_eq!(
        std::fs::read(&path).expect("the file"),
        sealed,
        "nothing is added to it"
    );
    assert!(
        std::fs::metadata(&path)
            .expect("a file")
            .permissions()
            .readonly()
    );

    // The hash is that of every byte before the line it stands in.
    let text = String::from_utf8(sealed.clone()).expect("text");
    let last = text.trim_end().rfind('\n').expect("lines") + 1;
    let line: serde_json::Value = serde_json::from_str(&text[last..]).expect("a line");
    let hash = blake3::hash(&text.as_bytes()[..last]).to_string();
    assert_eq!(line["sealed"]["blake3"], hash.as_str());
    assert!(
        text[..last].contains("\"what\":\"accident\""),
        "the accident is in it"
    );

    // What came after names it.
    let next = folder
        .path()
        .join(line["sealed"]["next"].as_str().expect("a name"));
    let after = std::fs::read_to_string(&next).expect("the next file");
    let follows: serde_json::Value =
        serde_json::from_str(after.lines().nth(1).expect("a line")).expect("a line");
    assert_eq!(follows["follows"]["blake3"], hash.as_str());
    assert_eq!(
        Some(follows["follows"]["file"].as_str().expect("a name")),
        path.file_name().and_then(|name| name.to_str())
    );

    // Read from the first, both are one journal, and a start after a kill goes on in the second.
    let record = journal::read(&path).expect("a journal");
    let whats: Vec<&What> = record.events().map(|event| &event.what).collect();
    let release = What::Release;
    let accident = What::Accident;
    let duck = What::Duck { latched: true };
    assert_eq!(
        whats,
        [&duck, &accident, &accident, &release, &accident, &release]
    );
    let chain = journal::chain(&path).expect("files");
    assert_eq!(
        (chain.files, chain.broken),
        (vec![path.clone(), next.clone()], 0)
    );
    let mut stage = resumed(&path, record);
    stage.happen(What::Duck { latched: false });
    drop(stage);
    assert_eq!(std::fs::read(&path).expect("the file"), sealed);
    assert!(
        std::fs::read_to_string(&next)
            .expect("it")
            .contains("\"latched\":false")
    );
}

#[test]
fn a_sealed_journal_that_was_changed_is_told_of() {
    let record = cut_short(-100.0, 1.0, &[]);
    let (_folder, path) = on_disk(&record);
    let mut stage = resumed(&path, record);
    stage.happen(What::Accident);
    drop(stage);
    let text = std::fs::read_to_string(&path).expect("a file");
    let mut permissions = std::fs::metadata(&path).expect("a file").permissions();
    #[allow(clippy::permissions_set_readonly_false)] // its own folder goes with the test
    permissions.set_readonly(false);
    std::fs::set_permissions(&path, permissions).expect("a file");
    std::fs::write(
        &path,
        text.replace("accident", "Accident")
            .replace("Accident", "audible"),
    )
    .expect("a file");
    assert_eq!(journal::chain(&path).expect("files").broken, 1);
    let record = journal::read(&path).expect("a journal");
    let stage = resumed(&path, record);
    assert!(
        stage
            .warnings()
            .any(|said| said.contains("not as they were sealed"))
    );
}

/// A kill may come between the accident and its seal.
#[test]
fn a_start_after_a_kill_seals_what_was_not_sealed() {
    let record = cut_short(-100.0, 1.0, &[(-99.5, What::Accident)]);
    let (_folder, path) = on_disk(&record);
    drop(resumed(&path, record));
    assert_eq!(journal::chain(&path).expect("files").files.len(), 2);
    let record = journal::read(&path).expect("a journal");
    drop(resumed(&path, record));
    assert_eq!(journal::chain(&path).expect("files").files.len(), 2, "once");
}

//! Practising: the demonstration show's memorial pass flown by the simulator in more wind than was planned, the
//! report that says how the music met it, and what a mark would have changed; pausing and going back.

mod memorial;
mod pty;

use std::path::Path;
use std::sync::Arc;

use abeam::live::journal;
use abeam::live::{Event, Mark, MarkKind, Session, What};
use abeam::practice::account::Practised;
use abeam::practice::errors::other_day;
use abeam::practice::hindsight::{advice, fold};
use abeam::practice::player::{Player, Playing, Unseen};
use abeam::practice::report;
use abeam::practice::surprise::surprise;
use abeam::practice::{Errors, HeldUp, Sky};
use abeam::script::readings;
use abeam::show::load::load;
use abeam::show::{Name, PointName};
use abeam::sound::probe;
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span, Speed};
use memorial::Folder;
use pty::{LEAVE, Program};

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const DEMO: &str = "cues/lantern-lake.toml";

/// The demonstration show, flown as planned until the memorial, and from there on in so much more wind towards the crowd's
/// left, which is ahead on its run-in; nothing else differs.
fn demo(headwind_kt: f64) -> Sky {
    flown_with(headwind_kt, Errors::none(), Some("memorial".into()))
}

/// The same with other differences, from an entry on or from the beginning.
fn flown_with(headwind_kt: f64, errors: Errors, from: Option<Name>) -> Sky {
    let root = Path::new(ROOT);
    let loaded = load(&root.join(DEMO)).unwrap_or_else(|error| panic!("{error:?}"));
    let show = Arc::new(loaded.show);
    let lengths = show.tracks.iter().map(|track| {
        let facts = probe(&root.join("media").join(&track.file)).expect("a track");
        facts.duration
    });
    let facts = Facts {
        readings: readings(&show),
        track_lengths: lengths.collect(),
    };
    let plan = Arc::new(Plan::new(&show, &show.profile, &show.day, facts));
    let day = other_day(&plan.day, &show.site, Speed::from_kt(-headwind_kt));
    Sky::new(&show, &plan, errors, day, from)
}

/// Everything that happens: as planned until the memorial begins, then as a narrator keys it.
fn played(sky: &Sky) -> Vec<Event> {
    played_from(sky, when(sky, "start"))
}

fn played_from(sky: &Sky, start: Instant) -> Vec<Event> {
    let (show, plan) = (sky.show().clone(), sky.plan().clone());
    let before = plan.moments.begin() - Span::from_s(60.0);
    let session = Session::new(show, plan, before);
    let mut narrated = Unseen {
        past: Vec::new(),
        session,
    };
    for event in narrated.session.planned_marks(start) {
        narrated.happens(event);
    }
    Player::new(sky, start).play(&mut narrated, &sky.truth(), when(sky, "end"));
    narrated.past
}

fn when(sky: &Sky, point: &str) -> Instant {
    let at = sky.flown().at(&"memorial".into(), &PointName::read(point));
    at.expect("a point of the memorial")
}

/// The memorial's own report, with these things keyed.
fn report(sky: &Sky, past: &[Event]) -> Vec<String> {
    let practised = Practised {
        sky,
        past,
        from: when(sky, "start"),
        until: when(sky, "end"),
    };
    report::report(sky, &practised.account())
}

fn is_gate(event: &Event) -> bool {
    matches!(&event.what, What::Mark(mark) if mark.kind == MarkKind::Gate)
}

fn is_memorial_gate(event: &Event) -> bool {
    let is_memorial = |mark: &Mark| mark.point.as_ref().is_some_and(|of| of.key == "memorial");
    is_gate(event) && matches!(&event.what, What::Mark(mark) if is_memorial(mark))
}

#[test]
fn more_wind_makes_the_pass_late_and_the_keyed_gates_bring_the_music_to_it() {
    for headwind in [0.0, 15.0, -15.0] {
        let sky = demo(headwind);
        let keys = played(&sky);
        let run = fold(&sky, &keys, when(&sky, "end"));
        let meets = &run.outcome.meets;
        let meet = meets.iter().find(|meet| meet.wanted == when(&sky, "abeam"));
        let miss = meet
            .and_then(|meet| meet.miss())
            .expect("the hymn was heard");
        println!("{headwind} kt: {miss}\n{:#?}", report(&sky, &keys));
        assert!(miss.abs() < Span::from_s(1.0), "{headwind} kt: {miss}");
    }
}

#[test]
fn hindsight_names_the_mark_that_was_missing_and_what_it_would_have_done() {
    let sky = demo(15.0);
    let (gates, others): (Vec<Event>, Vec<Event>) =
        played(&sky).into_iter().partition(is_memorial_gate);
    let until = when(&sky, "end");
    let run = fold(&sky, &others, until);
    let mut meets = run.outcome.meets.iter();
    let meet = meets
        .find(|meet| meet.wanted == when(&sky, "abeam"))
        .expect("the hymn");
    let advice = advice(&sky, &others, until, &run, meet).expect("a mark would have helped");
    assert_eq!(advice.keyed, None);
    // What it promises is what comes of a run with that mark.
    let is_it = |event: &&Event| match &event.what {
        What::Mark(mark) => mark.point.as_ref() == Some(&advice.point),
        _ => false,
    };
    let mut with = others.clone();
    with.extend(gates.iter().find(is_it).cloned());
    with.sort_by_key(|event| event.at);
    let again = fold(&sky, &with, until);
    let mut meets = again.outcome.meets.iter();
    let miss = meets
        .find(|other| other.wanted == meet.wanted)
        .and_then(|meet| meet.miss());
    assert_eq!(miss, Some(advice.miss));
    let without = meet.miss().expect("heard");
    assert!(advice.miss.abs() + Span::from_ms(100) <= without.abs());
    let said = report(&sky, &others).join("\n");
    assert!(said.contains("one gate mark at "), "{said}");
    assert!(said.contains(" would have brought it within "), "{said}");
    assert!(said.contains("not keyed: "), "{said}");
}

#[test]
fn the_crews_keep_to_what_is_keyed() {
    let mut sky = demo(0.0);
    let planned = when(&sky, "start");
    let (show, plan) = (sky.show().clone(), sky.plan().clone());
    let mut session = Session::new(show, plan, Instant::from_s(-120.0));
    let mut past = Vec::new();
    let mut happen = |sky: &mut Sky, at: Instant, what: What| {
        let event = Event { at, what };
        session.apply(&event);
        past.push(event);
        sky.follow(&session, &past);
    };
    // Held up while the figure before the memorial is flown: it does not begin until somebody says so.
    happen(&mut sky, planned - Span::from_s(5.0), What::Delay);
    assert!(when(&sky, "start") > planned + Span::from_s(3_600.0));
    happen(&mut sky, planned + Span::from_s(60.0), What::Resume);
    assert_eq!(when(&sky, "start"), planned + Span::from_s(60.0));
    // What is dropped is not flown.
    let key = "departure".into();
    assert!(sky.flown().start(&key).is_some());
    happen(
        &mut sky,
        planned + Span::from_s(61.0),
        What::Drop { key: key.clone() },
    );
    assert_eq!(sky.flown().start(&key), None);
}

#[test]
fn a_narrator_keys_what_the_director_says_and_the_music_waits() {
    let dropped = Errors {
        dropped: vec!["rolls".into()],
        ..Errors::none()
    };
    let errors = Errors {
        held_up: Some(HeldUp {
            before: "memorial".into(),
            lasts: Span::from_s(90.0),
        }),
        late: vec![("memorial".into(), Span::from_s(12.0))],
        ..dropped.clone()
    };
    let planned = flown_with(0.0, dropped, None);
    let sky = flown_with(0.0, errors, None);
    let begin = planned.plan().moments.begin() - Span::from_s(20.0);
    let past = played_from(&sky, begin);
    let keyed = |what: &What| past.iter().any(|event| event.what == *what);
    let key = "rolls".into();
    assert!(keyed(&What::Drop { key }) && keyed(&What::Delay) && keyed(&What::Resume));
    let later = when(&sky, "abeam") - when(&planned, "abeam");
    assert!(
        (later - Span::from_s(90.0 + 12.0)).abs() < Span::from_ms(1),
        "{later}"
    );
    let run = fold(&sky, &past, when(&sky, "end"));
    let mut meets = run.outcome.meets.iter();
    let meet = meets
        .find(|meet| meet.wanted == when(&sky, "abeam"))
        .expect("the hymn");
    assert!(
        meet.miss().expect("heard").abs() < Span::from_s(1.0),
        "{meet:?}"
    );
}

#[test]
fn surprises_are_of_every_kind_and_the_same_for_the_same_seed() {
    let sky = demo(0.0);
    let plan = sky.plan();
    let mut kinds = [0; 3];
    for seed in 0..60 {
        let drawn = || {
            let mut errors = Errors {
                seed,
                ..Errors::none()
            };
            surprise(&mut errors, plan, None, 3);
            errors
        };
        let errors = drawn();
        assert_eq!(errors, drawn());
        let held_up = errors.held_up.iter().map(|held| &held.before);
        let late = errors.late.iter().map(|(key, _)| key);
        let mut all: Vec<&Name> = errors.dropped.iter().chain(held_up).chain(late).collect();
        let count = all.len();
        assert!((1..=3).contains(&count), "{errors:?}");
        all.sort();
        all.dedup();
        assert_eq!(all.len(), count, "a figure is surprised once: {errors:?}");
        assert!(!errors.dropped.contains(&plan.entries[0].key));
        kinds[0] += errors.dropped.len();
        kinds[1] += errors.late.len();
        kinds[2] += usize::from(errors.held_up.is_some());
    }
    println!("dropped, late, held up: {kinds:?}");
    assert!(kinds.iter().all(|count| *count > 20), "{kinds:?}");
}

fn practise(folder: &Folder, more: &[&str]) -> Program {
    let document = Path::new(ROOT).join(DEMO).display().to_string();
    let mut arguments = vec![
        "practice",
        &document,
        "--silent",
        "--as-planned",
        "--figure",
        "memorial",
    ];
    arguments.extend(more);
    Program::start(ABEAM, &arguments, &folder.env(), (120, 40))
}

/// A minute of the show is a second; nothing is heard.
#[test]
fn the_memorial_practised_in_more_wind_than_planned_is_met_and_the_report_says_how() {
    let folder = Folder::new();
    let mut program = practise(
        &folder,
        &["--headwind", "15kt", "--marks", "auto", "--speed", "60"],
    );
    program.until_shown("It is no flight instrument");
    program.key(" ");
    program.until_shown("60 times as fast, the simulator keys");
    program.until_shown("how it went");
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    let ended = program.end();
    ended.assert_restored();
    assert!(ended.success);
    let (_, report) = ended.bytes.rsplit_once(LEAVE).expect("it leaves");
    println!("{report}");
    for words in [
        "wind: 15 kt more headwind on the run-in of Memorial pass",
        "hymn: last_verse fell ",
        "Memorial pass abeam, within the 1 s allowed",
        "the pass came ",
        " later than planned",
        "it began ",
        "planned",
        "5 of 5 keyed",
    ] {
        assert!(report.contains(words), "{words}: {report}");
    }
    // Its journal is in a place of its own, and says that nobody flew.
    let journals = std::fs::read_dir(folder.path("state/abeam/practice")).expect("a folder");
    let journals: Vec<_> = journals
        .map(|entry| entry.expect("an entry").path())
        .collect();
    let [path] = &journals[..] else {
        panic!("one journal: {journals:?}");
    };
    let record = journal::read(path).expect("a journal");
    assert!(record.header.practice && record.is_closed());
    let events: Vec<&Event> = record.events().collect();
    assert!(events.iter().filter(|event| is_gate(event)).count() >= 2);
}

#[test]
fn the_clock_of_a_practice_stands_runs_faster_and_goes_back() {
    let folder = Folder::new();
    let mut program = practise(&folder, &[]);
    program.until_shown("It is no flight instrument");
    program.key("\r");
    program.until_shown("real speed, you key");
    program.key(" ");
    program.until_shown("paused, Space goes on");
    let clock = |screen: &str| {
        let (_, rest) = screen.split_once("show ")?;
        rest.split_whitespace().next().map(str::to_owned)
    };
    let stands = program.until("the show clock", clock);
    std::thread::sleep(std::time::Duration::from_millis(1_200));
    assert_eq!(clock(&program.screen()), Some(stands.clone()));
    // It takes up again, faster, and what the crew says is heard.
    program.key(" ");
    for _ in 0..3 {
        program.key(".");
        std::thread::sleep(std::time::Duration::from_millis(750));
    }
    program.until_shown("10 times as fast");
    program.until_shown("solo: inbound");
    program.key("n");
    program.until_shown("memorial inbound marked");
    program.key("l");
    program.until("the beginning again", |screen| {
        (clock(screen)?.starts_with("9:") && !screen.contains("solo: inbound")).then_some(())
    });
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    let ended = program.end();
    ended.assert_restored();
    let (_, report) = ended.bytes.rsplit_once(LEAVE).expect("it leaves");
    assert!(report.contains("nothing was to be marked"), "{report}");
}

#[test]
fn a_practice_takes_no_journal_of_a_show_and_a_show_none_of_a_practice() {
    let folder = Folder::new();
    let path = folder.path("show.journal").display().to_string();
    let header = |practice| {
        serde_json::json!({
            "abeam_journal": 1, "title": "Lake", "profile": "high", "show_blake3": "", "practice": practice,
            "tracks_blake3": {}
        })
    };
    std::fs::write(&path, format!("{}\n", header(false))).expect("a file");
    let ended = practise(&folder, &["--journal", &path]).end();
    assert_eq!(ended.code, 2);
    assert!(
        ended.screen.contains("no journal of a practice"),
        "{}",
        ended.screen
    );
}

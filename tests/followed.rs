//! A display that nobody keys: its aircraft is followed by a log of its receiver, in a show and in a practice.

mod memorial;
mod pty;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::live::journal;
use abeam::live::{What, event::Position};
use abeam::position::nmea::checksum;
use abeam::position::{Ground, Place, Spot};
use abeam::practice::errors::other_day;
use abeam::practice::{Errors, Sky};
use abeam::script::readings;
use abeam::show::load::load;
use abeam::sound::probe;
use abeam::timeline::{Facts, Plan};
use abeam::units::quantity::KNOT;
use abeam::units::{Instant, Span, Speed};
use memorial::Folder;
use pty::Program;

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const DEMO: &str = "cues/lantern-lake.toml";

fn demo() -> PathBuf {
    Path::new(ROOT).join(DEMO)
}

/// The demonstration show's memorial pass as planned, but for so much more headwind on its run-in.
fn flown(headwind_kt: f64) -> Sky {
    let loaded = load(&demo()).unwrap_or_else(|error| panic!("{error:?}"));
    let show = Arc::new(loaded.show);
    let length = |track: &abeam::show::Track| {
        let media = Path::new(ROOT).join("media").join(&track.file);
        probe(&media).expect("a track").duration
    };
    let facts = Facts {
        readings: readings(&show),
        track_lengths: show.tracks.iter().map(length).collect(),
    };
    let plan = Arc::new(Plan::new(&show, &show.profile, &show.day, facts));
    // It comes from the crowd's left.
    let day = other_day(&plan.day, &show.site, Speed::from_kt(-headwind_kt));
    Sky::new(&show, &plan, Errors::none(), day, Some("memorial".into()))
}

fn start_of(sky: &Sky) -> Instant {
    sky.flown().start(&"memorial".into()).expect("the memorial")
}

/// What a receiver aboard writes down of the figure, once a second (NMEA 0183, RMC).
fn log_of(sky: &Sky) -> String {
    let site = &sky.show().site;
    let (lat, lon) = site.centre.expect("the site's place");
    let centre = Place::from_deg(lat.deg(), lon.deg()).expect("a place");
    let ground = Ground::new(centre, site.line_bearing);
    let (start, end) = (
        start_of(sky),
        sky.end_of(&"memorial".into()).expect("its end"),
    );
    let mut log = String::new();
    for second in 0..(end - start).s() as u32 {
        let aloft = sky.aloft(start + Span::from_s(f64::from(second)));
        let craft = aloft.iter().find(|craft| craft.key == "memorial");
        let craft = craft.expect("it flies");
        let spot = Spot {
            along: craft.sample.x,
            across: craft.sample.y,
        };
        let place = ground.place(spot).expect("a place");
        let [right, away] = craft.towards_mps;
        let knots = right.hypot(away) / KNOT;
        let course = (site.line_bearing.deg() - away.atan2(right).to_degrees()).rem_euclid(360.0);
        let minutes = |deg: f64, digits: usize| {
            let whole = deg.trunc();
            format!("{whole:0digits$}{:08.5}", (deg - whole) * 60.0)
        };
        let (minute, second) = (40 + second / 60, second % 60);
        let body = format!(
            "GPRMC,17{minute:02}{second:02},A,{},N,{},E,{knots:.1},{course:.1},050726,,,A",
            minutes(place.lat().deg(), 2),
            minutes(place.lon().deg(), 3),
        );
        log += &format!("${body}*{:02X}\r\n", checksum(&body));
    }
    log
}

/// A log of it in a folder.
fn logged(folder: &Folder, sky: &Sky) -> String {
    let path = folder.path("solo.nmea");
    std::fs::write(&path, log_of(sky)).expect("the log");
    path.display().to_string()
}

fn positions(record: &journal::Record) -> Vec<Position> {
    let positions = record.events().filter_map(|event| match &event.what {
        What::Position(position) => Some(position.clone()),
        _ => None,
    });
    positions.collect()
}

#[test]
fn a_show_nobody_keys_is_moved_by_a_log_of_its_aircraft() {
    let folder = Folder::new();
    let sky = flown(12.0);
    let log = logged(&folder, &sky);
    let path = folder.path("show.journal").display().to_string();
    let document = demo().display().to_string();
    let from = format!("{:.3} s", start_of(&sky).s());
    let arguments = [
        "show",
        &document,
        "--from",
        &from,
        "--fast",
        "10",
        "--positions",
        &log,
        "--journal",
        &path,
    ];
    let mut program = Program::start(ABEAM, &arguments, &folder.env(), (120, 40));
    program.until_shown("It is no flight instrument");
    program.key(" ");
    program.until_shown("solo is on its run-in to memorial abeam");
    program.until_shown("Positions: nothing of solo for 5 s");
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    assert!(program.end().success);

    let record = journal::read(Path::new(&path)).expect("the journal");
    let keyed = |what: &What| matches!(what, What::Mark(mark) if mark.observed > start_of(&sky));
    assert!(
        !record.events().any(|event| keyed(&event.what)),
        "nobody keyed it"
    );
    let positions = positions(&record);
    let crossed = positions.windows(2).find_map(|pair| {
        let ([before, after], [from, to]) =
            ([&pair[0], &pair[1]], [pair[0].along_m, pair[1].along_m]);
        (from < 0.0 && to >= 0.0)
            .then(|| before.observed + (after.observed - before.observed) * (-from / (to - from)))
    });
    let crossed = crossed.expect("it crossed the middle");
    let (show, plan) = (sky.show().clone(), sky.plan().clone());
    let begins = record
        .events()
        .next()
        .map_or(Instant::ZERO, |event| event.at);
    let mut session = abeam::live::Session::new(show, plan, begins - Span::from_s(1.0));
    for event in record.events() {
        session.apply(event);
    }
    let times = session.times_of(&"memorial".into()).expect("the memorial");
    let abeam = times
        .expected(&abeam::show::PointName::Abeam(1))
        .expect("its pass")
        .at;
    println!("by the log {crossed}, by the session {abeam}");
    assert!(
        (abeam - crossed).abs() < Span::from_ms(500),
        "{abeam} {crossed}"
    );
    let planned = session
        .planned_point(&"memorial".into(), &abeam::show::PointName::Abeam(1))
        .expect("planned");
    assert!(
        (crossed - planned).s() > 2.0,
        "it was late: {crossed} {planned}"
    );
    let hymn = session
        .show()
        .tracks
        .iter()
        .position(|track| track.id == "hymn");
    let hymn = hymn.expect("the hymn");
    let hit = session.show().tracks[hymn]
        .meets
        .as_ref()
        .expect("its meet")
        .hit_at;
    let cue = &session.tracks()[hymn];
    let (start, _) = cue.begun.expect("it was played");
    let heard = start + cue.course.reaches(hit).expect("as far as that");
    println!("the hit was heard {} after it", heard - abeam);
    assert!((heard - abeam).abs() < Span::from_s(1.0), "{heard} {abeam}");
}

#[test]
fn a_practice_nobody_keys_is_moved_by_a_log_at_its_own_pace() {
    let folder = Folder::new();
    let sky = flown(12.0);
    let log = logged(&folder, &sky);
    let document = demo().display().to_string();
    let arguments = [
        "practice",
        &document,
        "--silent",
        "--as-planned",
        "--figure",
        "memorial",
        "--headwind",
        "12kt",
        "--speed",
        "20",
        "--positions",
        &log,
    ];
    let mut program = Program::start(ABEAM, &arguments, &folder.env(), (120, 40));
    program.until_shown("It is no flight instrument");
    // Nothing runs behind the cautions, the log neither.
    std::thread::sleep(std::time::Duration::from_millis(500));
    program.key(" ");
    program.until_shown("solo is on its run-in to memorial abeam");
    program.until("the report", |screen| {
        let says = [
            "how it went",
            "0 of 5 keyed",
            "Memorial pass abeam, within the 1 s allowed",
            "the pass came 3.2 s later than planned",
        ];
        says.iter().all(|said| screen.contains(said)).then_some(())
    });
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    assert!(program.end().success);
}

#[test]
fn a_feed_is_followed_at_real_speed_only_and_says_so() {
    let folder = Folder::new();
    let document = demo().display().to_string();
    let free = std::net::UdpSocket::bind("127.0.0.1:0").expect("a port");
    let from = format!("udp://{}", free.local_addr().expect("its number"));
    drop(free);
    let arguments = [
        "practice",
        &document,
        "--silent",
        "--figure",
        "memorial",
        "--speed",
        "10",
        "--positions",
        &from,
    ];
    let mut program = Program::start(ABEAM, &arguments, &folder.env(), (120, 40));
    program.until_shown("It is no flight instrument");
    program.key(" ");
    program.until_shown("positions are followed at real speed only");
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    assert!(program.end().success);
}

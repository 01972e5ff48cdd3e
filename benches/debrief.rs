//! A debrief of a show with four GPX logs of ten hours, a fix a second: the whole program, its time and its memory
//! (target 2 s on two cores, under 200 MB), beside expat doing no more than parse the same four files one by one.

use std::fmt::Write;
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use abeam::live::clock::{Reading, ShowClock};
use abeam::live::journal::{FORMAT, Header, Journal, Line};
use abeam::position::{Ground, Place, Spot};
use abeam::units::{Angle, Instant as ShowInstant, Length};
use jiff::{SignedDuration, Timestamp};
use tempfile::{TempDir, tempdir};

const FIXES: i64 = 36_000;
const AIRCRAFT: [&str; 4] = ["solo", "two", "three", "four"];
const RUNS: usize = 5;
/// What expat is asked to do, through Python: every element of every file, handed to nobody.
const EXPAT: &str = "import sys, xml.parsers.expat as e\nfor f in sys.argv[1:]:\n p = e.ParserCreate(); p.StartElementHandler = None; p.ParseFile(open(f, 'rb'))";

fn main() {
    let dir = folder();
    let tracks = AIRCRAFT.map(|aircraft| format!("{aircraft}={aircraft}.gpx"));
    let mut debrief = vec!["debrief", "day.journal", "--json"];
    debrief.extend(tracks.iter().flat_map(|track| ["--track", track.as_str()]));
    let files = AIRCRAFT.map(|aircraft| format!("{aircraft}.gpx"));
    let mut expat = vec!["-c", EXPAT];
    expat.extend(files.iter().map(String::as_str));
    let ours: Vec<Run> = (0..RUNS)
        .map(|_| run(env!("CARGO_BIN_EXE_abeam"), &debrief, dir.path()))
        .collect();
    let theirs: Vec<Run> = (0..RUNS)
        .map(|_| run("python3", &expat, dir.path()))
        .collect();
    let least = |runs: &[Run]| {
        runs.iter()
            .map(|run| run.took)
            .min()
            .unwrap_or_default()
            .as_secs_f64()
    };
    let memory = ours.iter().map(|run| run.memory_kb).max().unwrap_or(0);
    println!(
        "four aircraft, ten hours: {:.2} s, {} MB at the most; {:.2} times what expat takes to parse them ({:.2} s)",
        least(&ours),
        memory / 1_000,
        least(&ours) / least(&theirs),
        least(&theirs)
    );
}

/// One run of a program.
struct Run {
    took: Duration,
    /// The most memory it had at once, as the system counts it: `VmHWM` in proc(5).
    memory_kb: u64,
}

fn run(program: &str, arguments: &[&str], dir: &Path) -> Run {
    let begun = Instant::now();
    let mut child = Command::new(program)
        .args(arguments)
        .current_dir(dir)
        .stdout(Stdio::null())
        .spawn()
        .expect("it runs");
    let status = format!("/proc/{}/status", child.id());
    let mut memory_kb = 0;
    let ended = loop {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let number = line.and_then(|line| line.trim().trim_end_matches(" kB").parse().ok());
        memory_kb = memory_kb.max(number.unwrap_or(0));
        if let Some(ended) = child.try_wait().expect("it is waited for") {
            break ended;
        }
        std::thread::sleep(Duration::from_millis(1));
    };
    assert!(ended.success(), "{program}: {ended}");
    Run {
        took: begun.elapsed(),
        memory_kb,
    }
}

/// The demonstration with four aircraft, a journal of it, and the four logs.
fn folder() -> TempDir {
    let dir = tempdir().expect("a folder");
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    symlink(here.join("media"), dir.path().join("media")).expect("a link");
    fs::create_dir(dir.path().join("cues")).expect("a folder");
    let demo = fs::read_to_string(here.join("cues/lantern-lake.toml")).expect("the demonstration");
    let show = demo
        + "\n[aircraft.three]\nname = \"Lantern Three\"\n[aircraft.four]\nname = \"Lantern Four\"\n";
    fs::write(dir.path().join("cues/day.toml"), &show).expect("a document");
    let begins: Timestamp = "2026-07-05T06:00:00Z".parse().expect("an instant");
    journal(dir.path(), &show, begins + SignedDuration::from_hours(5));
    for (nth, aircraft) in AIRCRAFT.iter().enumerate() {
        let log = log(begins, nth as i64);
        fs::write(dir.path().join(format!("{aircraft}.gpx")), log).expect("a log");
    }
    dir
}

/// A show opened in the middle of the day, a minute before its zero, and closed after a quarter of an hour.
fn journal(dir: &Path, show: &str, opened: Timestamp) {
    let header = Header {
        abeam_journal: FORMAT,
        title: "Lantern Lake evening display".into(),
        profile: "high".into(),
        show_blake3: blake3::hash(show.as_bytes()).to_string(),
        wind: None,
        temperature: None,
        mirrored: false,
        practice: false,
        tracks_blake3: Default::default(),
    };
    let reading = |after_us: i64| Reading {
        boot_id: "boot".into(),
        boot_us: after_us,
        wall_us: opened.as_microsecond() + after_us,
    };
    let mut journal = Journal::create(&dir.join("day.journal"), &header).expect("a journal");
    let clock = ShowClock::new(reading(0), ShowInstant::from_s(-60.0), 1.0);
    for line in [Line::Opened(clock), Line::Closed(reading(900_000_000))] {
        journal.append(&line).expect("a line");
    }
}

/// An aircraft that flies ovals: two passes every four minutes.
fn log(begins: Timestamp, aircraft: i64) -> String {
    let centre = Place::from_deg(61.0, 9.5).expect("a place");
    let ground = Ground::new(centre, Angle::from_deg(64.0));
    let mut text = format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\"><trk><name>{aircraft}</name><trkseg>\n"
    );
    for second in 0..FIXES {
        let turned = (second + 17 * aircraft) as f64 * std::f64::consts::TAU / 240.0;
        let spot = Spot {
            along: Length::from_m(4_000.0 * turned.sin()),
            across: Length::from_m(1_000.0 - 770.0 * turned.cos()),
        };
        let (place, at) = (
            ground.place(spot).expect("a place"),
            begins + SignedDuration::from_secs(second),
        );
        let _ = writeln!(
            text,
            "<trkpt lat=\"{:.7}\" lon=\"{:.7}\"><ele>450.2</ele><time>{at}</time><extensions><speed>104.7</speed></extensions></trkpt>",
            place.lat().deg(),
            place.lon().deg()
        );
    }
    text + "</trkseg></trk></gpx>\n"
}

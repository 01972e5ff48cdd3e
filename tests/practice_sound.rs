//! What is heard of a practice: music at real speed, from where it should be by then, and nothing while it runs faster
//! or stands.

mod desk;
mod live;
mod memorial;
mod pty;

use std::path::Path;

use abeam::live::journal::{Line, Record};
use abeam::units::Instant;
use desk::{NullSink, RATE, Recording};
use live::{MS, alone, monotonic_of, path_text, read, underruns, undisturbed};
use memorial::Folder;
use pty::Program;

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
const ROOT: &str = env!("CARGO_MANIFEST_DIR");

/// What one practice left behind.
struct Run {
    recording: Recording,
    record: Record,
}

#[test]
fn music_is_heard_at_real_speed_and_not_while_the_practice_runs_faster() {
    let _alone = alone();
    let sink = NullSink::start();
    let folder = Folder::new();
    let run = undisturbed(|attempt| practise(&sink, &folder, attempt));

    // The bell's track begins ten seconds before the pass, by its hit.
    let clocks = clocks(&run.record);
    let at_real_speed = |clock: &&abeam::live::clock::ShowClock| clock.rate == 1.0;
    let slow = clocks.iter().find(at_real_speed).expect("real speed");
    let again = clocks.iter().rev().find(at_real_speed).expect("real speed");
    let (planned, faster) = (
        Instant::from_s(137.3),
        clocks.iter().rev().find(|clock| clock.rate > 1.0),
    );
    let faster = faster.expect("a faster pace");
    assert!(
        slow.at < planned,
        "slowed down before the bell's track began"
    );
    let heard: Vec<&abeam::live::journal::Heard> = run.record.heard().collect();
    println!("{heard:?}");
    let loud = |from: i64, until: i64| level(&run.recording, from, until);
    // A second after its start it sounds; for as long as it ran faster nothing did; then it does again.
    let start = monotonic_of(slow, planned);
    let hastened = monotonic_of(slow, faster.at);
    let slowed = monotonic_of(again, again.at);
    let levels = [
        loud(start - 1_500 * MS, start - 500 * MS),
        loud(start + 1_000 * MS, hastened - 200 * MS),
        loud(hastened + 400 * MS, slowed - 100 * MS),
        loud(slowed + 2_500 * MS, slowed + 3_500 * MS),
    ];
    println!("before, while it plays, faster, slow again: {levels:?} dBFS");
    assert!(levels[0] < -80.0 && levels[2] < -80.0, "{levels:?}");
    assert!(levels[1] > -40.0 && levels[3] > -40.0, "{levels:?}");
}

/// Practises the first show's salute: fast to just before its bell, then at real speed, fast, and real again.
fn practise(sink: &NullSink, folder: &Folder, attempt: usize) -> Option<Run> {
    let document = Path::new(ROOT).join("cues/first-show.toml");
    let path = folder.path(&format!("practice-{attempt}.journal"));
    let mut env = folder.env();
    env.extend(sink.env());
    let recorder = sink.record();
    let arguments = [
        "practice",
        path_text(&document),
        "--as-planned",
        "--marks",
        "auto",
        "--figure",
        "salute",
        "--speed",
        "10",
        "--journal",
        path_text(&path),
    ];
    let mut program = Program::start(ABEAM, &arguments, &env, (120, 40));
    program.until_shown("It is no flight instrument");
    program.key(" ");
    program.until_shown("10 times as fast");
    program.until_shown("music: bell in 0:0");
    program.key(",");
    program.key(",");
    program.key(",");
    program.until_shown("real speed");
    program.until_shown("music: bell playing");
    std::thread::sleep(std::time::Duration::from_secs(4));
    program.key(".");
    program.until_shown("2 times as fast");
    std::thread::sleep(std::time::Duration::from_millis(1_500));
    program.key(",");
    program.until_shown("real speed");
    std::thread::sleep(std::time::Duration::from_secs(5));
    program.key("\t");
    program.key("\t");
    let dry = program.until("the underruns", underruns);
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    program.end();
    let run = Run {
        recording: recorder.finish(),
        record: read(&path),
    };
    let steady = run.recording.unsteady_ns < MS / 2;
    println!("  ran dry {dry} times, recorder steady: {steady}");
    (dry == 0 && steady).then_some(run)
}

fn clocks(record: &Record) -> Vec<abeam::live::clock::ShowClock> {
    let clocks = record.lines.iter().filter_map(|line| match line {
        Line::Opened(clock) => Some(clock.clone()),
        _ => None,
    });
    clocks.collect()
}

/// The root of the mean square between two instants of the monotonic clock, dB below full scale.
fn level(recording: &Recording, from: i64, until: i64) -> f64 {
    let [from, until] = [from, until].map(|ns| recording.frame(ns).min(recording.samples.len()));
    assert!(until > from + RATE as usize / 5, "long enough to tell");
    let frames = &recording.samples[from..until];
    let power: f64 = frames
        .iter()
        .map(|frame| f64::from(frame[0] * frame[0]))
        .sum();
    10.0 * (power / frames.len() as f64).max(1e-12).log10()
}

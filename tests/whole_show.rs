//! The main job end to end: the demonstration show's memorial pass run live in a terminal, keyed as it would
//! be seen, and the hymn's last verse heard at the instant the aircraft is abeam.
//!
//! What is heard is recorded from the monitor of a null sink. How the recorder is given the monotonic clock
//! is told in `desk`: a line is fitted to the lower envelope of its reads, the latency of server and recorder,
//! calibrated apart through a pipe source, is taken off, and the sink's block is added. The modelled abeam is
//! what the journal, folded by the library, expected after the last gate was marked, carried to
//! the monotonic clock by the journal's `opened` line. The verse is found in the recording by correlation
//! with the track as ffmpeg decodes it.

mod desk;
mod ffmpeg;
mod live;
mod memorial;
mod pty;

use std::path::Path;

use abeam::live::journal::{Heard, Line, Record};
use abeam::live::{MarkKind, What};
use abeam::timeline::meet::COMMIT;
use abeam::units::{Instant, Span};
use desk::{NullSink, RATE, Recording, monotonic_ns};
use live::{
    MS, alone, closed_at, monotonic_of, past_the_cautions, path_text, read, underruns, undisturbed,
    wait_until,
};
use memorial::{Folder, Planned, expected};
use pty::{LEAVE, PAGE_DOWN, Program, SHOW_CURSOR};

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
const SIZE: (u16, u16) = (120, 40);
/// Where the last verse begins: the table in `media/compose/main.rs`.
const LAST_VERSE_S: f64 = 48.0;
/// How much sooner than planned the aircraft leaves its hold.
const EARLY: Span = Span::from_ms(4_000);

/// What one run of the show left behind.
struct Run {
    recording: Recording,
    record: Record,
    ended: pty::Ended,
    /// When inbound was keyed, on the monotonic clock.
    keyed_ns: i64,
}

#[test]
fn the_last_verse_is_heard_when_the_aircraft_is_abeam() {
    let _alone = alone();
    let sink = NullSink::start();
    let folder = Folder::new();
    let planned = Planned::of(&folder);
    let run = undisturbed(|attempt| fly_the_memorial(&sink, &folder, &planned, attempt));

    run.ended.assert_restored();
    assert!(run.ended.success);
    let (_, last) = run.ended.bytes.rsplit_once(LEAVE).expect("it leaves");
    assert_eq!(
        last.replace(SHOW_CURSOR, ""),
        "",
        "nothing is drawn after it has left"
    );

    let clock = run.record.first_clock().expect("the show clock").clone();
    let (start, entry) = planned
        .start_of(&planned.fold(&run.record, closed_at(&run.record)).1, "hymn")
        .expect("the hymn's start");
    // After the last gate nothing is marked until the pass itself.
    let gate = expected(&planned.fold(&run.record, start).0, "gate.3");
    let (session, _) = planned.fold(&run.record, gate + COMMIT);
    let modelled = expected(&session, "abeam");
    println!(
        "  abeam planned at {:+.3} s, modelled at {:+.3} s after the last gate; the hymn began at {:+.3} s from {entry}",
        planned.point("abeam").s(),
        modelled.s(),
        start.s()
    );
    let moved = modelled - planned.point("abeam");
    assert!(
        (moved + EARLY).abs() < Span::from_s(1.0),
        "the run-in takes as long as planned after an inbound {EARLY} early: abeam moved by {moved}"
    );

    let recording = &run.recording;
    println!(
        "  recorder: latency {:.3} ms taken off, block {:.3} ms added, {:+.1} ppm, steady to {:.3} ms",
        recording.latency_ns as f64 / 1e6,
        recording.block_ns as f64 / 1e6,
        recording.drift / 1e9 * f64::from(RATE) * 1e6,
        recording.unsteady_ns as f64 / 1e6
    );
    let at = monotonic_of(&clock, modelled);
    let (late, likeness) = verse_after(recording, at);
    println!(
        "  the last verse was heard {:+.3} ms after the modelled abeam (likeness {likeness:.3})",
        late * 1e3
    );
    assert!(likeness > 0.8, "the verse is in the recording");
    assert!(late.abs() < 0.020);
    assert_frame_log_is_what_was_heard(&run);

    assert_journal_is_whole(&run.record, &planned, run.keyed_ns);
}

/// Runs the show from a little before inbound to a little after abeam; `None` when the machine did not let it.
fn fly_the_memorial(
    sink: &NullSink,
    folder: &Folder,
    planned: &Planned,
    attempt: usize,
) -> Option<Run> {
    let inbound = planned.point("inbound") - EARLY;
    let path = folder.path(&format!("attempt-{attempt}.journal"));
    let mut env = folder.env();
    env.extend(sink.env());
    let from = format!("{:.3} s", (inbound - Instant::ZERO).s() - 8.0);
    let recorder = sink.record();
    let mut program = show(
        folder,
        &["--from", &from, "--journal", path_text(&path)],
        &env,
    );
    past_the_cautions(&mut program);
    program.until("the hymn, decoded", |screen| {
        (screen.contains("music: hymn in") && !screen.contains("decoded")).then_some(())
    });
    let clock = read(&path).first_clock().expect("the show clock").clone();
    wait_until(&clock, inbound)?;
    let keyed_ns = monotonic_ns();
    program.key("n");
    program.until_shown("memorial inbound marked");

    // The narrator begins the words when they are due, and ends them.
    wait_until(&clock, inbound + Span::from_s(5.0))?;
    program.key(PAGE_DOWN);
    program.until("the memorial's words", |screen| {
        let said = ["say now", "memorial-words", "ducked by words"];
        said.iter()
            .all(|words| screen.contains(words))
            .then_some(())
    });
    wait_until(&clock, inbound + Span::from_s(11.0))?;
    program.key("e");
    program.until_shown("not ducked");

    // What is expected moves by no more than a few hundredths from here on: everything is marked when it is due.
    program.until_shown("music: hymn playing");
    let (session, _) = planned.fold(&read(&path), clock.now());
    let modelled = expected(&session, "abeam");
    program.until("the countdown to abeam", |screen| {
        let left = (modelled - clock.now()).s();
        let counted = countdown(screen)?;
        ((counted - left).abs() < 2.0).then_some(())
    });
    program.key("\t");
    program.until("the meet on the Desk", |screen| {
        let said = [
            "hit last_verse meets Memorial pass abeam",
            "hymn   ▶ running",
        ];
        said.iter()
            .all(|words| screen.contains(words))
            .then_some(())
    });
    for gate in ["gate.1", "gate.2", "gate.3"] {
        let (session, _) = planned.fold(&read(&path), clock.now());
        wait_until(&clock, expected(&session, gate))?;
        program.key("g");
        program.until_shown(&format!("memorial {gate} marked"));
    }
    // What ran dry earlier playout has made good by now: a busy machine may do so, above all while it decodes.
    let dry = program.until("the underruns so far", underruns);
    wait_until(&clock, modelled + parallax(planned))?;
    program.key("a");
    program.until_shown("memorial abeam marked");
    wait_until(&clock, modelled + Span::from_s(2.0))?;
    let dry = program.until("the underruns", underruns) - dry;

    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    let ended = program.end();
    let run = Run {
        recording: recorder.finish(),
        record: read(&path),
        ended,
        keyed_ns,
    };
    let steady = run.recording.unsteady_ns < MS / 2;
    println!("  ran dry {dry} times since gate 3, recorder steady: {steady}");
    (dry == 0 && steady).then_some(run)
}

fn show(folder: &Folder, arguments: &[&str], env: &[(String, String)]) -> Program {
    let document = folder.document();
    let mut all = vec!["show", path_text(&document)];
    all.extend(arguments);
    Program::start(ABEAM, &all, env, SIZE)
}

/// How much later than at crowd centre the aircraft passes the stand, from its speed between the gates: the
/// demo has the stand 40 m left of centre, the last gates at 2 and 1 nmi.
fn parallax(planned: &Planned) -> Span {
    let between = (planned.point("gate.3") - planned.point("gate.2")).s();
    Span::from_s(-40.0 * between / 1_852.0)
}

/// What the Stand counts down to the pass, in seconds: `abeam in 0:25`.
fn countdown(screen: &str) -> Option<f64> {
    let (_, rest) = screen.split_once("abeam in ")?;
    let (minutes, rest) = rest.split_once(':')?;
    let seconds = rest.get(..2)?;
    Some(minutes.parse::<f64>().ok()? * 60.0 + seconds.parse::<f64>().ok()?)
}

/// How much later than `at` (ns) the last verse is in the recording, in seconds, and how like the track the
/// recording is there, 1 being the same. Looked for within 200 ms.
fn verse_after(recording: &Recording, at: i64) -> (f64, f64) {
    let before = RATE as usize / 4;
    let length = before * 3;
    let within = RATE as usize / 5;
    let track = hymn_as_ffmpeg_decodes_it();
    let hit = (LAST_VERSE_S * f64::from(RATE)) as usize;
    let verse = &track[hit - before..hit - before + length];
    let expected = recording.frame(at);
    let heard: Vec<f32> = recording.samples[expected - before - within..]
        .iter()
        .take(length + 2 * within)
        .map(|sample| sample[0])
        .collect();
    let power = |samples: &[f32]| samples.iter().map(|s| f64::from(s * s)).sum::<f64>();
    let verse_power = power(verse);
    let likeness = |lag: usize| {
        let part = &heard[lag..lag + length];
        let product: f64 = part.iter().zip(verse).map(|(a, b)| f64::from(a * b)).sum();
        product / (power(part) * verse_power).sqrt().max(1e-9)
    };
    let (lag, best) = (0..=2 * within)
        .map(|lag| (lag, likeness(lag)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .expect("a lag");
    let frame = expected + lag - within;
    ((recording.at(frame) - at) as f64 / 1e9, best)
}

fn hymn_as_ffmpeg_decodes_it() -> Vec<f32> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("media/hymn.flac");
    let rate = RATE.to_string();
    let output = ffmpeg::run(&[
        "-v",
        "error",
        "-i",
        ffmpeg::text(&file),
        "-ar",
        &rate,
        "-ac",
        "1",
        "-f",
        "f32le",
        "-",
    ]);
    let bytes = output.stdout.chunks_exact(4);
    bytes
        .map(|bytes| f32::from_le_bytes(bytes.try_into().expect("four bytes")))
        .collect()
}

/// The journal says when the last verse was heard as the recording has it.
fn assert_frame_log_is_what_was_heard(run: &Run) {
    let clock = run.record.first_clock().expect("the show clock");
    let verse = |heard: &&Heard| heard.hit.as_ref().is_some_and(|hit| *hit == "last_verse");
    let noted: Vec<&Heard> = run.record.heard().filter(verse).collect();
    let [noted] = noted[..] else {
        panic!("noted once: {noted:?}");
    };
    let (off, likeness) = verse_after(&run.recording, monotonic_of(clock, noted.at));
    println!(
        "  it was heard {:+.3} ms after the journal's frame log has it",
        off * 1e3
    );
    assert!(likeness > 0.8 && off.abs() < 0.020);
}

/// Everything keyed is there, in order; every effect was named once, from 1 on; the show was closed.
fn assert_journal_is_whole(record: &Record, planned: &Planned, keyed_ns: i64) {
    assert_eq!(record.torn, 0);
    let clock = record.first_clock().expect("the show clock");
    let marks: Vec<(MarkKind, Instant)> = record
        .events()
        .filter_map(|event| match &event.what {
            What::Mark(mark) => Some((mark.kind, mark.observed)),
            _ => None,
        })
        .collect();
    let kinds: Vec<MarkKind> = marks.iter().map(|(kind, _)| *kind).collect();
    let (inbound, gate, abeam) = (MarkKind::Inbound, MarkKind::Gate, MarkKind::Abeam);
    assert_eq!(kinds, [inbound, gate, gate, gate, abeam]);
    let taken = (monotonic_of(clock, marks[0].1) - keyed_ns) as f64 / 1e6;
    println!("  inbound was taken {taken:+.3} ms after its key was pressed");
    assert!(taken > -1.0, "no mark is from before its key");

    let sent: Vec<u64> = record
        .lines
        .iter()
        .filter_map(|line| match line {
            Line::Sent(id) => Some(*id),
            _ => None,
        })
        .collect();
    println!("  effects sent: {}", sent.len());
    let wanted: Vec<u64> = (1..=sent.len() as u64).collect();
    assert_eq!(sent, wanted);
    let Some(Line::Closed(closed)) = record.lines.last() else {
        panic!(
            "the last line closes the journal: {:?}",
            record.lines.last()
        );
    };
    let (session, _) = planned.fold(record, clock.at(closed));
    assert_eq!(
        session.last_effect(),
        sent.len() as u64,
        "a replay does the same"
    );
}

#[test]
fn ended_by_a_signal_the_terminal_is_restored_and_the_show_can_be_gone_on_with() {
    let _alone = alone();
    let folder = Folder::new();
    let path = folder.path("ended.journal");
    let journal = ["--silent", "--journal", path_text(&path)];
    for signal in ["-TERM", "-HUP", "-INT", "-QUIT"] {
        let mut arguments = journal.to_vec();
        arguments.extend(["--fresh", "--from", "-90 s"]);
        let mut program = show(&folder, &arguments, &folder.env());
        past_the_cautions(&mut program);
        program.key("x");
        program.until_shown("DISARMED");
        program.signal(signal);
        let ended = program.end();
        ended.assert_restored();
        assert!(!read(&path).is_closed(), "{signal} closes no journal");
    }
    let mut again = journal.to_vec();
    again.extend(["--from", "-90 s"]);
    let mut program = show(&folder, &again, &folder.env());
    past_the_cautions(&mut program);
    program.until_shown("DISARMED");
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    program.end().assert_restored();
    assert!(read(&path).is_closed());
}

#[test]
fn ended_by_a_signal_at_the_time_hack_the_terminal_is_restored() {
    let _alone = alone();
    let folder = Folder::new();
    let text = std::fs::read_to_string(folder.document()).expect("the document");
    let hacked: Vec<&str> = text
        .lines()
        .filter(|line| !line.starts_with("start ") && !line.starts_with("slot_ends"))
        .collect();
    let hacked = hacked.join("\n").replace("clock 19:52:00", "show + 5 min");
    std::fs::write(folder.document(), hacked).expect("the document");
    for signal in ["-TERM", "-QUIT"] {
        let program = show(&folder, &["--silent"], &folder.env());
        program.until_shown("starts on a time hack");
        program.signal(signal);
        program.end().assert_restored();
    }
}

/// A track of half an hour takes a while to decode on any machine. The file is all holes: it takes no room.
#[test]
fn the_show_is_up_while_its_tracks_are_still_being_decoded() {
    let _alone = alone();
    let folder = Folder::new();
    let track = folder.path("cues/long.wav");
    write_silence(&track, 1_800);
    let text = std::fs::read_to_string(folder.document()).expect("the document");
    let text = text.replace("\"hymn.flac\"", "\"long.wav\"");
    std::fs::write(folder.document(), text).expect("the document");
    let mut program = show(&folder, &["--silent", "--from", "-90 s"], &folder.env());
    past_the_cautions(&mut program);
    program.key("\t");
    program.until("the hymn being decoded", |screen| {
        let share = screen
            .lines()
            .find_map(|line| line.split_once("decoded "))?
            .1;
        let (percent, _) = share.split_once(" %")?;
        let percent: u32 = percent.trim().parse().ok()?;
        (1..100).contains(&percent).then_some(())
    });
    // Leaving does not wait for it.
    program.key("q");
    program.until_shown("leave the program?");
    program.key("\r");
    program.end().assert_restored();
}

/// A WAV file of silence: mono, 16 bit, 48 kHz.
fn write_silence(path: &Path, seconds: u32) {
    let bytes = seconds * RATE * 2;
    let mut header = Vec::new();
    header.extend(b"RIFF");
    header.extend((36 + bytes).to_le_bytes());
    header.extend(b"WAVEfmt ");
    header.extend(16_u32.to_le_bytes());
    for word in [1_u16, 1] {
        header.extend(word.to_le_bytes());
    }
    header.extend(RATE.to_le_bytes());
    header.extend((RATE * 2).to_le_bytes());
    for word in [2_u16, 16] {
        header.extend(word.to_le_bytes());
    }
    header.extend(b"data");
    header.extend(bytes.to_le_bytes());
    std::fs::write(path, &header).expect("the track");
    let file = std::fs::OpenOptions::new().write(true).open(path);
    let length = header.len() as u64 + u64::from(bytes);
    file.and_then(|file| file.set_len(length))
        .expect("the track");
}

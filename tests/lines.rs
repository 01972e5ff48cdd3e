//! Which socket hears what, end to end through a null sink of four: the line check tells left from right and the
//! headphones from the programme, and what is heard on the headphones in a running show is on them alone.

mod desk;
mod live;
mod pty;

use std::f64::consts::TAU;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use desk::{NullSink, RATE, write_wav};
use live::{alone, past_the_cautions, path_text, undisturbed};
use pty::Program;

const ABEAM: &str = env!("CARGO_BIN_EXE_abeam");
/// The bed that the programme plays, and the track that is listened to.
const BED_HZ: f64 = 440.0;
const BELL_HZ: f64 = 1_100.0;

/// A bed that is heard from the start on, and a track that would come long after.
const SHOW: &str = r#"
[show]
title = "Two tracks"
[profile.high]
order = ["pass"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Lantern One"
[[figure]]
id = "pass"
name = "Pass"
aircraft = "solo"
takes = "30 s"
[[track]]
id = "bed"
file = "bed.wav"
starts = "show - 5:00"
[[track]]
id = "bell"
file = "bell.wav"
hits = { stroke = "0:10" }
vamp = { from = "0:04", to = "0:08", step = "1 s" }
starts = "show + 10 s"
"#;

fn write_tone(path: &Path, hz: f64) {
    let sample = |i: u32| 0.25 * (TAU * hz * f64::from(i) / f64::from(RATE)).sin();
    write_wav(path, (0..60 * RATE).map(|i| [sample(i); 2]));
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("two.toml"), SHOW).expect("the document");
    write_tone(&folder.path().join("bed.wav"), BED_HZ);
    write_tone(&folder.path().join("bell.wav"), BELL_HZ);
    folder
}

fn env(folder: &tempfile::TempDir, sink: &NullSink) -> Vec<(String, String)> {
    let state = folder.path().display().to_string();
    let mut env = sink.env();
    env.push(("XDG_STATE_HOME".into(), state));
    env
}

/// The stretches of a channel that sound, from and until in frames; what is shorter than 50 ms is no gap.
fn stretches<const N: usize>(frames: &[[f32; N]], channel: usize) -> Vec<(usize, usize)> {
    let mut stretches: Vec<(usize, usize)> = Vec::new();
    for (i, frame) in frames.iter().enumerate() {
        if frame[channel].abs() < 1e-3 {
            continue;
        }
        match stretches.last_mut() {
            Some(last) if i - last.1 < RATE as usize / 20 => last.1 = i,
            _ => stretches.push((i, i)),
        }
    }
    stretches
}

/// Frames of a touch that are surely one tone: it lasts 200 ms, and begins and ends in fades.
const TOUCH: usize = 7_500;

/// How high a tone is, by how often it comes up through zero.
fn hertz<const N: usize>(frames: &[[f32; N]], channel: usize) -> f64 {
    let rising = |pair: &&[[f32; N]]| pair[0][channel] < 0.0 && pair[1][channel] >= 0.0;
    let count = frames.windows(2).filter(rising).count();
    count as f64 * f64::from(RATE) / frames.len() as f64
}

#[test]
fn the_line_check_tells_left_from_right_and_headphones_from_programme() {
    let _alone = alone();
    let sink = NullSink::with_headphones();
    let folder = folder();
    let frames = undisturbed(|_| {
        let recorder = sink.record_all();
        let output = Command::new(ABEAM)
            .args(["show", path_text(&folder.path().join("two.toml"))])
            .arg("--line-check")
            .envs(env(&folder, &sink))
            .output()
            .expect("it runs");
        std::thread::sleep(Duration::from_millis(500));
        let frames = recorder.frames::<4>();
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{said} {errors}");
        for words in [
            "programme: a tone on both, sockets 1 and 2",
            "programme: one burst left, socket 1",
            "programme: two bursts right, socket 2",
            "headphones: a tone on both, sockets 3 and 4",
            "headphones: one burst left, socket 3",
            "headphones: two bursts right, socket 4",
        ] {
            assert!(said.contains(words), "{said}");
        }
        (!said.contains("ran dry")).then_some(frames)
    });

    let heard: Vec<_> = (0..4).map(|channel| stretches(&frames, channel)).collect();
    let ms = |(from, until): &(usize, usize)| (until - from) as f64 * 1e3 / f64::from(RATE);
    for (left, right, hz) in [(0, 1, 1_000.0), (2, 3, 500.0)] {
        let lengths = |channel: usize| heard[channel].iter().map(ms).collect::<Vec<_>>();
        let near = |lengths: &[f64], wanted: &[f64]| {
            lengths.len() == wanted.len()
                && lengths
                    .iter()
                    .zip(wanted)
                    .all(|(a, b)| (a - b).abs() < 15.0)
        };
        assert!(near(&lengths(left), &[2_000.0, 300.0]), "{heard:?}");
        assert!(near(&lengths(right), &[2_000.0, 300.0, 300.0]), "{heard:?}");
        assert_eq!(
            heard[left][0].0 / 100,
            heard[right][0].0 / 100,
            "one tone on both"
        );
        assert!(heard[left][1].1 < heard[right][1].0, "left before right");
        let tone = &frames[heard[left][0].0 + 2_000..heard[left][0].1 - 2_000];
        assert!(
            (hertz(tone, left) - hz).abs() < 1.0,
            "{}",
            hertz(tone, left)
        );
        let highest = tone
            .iter()
            .fold(0.0_f32, |high, frame| high.max(frame[left]));
        let db = 20.0 * f64::from(highest).log10();
        assert!((db + 18.0).abs() < 0.1, "{db} dBFS: EBU R 68");
    }
    let programme = heard[1].last().expect("bursts").1;
    let headphones = heard[2][0].0;
    assert!(programme < headphones, "the headphones come after");
    // What is on one pair is not on the other, not even softly.
    let between = (programme + headphones) / 2;
    let silent = |frames: &[[f32; 4]], pair: [usize; 2]| {
        let samples = frames
            .iter()
            .flat_map(|frame| pair.map(|channel| frame[channel]));
        samples.into_iter().all(|x| x == 0.0)
    };
    assert!(silent(&frames[..between], [2, 3]));
    assert!(silent(&frames[between..], [0, 1]));
}

/// How high a tone of a channel is, relative to full scale: its share of the spectrum (Goertzel's sum).
fn level<const N: usize>(frames: &[[f32; N]], channel: usize, hz: f64) -> f64 {
    let window = |i: usize| 0.5 - 0.5 * (TAU * i as f64 / frames.len() as f64).cos();
    let (mut re, mut im, mut sum) = (0.0, 0.0, 0.0);
    for (i, frame) in frames.iter().enumerate() {
        let phase = TAU * hz * i as f64 / f64::from(RATE);
        let x = f64::from(frame[channel]) * window(i);
        re += x * phase.cos();
        im -= x * phase.sin();
        sum += window(i);
    }
    20.0 * (2.0 * re.hypot(im) / sum).max(1e-9).log10()
}

#[test]
fn what_is_heard_on_the_headphones_is_never_in_the_programme() {
    let _alone = alone();
    let sink = NullSink::with_headphones();
    let folder = folder();
    let frames = undisturbed(|attempt| {
        let document = folder.path().join("two.toml");
        let journal = folder.path().join(format!("{attempt}.journal"));
        let arguments = [
            "show",
            path_text(&document),
            "--from",
            "-5:00",
            "--journal",
            path_text(&journal),
        ];
        let recorder = sink.record_all();
        let mut program = Program::start(ABEAM, &arguments, &env(&folder, &sink), (120, 40));
        past_the_cautions(&mut program);
        program.key("\t");
        program.until("both tracks, decoded", |screen| {
            (screen.contains("bell") && !screen.contains('%')).then_some(())
        });
        program.key("\x1b[B");
        program.key("v");
        program.until_shown("bell, written");
        let pause = || std::thread::sleep(Duration::from_millis(1_500));
        // The track from its hit on, then the join of its vamp, then a touch on one place after another.
        program.key(" ");
        pause();
        program.key(" ");
        program.key("j");
        pause();
        program.key(" ");
        for _ in 0..8 {
            program.key("\x1b[C");
            std::thread::sleep(Duration::from_millis(250));
        }
        program.key("\x1b");
        program.until_shown("underrun");
        let screen = program.screen();
        program.key("q");
        program.until_shown("leave the program?");
        program.key("\r");
        program.end().assert_restored();
        let frames = recorder.frames::<4>();
        println!("  {} s recorded", frames.len() / RATE as usize);
        (live::underruns(&screen) == Some(0)).then_some(frames)
    });

    let heard: Vec<(usize, usize)> = stretches(&frames, 2)
        .into_iter()
        .filter(|(from, until)| until - from > RATE as usize / 10)
        .collect();
    // From the hit, the join, and touches, some of which run into each other.
    assert!(heard.len() >= 3, "{heard:?}");
    let mut longest = 0;
    for (from, until) in heard {
        longest = longest.max(until - from);
        let part = &frames[from + 1_000..until - 1_000];
        // Touches that run into each other are one tone begun anew, out of step with itself.
        let touch = &part[..part.len().min(TOUCH)];
        for (channel, part, wanted, other) in [
            (0, part, BED_HZ, BELL_HZ),
            (1, part, BED_HZ, BELL_HZ),
            (2, touch, BELL_HZ, BED_HZ),
            (3, touch, BELL_HZ, BED_HZ),
        ] {
            let (is, leak) = (level(part, channel, wanted), level(part, channel, other));
            assert!(is > -30.0, "channel {channel}: {is} dBFS");
            assert!(leak < -80.0, "channel {channel}: {leak} dBFS");
        }
    }
    assert!(longest > RATE as usize, "the track was heard for a second");
    assert!(
        frames.iter().filter(|frame| frame[2] == 0.0).count() > RATE as usize / 4,
        "and silent before and after"
    );
}

//! What `abeam mix` says of what it was not given, and what it leaves behind: nothing half done.

mod floats;
mod one_track;
mod planned;

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use abeam::sound::decode;
use floats::RATE;
use one_track::show;
use serde_json::Value;
use tempfile::TempDir;

/// One channel of a tone at −20 dBFS.
fn tone(seconds: f64) -> Vec<f32> {
    one_track::tone(seconds, 0.1)
}

fn mix(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    command.current_dir(folder).args(["mix", "lake.toml"]);
    command.args(arguments);
    command
}

fn report(folder: &Path) -> Value {
    let output = mix(folder, &["-o", "mix.wav", "--json"]).output();
    let output = output.expect("it runs");
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{error}: {}", String::from_utf8_lossy(&output.stderr)))
}

/// What `abeam check` says, on lines as long as it likes.
fn checked(folder: &Path) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    command
        .current_dir(folder)
        .args(["check", "lake.toml", "--json"]);
    let output = command.output().expect("it runs");
    let report: Value = serde_json::from_slice(&output.stdout).expect("a report");
    let faults = report["faults"].as_array().expect("faults").iter();
    faults
        .map(|fault| fault["message"].as_str().expect("a message").to_owned() + "\n")
        .collect()
}

#[test]
fn a_stem_never_takes_the_place_of_the_mix() {
    let folder = TempDir::new().expect("a folder");
    let folder = folder.path();
    show(folder, &tone(5.0), "starts = \"show + 1 s\"");
    let output = mix(folder, &["-o", "out/one.wav", "--stems", "out"]).output();
    let output = output.expect("it runs");
    let told = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{told}");
    assert!(told.contains("give the mix another name"), "{told}");
    assert!(!folder.join("out").exists());
}

#[test]
fn a_fade_as_long_as_the_track_is_heard_from_its_first_frame() {
    for fade in ["3 s", "30 s"] {
        let folder = TempDir::new().expect("a folder");
        let folder = folder.path();
        let more = format!("starts = \"show + 1 s\"\nends = \"show + 4 s\"\nfade_out = \"{fade}\"");
        show(folder, &tone(10.0), &more);
        report(folder);
        let mixed = decode(&folder.join("mix.wav"), &mut |_| {}).expect("a mix");
        let peak = |from: f64, until: f64| {
            let place = |s: f64| (s * f64::from(RATE)) as usize * 2;
            let part = &mixed.samples[place(from)..place(until)];
            part.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()))
        };
        // It begins at its level and goes down all the way.
        assert!(peak(1.05, 1.3) > 0.09, "{fade}: {}", peak(1.05, 1.3));
        assert!(peak(3.5, 3.9) < peak(1.05, 1.3), "{fade}");
    }
}

#[test]
fn a_track_that_its_peak_keeps_softer_than_asked_is_named_and_so_is_one_without_a_loudness() {
    let folder = TempDir::new().expect("a folder");
    let folder = folder.path();
    // The tone is at −23 LUFS (two channels of −20 dBFS), its click peaks at −1 dBTP: no gain is left.
    let mut clicked = tone(20.0);
    for (i, sample) in clicked[RATE as usize..][..40].iter_mut().enumerate() {
        *sample = 0.89 * (std::f32::consts::PI * i as f32 / 40.0).sin().powi(2);
    }
    show(
        folder,
        &clicked,
        "starts = \"show + 1 s\"\nlevel = \"-10 LUFS\"",
    );
    let held = &report(folder)["held"];
    assert_eq!(held[0]["track"], "one");
    let below = held[0]["below_db"].as_f64().expect("decibels");
    assert!((10.0..13.5).contains(&below), "{below}");
    // Before the day, too: of the file at its own rate.
    let told = checked(folder);
    let before = told.split(" is ").nth(1).and_then(|told| {
        told.split(" dB softer than asked")
            .next()?
            .parse::<f64>()
            .ok()
    });
    let before = before.unwrap_or_else(|| panic!("{told}"));
    assert!((before - below).abs() < 0.2, "{before} {below}");

    show(
        folder,
        &tone(0.1),
        "starts = \"show + 1 s\"\nlevel = \"-18 LUFS\"",
    );
    let held = &report(folder)["held"];
    assert_eq!(held[0]["track"], "one");
    assert_eq!(held[0]["below_db"], Value::Null);
    let told = checked(folder);
    assert!(told.contains("`level` does nothing for it"), "{told}");

    show(
        folder,
        &tone(20.0),
        "starts = \"show + 1 s\"\nlevel = \"-18 LUFS\"",
    );
    assert_eq!(report(folder)["held"], Value::Array(vec![]));
    assert!(!checked(folder).contains("softer"));
}

/// Integers written under the head of floating-point samples, a common wrong export, are numbers far beyond full scale.
#[test]
fn samples_that_are_no_sound_are_silent_and_told_as_damage() {
    let folder = TempDir::new().expect("a folder");
    let folder = folder.path();
    let mut broken = tone(5.0);
    for (i, sample) in [f32::NAN, f32::INFINITY, 3e38, -3e38, 3e38]
        .into_iter()
        .enumerate()
    {
        broken[2 * RATE as usize + i] = sample;
    }
    show(folder, &broken, "starts = \"show + 1 s\"");
    let told = report(folder);
    assert_eq!(told["damaged"][0]["track"], "one");
    let lost = told["damaged"][0]["lost_s"].as_f64().expect("seconds");
    assert!((lost - 5.0 / f64::from(RATE)).abs() < 2e-6, "{lost}");
    let peak = told["true_peak_dbtp"].as_f64().expect("a peak");
    assert!((-21.0..-19.0).contains(&peak), "{peak}");
}

/// Coded, timecode is longer than as it is: it is written as it is, 24 bits a frame. The music takes twice
/// its room at most: both its channels alike are one only where there are two.
#[test]
fn timecode_in_a_flac_takes_no_more_than_its_samples() {
    let folder = TempDir::new().expect("a folder");
    let folder = folder.path();
    show(folder, &tone(20.0), "starts = \"show + 1 s\"");
    let size = |more: &[&str]| {
        let told = mix(folder, &[&["-o", "mix.flac", "--json"], more].concat()).output();
        let told: Value = serde_json::from_slice(&told.expect("it runs").stdout).expect("a report");
        let frames = told["duration_s"].as_f64().expect("a length") * 48_000.0;
        let bytes = std::fs::metadata(folder.join("mix.flac"))
            .expect("a mix")
            .len();
        (bytes as f64, frames)
    };
    let (music, _) = size(&[]);
    let (both, frames) = size(&["--timecode", "25"]);
    assert!(
        both < 2.1 * music + 1.01 * 3.0 * frames,
        "{both} {music} {frames}"
    );
}

#[test]
fn a_mix_that_is_stopped_leaves_nothing_half_written() {
    let folder = TempDir::new().expect("a folder");
    let folder = folder.path();
    // An hour, most of it silent.
    show(folder, &tone(1.0), "starts = \"show + 1 h\"");
    let running = mix(folder, &["-o", "mix.wav"])
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it runs");
    let parts = || {
        let files = std::fs::read_dir(folder).expect("a folder").flatten();
        let names = files.map(|file| file.file_name().to_string_lossy().into_owned());
        names
            .filter(|name| name.starts_with("mix"))
            .collect::<Vec<_>>()
    };
    let begun = Instant::now();
    while parts().is_empty() {
        assert!(
            begun.elapsed() < Duration::from_secs(60),
            "nothing is written"
        );
        std::thread::sleep(Duration::from_millis(2));
    }
    let signal = Command::new("kill")
        .args(["-TERM", &running.id().to_string()])
        .status();
    assert!(signal.is_ok_and(|status| status.success()));
    let ended = running.wait_with_output().expect("it ends");
    let told = String::from_utf8_lossy(&ended.stderr);
    assert_eq!(ended.status.code(), Some(3), "{told}");
    assert!(told.contains("stopped"), "{told}");
    assert_eq!(parts(), Vec::<String>::new());
}

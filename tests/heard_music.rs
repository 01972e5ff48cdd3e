//! Music is heard where it should be: a hit that is not played is a fault, a fade is heard at the end of the file too, and
//! how loud a track is is told from what of it is played.

mod floats;
mod one_track;
mod planned;

use std::path::Path;
use std::process::Command;

use abeam::sound::decode;
use one_track::{show, tone};
use planned::{PASS, planned};
use serde_json::Value;
use tempfile::TempDir;

fn run(folder: &Path, arguments: &[&str]) -> Value {
    let mut command = Command::new(env!("CARGO_BIN_EXE_abeam"));
    let output = command.current_dir(folder).args(arguments).output();
    let output = output.expect("it runs");
    serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|error| panic!("{error}: {}", String::from_utf8_lossy(&output.stderr)))
}

/// What `abeam check` says of a track of 40 s.
fn checked(more: &str) -> Vec<String> {
    let folder = TempDir::new().expect("a folder");
    show(folder.path(), &tone(40.0, 0.1), more);
    let report = run(folder.path(), &["check", "lake.toml", "--json"]);
    let faults = report["faults"].as_array().expect("faults").iter();
    faults
        .map(|fault| {
            format!(
                "{}: {}",
                fault["severity"].as_str().expect("how bad"),
                fault["message"].as_str().expect("a message")
            )
        })
        .collect()
}

const MEETS: &str = "hits = { bell = \"0:20\" }\nmeets = { hit = \"bell\", on = \"pass.abeam\" }\n";

#[test]
fn a_hit_that_is_not_played_is_an_error_and_one_in_a_fade_is_told() {
    let hard = |said: Vec<String>| {
        said.into_iter()
            .filter(|said| !said.contains("must start"))
            .collect::<Vec<_>>()
    };
    let said = hard(checked(&format!("{MEETS}ends = \"pass.abeam - 5 s\"")));
    assert!(
        said[0].starts_with("error: \"one\" ends at ")
            && said[0].contains("before its hit \"bell\" meets pass.abeam"),
        "{said:?}"
    );
    let said = hard(checked(&format!(
        "{MEETS}ends = \"pass.abeam + 1 s\"\nfade_out = \"10 s\""
    )));
    assert_eq!(
        said,
        ["advice: \"one\" fades out while its hit \"bell\" meets pass.abeam"]
    );
    let said = hard(checked(&format!("{MEETS}fade_in = \"40 s\"")));
    assert_eq!(
        said,
        ["advice: \"one\" fades in while its hit \"bell\" meets pass.abeam"]
    );
    let said = hard(checked(&format!(
        "{MEETS}ends = \"pass.abeam + 8 s\"\nfade_out = \"4 s\""
    )));
    assert_eq!(said, [""; 0]);
}

#[test]
fn of_a_file_that_is_not_there_nothing_is_said_but_that() {
    let folder = TempDir::new().expect("a folder");
    show(
        folder.path(),
        &tone(1.0, 0.1),
        &format!("{MEETS}ends = \"pass.abeam + 8 s\""),
    );
    std::fs::remove_file(folder.path().join("track.wav")).expect("it was there");
    let report = run(folder.path(), &["check", "lake.toml", "--json"]);
    let errors = report["faults"].as_array().expect("faults").iter();
    let errors: Vec<_> = errors
        .filter(|fault| fault["severity"] == "error")
        .collect();
    assert_eq!(errors.len(), 1, "{errors:?}");
    let message = errors[0]["message"].as_str().expect("a message");
    assert!(message.contains("there is no file track.wav"), "{message}");
    assert!(!report.to_string().contains("the music of"), "{report}");
}

#[test]
fn a_track_is_started_by_its_meet_or_by_a_time() {
    let said = checked(&format!("{MEETS}starts = \"show + 1 s\""));
    assert!(said[0].contains("both `starts` and `meets`"), "{said:?}");
    // One that names a hit where there is none is told so in words.
    let folder = TempDir::new().expect("a folder");
    show(
        folder.path(),
        &tone(1.0, 0.1),
        "meets = { hit = \"bell\", on = \"pass.abeam\" }",
    );
    let report = run(folder.path(), &["check", "lake.toml", "--json"]);
    let help = report["faults"][0]["help"].as_str().expect("help");
    assert!(help.contains("there are no hit names yet"), "{help}");
}

#[test]
fn a_fade_is_heard_at_the_end_of_the_file_too() {
    for ends in [
        "",
        "ends = \"show + 21 s\"",
        "ends = \"show + 60 s\"",
        "ends = \"show + 20.9 s\"",
    ] {
        let folder = TempDir::new().expect("a folder");
        let folder = folder.path();
        let more = format!("starts = \"show + 1 s\"\nfade_out = \"4 s\"\n{ends}");
        show(folder, &tone(20.0, 0.1), &more);
        run(folder, &["mix", "lake.toml", "-o", "mix.wav", "--json"]);
        let mixed = decode(&folder.join("mix.wav"), &mut |_| {}).expect("a mix");
        let peak = |from: f64, until: f64| {
            let place = |s: f64| (s * f64::from(mixed.rate)) as usize * 2;
            let part = &mixed.samples[place(from)..place(until)];
            part.iter().fold(0.0_f32, |peak, x| peak.max(x.abs()))
        };
        assert!(peak(16.0, 16.8) > 0.099, "{ends}: {}", peak(16.0, 16.8));
        // A quarter sine down over 4 s: half a second before the end it is at sin(π/16).
        let near_the_end = peak(20.45, 20.55) / 0.1;
        assert!((near_the_end - 0.2).abs() < 0.05, "{ends}: {near_the_end}");
    }
    let over = checked("starts = \"show + 1 s\"\nends = \"show + 1:11\"");
    assert!(
        over[0].starts_with("advice: the music of \"one\" is over 30"),
        "{over:?}"
    );
}

/// The middle of it is 30 dB louder than the rest: the level is that of what is heard.
#[test]
fn a_level_is_that_of_what_is_played() {
    let mut samples = tone(10.0, 0.01);
    samples.extend(tone(10.0, 0.3));
    samples.extend(tone(5.0, 0.01));
    let loudness = |more: &str| {
        let folder = TempDir::new().expect("a folder");
        let folder = folder.path();
        show(
            folder,
            &samples,
            &format!("level = \"-30 LUFS\"\nstarts = \"show + 1 s\"\n{more}"),
        );
        let report = run(folder, &["mix", "lake.toml", "-o", "mix.wav", "--json"]);
        report["integrated_lufs"].as_f64().expect("a loudness")
    };
    for more in [
        "loop = { from = \"0:02\", to = \"0:08\" }\nends = \"show + 30 s\"",
        // Its join is written around where it goes on.
        "cuts = [{ from = \"0:09.500\", to = \"0:20.500\" }]",
        "cuts = [{ from = \"0:00.500\", to = \"0:10\" }]",
    ] {
        let lufs = loudness(more);
        assert!((lufs + 30.0).abs() < 0.5, "{more}: {lufs}");
    }
}

#[test]
fn a_track_ends_with_its_music_where_it_is_to_end_later() {
    let body = format!(
        "{PASS}\n[[track]]\nid = \"bed\"\nfile = \"10 s.flac\"\nstarts = \"pass.start\"\nends = \"pass.start + 40 s\"\n"
    );
    let planned = planned("", &["pass"], &body);
    let track = planned.track("bed");
    let (ends, asked) = (
        track.ends.expect("an end"),
        track.asked_end.expect("an end"),
    );
    assert!((asked - ends).s() > 29.0 && track.fades.is_none());
}

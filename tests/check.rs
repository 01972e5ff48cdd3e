//! `abeam check` and `abeam times`: what they print, their exit codes, their JSON names.

mod planned;
mod pty;

use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/cues/lantern-lake.toml");

/// A folder with a show in `cues/lake.toml` and its tracks in `media/`.
struct Lake(TempDir);

impl Lake {
    fn of(document: &str) -> Lake {
        Lake::of_bytes(document.as_bytes())
    }

    fn of_bytes(document: &[u8]) -> Lake {
        let lake = Lake(TempDir::new().expect("a folder"));
        for folder in ["cues", "media"] {
            fs::create_dir(lake.0.path().join(folder)).expect("a folder in it");
        }
        fs::write(lake.show(), document).expect("the document");
        lake
    }

    fn show(&self) -> PathBuf {
        self.0.path().join("cues/lake.toml")
    }

    fn media(&self, name: &str, bytes: &[u8]) {
        fs::write(self.0.path().join("media").join(name), bytes).expect("a track");
    }

    fn run(&self, args: &[&str]) -> Said {
        let (verb, options) = args.split_first().expect("a verb");
        let mut command = abeam();
        command.arg(verb).arg(self.show()).args(options);
        Said::of(command)
    }

    fn check(&self) -> Said {
        self.run(&["check"])
    }
}

/// What the program said.
struct Said {
    code: i32,
    out: String,
    err: String,
}

impl Said {
    fn of(mut command: Command) -> Said {
        let output = command.output().expect("run");
        Said {
            code: output.status.code().expect("an exit code"),
            out: String::from_utf8(output.stdout).expect("text"),
            err: String::from_utf8(output.stderr).expect("text"),
        }
    }

    /// What was said on standard error, in one line, as it was before it was broken to the width.
    fn flowing(&self) -> String {
        let words = self.err.split_whitespace().filter(|word| *word != "|");
        words.collect::<Vec<_>>().join(" ")
    }

    fn says(&self, text: &str) -> &Said {
        assert!(
            self.flowing().contains(text),
            "{text:?} is not in:\n{}",
            self.err
        );
        self
    }

    fn exits(&self, code: i32) -> &Said {
        assert_eq!(self.code, code, "{}\n{}", self.out, self.err);
        self
    }

    fn json(&self) -> Value {
        serde_json::from_str(&self.out).expect("one JSON object")
    }
}

fn abeam() -> Command {
    Command::cargo_bin("abeam").expect("the program")
}

fn demo(args: &[&str]) -> Said {
    let (verb, options) = args.split_first().expect("a verb");
    let mut command = abeam();
    command.arg(verb).arg(DEMO).args(options);
    Said::of(command)
}

/// `seconds` of a quiet mono ramp.
fn wav(seconds: u32) -> Vec<u8> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: 8_000,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = std::io::Cursor::new(Vec::new());
    let mut writer = hound::WavWriter::new(&mut bytes, spec).expect("a WAV file");
    for i in 0..8_000 * seconds {
        writer.write_sample((i % 200) as i16).expect("a sample");
    }
    writer.finalize().expect("a WAV file");
    bytes.into_inner()
}

fn with_pass(body: &str) -> String {
    planned::document(
        "start = \"19:40:00\"\nzero = \"pass.abeam\"",
        &["pass"],
        &(planned::PASS.to_owned() + body),
    )
}

fn track(file: &str, more: &str) -> String {
    format!("[[track]]\nid = \"hymn\"\nfile = \"{file}\"\nstarts = \"show\"\n{more}\n")
}

#[test]
fn the_demo_checks_clean_in_each_profile() {
    for profile in ["high", "low", "flat"] {
        let said = demo(&["check", "--profile", profile]);
        said.exits(0);
        assert!(
            said.out.contains(&format!("profile {profile}: ")) && said.out.contains("no errors"),
            "{}",
            said.out
        );
        assert!(said.err.is_empty(), "{}", said.err);
    }
}

#[test]
fn a_fault_has_its_place_its_line_and_what_to_do() {
    let block = "[[block]]\nid = \"long\"\ntext = \"One two three four five six seven eight nine ten.\"\nstarts = \"show\"\nends_by = \"show + 1 s\"\n";
    let document = with_pass(block);
    let line = 1 + document[..document.find("[[block]]").expect("the block")]
        .matches('\n')
        .count();
    let lake = Lake::of(&document);
    let said = lake.check();
    said.exits(1)
        .says("x \"long\" is not over by 19:40:01, its ends_by:")
        .says(&format!("lake.toml:{line}:1]"))
        .says(&format!("{line} [[block]]"))
        .says("help: shorten it, give it a `short` text, or start it earlier");
    assert!(
        said.out.contains("; 1 error, no pieces of advice"),
        "{}",
        said.out
    );
    assert!(!said.err.contains('\u{1b}'), "no colour into a pipe");
}

#[test]
fn advice_alone_is_no_failure() {
    let block = "[[block]]\nid = \"long\"\nkeep = \"may\"\ntext = \"One two three four five six seven eight nine ten.\"\nstarts = \"show\"\nends_by = \"show + 1 s\"\n";
    let said = Lake::of(&with_pass(block)).check();
    said.exits(0).says("is not over by");
    assert!(
        said.out.contains("no errors, 1 piece of advice"),
        "{}",
        said.out
    );
}

#[test]
fn a_wrong_command_line_says_what_to_type() {
    demo(&["check", "--profile", "medium"])
        .exits(2)
        .says("no profile \"medium\": write --profile with one of high, low, flat");
    demo(&["times", "--wind", "strong"])
        .exits(2)
        .says("--wind: \"strong\" is not")
        .says("240/15kt");
    demo(&["times", "--temperature", "hot"])
        .exits(2)
        .says("--temperature: \"hot\" is not a temperature")
        .says("24 C");
    demo(&["times", "--temperature", "NaN C"]).exits(2);
    demo(&["check", "--speed", "fast"]).exits(2).says("--speed");
    let mut none = abeam();
    none.arg("check");
    Said::of(none).exits(2);
}

#[test]
fn a_show_that_is_not_there_is_something_outside() {
    let mut command = abeam();
    command.args(["check", "no-such-show.toml"]);
    Said::of(command)
        .exits(3)
        .says("no-such-show.toml: there is no such file");
}

#[test]
fn every_fault_of_a_document_is_told_at_once() {
    let document = with_pass("[[block]]\nid = \"a\"\ntext = \"Hello\"\nstarts = \"pas.abeam\"\n")
        .replace("\"100 m/s tas\"", "\"100 furlongs\"")
        .replace("\"2 km\"", "nan");
    let said = Lake::of(&document).check();
    said.exits(1)
        .says("100 furlongs")
        .says("`pas`")
        .says("did you mean `pass`?")
        .says("gates");
    assert!(said.err.matches("lake.toml:").count() >= 3, "{}", said.err);
    assert_eq!(said.out, "");
}

#[test]
fn documents_that_are_none_are_answered_in_plain_words() {
    Lake::of_bytes(b"[show]\ntitle = \"F\xeate\"\n")
        .check()
        .exits(1)
        .says("not UTF-8")
        .says("lake.toml:2:11]");
    Lake::of_bytes(&vec![b'#'; 50_000_000])
        .check()
        .exits(3)
        .says("larger than 4 MB");
    Lake::of(&with_pass("").replace("elevation = \"0 m\"", "elevation = nan"))
        .check()
        .exits(1)
        .says("`elevation` of [site] is not a finite number");
}

#[test]
fn tracks_that_cannot_be_played_are_faults() {
    let lake = Lake::of(&with_pass(&track("hymn.flac", "")));
    lake.check()
        .exits(1)
        .says("\"hymn\": there is no file hymn.flac")
        .says("help: put it at");
    lake.media("hymn.flac", b"These are words, and words alone.");
    lake.check()
        .exits(1)
        .says("\"hymn\" cannot be played:")
        .says("is not a sound file of a known kind: give a WAV");
    let noise: Vec<u8> = (0..40_000_u32)
        .map(|i| (i.wrapping_mul(2_654_435_761) >> 13) as u8)
        .collect();
    lake.media("hymn.flac", &noise);
    lake.check().exits(1).says("\"hymn\" cannot be played:");
    // The header is whole, and says more than there is.
    let whole =
        fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/media/sting.flac")).expect("a track");
    lake.media("hymn.flac", &whole[..whole.len() / 2]);
    lake.check()
        .exits(1)
        .says("\"hymn\" cannot be played:")
        .says("copy it again");
    lake.media("hymn.flac", &whole);
    lake.check().exits(0);
}

#[test]
fn hits_entries_and_vamps_lie_inside_their_track() {
    let more = "hits = { verse = \"0:03\", coda = \"0:02\" }\nentries = [\"0:00\", \"0:02.5\"]\nvamp = { from = \"0:01\", to = \"0:04\", step = \"1 s\" }";
    let lake = Lake::of(&with_pass(&track("hymn.wav", more)));
    lake.media("hymn.wav", &wav(2));
    let said = lake.check();
    said.exits(1)
        .says("hit \"verse\" at 0:03.000 is outside the track, which is 0:02.000 long")
        .says("an entry at 0:02.500 is outside the track")
        .says("its vamp at 0:04.000 is outside the track");
    for (more, told) in [
        (
            "cuts = [{ from = \"0:00.5\", to = \"0:04\" }]",
            "a cut at 0:04.000 is outside the track",
        ),
        (
            "ends = \"show + 60 s\"\nloop = { from = \"0:01\", to = \"0:05\" }",
            "its loop at 0:05.000 is outside the track",
        ),
    ] {
        let lake = Lake::of(&with_pass(&track("hymn.wav", more)));
        lake.media("hymn.wav", &wav(2));
        lake.check().exits(1).says(told);
    }
    assert!(!said.err.contains("coda"), "its very end is still in it");
}

fn keys(value: &Value) -> Vec<&str> {
    let object = value.as_object().expect("an object");
    object.keys().map(String::as_str).collect()
}

#[test]
fn times_have_the_names_of_the_design() {
    let lake = Lake::of(&with_pass(
        "[[block]]\nid = \"long\"\ntext = \"One two three four five six seven.\"\nstarts = \"show\"\nends_by = \"show + 1 s\"\n",
    ));
    let said = lake.run(&["times", "--json"]);
    let report = said.exits(1).json();
    assert_eq!(said.err, "", "faults are in the object");
    assert_eq!(
        keys(&report["faults"][0]),
        ["column", "help", "line", "message", "severity"]
    );
    assert_eq!(report["faults"][0]["severity"], "error");

    let report = demo(&["times", "--json"]).exits(0).json();
    assert_eq!(
        keys(&report),
        [
            "blocks", "calls", "faults", "figures", "profile", "silences", "title", "tracks"
        ]
    );
    assert_eq!(
        keys(&report["figures"][0]),
        [
            "abeam_s",
            "abeam_spread_s",
            "crosses_s",
            "end_s",
            "end_spread_s",
            "gates_s",
            "gates_spread_s",
            "heard_s",
            "hush_s",
            "id",
            "inbound_s",
            "inbound_spread_s",
            "parts",
            "start_s",
            "start_spread_s"
        ]
    );
    assert_eq!(
        keys(&report["blocks"][0]),
        [
            "because",
            "chance",
            "end_s",
            "id",
            "slack_s",
            "start_s",
            "start_spread_s",
            "version"
        ]
    );
    assert_eq!(
        keys(&report["tracks"][0]),
        ["end_s", "hit_s", "id", "meet", "start_s", "start_spread_s"]
    );
    assert_eq!(
        keys(&report["tracks"][0]["meet"]),
        ["miss_s", "rate", "rounds"]
    );
    assert_eq!(report["figures"][0]["abeam_s"][0], 0.0);
    assert_eq!(
        report["figures"][0]["hush_s"][0].as_array().map(Vec::len),
        Some(2)
    );
}

/// From inbound to abeam, in seconds.
fn run_in(lake: &Lake, options: &[&str]) -> f64 {
    let report = lake.run(&[&["times", "--json"], options].concat()).json();
    let figure = &report["figures"][0];
    let number = |value: &Value| value.as_f64().expect("a number");
    number(&figure["abeam_s"][0]) - number(&figure["inbound_s"])
}

#[test]
fn the_days_wind_temperature_and_profile_move_the_times() {
    // 4 km at 100 m/s true, the line at 090 from the crowd's left to its right.
    let lake = Lake::of(&with_pass(""));
    assert!((run_in(&lake, &[]) - 40.0).abs() < 1e-3);
    // 20 m/s on the nose, then on the tail: 4 km at 80 and at 120 m/s. 20 m/s is 38.8769 kt.
    let head = run_in(&lake, &["--wind", "090/38.8769kt"]);
    assert!((head - 50.0).abs() < 1e-3, "{head}");
    let tail = run_in(&lake, &["--wind", "270/38.8769kt"]);
    assert!((tail - 4000.0 / 120.0).abs() < 1e-3, "{tail}");
    // 0.3 Mach at 288.15 K is 102.088 m/s, at 303.15 K 104.711 (ISO 2533: a = 20.046796 √T). Flown at the
    // site's own height, so that its temperature is that of the air.
    let mach = with_pass("")
        .replace("100 m/s tas", "0.3 mach")
        .replace("height = \"100 m\"", "height = \"0 m\"");
    let lake = Lake::of(&mach);
    let cool = run_in(&lake, &[]);
    assert!((cool - 4000.0 / 102.0882).abs() < 2e-3, "{cool}");
    let warm = run_in(&lake, &["--temperature", "30 C"]);
    assert!((warm - 4000.0 / 104.7118).abs() < 2e-3, "{warm}");

    let low = demo(&["times", "--json", "--profile", "low"])
        .exits(0)
        .json();
    assert_eq!(low["profile"], "low");
    let figures = low["figures"].as_array().expect("figures");
    assert!(figures.iter().all(|figure| figure["id"] != "zoom"));
    assert_eq!(figures.len(), 16);
}

#[test]
fn the_tables_of_the_demo_stand_in_line() {
    let said = demo(&["times"]);
    said.exits(0);
    assert!(!said.out.contains('\u{1b}'), "no colour into a pipe");
    insta::assert_snapshot!(said.out);
}

/// A display flown from the other side in the mirrored wind is the same display: along the demo's line, which
/// bears 064, the mirror of 230 is 308 − 230 = 078.
#[test]
fn a_mirrored_display_in_a_mirrored_wind_keeps_its_times() {
    let abeams = |options: &[&str]| -> Vec<f64> {
        let mut command = abeam();
        command.args(["times", DEMO, "--json"]).args(options);
        let output = command.output().expect("the program");
        let times: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let figures = times["figures"].as_array().expect("figures");
        let abeams = figures
            .iter()
            .filter_map(|figure| figure["abeam_s"][0].as_f64());
        abeams.collect()
    };
    let flown = abeams(&["--wind", "230/15kt"]);
    let mirrored = abeams(&["--wind", "078/15kt", "--mirrored"]);
    let same_wind = abeams(&["--wind", "230/15kt", "--mirrored"]);
    assert_eq!(flown.len(), mirrored.len());
    let close = |a: &[f64], b: &[f64]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 2e-3);
    assert!(close(&flown, &mirrored), "{flown:?}\n{mirrored:?}");
    assert!(!close(&flown, &same_wind));
}

#[test]
fn faults_are_json_where_json_is_wanted_also_of_a_document_that_cannot_be_planned() {
    let lake = Lake::of("[show]\ntitle = 3\n");
    for verb in ["check", "times"] {
        let mut command = abeam();
        command.arg(verb).arg(lake.show()).arg("--json");
        let output = command.output().expect("the program");
        assert_eq!(output.status.code(), Some(1), "{verb}");
        let said: Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let fault = &said["faults"][0];
        assert_eq!(fault["severity"], "error", "{verb}");
        assert!(fault["line"].as_u64().is_some(), "{verb}: {said}");
    }
    let mut command = abeam();
    command.args(["check", DEMO, "--json"]);
    let said: Value =
        serde_json::from_slice(&command.output().expect("the program").stdout).expect("JSON");
    assert!(
        said["faults"]
            .as_array()
            .is_some_and(|faults| { faults.iter().all(|fault| fault["severity"] == "advice") })
    );
}

#[test]
fn a_narrator_is_timed_at_the_keyboard() {
    let mut check = Command::cargo_bin("abeam").expect("the program");
    check
        .args(["check", DEMO, "--read-aloud"])
        .write_stdin("s\n\n\nq\n");
    let output = check.output().expect("it runs");
    assert!(output.status.success(), "{output:?}");
    let asked = String::from_utf8_lossy(&output.stderr);
    assert!(
        asked.contains("welcome\n  Good evening, and welcome") && asked.contains("reading …"),
        "{asked}"
    );
    let told = String::from_utf8_lossy(&output.stdout);
    assert!(told.starts_with("the-aircraft: 0."), "{told}");
    assert!(told.contains("[narrator]\nwords_per_minute = "), "{told}");
}

/// What reading aloud gave is written where it is asked for, and the document's comments stay.
#[test]
fn a_narrators_rate_is_written_into_the_document_when_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let cues = folder.path().join("cues");
    std::fs::create_dir_all(&cues).expect("a folder");
    let document = cues.join("show.toml");
    let text = std::fs::read_to_string(format!(
        "{}/cues/first-show.toml",
        env!("CARGO_MANIFEST_DIR")
    ))
    .expect("a show");
    std::fs::write(&document, &text).expect("a document");
    let name = document.to_str().expect("UTF-8");
    let program = env!("CARGO_BIN_EXE_abeam");
    // Nothing was read: nothing is written.
    let mut check = pty::Program::start(
        program,
        &["check", name, "--read-aloud", "--write"],
        &[],
        (100, 40),
    );
    check.until_shown("Enter begins it");
    check.key("q\r");
    assert!(check.end().screen.contains("Nothing was read out."));
    assert_eq!(std::fs::read_to_string(&document).expect("it"), text);
    let mut check = pty::Program::start(
        program,
        &["check", name, "--read-aloud", "--write"],
        &[],
        (100, 40),
    );
    check.until_shown("Enter begins it");
    check.key("\r");
    check.until_shown("reading …");
    std::thread::sleep(std::time::Duration::from_millis(3_000));
    check.key("\r");
    check.until_shown("salute-words");
    check.key("q\r");
    let ended = check.end();
    assert!(
        ended.success && ended.screen.contains("Wrote words_per_minute = "),
        "{}",
        ended.screen
    );
    let written = std::fs::read_to_string(&document).expect("it");
    let narrator = written.find("[narrator]").expect("a narrator");
    let comments = |text: &str| {
        text.lines()
            .filter(|line| line.contains('#'))
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    let kept = comments(&written);
    assert!(
        comments(&text).iter().all(|line| kept.contains(line)),
        "{written}"
    );
    let (show, faults) = abeam::show::load::read("show.toml", &written);
    assert!(faults.is_empty(), "{faults:#?}");
    let said = &written[narrator..];
    let rate: f64 = said
        .split("words_per_minute = ")
        .nth(1)
        .and_then(|rest| rest.split_whitespace().next())
        .and_then(|rate| rate.parse().ok())
        .expect("a rate");
    assert_eq!(show.expect("a show").narrator.words_per_minute, rate);
}

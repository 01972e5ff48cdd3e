//! `abeam gauge` reports every file it can read, in a table or as JSON, and exits 3 when there was one it
//! could not.

use std::path::{Path, PathBuf};

use abeam::sound::{Pcm, decode, landmarks};
use abeam::units::Span;
use assert_cmd::Command;
use serde_json::Value;
use tempfile::TempDir;

/// Two channels of 1 kHz at −23 dBFS, which is −23 LUFS (EBU Tech 3341, signal 1); or silence.
fn write_wav(dir: &TempDir, name: &str, seconds: u32, amplitude: f64) -> PathBuf {
    let path = dir.path().join(name);
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: 48_000,
        bits_per_sample: 24,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a WAV file");
    for i in 0..48_000 * seconds {
        let x = amplitude * (std::f64::consts::TAU * f64::from(i) / 48.0).sin();
        for _ in 0..2 {
            writer
                .write_sample((x * 8_388_607.0) as i32)
                .expect("a sample");
        }
    }
    writer.finalize().expect("a WAV file");
    path
}

fn tone(dir: &TempDir) -> PathBuf {
    write_wav(dir, "tone.wav", 5, 0.070_794_6)
}

fn abeam_gauge(files: &[&Path], options: &[&str]) -> assert_cmd::assert::Assert {
    // Nothing kept by an earlier build.
    let cache = TempDir::new().expect("a directory");
    Command::cargo_bin("abeam")
        .expect("the program")
        .arg("gauge")
        .env("XDG_CACHE_HOME", cache.path())
        .args(files)
        .args(options)
        .assert()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn json_has_every_measure_under_a_name_with_its_unit() {
    let dir = TempDir::new().expect("a directory");
    let (tone, silence) = (tone(&dir), write_wav(&dir, "silence.wav", 4, 0.0));
    let done = abeam_gauge(&[&tone, &silence], &["--json"]).code(0);
    let output = done.get_output();
    assert_eq!(text(&output.stderr), "");
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let file = &report["files"][0];
    assert_eq!(file["path"], tone.to_str().expect("a path"));
    assert_eq!(file["duration_s"], 5.0);
    assert_eq!(file["sample_rate_hz"], 48_000);
    assert_eq!(file["channels"], 2);
    for (key, expected) in [
        ("integrated_lufs", -23.0),
        ("momentary_max_lufs", -23.0),
        ("short_term_max_lufs", -23.0),
        ("range_lu", 0.0),
        ("true_peak_dbtp", -23.0),
        ("silence_head_s", 0.0),
        ("silence_tail_s", 0.0),
        ("clipped_runs", 0.0),
        ("clipped_samples", 0.0),
        ("lost_s", 0.0),
    ] {
        let value = file[key].as_f64().expect(key);
        assert!((value - expected).abs() < 0.1, "{key}: {value}");
    }
    let silent = &report["files"][1];
    assert!(
        silent["integrated_lufs"].is_null() && silent["true_peak_dbtp"].is_null(),
        "{silent}"
    );
    assert_eq!(silent["duration_s"], 4.0);
    assert_eq!(silent["silence_head_s"], 4.0);
    for still in [file, silent] {
        assert!(still["tempo_bpm"].is_null() && still["loudest_bar"].is_null());
        assert_eq!(still["beats_s"], serde_json::json!([]));
        assert_eq!(still["downbeats_s"], serde_json::json!([]));
    }
    assert_eq!(report["unread"].as_array().map(Vec::len), Some(0));
}

#[test]
fn the_table_has_a_line_a_file_in_the_order_given() {
    let dir = TempDir::new().expect("a directory");
    let (tone, silence) = (tone(&dir), write_wav(&dir, "silence.wav", 4, 0.0));
    let done = abeam_gauge(&[&silence, &tone], &[]).code(0);
    let table = text(&done.get_output().stdout);
    let lines: Vec<_> = table.lines().collect();
    assert_eq!(lines[3], "", "{table}");
    assert!(
        lines[0].contains("loudness LUFS") && lines[0].contains("true peak dBTP"),
        "{table}"
    );
    assert!(
        lines[1].contains("0:04.0") && lines[1].ends_with("silence.wav"),
        "{table}"
    );
    assert!(
        lines[2].contains("0:05.0") && lines[2].contains("-23.0"),
        "{table}"
    );
    let column = |line: &str| line.find(dir.path().to_str().expect("a path"));
    assert_eq!(
        column(lines[1]).map(|at| at - 2 * 5),
        column(lines[2]),
        "{table}"
    );
}

/// The tempi and bars of the demonstration's music are known from its score: `media/compose/main.rs`. The sixteen
/// seconds of the first show are too few to tell its bars.
#[test]
fn the_demonstrations_tracks_have_the_tempo_and_bars_they_were_composed_with() {
    let media = Path::new(env!("CARGO_MANIFEST_DIR")).join("media");
    let known = [
        ("overture.flac", 120.0, 40.0),
        ("lake-bed.flac", 90.0, 48.0),
        ("hymn.flac", 80.0, 96.0),
        ("fast.flac", 150.0, 44.8),
        ("closing.flac", 120.0, 40.0),
    ];
    let files = known.map(|(file, ..)| media.join(file));
    let files = files.each_ref().map(PathBuf::as_path);
    let done = abeam_gauge(&files, &["--json"]).code(0);
    let report: Value = serde_json::from_slice(&done.get_output().stdout).expect("JSON");
    for ((name, bpm, seconds), file) in known.iter().zip(report["files"].as_array().expect("files"))
    {
        let tempo = file["tempo_bpm"].as_f64().expect("a tempo");
        assert!((tempo / bpm - 1.0).abs() < 0.005, "{name}: {tempo}");
        let beat = 60.0 / bpm;
        let times = |key: &str| -> Vec<f64> {
            let times = file[key].as_array().expect(key);
            times.iter().map(|at| at.as_f64().expect(key)).collect()
        };
        // The first beat is the first sample, and four are a bar.
        let off = |at: f64, every: f64| (at - (at / every).round() * every).abs();
        let (beats, bars) = (times("beats_s"), times("downbeats_s"));
        let on_time = |times: &[f64], every: f64| {
            times.iter().filter(|&&at| off(at, every) < 0.07).count() as f64
        };
        let (all_beats, all_bars) = (seconds / beat, seconds / beat / 4.0);
        println!(
            "{name}: {tempo:.2}; {} of {all_beats} beats, {} of {all_bars} bars",
            on_time(&beats, beat),
            on_time(&bars, 4.0 * beat)
        );
        assert!(on_time(&beats, beat) >= 0.85 * beats.len() as f64, "{name}");
        assert!(on_time(&beats, beat) >= 0.8 * all_beats, "{name}");
        assert!(
            on_time(&bars, 4.0 * beat) >= 0.9 * bars.len() as f64,
            "{name}"
        );
        assert!(on_time(&bars, 4.0 * beat) >= 0.7 * all_bars, "{name}");
    }
    let first_show = media.join("first-show.flac");
    let done = abeam_gauge(&[&first_show], &["--json"]).code(0);
    let report: Value = serde_json::from_slice(&done.get_output().stdout).expect("JSON");
    let tempo = report["files"][0]["tempo_bpm"].as_f64().expect("a tempo");
    assert!((tempo / 120.0 - 1.0).abs() < 0.005, "{tempo}");
}

#[test]
fn a_file_that_cannot_be_read_is_named_after_the_others_are_reported() {
    let dir = TempDir::new().expect("a directory");
    let (tone, none) = (tone(&dir), dir.path().join("none.flac"));
    let done = abeam_gauge(&[&none, &tone], &[]).code(3);
    let output = done.get_output();
    assert!(text(&output.stdout).contains("tone.wav"));
    let said = text(&output.stderr);
    assert!(
        said.contains("none.flac cannot be read") && said.contains("check its name"),
        "{said}"
    );

    let done = abeam_gauge(&[&none, &tone], &["--json"]).code(3);
    let report: Value = serde_json::from_slice(&done.get_output().stdout).expect("JSON");
    assert_eq!(report["files"].as_array().map(Vec::len), Some(1));
    assert!(
        report["unread"][0]["reason"]
            .as_str()
            .is_some_and(|why| why.contains("none.flac"))
    );
}

#[test]
fn no_files_is_a_wrong_command_line() {
    abeam_gauge(&[], &[]).code(2);
}

/// The demonstration's music was composed with parts that go round; the list at the top of `media/compose/main.rs`
/// says where. Found by ear, each is among the first proposed, its ends on its bar lines.
#[test]
fn vamps_that_were_composed_are_found() {
    let near = |a: Span, b: f64| (a - Span::from_s(b)).abs() <= Span::from_ms(25);
    for (file, bar, (from, to), alike) in [
        ("hymn.flac", 3.0, (12.0, 24.0), true),
        ("lake-bed.flac", 8.0 / 3.0, (8.0, 40.0), false),
    ] {
        let pcm = decode(&Path::new("media").join(file), &mut |_| {}).expect("a track");
        let found = landmarks(&pcm);
        let vamps = &found.vamps;
        let inside = |at: Span| at.s() > from - 0.025 && at.s() < to + 0.025;
        let best = vamps.first().unwrap_or_else(|| panic!("{file} has none"));
        assert!(inside(best.from) && inside(best.to), "{file}: {vamps:#?}");
        assert_eq!(best.even, alike, "{file}: {vamps:#?}");
        assert!(best.alike > 0.9, "{file}: {vamps:#?}");
        for vamp in vamps.iter().take(4) {
            for end in [vamp.from, vamp.to] {
                let line = (end.s() / bar).round() * bar;
                assert!(near(end, line), "{file}: {end} is on no bar line");
            }
        }
    }
}

/// Clicks at known instants: each is found, to 2 ms.
#[test]
fn beginnings_are_found_to_two_milliseconds() {
    const RATE: u32 = 44_100;
    let clicks: Vec<f64> = (0..16).map(|i| 0.5 + f64::from(i) * 0.437).collect();
    let mut samples = vec![0.0_f32; 8 * RATE as usize];
    for at in &clicks {
        let first = (at * f64::from(RATE)).round() as usize;
        for (i, sample) in samples[first..first + 2_000].iter_mut().enumerate() {
            *sample = (-(i as f32) / 300.0).exp() * (i as f32 * 0.3).cos() * 0.7;
        }
    }
    let found = landmarks(&Pcm {
        rate: RATE,
        channels: 1,
        samples,
    });
    for at in clicks {
        let off = found.onsets.iter().map(|onset| (onset.s() - at).abs());
        let off = off.fold(f64::INFINITY, f64::min);
        assert!(off <= 0.002, "{at}: {off}");
    }
}

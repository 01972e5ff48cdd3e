//! `abeam gauge` reports every file it can read, in a table or as JSON, and exits 3 when there was one it
//! could not.

use std::path::{Path, PathBuf};

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
    Command::cargo_bin("abeam")
        .expect("the program")
        .arg("gauge")
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
    assert_eq!(report["unread"].as_array().map(Vec::len), Some(0));
}

#[test]
fn the_table_has_a_line_a_file_in_the_order_given() {
    let dir = TempDir::new().expect("a directory");
    let (tone, silence) = (tone(&dir), write_wav(&dir, "silence.wav", 4, 0.0));
    let done = abeam_gauge(&[&silence, &tone], &[]).code(0);
    let table = text(&done.get_output().stdout);
    let lines: Vec<_> = table.lines().collect();
    assert_eq!(lines.len(), 3, "{table}");
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

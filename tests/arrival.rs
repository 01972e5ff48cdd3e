//! `abeam arrival`: the answer, its JSON names, its exit codes, and its caution.

use assert_cmd::Command;
use serde_json::Value;

fn arrival(args: &[&str]) -> Command {
    let mut command = Command::cargo_bin("abeam").expect("the program");
    command.arg("arrival").args(args);
    command
}

fn json(args: &[&str]) -> Value {
    let output = arrival(args).arg("--json").output().expect("run");
    assert!(output.status.success() && output.stderr.is_empty());
    serde_json::from_slice(&output.stdout).expect("one object")
}

fn number(value: &Value, name: &str) -> f64 {
    value[name]
        .as_f64()
        .unwrap_or_else(|| panic!("{name} of {value}"))
}

const NO_WIND: [&str; 4] = ["--distance", "9 km", "--speed", "180 m/s tas"];

#[test]
fn distance_over_speed_and_when_to_leave() {
    let report = json(&[&NO_WIND[..], &["--abeam-at", "14:30:00"]].concat());
    assert!((number(&report, "tas_mps") - 180.0).abs() < 1e-9);
    assert!((number(&report, "ground_speed_mps") - 180.0).abs() < 1e-9);
    assert_eq!(number(&report, "drift_deg"), 0.0);
    assert!((number(&report, "time_to_centre_s") - 50.0).abs() < 1e-6);
    // 230 m out and 500 ft up, at 340 m/s.
    let slant = 230_f64.hypot(152.4);
    assert!((number(&report, "heard_after_s") - slant / 340.0).abs() < 1e-3);
    assert_eq!(report["leave_at"], "14:29:10.000");
    assert_eq!(json(&NO_WIND).get("leave_at"), None);
}

#[test]
fn a_wind_from_the_left_drifts_to_the_right() {
    let wind = ["--wind", "352/20kt", "--track", "082"];
    let report = json(&[&NO_WIND[..], &wind].concat());
    let drift = (20.0 * 1852.0 / 3600.0 / 180.0_f64).asin().to_degrees();
    assert!((number(&report, "drift_deg") - drift).abs() < 1e-9);
}

#[test]
fn a_hot_day_makes_the_same_calibrated_airspeed_faster() {
    let takes = |temperature| {
        let air = [
            "--temperature",
            temperature,
            "--elevation",
            "-10 m",
            "--qnh",
            "1009 hPa",
        ];
        let run_in = ["--distance", "5 nmi", "--speed", "350 kt cas"];
        number(&json(&[&run_in[..], &air].concat()), "time_to_centre_s")
    };
    assert!(takes("35 C") < takes("-5 C"));
}

#[test]
fn the_answer_for_people_carries_the_caution_and_so_does_the_help() {
    let output = arrival(&NO_WIND)
        .args(["--abeam-at", "00:00:20"])
        .output()
        .expect("run");
    let text = String::from_utf8(output.stdout).expect("text");
    for part in [
        "Abeam in",
        "50.0 s",
        "23:59:30.0, the day before",
        "clears nobody",
    ] {
        assert!(text.contains(part), "{text}");
    }
    let help = arrival(&["--help"]).output().expect("run").stdout;
    let help = String::from_utf8(help).expect("text");
    assert!(
        help.contains("no flight instrument") && help.contains("the music waits"),
        "{help}"
    );
}

#[test]
fn what_cannot_be_is_exit_code_2_and_says_what_to_type() {
    for (args, says) in [
        (&["--distance", "5", "--speed", "350 kt"][..], "\"3.2 nmi\""),
        (&["--distance", "5 nmi", "--speed", "-350 kt"][..], "350 kt"),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "350 kt",
                "--qnh",
                "29.92 hPa",
            ],
            "29.80 inHg",
        ),
        (&["--distance", "-5 nmi", "--speed", "350 kt"], "below zero"),
        (
            &["--distance", "5 nmi", "--speed", "700 kt tas"],
            "below Mach 1",
        ),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "9 kt tas",
                "--wind",
                "082/10kt",
                "--track",
                "082",
            ],
            "higher speed",
        ),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "350 kt",
                "--wind",
                "240/15kt",
            ],
            "--track",
        ),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "350 kt",
                "--wind",
                "240/15",
                "--track",
                "082",
            ],
            "240/15kt",
        ),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "350 kt",
                "--wind",
                "calm",
                "--track",
                "482",
            ],
            "\"082\"",
        ),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "350 kt",
                "--to-speed",
                "400 kt",
            ],
            "--gain",
        ),
        (
            &[
                "--distance",
                "5 nmi",
                "--speed",
                "350 kt",
                "--abeam-at",
                "25:00",
            ],
            "\"14:30:00\"",
        ),
    ] {
        let output = arrival(args).output().expect("run");
        let text = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{text}");
        assert!(output.stdout.is_empty() && text.contains(says), "{text}");
    }
}

/// Worked by hand: from 200 to 300 m/s at 2 m/s each second takes 50 s and 12.5 km; the other 2.5 km at
/// 300 m/s take 8.333 s.
#[test]
fn a_speed_gained_on_the_way_is_in_the_time() {
    let report = json(&[
        "--distance",
        "15 km",
        "--speed",
        "200 m/s tas",
        "--to-speed",
        "300 m/s tas",
        "--gain",
        "2 m/s2",
    ]);
    assert!((number(&report, "time_to_centre_s") - 58.333).abs() < 2e-3);
}

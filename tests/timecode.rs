//! Linear timecode, read by Debian's libltc (1.3): no frame missed over ten minutes at each rate, each where it
//! should be.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use abeam::sound::timecode::{FrameRate, Timecode};
use tempfile::TempDir;

const RATE: u32 = 48_000;
const SECONDS: i64 = 601;

/// A frame libltc found.
struct Found {
    label: String,
    at: f64,
    polarity_agrees: bool,
}

fn reader(folder: &Path) -> PathBuf {
    let program = folder.join("decode");
    let built = Command::new("cc")
        .args(["tests/timecode/decode.c", "-lltc", "-o"])
        .arg(&program)
        .status()
        .expect("this test needs a C compiler");
    assert!(
        built.success(),
        "this test needs libltc: apt-get install libltc-dev"
    );
    program
}

fn read(program: &Path, samples: &[u8], rate: FrameRate) -> Vec<Found> {
    let (frames, per) = rate.per_second();
    let mut child = Command::new(program)
        .arg((i64::from(RATE) * per / frames).to_string())
        .arg((frames / per).to_string())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the reader runs");
    let mut input = child.stdin.take().expect("its input");
    let samples = samples.to_vec();
    let feeding = std::thread::spawn(move || input.write_all(&samples));
    let output = child.wait_with_output().expect("it ends");
    feeding.join().expect("fed").expect("all was read");
    let text = String::from_utf8(output.stdout).expect("plain text");
    let line = |line: &str| {
        let words: Vec<&str> = line.split(' ').collect();
        assert_eq!(words[3], "0", "read forwards");
        Found {
            label: words[0].into(),
            at: words[1].parse().expect("a sample"),
            polarity_agrees: words[2] == "1",
        }
    };
    text.lines().map(line).collect()
}

#[test]
fn no_frame_is_missed_in_ten_minutes_at_any_rate() {
    let folder = TempDir::new().expect("a folder");
    let program = reader(folder.path());
    for rate in ["24", "25", "29.97", "30"] {
        let rate: FrameRate = rate.parse().expect("a rate");
        // From a second before 19:40:00 on: over a minute that is dropped into and one that is not.
        let zero = rate.frame_of_second(19 * 3_600 + 40 * 60);
        let first = -i64::from(RATE);
        let mut timecode = Timecode::new(rate, RATE, zero, first);
        let samples: Vec<u8> = (0..SECONDS * i64::from(RATE))
            .map(|_| (128.0 + 127.0 * timecode.sample()).round() as u8)
            .collect();
        let found = read(&program, &samples, rate);
        let (frames, per) = rate.per_second();
        let length = f64::from(RATE) * per as f64 / frames as f64;
        // The reader needs a word before it is in step, and the end of one is only seen in the next.
        let skipped = (found[0].at - f64::from(RATE)) / length;
        let begins = skipped.round() as i64;
        assert!(begins < 3 - frames / per, "{begins}");
        let whole = (SECONDS - 1) * frames / per - begins;
        assert!(
            (whole - 2..=whole + 1).contains(&(found.len() as i64)),
            "{rate:?}: {} of {whole}",
            found.len()
        );
        for (i, frame) in found.iter().enumerate() {
            let number = begins + i as i64;
            assert_eq!(frame.label, rate.label(zero + number).to_string());
            let at = f64::from(RATE) + number as f64 * length;
            assert!(
                (frame.at - at).abs() < 8.0,
                "{}: {} {at}",
                frame.label,
                frame.at
            );
            assert!(frame.polarity_agrees, "{rate:?} {}", frame.label);
        }
    }
}

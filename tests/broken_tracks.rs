//! No file, however broken, does worse than an error that says what to do, and damage does not shift what
//! follows it.

mod ffmpeg;

use std::fs;

use abeam::sound::{Problem, decode, probe};
use ffmpeg::tracks::{CASES, Random, encode, read, source};
use ffmpeg::{run, text};
use tempfile::TempDir;

#[test]
fn a_file_cut_short_says_so() {
    let dir = TempDir::new().expect("a directory");
    let source = source(&dir);
    for case in CASES.iter().filter(|case| {
        matches!(
            case.file,
            "s16.wav" | "s16.flac" | "lame.mp3" | "s16.aiff" | "front.m4a"
        )
    }) {
        let path = encode(&dir, &source, case);
        let bytes = fs::read(&path).expect("the file");
        fs::write(&path, &bytes[..bytes.len() / 2]).expect("the file");
        let error = decode(&path, &mut |_| {}).expect_err(case.file);
        // A reader may already miss the end while it looks for the header.
        let told = matches!(
            error.problem,
            Problem::CutShort { .. } | Problem::Damaged(_)
        );
        assert!(told, "{error}");
        assert!(error.to_string().contains("copy it again"), "{error}");
    }
}

/// A damaged stretch is silent or noise, and what follows it is still in time.
#[test]
fn what_follows_damage_stays_in_time() {
    let dir = TempDir::new().expect("a directory");
    // Long enough for Ogg, which is in time again a page later, and a page is a second.
    let source = {
        let (once, thrice) = (source(&dir), dir.path().join("thrice.wav"));
        run(&[
            "-v",
            "error",
            "-stream_loop",
            "2",
            "-i",
            text(&once),
            "-c",
            "copy",
            text(&thrice),
        ]);
        thrice
    };
    for file in ["s16.flac", "aac.m4a", "alac.m4a", "vorbis.ogg"] {
        let case = CASES.iter().find(|case| case.file == file).expect("a case");
        let path = encode(&dir, &source, case);
        let whole = read(&path);
        let mut bytes = fs::read(&path).expect("the file");
        let at = bytes.len() / 2;
        let mut random = Random(3);
        bytes[at..at + 3_000]
            .iter_mut()
            .for_each(|byte| *byte = random.bits() as u8);
        fs::write(&path, bytes).expect("the file");
        match decode(&path, &mut |_| {}) {
            Ok(damaged) => {
                assert_eq!(damaged.frames(), whole.frames(), "{file}");
                let tails = || {
                    damaged
                        .samples
                        .iter()
                        .zip(&whole.samples)
                        .rev()
                        .take(40_000)
                };
                let power: f32 = tails().map(|(_, b)| b * b).sum();
                let error: f32 = tails().map(|(a, b)| (a - b) * (a - b)).sum();
                // AAC has noise that is never twice the same: a twentieth of the power is no shift in time.
                assert!(error < 0.05 * power, "{file}: {error} of {power}");
            }
            Err(error) => panic!("{error}"),
        }
    }
}

#[test]
fn no_broken_file_does_worse_than_an_error_that_says_what_to_do() {
    let dir = TempDir::new().expect("a directory");
    let source = source(&dir);
    let short = dir.path().join("short.wav");
    run(&[
        "-v",
        "error",
        "-i",
        text(&source),
        "-t",
        "0.2",
        text(&short),
    ]);
    let mut random = Random(2_026);
    let mut refused = 0;
    for case in CASES {
        println!("{}", case.file);
        let path = encode(&dir, &short, case);
        let bytes = fs::read(&path).expect("the file");
        let mut attempt = |bytes: &[u8]| {
            fs::write(&path, bytes).expect("the file");
            let _ = probe(&path);
            if let Err(error) = decode(&path, &mut |_| {}) {
                refused += 1;
                let said = error.to_string();
                assert!(said.contains(case.file), "{said}");
                assert!(
                    ["check", "give", "convert", "copy"]
                        .iter()
                        .any(|word| said.contains(word)),
                    "{said}"
                );
            }
        };
        for i in 0..24 {
            // Headers are at the start and the end: more cuts there than in between.
            let cut = match i % 3 {
                0 => random.below(bytes.len()),
                1 => random.below(bytes.len().min(200)),
                _ => bytes.len() - random.below(bytes.len().min(200)),
            };
            attempt(&bytes[..cut]);
        }
        for i in 0..48 {
            let mut bytes = bytes.clone();
            for _ in 0..=i / 4 {
                let end = if i % 2 == 0 {
                    bytes.len()
                } else {
                    bytes.len().min(400)
                };
                let at = random.below(end);
                bytes[at] ^= 1 << random.below(8);
            }
            attempt(&bytes);
        }
        let garbage: Vec<u8> = (0..4_000).map(|_| random.bits() as u8).collect();
        attempt(&garbage);
        attempt(&[]);
    }
    println!("{refused} of {} broken files refused", CASES.len() * 74);
    assert!(refused > CASES.len());
}

#[test]
fn what_is_no_sound_file_is_named_and_helped() {
    let dir = TempDir::new().expect("a directory");
    let path = dir.path().join("words.txt");
    fs::write(&path, "These are words, and words alone. ".repeat(500)).expect("the file");
    let said = decode(&path, &mut |_| {}).expect_err("words").to_string();
    assert!(
        said.contains("words.txt is not a sound file") && said.contains("give a WAV"),
        "{said}"
    );

    let said = probe(&dir.path().join("none.flac"))
        .expect_err("no file")
        .to_string();
    assert!(
        said.contains("none.flac cannot be read") && said.contains("check its name"),
        "{said}"
    );
    let said = probe(dir.path()).expect_err("a directory").to_string();
    assert!(said.contains("not a file"), "{said}");
}

/// A WAV file of 16-bit frames on one channel.
fn wav(path: &std::path::Path, rate: u32, frames: u32) {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
    for i in 0..frames {
        writer.write_sample((i % 100) as i16).expect("a sample");
    }
    writer.finalize().expect("a WAV file");
}

/// EBU Tech 3306 and ITU-R BS.2088: a WAV file whose lengths have 64 bits begins with RF64 or BW64.
#[test]
fn what_cannot_be_followed_is_not_advised() {
    let dir = TempDir::new().expect("a directory");
    let path = dir.path().join("track.wav");
    let said = || {
        let told = [
            probe(&path).map(|_| ()),
            decode(&path, &mut |_| {}).map(|_| ()),
        ];
        let [a, b] = told.map(|told| told.expect_err("no sound").to_string());
        assert_eq!(a, b);
        a
    };
    wav(&path, 3_000, 9_000);
    assert!(
        said().ends_with("is at 3000 Hz: give one from 4000 Hz to 768000 Hz, best 48000 Hz"),
        "{}",
        said()
    );
    wav(&path, 48_000, 0);
    assert!(
        said().contains("holds no sound: export it again"),
        "{}",
        said()
    );
    fs::write(&path, b"").expect("the file");
    assert!(
        said().contains("holds no sound: export it again"),
        "{}",
        said()
    );
    wav(&path, 48_000, 9_000);
    let mut bytes = fs::read(&path).expect("the file");
    for kind in [b"RF64", b"BW64"] {
        bytes[..4].copy_from_slice(kind);
        fs::write(&path, &bytes).expect("the file");
        assert!(
            said().contains("64-bit lengths, which cannot be read: convert it to FLAC"),
            "{}",
            said()
        );
    }
}

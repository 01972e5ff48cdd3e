//! ffmpeg as the reference: it makes the files and decodes or measures them for comparison.
#![allow(dead_code, reason = "each test file uses its own part")]

pub mod tracks;

use std::path::Path;
use std::process::{Command, Output};

/// Runs ffmpeg, which must be installed.
pub fn run(args: &[&str]) -> Output {
    let output = Command::new("ffmpeg")
        .args(["-hide_banner", "-nostdin", "-y"])
        .args(args)
        .output()
        .expect("this test needs ffmpeg, and it is not installed: apt-get install ffmpeg");
    assert!(
        output.status.success(),
        "ffmpeg {args:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    output
}

/// A file of what a filter graph makes.
pub fn synthesise(graph: &str, options: &[&str], path: &Path) {
    let source = ["-v", "error", "-f", "lavfi", "-i", graph];
    run(&[&source, options, &[text(path)]].concat());
}

/// Interleaved samples as ffmpeg decodes them.
pub fn decoded(path: &Path) -> Vec<f32> {
    let output = run(&[
        "-v",
        "error",
        "-i",
        text(path),
        "-map",
        "0:a:0",
        "-f",
        "f32le",
        "-c:a",
        "pcm_f32le",
        "-",
    ]);
    output
        .stdout
        .chunks_exact(4)
        .map(|bytes| f32::from_le_bytes(bytes.try_into().expect("four bytes")))
        .collect()
}

pub fn text(path: &Path) -> &str {
    path.to_str().expect("a path of plain characters")
}

//! The public tools this program is timed beside.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

pub fn ffmpeg() -> Command {
    let mut command = Command::new("ffmpeg");
    command
        .args(["-y", "-nostdin", "-v", "error"])
        .stdout(Stdio::null());
    command
}

/// A file encoded anew beside it; `None` without ffmpeg.
pub fn encoded(wav: &Path, name: &str, options: &[&str]) -> Option<PathBuf> {
    let path = wav.with_file_name(name);
    let made = ffmpeg()
        .arg("-i")
        .arg(wav)
        .args(options)
        .arg(&path)
        .status();
    made.ok()?.success().then_some(path)
}

/// The quickest of so many times; `None` where it cannot be done.
pub fn timed(times: usize, mut work: impl FnMut() -> Option<()>) -> Option<Duration> {
    let mut quickest = None;
    for _ in 0..times {
        let begun = Instant::now();
        work()?;
        let took = begun.elapsed();
        quickest = Some(quickest.map_or(took, |quickest: Duration| quickest.min(took)));
    }
    quickest
}

/// Prints how long we take beside another, if it is there.
pub fn ratio(what: &str, ours: Duration, name: &str, theirs: Option<Duration>) {
    let Some(theirs) = theirs else {
        return println!("{what}: {name} is not installed");
    };
    if ours == Duration::MAX {
        return println!("{what}: not measured");
    }
    let (ours, theirs) = (ours.as_secs_f64(), theirs.as_secs_f64());
    println!(
        "{what}: {ours:.2} s, {name} {theirs:.2} s: {:.2} of its time",
        ours / theirs
    );
}

//! A show of twenty minutes mixed into a WAV file of 24 bits, beside ffmpeg and sox placing, fading and adding up the same
//! files at fixed gains. Ours measures every track, brings it to its level, limits the sum by its true peak and measures
//! what it has written; ffmpeg doing that as well is the second of its times.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use criterion::Criterion;
use tempfile::TempDir;

use super::music;
use super::others::{encoded, ffmpeg, ratio, timed};

/// When each track starts, in seconds; each is four minutes long.
const STARTS: [u32; 6] = [0, 200, 400, 600, 800, 960];
const TRACK_S: u32 = 240;

pub fn a_show_mixed(criterion: &mut Criterion) {
    let dir = TempDir::new().expect("a directory");
    let dir = dir.path();
    for (track, _) in STARTS.iter().enumerate() {
        // Each track has a chord of its own.
        let root = 1_382.0 * (1.0 + 0.12 * track as f32);
        music::write(&dir.join(format!("{track}.wav")), TRACK_S, root, 25_000.0);
        let flac = encoded(&dir.join(format!("{track}.wav")), &file(track), &[]);
        if flac.is_none() {
            println!("mix: ffmpeg is not installed");
            return;
        }
    }
    let show = dir.join("show.toml");
    std::fs::write(&show, document()).expect("a show");

    let mut fastest = Duration::MAX;
    let mut group = criterion.benchmark_group("a show of twenty minutes");
    group.sample_size(10).warm_up_time(Duration::from_millis(1));
    group.measurement_time(Duration::from_secs(1));
    group.bench_function("mix", |bencher| {
        bencher.iter(|| {
            let begun = Instant::now();
            let mixed = Command::new(env!("CARGO_BIN_EXE_abeam"))
                .arg("mix")
                .arg(&show)
                .arg("-o")
                .arg(dir.join("ours.wav"))
                .stdout(Stdio::null())
                .status();
            assert!(mixed.is_ok_and(|status| status.success()));
            fastest = fastest.min(begun.elapsed());
        });
    });
    group.finish();
    let what = "mix (target 0.5)";
    ratio(what, fastest, "sox", timed(2, || with_sox(dir)));
    ratio(what, fastest, "ffmpeg", timed(2, || with_ffmpeg(dir)));
    ratio(
        what,
        fastest,
        "ffmpeg measuring too",
        timed(1, || with_ffmpeg_measuring(dir)),
    );
}

fn file(track: usize) -> String {
    format!("{track}.flac")
}

fn document() -> String {
    let mut text = r#"[show]
title = "Twenty minutes"
[profile.all]
order = ["one"]
[site]
elevation = "0 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Solo"
[[figure]]
id = "one"
name = "One"
aircraft = "solo"
takes = "1190 s"
"#
    .to_owned();
    for (track, start) in STARTS.iter().enumerate() {
        let file = file(track);
        text += &format!(
            "[[track]]\nid = \"t{track}\"\nfile = \"{file}\"\nstarts = \"show + {start} s\"\nlevel = \"-20 LUFS\"\n\
             fade_in = \"2 s\"\nfade_out = \"4 s\"\nunder = true\n"
        );
    }
    text
}

/// What ffmpeg does to each track and to all of them.
fn graph(last: &str) -> String {
    let mut graph = String::new();
    let mut all = String::new();
    for (track, start) in STARTS.iter().enumerate() {
        graph += &format!(
            "[{track}]aresample=48000,volume=-6dB,afade=d=2,afade=out:st=236:d=4,adelay={start}s:all=1[a{track}];"
        );
        all += &format!("[a{track}]");
    }
    graph + &all + &format!("amix=inputs={}:normalize=0{last}[all]", STARTS.len())
}

fn mix_with_ffmpeg(dir: &Path, last: &str) -> Option<()> {
    let mut command = ffmpeg();
    for track in 0..STARTS.len() {
        command.arg("-i").arg(dir.join(file(track)));
    }
    command.args(["-filter_complex", &graph(last), "-map", "[all]"]);
    command
        .args(["-c:a", "pcm_s24le"])
        .arg(dir.join("ffmpeg.wav"));
    command.status().ok()?.success().then_some(())
}

fn with_ffmpeg(dir: &Path) -> Option<()> {
    mix_with_ffmpeg(dir, "")
}

/// The loudness and peak of every track first, then the mix limited and measured.
fn with_ffmpeg_measuring(dir: &Path) -> Option<()> {
    for track in 0..STARTS.len() {
        let mut command = ffmpeg();
        command.arg("-i").arg(dir.join(file(track)));
        command.args(["-af", "ebur128=peak=true", "-f", "null", "-"]);
        command.status().ok()?.success().then_some(())?;
    }
    let limited = ",aresample=192000,alimiter=limit=0.89:level=0,aresample=48000,ebur128=peak=true";
    mix_with_ffmpeg(dir, limited)
}

fn with_sox(dir: &Path) -> Option<()> {
    let mut command = Command::new("sox");
    command.arg("-m");
    for (track, start) in STARTS.iter().enumerate() {
        let file = dir.join(file(track));
        let placed = format!(
            "|sox {} -p rate -h 48000 gain -6 fade q 2 240 4 pad {start}",
            file.display()
        );
        command.args(["-v", "1"]).arg(placed);
    }
    command.args(["-b", "24"]).arg(dir.join("sox.wav"));
    let status = command.stdout(Stdio::null()).stderr(Stdio::null()).status();
    status.ok()?.success().then_some(())
}

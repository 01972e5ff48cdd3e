//! An hour of sound decoded and gauged, beats included, beside ffmpeg measuring the loudness and peak of the same files
//! where it is installed; and a minute of it bent.

use std::hint::black_box;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::{Duration, Instant};

use abeam::sound::{Bend, Course, Rendering, decode, survey, to_rate, to_stereo};
use abeam::units::Span;
use criterion::{Criterion, criterion_group, criterion_main};
use tempfile::TempDir;

const RATE: u32 = 44_100;
const SECONDS: u32 = 3_600;

fn an_hour(criterion: &mut Criterion) {
    let dir = TempDir::new().expect("a directory");
    let wav = dir.path().join("hour.wav");
    write_hour(&wav);
    let mut files = vec![wav.clone()];
    files.extend(encoded(&wav, "hour.flac"));

    let mut group = criterion.benchmark_group("an hour");
    group.sample_size(10).warm_up_time(Duration::from_millis(1));
    group.measurement_time(Duration::from_secs(1));
    for file in &files {
        let kind = file.extension().unwrap_or_default().display();
        let mut fastest = Duration::MAX;
        group.bench_function(
            format!("decode and gauge {kind} (target 12 s)"),
            |bencher| {
                bencher.iter(|| {
                    let begun = Instant::now();
                    black_box(survey(file, &mut |_| {}).expect("a sound file"));
                    fastest = fastest.min(begun.elapsed());
                });
            },
        );
        if let Some(theirs) = ffmpeg_measures(file) {
            let (ours, theirs) = (fastest.as_secs_f64(), theirs.as_secs_f64());
            println!(
                "{kind}: {ours:.2} s, ffmpeg {theirs:.2} s: {:.2} of its time (target 0.33 for WAV)",
                ours / theirs
            );
        }
    }
    group.bench_function("decode flac whole", |bencher| {
        let file = files.last().expect("a file");
        bencher.iter(|| black_box(decode(file, &mut |_| {}).expect("a sound file").frames()));
    });
    group.finish();
}

/// Stereo of 16 bits: chords under a beat, loud and soft by turns.
fn write_hour(path: &Path) {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
    let (mut noise, mut hiss) = (1_u32, 0.0_f32);
    for i in 0..RATE * SECONDS {
        let t = i as f32 / RATE as f32;
        noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        hiss += 0.3 * ((noise >> 8) as f32 / (1 << 23) as f32 - 1.0 - hiss);
        let drum = 0.5 * hiss * (-12.0 * (t * 2.0).fract()).exp();
        let chord = (t.fract() * 1_382.0).sin() + (t.fract() * 1_740.0).sin();
        let x = (0.6 + 0.4 * (t * 0.2).sin()) * (0.2 * chord + drum);
        for share in [1.0, 0.8] {
            let sample = (x * share * 32_000.0) as i16;
            writer.write_sample(sample).expect("a sample");
        }
    }
    writer.finalize().expect("a WAV file");
}

fn encoded(wav: &Path, name: &str) -> Option<PathBuf> {
    let path = wav.with_file_name(name);
    let made = ffmpeg().arg("-i").arg(wav).arg(&path).status().ok()?;
    made.success().then_some(path)
}

fn ffmpeg_measures(file: &Path) -> Option<Duration> {
    let begun = Instant::now();
    let done = ffmpeg()
        .arg("-i")
        .arg(file)
        .args(["-af", "ebur128=peak=true", "-f", "null", "-"])
        .status()
        .ok()?;
    done.success().then(|| begun.elapsed())
}

fn ffmpeg() -> Command {
    let mut command = Command::new("ffmpeg");
    command
        .args(["-y", "-nostdin", "-v", "error"])
        .stdout(Stdio::null());
    command
}

/// A minute bent by 2 %, beside ffmpeg doing the same (`atempo`).
fn a_minute_bent(criterion: &mut Criterion) {
    let minute = Path::new(env!("CARGO_MANIFEST_DIR")).join("media/hymn.flac");
    let pcm = to_stereo(decode(&minute, &mut |_| {}).expect("the hymn"));
    let pcm = Arc::new(to_rate(&pcm, 48_000));
    let course = Course {
        bends: vec![Bend {
            after: Span::ZERO,
            rate: 1.02,
            over: Span::from_ms(1_000),
        }],
        ..Course::default()
    };
    let mut fastest = Duration::MAX;
    let mut group = criterion.benchmark_group("a minute bent");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(1));
    group.bench_function("stretched by 2 % (target 5 s)", |bencher| {
        bencher.iter(|| {
            let begun = Instant::now();
            let mut rendering = Rendering::new(pcm.clone(), course.clone(), Span::ZERO);
            let mut out = Vec::new();
            rendering.render(60 * 48_000, &mut out);
            fastest = fastest.min(begun.elapsed());
            black_box(out.len())
        });
    });
    group.finish();
    let begun = Instant::now();
    let status = ffmpeg()
        .args(["-t", "60", "-i"])
        .arg(&minute)
        .args([
            "-ar",
            "48000",
            "-ac",
            "2",
            "-af",
            "atempo=1.02",
            "-f",
            "null",
            "-",
        ])
        .status();
    if status.is_ok_and(|status| status.success()) {
        let (ours, theirs) = (fastest.as_secs_f64(), begun.elapsed().as_secs_f64());
        println!(
            "bent: {ours:.2} s, ffmpeg {theirs:.2} s: {:.1} times its time",
            ours / theirs
        );
    }
}

criterion_group!(benches, an_hour, a_minute_bent);
criterion_main!(benches);

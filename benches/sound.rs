//! An hour of sound decoded, and gauged with its beats, beside ffmpeg decoding and measuring the same files; a show of
//! twenty minutes mixed, beside ffmpeg and sox mixing the same files; and a minute bent. What is not installed is left
//! out (`apt-get install ffmpeg sox`).

mod sound {
    pub mod mixed;
    pub mod music;
    pub mod others;
}

use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use abeam::sound::{Bend, Course, Rendering, decode, read_through, survey, to_rate, to_stereo};
use abeam::units::Span;
use criterion::{Criterion, criterion_group, criterion_main};
use sound::mixed::a_show_mixed;
use sound::music;
use sound::others::{encoded, ffmpeg, ratio, timed};
use tempfile::TempDir;

const SECONDS: u32 = 3_600;

fn an_hour(criterion: &mut Criterion) {
    let dir = TempDir::new().expect("a directory");
    let wav = dir.path().join("hour.wav");
    music::write(&wav, SECONDS, 1_382.0, 32_000.0);
    let mut files = vec![wav.clone()];
    files.extend(encoded(&wav, "hour.flac", &[]));
    files.extend(encoded(&wav, "hour.mp3", &["-b:a", "192k"]));

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
        let what = format!("gauge {kind} (target 0.33 for WAV)");
        ratio(&what, fastest, "ffmpeg", timed(1, || measure(file)));

        let mut fastest = Duration::MAX;
        group.bench_function(format!("decode {kind}"), |bencher| {
            bencher.iter(|| {
                let begun = Instant::now();
                black_box(read_through(file).expect("a sound file"));
                fastest = fastest.min(begun.elapsed());
            });
        });
        let what = format!("decode {kind} (target 1)");
        ratio(&what, fastest, "ffmpeg", timed(3, || decode_only(file)));
    }
    group.finish();
}

/// What ffmpeg measures of a file: loudness and true peak.
fn measure(file: &Path) -> Option<()> {
    let mut command = ffmpeg();
    command.arg("-i").arg(file);
    command.args(["-af", "ebur128=peak=true", "-f", "null", "-"]);
    command.status().ok()?.success().then_some(())
}

/// ffmpeg decoding a file to what this program decodes it to, and keeping none of it.
fn decode_only(file: &Path) -> Option<()> {
    let mut command = ffmpeg();
    command.arg("-i").arg(file);
    command.args(["-c:a", "pcm_f32le", "-f", "null", "-"]);
    command.status().ok()?.success().then_some(())
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
    let atempo = || {
        let mut command = ffmpeg();
        command.args(["-t", "60", "-i"]).arg(&minute);
        command.args(["-ar", "48000", "-ac", "2", "-af", "atempo=1.02"]);
        let status = command.args(["-f", "null", "-"]).status();
        status.ok()?.success().then_some(())
    };
    ratio("bent", fastest, "ffmpeg", timed(1, atempo));
}

criterion_group!(benches, an_hour, a_show_mixed, a_minute_bent);
criterion_main!(benches);

//! Loudness, loudness range and true peak against the test signals of EBU Tech 3341 (2023, table 1: signals
//! 1–6 and 9–23; 7 and 8 are recordings) and EBU Tech 3342 (table 1: signals 1–4; 5 and 6 are recordings), made
//! here from their published descriptions, with the tolerances published beside them (both as quoted in public
//! test suites of loudness meters: the documents themselves were not at hand); and against ffmpeg's meter on
//! music.

mod ffmpeg;
mod music;

use std::f64::consts::{PI, TAU};
use std::path::{Path, PathBuf};

use abeam::sound::{Gauge, Gauger, Pcm, gauge, survey};
use abeam::units::Loudness;
use ffmpeg::{run, text};
use tempfile::TempDir;

const RATE: u32 = 48_000;
/// Loudness, in LU.
const TOLERANCE: f64 = 0.1;
/// Loudness range, in LU.
const RANGE_TOLERANCE: f64 = 0.1;

/// Stereo: tones of 1 kHz, each `(seconds, peak in dBFS)`; silence is −∞ dBFS.
fn tones(parts: &[(f64, f64)]) -> Vec<f32> {
    let mut samples = Vec::new();
    let mut frame = 0;
    for &(seconds, dbfs) in parts {
        for _ in 0..(seconds * f64::from(RATE)).round() as usize {
            let x = amplitude(dbfs) * (TAU * 1000.0 * f64::from(frame) / f64::from(RATE)).sin();
            samples.extend([x as f32; 2]);
            frame += 1;
        }
    }
    samples
}

const SILENCE: f64 = f64::NEG_INFINITY;

fn amplitude(dbfs: f64) -> f64 {
    10_f64.powf(dbfs / 20.0)
}

fn stereo(samples: Vec<f32>) -> Pcm {
    Pcm {
        rate: RATE,
        channels: 2,
        samples,
    }
}

fn gauged(parts: &[(f64, f64)]) -> Gauge {
    gauge(&stereo(tones(parts)))
}

#[track_caller]
fn is(what: &str, loudness: Option<Loudness>, expected: f64) {
    let lufs = loudness.expect(what).lufs();
    println!("{what}: {lufs:.3} LUFS, expected {expected}");
    assert!(
        (lufs - expected).abs() <= TOLERANCE,
        "{what}: {lufs} LUFS, not {expected}"
    );
}

#[test]
fn tech_3341_signals_1_and_2_steady_tones() {
    for (what, dbfs) in [("signal 1", -23.0), ("signal 2", -33.0)] {
        let tone = gauged(&[(20.0, dbfs)]);
        is(&format!("{what}, integrated"), tone.integrated, dbfs);
        is(&format!("{what}, momentary"), tone.momentary_max, dbfs);
        is(&format!("{what}, short-term"), tone.short_term_max, dbfs);
    }
}

#[test]
fn tech_3341_signals_3_to_5_gating() {
    let (low, quiet, loud) = (-72.0, -36.0, -23.0);
    let three = gauged(&[(10.0, quiet), (60.0, loud), (10.0, quiet)]);
    is("signal 3", three.integrated, -23.0);
    let four = gauged(&[
        (10.0, low),
        (10.0, quiet),
        (60.0, loud),
        (10.0, quiet),
        (10.0, low),
    ]);
    is("signal 4", four.integrated, -23.0);
    let five = gauged(&[(20.0, -26.0), (20.1, -20.0), (20.0, -26.0)]);
    is("signal 5", five.integrated, -23.0);
}

#[test]
fn tech_3341_signal_6_five_channels() {
    let levels = [-28.0, -28.0, -24.0, -30.0, -30.0].map(amplitude);
    let samples = (0..20 * RATE)
        .flat_map(|i| {
            let x = (TAU * 1000.0 * f64::from(i) / f64::from(RATE)).sin();
            levels.map(|level| (level * x) as f32)
        })
        .collect();
    let five = Pcm {
        rate: RATE,
        channels: 5,
        samples,
    };
    is("signal 6", gauge(&five).integrated, -23.0);
}

/// Feeds a meter bit by bit and reads it every 0.1 s from `after` seconds on.
fn readings(
    samples: &[f32],
    after: f64,
    read: impl Fn(&Gauger) -> Option<Loudness>,
) -> Vec<Option<Loudness>> {
    let mut gauger = Gauger::new(RATE, 2);
    let mut at = 0.0;
    let mut out = Vec::new();
    for bit in samples.chunks(2 * RATE as usize / 10) {
        gauger.add(bit);
        at += 0.1;
        if at > after {
            out.push(read(&gauger));
        }
    }
    out
}

#[test]
fn tech_3341_signals_9_and_12_constant_readings() {
    let nine = tones(&[(1.34, -20.0), (1.66, -30.0)].repeat(5));
    let short_term = readings(&nine, 3.0, Gauger::short_term);
    assert!(short_term.len() > 100);
    short_term
        .into_iter()
        .for_each(|s| is("signal 9", s, -23.0));

    let twelve = tones(&[(0.18, -20.0), (0.22, -30.0)].repeat(25));
    let momentary = readings(&twelve, 1.0, Gauger::momentary);
    assert!(momentary.len() > 80);
    momentary
        .into_iter()
        .for_each(|m| is("signal 12", m, -23.0));
}

#[test]
fn tech_3341_signals_10_and_13_maxima_of_files_wherever_they_lie() {
    for i in 0..20 {
        let ten = gauged(&[(0.15 * f64::from(i), SILENCE), (3.0, -23.0), (1.0, SILENCE)]);
        is(
            &format!("signal 10, segment {i}"),
            ten.short_term_max,
            -23.0,
        );
        let thirteen = gauged(&[(0.02 * f64::from(i), SILENCE), (0.4, -23.0), (1.0, SILENCE)]);
        is(
            &format!("signal 13, segment {i}"),
            thirteen.momentary_max,
            -23.0,
        );
    }
}

/// The tones rise: the maximum so far, after each, is its own.
#[test]
fn tech_3341_signals_11_and_14_successive_maxima_of_a_running_meter() {
    let (mut eleven, mut fourteen) = (Gauger::new(RATE, 2), Gauger::new(RATE, 2));
    for i in 0..20 {
        let (i, level) = (f64::from(i), -38.0 + f64::from(i));
        eleven.add(&tones(&[
            (0.15 * i, SILENCE),
            (3.0, level),
            (3.0 - 0.15 * i, SILENCE),
        ]));
        is(
            &format!("signal 11, tone {i}"),
            eleven.reading().short_term_max,
            level,
        );
        fourteen.add(&tones(&[
            (0.02 * i, SILENCE),
            (0.4, level),
            (0.4 - 0.02 * i, SILENCE),
        ]));
        is(
            &format!("signal 14, tone {i}"),
            fourteen.reading().momentary_max,
            level,
        );
    }
}

/// One second of a sine of `RATE / divisor` hertz at `of_full_scale`, faded in and out over 10 ms.
fn peak_tone(divisor: f64, of_full_scale: f64, degrees: f64) -> Vec<f32> {
    (0..RATE)
        .flat_map(|i| {
            let x = (TAU * f64::from(i) / divisor + degrees.to_radians()).sin();
            [(of_full_scale * fade(f64::from(i), f64::from(RATE), 480.0) * x) as f32; 2]
        })
        .collect()
}

fn fade(i: f64, length: f64, over: f64) -> f64 {
    (i / over).min((length - i) / over).min(1.0)
}

#[track_caller]
fn peaks_at(what: &str, samples: Vec<f32>, expected: f64) {
    let dbtp = gauge(&stereo(samples)).true_peak.expect(what).db();
    println!("{what}: {dbtp:.3} dBTP, expected {expected}");
    assert!(
        dbtp <= expected + 0.2 && dbtp >= expected - 0.4,
        "{what}: {dbtp} dBTP, not {expected}"
    );
}

#[test]
fn tech_3341_signals_15_to_19_true_peak_of_steady_tones() {
    peaks_at("signal 15", peak_tone(4.0, 0.5, 0.0), -6.0);
    peaks_at("signal 16", peak_tone(4.0, 0.5, 45.0), -6.0);
    peaks_at("signal 17", peak_tone(6.0, 0.5, 60.0), -6.0);
    peaks_at("signal 18", peak_tone(8.0, 0.5, 67.5), -6.0);
    peaks_at("signal 19", peak_tone(4.0, 1.41, 45.0), 3.0);
}

/// A sine of fs/6 at half of full scale that holds one period of fs/4 at full scale, without a break in phase,
/// made at 4 fs, band-limited and brought to fs from the sample `offset`.
fn peak_period(offset: usize) -> Vec<f32> {
    let length = 4 * RATE as usize / 2;
    // At 4 fs the tone has 24 samples a period and the one period 16; it starts where the tone crosses zero.
    let start = length / 2 / 24 * 24;
    let at_4_fs: Vec<f64> = (0..length)
        .map(|i| {
            let x = match i {
                _ if (start..start + 16).contains(&i) => (TAU * (i - start) as f64 / 16.0).sin(),
                _ if i >= start + 16 => 0.5 * (TAU * (i - start - 16) as f64 / 24.0).sin(),
                _ => 0.5 * (TAU * i as f64 / 24.0).sin(),
            };
            fade(i as f64, length as f64, 1920.0) * x
        })
        .collect();
    // A Blackman-windowed sinc that cuts at 0.45 fs.
    let half = 256_i32;
    let filter: Vec<f64> = (-half..=half)
        .map(|k| {
            let x = PI * 0.225 * f64::from(k);
            let sinc = if k == 0 { 1.0 } else { x.sin() / x };
            let angle = PI * f64::from(k) / f64::from(half);
            0.225 * sinc * (0.42 + 0.5 * angle.cos() + 0.08 * (2.0 * angle).cos())
        })
        .collect();
    (offset..length - filter.len())
        .step_by(4)
        .flat_map(|i| {
            let x: f64 = at_4_fs[i..].iter().zip(&filter).map(|(x, h)| x * h).sum();
            [x as f32; 2]
        })
        .collect()
}

#[test]
fn tech_3341_signals_20_to_23_true_peak_between_samples() {
    for offset in 0..4 {
        peaks_at(&format!("signal {}", 20 + offset), peak_period(offset), 0.0);
    }
}

#[test]
fn tech_3342_signals_1_to_4_loudness_range() {
    for (signal, levels, expected) in [
        (1, &[-20.0, -30.0][..], 10.0),
        (2, &[-20.0, -15.0], 5.0),
        (3, &[-40.0, -20.0], 20.0),
        (4, &[-50.0, -35.0, -20.0, -35.0, -50.0], 15.0),
    ] {
        let parts: Vec<_> = levels.iter().map(|&level| (20.0, level)).collect();
        let range = gauged(&parts).range.expect("a range").db();
        println!("signal {signal}: {range:.2} LU, expected {expected}");
        assert!(
            (range - expected).abs() <= RANGE_TOLERANCE,
            "signal {signal}: {range} LU"
        );
    }
}

/// What peaks between the last samples of all is only seen by looking on after them: twelve frames of a tone
/// of fs/4 whose samples all lie 3 dB below its crests.
#[test]
fn a_peak_at_the_very_end_counts() {
    let mut samples = vec![0.0; 2 * RATE as usize];
    samples.extend(&peak_tone(4.0, 0.9, 45.0)[2 * 4_800..2 * 4_812]);
    let dbtp = gauge(&stereo(samples)).true_peak.expect("a peak").db();
    assert!((-1.2..0.5).contains(&dbtp), "{dbtp}");
}

#[test]
fn silence_and_scraps_have_no_loudness() {
    let silence = gauge(&stereo(vec![0.0; 10 * 2 * RATE as usize]));
    assert_eq!(
        (silence.integrated, silence.momentary_max, silence.true_peak),
        (None, None, None)
    );
    let scrap = gauged(&[(0.3, -20.0)]);
    assert_eq!(
        (scrap.integrated, scrap.momentary_max, scrap.range),
        (None, None, None)
    );
    let short = gauged(&[(2.0, -23.0)]);
    is("two seconds", short.integrated, -23.0);
    assert_eq!((short.short_term_max, short.range), (None, None));
}

/// Invented music: chords over a bass and a beat, loud and soft by turns, the same every time.
fn invented(rate: u32, seconds: f64, bar: f64, root: f64) -> Vec<f32> {
    let (mut noise, mut hiss) = (1_u32, 0.0);
    (0..(seconds * f64::from(rate)) as usize)
        .flat_map(|i| {
            let t = i as f64 / f64::from(rate);
            let (beat, phase) = ((t / bar * 4.0).floor(), (t / bar * 4.0).fract());
            let swell = 0.25 + 0.75 * (PI * t / 23.0).cos().powi(2);
            let step = [0.0, 5.0, 7.0, 3.0][(t / bar) as usize % 4];
            let note = |semitones: f64| TAU * root * 2_f64.powf((step + semitones) / 12.0) * t;
            let chord: f64 = [0.0, 4.0, 7.0, 11.0, 16.0]
                .iter()
                .map(|&s| note(s).sin())
                .sum();
            let bass = (note(-24.0).sin() * 3.0).tanh() * (-2.0 * phase).exp();
            noise = noise.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            // Softened above a few kilohertz, as drums are.
            hiss += 0.3 * (f64::from(noise >> 8) / f64::from(1 << 23) - 1.0 - hiss);
            let drum = hiss * (-25.0 * phase).exp() * if beat % 2.0 == 1.0 { 0.6 } else { 0.15 };
            let left = swell * (0.08 * chord + 0.35 * bass + drum);
            let right =
                swell * (0.08 * chord * (0.8 + 0.2 * (0.7 * t).sin()) + 0.35 * bass + 0.7 * drum);
            [left as f32, right as f32]
        })
        .collect()
}

/// What ffmpeg's meter says of a file: integrated loudness (LUFS), range (LU), true peak (dBTP).
fn by_ffmpeg(path: &Path) -> [f64; 3] {
    let report = run(&[
        "-nostats",
        "-i",
        text(path),
        "-af",
        "ebur128=peak=true",
        "-f",
        "null",
        "-",
    ]);
    let report = String::from_utf8_lossy(&report.stderr).into_owned();
    let summary = report.rsplit_once("Summary:").expect("a summary").1;
    ["I:", "LRA:", "Peak:"].map(|label| {
        let after = summary.split_once(label).expect(label).1;
        let value = after.split_whitespace().next().expect(label);
        value.parse().expect(label)
    })
}

fn gauged_file(path: &Path) -> Gauge {
    survey(path, &mut |_| {})
        .unwrap_or_else(|error| panic!("{error}"))
        .gauge
}

/// Long enough that the first windows, which ffmpeg counts before they are full, do not show in its range.
#[test]
fn music_measures_as_with_ffmpeg() {
    let dir = TempDir::new().expect("a directory");
    for (file, rate, seconds, bar, root) in [
        ("slow.wav", 44_100, 161.0, 3.2, 220.0),
        ("fast.wav", 48_000, 138.0, 1.7, 330.0),
    ] {
        let path = dir.path().join(file);
        write_wav(&path, rate, &invented(rate, seconds, bar, root));
        let ours = gauged_file(&path);
        let ours = [
            ours.integrated.expect("a loudness").lufs(),
            ours.range.expect("a range").db(),
            ours.true_peak.expect("a peak").db(),
        ];
        for ((what, ours), theirs) in ["integrated", "range", "true peak"]
            .iter()
            .zip(ours)
            .zip(by_ffmpeg(&path))
        {
            println!("{file}, {what}: {ours:.3}, ffmpeg {theirs}");
            assert!(
                (ours - theirs).abs() <= 0.1 + 1e-9,
                "{file}, {what}: {ours}, ffmpeg {theirs}"
            );
        }
    }
}

/// Ten files of different sounds, rates, channels and codecs: the performances of `music` and the demonstration's
/// tracks.
fn varied(dir: &TempDir) -> Vec<PathBuf> {
    let performances = music::performances();
    let made = [
        ("prelude", "a.wav", &["-ar", "48000"][..]),
        ("rag", "b.flac", &["-ar", "96000"]),
        ("reel-band", "c.wav", &["-ac", "1"]),
        ("allegro-strings", "d.flac", &["-sample_fmt", "s32"]),
        (
            "chorale-organ",
            "e.wav",
            &["-c:a", "pcm_f32le", "-af", "volume=-25dB"],
        ),
        ("allegro-band", "f.wav", &["-af", "volume=22dB"]),
        ("chorale-choir", "g.mp3", &["-b:a", "192k"]),
    ];
    let tracks = Path::new(env!("CARGO_MANIFEST_DIR")).join("media");
    let made = made.map(|(piece, file, how)| {
        let (from, to) = (
            performances.join(format!("{piece}.wav")),
            dir.path().join(file),
        );
        let mut arguments = vec!["-v", "error", "-i", text(&from)];
        arguments.extend(how);
        arguments.push(text(&to));
        run(&arguments);
        to
    });
    let tracks = ["hymn", "fast", "lake-bed"].map(|track| tracks.join(format!("{track}.flac")));
    made.into_iter().chain(tracks).collect()
}

/// To 0.1 LU and 0.2 dBTP of ffmpeg's, and to 0.1 LU of what PyPI's pyloudnorm measures.
#[test]
fn ten_varied_files_measure_as_with_ffmpeg_and_pyloudnorm() {
    let dir = TempDir::new().expect("a directory");
    let files = varied(&dir);
    // libsndfile, which reads for pyloudnorm, does not know FLAC of 12 bits.
    let plain: Vec<PathBuf> = (0..files.len())
        .map(|i| dir.path().join(format!("plain-{i}.wav")))
        .collect();
    for (file, plain) in files.iter().zip(&plain) {
        run(&[
            "-v",
            "error",
            "-i",
            text(file),
            "-c:a",
            "pcm_f32le",
            text(plain),
        ]);
    }
    let paths: Vec<&Path> = plain.iter().map(PathBuf::as_path).collect();
    let by_pyloudnorm = music::script("loudness.py", &paths);
    let by_pyloudnorm: Vec<f64> = serde_json::from_str(&by_pyloudnorm).expect("a number a file");
    assert_eq!((files.len(), by_pyloudnorm.len()), (10, 10));
    for (file, pyloudnorm) in files.iter().zip(by_pyloudnorm) {
        let ours = gauged_file(file);
        let lufs = ours.integrated.expect("a loudness").lufs();
        let dbtp = ours.true_peak.expect("a peak").db();
        let [ffmpeg, _, peak] = by_ffmpeg(file);
        let name = file.file_name().unwrap_or_default().display();
        println!(
            "{name}: {lufs:.2} LUFS, ffmpeg {ffmpeg}, pyloudnorm {pyloudnorm:.2}; {dbtp:.2} dBTP, ffmpeg {peak}"
        );
        assert!((lufs - ffmpeg).abs() <= 0.1 + 1e-9, "{name}: ffmpeg");
        assert!((lufs - pyloudnorm).abs() <= 0.1, "{name}: pyloudnorm");
        assert!((dbtp - peak).abs() <= 0.2 + 1e-9, "{name}: true peak");
    }
}

fn write_wav(path: &Path, rate: u32, samples: &[f32]) {
    let spec = hound::WavSpec {
        channels: 2,
        sample_rate: rate,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
    for &sample in samples {
        writer.write_sample(sample).expect("a sample");
    }
    writer.finalize().expect("a WAV file");
}

//! `abeam mix`: what playout would play, in a file, where it was planned and no higher than it may be. Measured by
//! ffmpeg.

mod ffmpeg;
mod floats;
mod planned;
mod rehearsal;

use std::path::{Path, PathBuf};
use std::sync::Arc;

use abeam::live::offline::{Material, Mixdown, Score};
use abeam::live::playout::clock::FrameClock;
use abeam::live::playout::engine::{Engine, Routing};
use abeam::live::playout::{Monotonic, Order, Sound};
use abeam::live::{Act, Event, What};
use abeam::show::Show;
use abeam::sound::mix::Limiter;
use abeam::sound::{CEILING, Level, Media, Rendering, Rolling, decode};
use abeam::timeline::Layout;
use abeam::units::{Instant, Span};
use assert_cmd::Command;
use floats::{RATE, write_track};
use planned::{PASS, document};
use rehearsal::Rehearsal;
use serde_json::Value;
use tempfile::TempDir;

/// Soft noise, with a burst of loud noise half a second long at `burst` seconds; full scale 1.
fn noise(seconds: u32, level: f32, burst: f64, seed: u32) -> Vec<f32> {
    let mut x = seed;
    let from = (burst * f64::from(RATE)) as u32;
    let sample = |i: u32| {
        x = x.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let loud = (from..from + RATE / 2).contains(&i);
        let level = if loud { level } else { level / 10.0 };
        level * ((x >> 8) as f32 / (1 << 23) as f32 - 1.0)
    };
    (0..seconds * RATE).map(sample).collect()
}

fn media(folder: &Path, rehearsal: &Rehearsal) -> Vec<Option<Arc<Media>>> {
    let show = rehearsal.session.show();
    let tracks = show.tracks.iter().enumerate();
    let load = tracks.map(|(i, track)| {
        let samples = noise(120, 0.5, 48.0, 7 + i as u32);
        let file = write_track(folder, "track.wav", &samples);
        let media = Media::load(&file, RATE, Level::from(track), &mut |_| {});
        Some(Arc::new(media.expect("a track")))
    });
    load.collect()
}

fn material<'a>(
    show: &'a Show,
    layout: &'a Layout,
    media: &'a [Option<Arc<Media>>],
) -> Material<'a> {
    Material {
        show,
        layout,
        media,
        words: &[],
    }
}

/// The engine of playout, given the same orders, its tracks rendered while they play as the desk has them.
fn played(
    orders: &[(Instant, Order)],
    media: &[Option<Arc<Media>>],
    zero: Instant,
    frames: usize,
) -> Vec<f32> {
    let routing = Routing {
        programme: (0, 1),
        headphones: None,
    };
    let (mut engine, mut lines) = Engine::new(RATE, routing);
    let clock = FrameClock::perfect(RATE, Monotonic::from_ns(0));
    let (_, plan) = rehearsal::plan("high");
    let mut rolling: Vec<(Rendering, Arc<Rolling>, Monotonic)> = Vec::new();
    let mut orders = orders.iter().cloned().peekable();
    // What it mixes first goes out that much later.
    let begins = -engine.ahead();
    let ends = frames as i64;
    let mut out = vec![0.0; (ends - begins) as usize * 2];
    let mut next = begins;
    while next < ends {
        let mut until = ends.min(next + 4_096);
        while let Some((at, _)) = orders.peek() {
            let frame = ((*at - zero).s() * f64::from(RATE)).round() as i64;
            if frame > next {
                until = until.min(frame);
                break;
            }
            let (_, mut order) = orders.next().expect("an order");
            if let Order::Start(start) = &mut order {
                let track = start.voice as usize - 1;
                let course = plan.layout.tracks[track].course.clone();
                let pcm = media[track].as_ref().expect("a track").pcm.clone();
                let ring = Arc::new(Rolling::new(RATE));
                (start.from, start.begins) = (course.entry, course.entry);
                start.sound = Sound::Rolling(ring.clone());
                rolling.push((Rendering::new(pcm, course, Span::ZERO), ring, start.at));
            }
            lines.orders.push(order).expect("room");
        }
        for (rendering, ring, at) in &mut rolling {
            let ahead = until as f64 - at.ns() as f64 * f64::from(RATE) / 1e9 + 20_000.0;
            while !ring.is_whole() && (ring.written() as f64) < ahead {
                let mut piece = Vec::new();
                let more = rendering.render(2_048, &mut piece);
                ring.push(&piece);
                if !more {
                    ring.finish();
                }
            }
        }
        let now = (next - begins) as usize * 2..(until - begins) as usize * 2;
        engine.process(&mut out[now], 2, next, &clock);
        next = until;
    }
    out.split_off(-begins as usize * 2)
}

/// What is written of a score.
fn mixed(score: Score, zero: Instant, frames: usize) -> Vec<f32> {
    let mut sum = vec![0.0; frames * 2];
    Mixdown::new(score, RATE, zero).mix(&mut sum);
    let mut limiter = Limiter::new(RATE, CEILING, frames);
    let mut mixed = Vec::new();
    limiter.process(&sum, &mut mixed);
    limiter.finish(&mut mixed);
    mixed
}

#[test]
fn the_mix_is_what_playout_plays_bit_for_bit() {
    let folder = TempDir::new().expect("a folder");
    let rehearsal = Rehearsal::new();
    let media = media(folder.path(), &rehearsal);
    let (show, plan) = rehearsal::plan("high");
    let zero = Instant::from_s(-20.0);
    let frames = 400 * RATE as usize;
    let score = Score::of(&material(&show, &plan.layout, &media), zero);
    let wanted = played(score.orders(), &media, zero, frames);
    let mixed = mixed(score, zero, frames);
    let sounding = mixed.iter().filter(|x| **x != 0.0).count();
    assert!(sounding > frames / 4, "{sounding}");
    let differs = mixed.iter().zip(&wanted).position(|(a, b)| a != b);
    assert_eq!(differs, None);
}

/// The narrator begins and ends every block by key when that is planned.
#[test]
fn music_goes_down_under_words_as_in_the_show_bit_for_bit() {
    let folder = TempDir::new().expect("a folder");
    let mut rehearsal = Rehearsal::new();
    let media = media(folder.path(), &rehearsal);
    let (show, plan) = rehearsal::plan("high");
    let mut keyed = Vec::new();
    for (block, laid) in show.blocks.iter().zip(&plan.layout.blocks) {
        let (Some(starts), Some(ends)) = (laid.starts.instant(), laid.ends) else {
            continue;
        };
        let block = block.id.clone();
        keyed.push((starts, What::BeginBlock { block }));
        keyed.push((ends, What::EndBlock));
    }
    keyed.sort_by_key(|(at, _)| *at);
    assert_eq!(keyed.len(), 6, "three blocks are said");
    for (at, what) in keyed {
        let event = Event { at, what };
        rehearsal.effects.extend(rehearsal.session.apply(&event));
    }
    rehearsal.until(500.0);
    let live: Vec<(Instant, bool)> = rehearsal
        .effects
        .iter()
        .filter_map(|effect| match effect.act {
            Act::Duck { down } => Some((effect.at, down)),
            _ => None,
        })
        .collect();
    let zero = Instant::from_s(-20.0);
    let score = Score::of(&material(&show, &plan.layout, &media), zero);
    let mut ducks = live.iter();
    let orders: Vec<(Instant, Order)> = score
        .orders()
        .iter()
        .map(|(at, order)| match order {
            Order::Duck { .. } => {
                let (at, down) = *ducks.next().expect("the show does it too");
                (at, Order::Duck { down })
            }
            order => (*at, order.clone()),
        })
        .collect();
    assert_eq!(ducks.len(), 0, "and no more of them");
    let frames = 400 * RATE as usize;
    let wanted = played(&orders, &media, zero, frames);
    let mixed = mixed(score, zero, frames);
    let differs = mixed.iter().zip(&wanted).position(|(a, b)| a != b);
    assert_eq!(differs, None, "{live:?}");
    // The first of the blocks has music under it.
    let level = |at: f64| {
        let from = ((at + 20.0) * f64::from(RATE)) as usize * 2;
        let part = &mixed[from..from + RATE as usize / 2];
        part.iter().map(|x| x * x).sum::<f32>()
    };
    let levels = live.chunks_exact(2).map(|duck| {
        let (down, up) = (duck[0].0.s(), duck[1].0.s());
        (level(down - 0.4), level(down + 0.4), level(up + 0.8))
    });
    let levels: Vec<_> = levels.collect();
    let under = levels.iter().filter(|(before, under, after)| {
        *under > 0.0 && *before > 5.0 * under && *after > 5.0 * under
    });
    assert!(under.count() >= 1, "{live:?} {levels:?}");
}

#[test]
fn what_is_mixed_is_what_the_session_does_when_all_is_as_planned() {
    let folder = TempDir::new().expect("a folder");
    let mut rehearsal = Rehearsal::new();
    let media = media(folder.path(), &rehearsal);
    let (show, plan) = rehearsal::plan("high");
    let score = Score::of(&material(&show, &plan.layout, &media), Instant::ZERO);
    rehearsal.fly_as_planned_until(500.0);
    let s = |at: Monotonic| at.ns() as f64 / 1e9;
    let mut compared = 0;
    for (_, order) in score.orders() {
        let (voice, at) = match order {
            Order::Start(start) => (start.voice, s(start.at)),
            Order::Fade { voice, at, .. } => (*voice, s(*at)),
            _ => continue,
        };
        let live = rehearsal.effects.iter().find(|effect| {
            let track = match (&effect.act, order) {
                (Act::Start { track, .. }, Order::Start(_)) => *track,
                (Act::Fade { track, .. }, Order::Fade { .. }) => *track,
                _ => return false,
            };
            track + 1 == voice as usize
        });
        let live = live.expect("the session does it too");
        assert!((live.at.s() - at).abs() < 0.25, "{order:?} {live:?}");
        compared += 1;
    }
    assert!(compared >= 3, "{compared}");
}

/// A pass with a hit on it under words, another track over the first one's end.
fn show(folder: &Path) -> PathBuf {
    write_track(folder, "one.wav", &noise(60, 0.9, 30.0, 1));
    write_track(folder, "two.wav", &noise(40, 0.9, 5.0, 2));
    let body = format!(
        "{PASS}
[[block]]
id = \"words\"
text = \"This is said while the music plays, and the music goes down under it.\"
starts = \"pass.inbound + 15 s\"

[[track]]
id = \"one\"
file = \"one.wav\"
hits = {{ burst = \"0:30.000\" }}
meets = {{ hit = \"burst\", on = \"pass.abeam\", within = \"1 s\", if_missed = \"nearest\" }}
duck = \"12 dB\"

[[track]]
id = \"two\"
file = \"two.wav\"
starts = \"pass.abeam - 4.75 s\"
under = true
duck = \"0 dB\"
"
    );
    let text = document("start = \"19:40:00\"", &["pass"], &body);
    let file = folder.join("lake.toml");
    std::fs::write(&file, text).expect("a document");
    file
}

fn abeam(arguments: &[&str]) -> Value {
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .args(arguments)
        .arg("--json")
        .output()
        .expect("it runs");
    serde_json::from_slice(&output.stdout).unwrap_or_else(|error| {
        let told = String::from_utf8_lossy(&output.stderr);
        panic!("{error}: {told}")
    })
}

/// Where in `channel` of `wide` channels the burst is, in frames: the highest cross-correlation near `about`.
fn find(samples: &[f32], wide: usize, burst: &[f32], about: i64) -> i64 {
    let correlation = |at: i64| -> f64 {
        let frames = samples[at as usize * wide..].chunks_exact(wide);
        let products = frames.zip(burst).map(|(frame, b)| f64::from(frame[0] * b));
        products.sum()
    };
    (about - 200..about + 200)
        .max_by(|a, b| correlation(*a).total_cmp(&correlation(*b)))
        .expect("a place")
}

#[test]
fn hits_are_where_they_were_planned_and_nothing_is_too_high() {
    let folder = TempDir::new().expect("a folder");
    let show = show(folder.path());
    let show = ffmpeg::text(&show);
    let planned = abeam(&["times", show]);
    let track = planned["tracks"].as_array().expect("tracks");
    let hit = track[0]["hit_s"].as_f64().expect("a hit");
    let source = noise(60, 0.9, 30.0, 1);
    let burst = &source[30 * RATE as usize..][..RATE as usize / 4];
    for (name, more) in [
        ("mix.flac", ["--bits", "24"]),
        ("small.flac", ["--bits", "16"]),
        ("mix.wav", ["--bits", "16"]),
        ("whole.wav", ["--timecode", "25"]),
        ("float.wav", ["--bits", "32"]),
    ] {
        let file = folder.path().join(name);
        let file = ffmpeg::text(&file);
        let report = abeam(&["mix", show, "-o", file, more[0], more[1]]);
        let ours = decode(Path::new(file), &mut |_| {}).expect("it can be read again");
        let theirs = ffmpeg::decoded(Path::new(file));
        assert_eq!(ours.samples.len(), theirs.len(), "{name}");
        let pairs = ours.samples.iter().zip(&theirs);
        let differ = pairs.filter(|(a, b)| a != b).count();
        assert_eq!(differ, 0, "{name}");
        let bits: u64 = more[1].parse().unwrap_or(24);
        let plain = theirs.len() as u64 * bits / 8;
        let bytes = std::fs::metadata(file).expect("the file").len();
        assert!(
            bytes < plain + plain / 100 + 1_000,
            "{name}: {bytes} of {plain}"
        );
        let seconds = ours.frames() as f64 / f64::from(RATE);
        assert_eq!(Some(seconds), report["duration_s"].as_f64(), "{name}");
        let zero = report["begins_s"].as_f64().expect("a time");
        let about = ((hit - zero) * f64::from(RATE)).round() as i64;
        let found = find(&theirs, ours.channels.into(), burst, about);
        assert!((found - about).abs() <= 1, "{name}: {found} {about}");
        assert!(report["limited_db"].as_f64().expect("a number") > 1.0);
        let (lufs, peak) = measured(file);
        let told = report["integrated_lufs"].as_f64().expect("a loudness");
        assert!((lufs - told).abs() <= 0.1, "{name}: {lufs} {told}");
        assert!((-1.8..=-0.8).contains(&peak), "{name}: {peak}");
    }
}

/// Integrated loudness in LUFS and true peak in dBTP of the first two channels, by ffmpeg's ebur128.
fn measured(file: &str) -> (f64, f64) {
    let filter = "pan=stereo|c0=c0|c1=c1,ebur128=peak=true";
    let output = ffmpeg::run(&["-i", file, "-af", filter, "-f", "null", "-"]);
    let text = String::from_utf8_lossy(&output.stderr).into_owned();
    let value = |name: &str| -> f64 {
        let line = text.lines().rfind(|line| line.trim().starts_with(name));
        let line = line.unwrap_or_else(|| panic!("no {name} in {text}"));
        let number = line.split_whitespace().nth(1).expect("a number");
        number.parse().expect("a number")
    };
    (value("I:"), value("Peak:"))
}

#[test]
fn music_is_down_under_words_and_stems_are_the_mix() {
    let folder = TempDir::new().expect("a folder");
    let show = show(folder.path());
    let show = ffmpeg::text(&show);
    let planned = abeam(&["times", show]);
    let block = &planned["blocks"][0];
    let (from, until) = (&block["start_s"], &block["end_s"]);
    let (from, until) = (from.as_f64().expect("from"), until.as_f64().expect("until"));
    let file = folder.path().join("mix.wav");
    let stems = folder.path().join("stems");
    let (file, stems) = (ffmpeg::text(&file), ffmpeg::text(&stems));
    let report = abeam(&["mix", show, "-o", file, "--stems", stems, "--bits", "32"]);
    let zero = report["begins_s"].as_f64().expect("a time");
    let mix = ffmpeg::decoded(Path::new(file));
    let one = ffmpeg::decoded(Path::new(&format!("{stems}/one.wav")));
    let two = ffmpeg::decoded(Path::new(&format!("{stems}/two.wav")));
    let at = |s: f64| ((s - zero) * f64::from(RATE)) as usize * 2;
    let sums = one.iter().zip(&two).map(|(a, b)| a + b);
    let same = mix.iter().zip(sums).filter(|(a, b)| **a == *b).count();
    assert!(same > mix.len() / 2, "{same}: but where it is limited");
    let rms = |s: f64| -> f64 {
        let part = &one[at(s)..at(s + 0.5)];
        let power: f64 = part.iter().map(|x| f64::from(*x).powi(2)).sum();
        10.0 * (power / part.len() as f64).log10()
    };
    let (before, under, after) = (rms(from - 0.6), rms(from + 0.3), rms(until + 1.6));
    assert!((before - under - 12.0).abs() < 0.5, "{before} {under}");
    assert!((before - after).abs() < 0.5, "{before} {after}");
    assert!((before - rms(until + 0.2) - 12.0).abs() < 0.5, "held");
    let sheet = std::fs::read_to_string(folder.path().join("mix.cues.csv")).expect("a cue sheet");
    assert!(sheet.contains(",one,hit burst\r\n"), "{sheet}");
}

#[test]
fn what_cannot_be_written_is_said() {
    let folder = TempDir::new().expect("a folder");
    let show = show(folder.path());
    let track = folder.path().join("one.wav");
    for (arguments, told) in [
        (
            ["-o", "mix.mp3"].to_vec(),
            "write a name ending in .wav or .flac",
        ),
        (
            ["-o", "mix.flac", "--bits", "32"].to_vec(),
            "write --bits 24",
        ),
        (
            ["-o", "mix.wav", "--timecode", "23"].to_vec(),
            "write 24, 25, 29.97",
        ),
        (
            ["-o", ffmpeg::text(&track)].to_vec(),
            "is a track of the show",
        ),
    ] {
        let output = Command::cargo_bin("abeam")
            .expect("the program")
            .current_dir(folder.path())
            .arg("mix")
            .arg(&show)
            .args(&arguments)
            .output()
            .expect("it runs");
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        let text = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(text.contains(told), "{text}");
    }
}

/// The voice is espeak-ng's, at its own pace: within a third of the planned time for the narrator's rate.
#[test]
fn the_script_is_spoken_into_its_gap_and_ducks_the_music() {
    let folder = TempDir::new().expect("a folder");
    let show = show(folder.path());
    let show = ffmpeg::text(&show);
    let file = folder.path().join("mix.wav");
    let stems = folder.path().join("stems");
    let (file, stems) = (ffmpeg::text(&file), ffmpeg::text(&stems));
    let report = abeam(&[
        "mix", show, "-o", file, "--voice", "--stems", stems, "--bits", "32",
    ]);
    let spoken = &report["spoken"][0];
    let s = |of: &str| spoken[of].as_f64().expect("a time");
    let (from, planned, until) = (s("start_s"), s("planned_end_s"), s("end_s"));
    let share = (until - from) / (planned - from);
    assert!((0.67..1.33).contains(&share), "{share}");
    assert_eq!(spoken["block"], "words");
    let zero = report["begins_s"].as_f64().expect("a time");
    let at = |s: f64| ((s - zero) * f64::from(RATE)) as usize * 2;
    let voice = ffmpeg::decoded(Path::new(&format!("{stems}/narrator.voice.wav")));
    let loud = |samples: &[f32]| samples.iter().any(|x| x.abs() > 1e-4);
    assert!(!loud(&voice[..at(from - 0.01)]) && !loud(&voice[at(until + 0.01)..]));
    assert!(loud(&voice[at(from)..at(from + 0.2)]) && loud(&voice[at(until - 0.3)..at(until)]));
    let sheet = std::fs::read_to_string(folder.path().join("mix.cues.csv")).expect("a cue sheet");
    let words = |what: &str| {
        let mut lines = sheet.lines();
        let line = lines.find(|line| line.ends_with(&format!("words,words {what}")));
        line.and_then(|line| line.split(',').nth(1)?.parse::<f64>().ok())
    };
    let told = (
        words("begin").expect("a line"),
        words("end").expect("a line"),
    );
    assert!(
        (told.0 - from).abs() < 1e-3 && (told.1 - until).abs() < 1e-3,
        "{told:?}"
    );
    let one = ffmpeg::decoded(Path::new(&format!("{stems}/one.wav")));
    let power = |s: f64| one[at(s)..at(s + 0.3)].iter().map(|x| x * x).sum::<f32>();
    let down = 10.0 * (power(from - 0.5) / power(until - 0.3)).log10();
    assert!((down - 12.0).abs() < 0.5, "{down}");
}

#[test]
fn without_a_speaker_the_voice_says_what_to_install() {
    let folder = TempDir::new().expect("a folder");
    let output = Command::cargo_bin("abeam")
        .expect("the program")
        .env("PATH", folder.path())
        .arg("mix")
        .arg(show(folder.path()))
        .args(["--voice", "-o", "mix.wav"])
        .current_dir(folder.path())
        .output()
        .expect("it runs");
    assert_eq!(output.status.code(), Some(3));
    let text = String::from_utf8_lossy(&output.stderr);
    assert!(text.contains("apt-get install espeak-ng"), "{text}");
    assert!(!folder.path().join("mix.wav").exists());
}

/// The hymn's bars are 3 s long (`media/compose/main.rs`): heard in it where the document is silent.
#[test]
fn bars_that_the_document_does_not_state_are_those_that_are_heard() {
    let folder = TempDir::new().expect("a folder");
    let hymn = Path::new(env!("CARGO_MANIFEST_DIR")).join("media/hymn.flac");
    std::fs::copy(hymn, folder.path().join("hymn.flac")).expect("the hymn");
    let track = |bars: &str| {
        format!(
            "{PASS}
[[track]]
id = \"hymn\"
file = \"hymn.flac\"
hits = {{ verse = \"0:48.000\" }}
vamp = {{ from = \"0:12.000\", to = \"0:24.000\", step = \"bar\", planned = 1 }}
meets = {{ hit = \"verse\", on = \"pass.abeam\" }}
{bars}
"
        )
    };
    for (bars, source) in [("", "gauge"), ("bar = \"3 s\"", "document")] {
        let file = folder.path().join("lake.toml");
        let text = document("start = \"19:40:00\"", &["pass"], &track(bars));
        std::fs::write(&file, text).expect("a document");
        let report = abeam(&["check", ffmpeg::text(&file)]);
        let vamp = &report["vamps"][0];
        assert_eq!(vamp["bars_from"], source, "{report}");
        assert_eq!(vamp["bar_s"].as_f64(), Some(3.0), "{source}");
        let times = abeam(&["times", ffmpeg::text(&file)]);
        assert_eq!(times["tracks"][0]["meet"]["rounds"], 1, "{source}");
    }
}

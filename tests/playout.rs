//! The output end to end: this program's playout, through ALSA, into a sound server's null sink, and
//! what was recorded there. How the recording knows the time is told in `desk`.
//!
//! ALSA reads its environment when it is first used, so each test plays from a process of its own:
//! this test program again, running only [`player`].

mod desk;

use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use abeam::live::playout::{Bus, Monotonic, Order, Output, Playout, Start, stderr_to};
use abeam::sound::Pcm;
use abeam::units::{Gain, Span};
use desk::{NullSink, RATE, Recording, monotonic_ns};

const MS: i64 = 1_000_000;
/// Between two clicks of the click track, the first of which is at its beginning.
const CLICK_EVERY_MS: i64 = 250;

/// Two sound servers at a time would disturb each other's clocks.
fn alone() -> MutexGuard<'static, ()> {
    static ALONE: Mutex<()> = Mutex::new(());
    ALONE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Thirty seconds with a click of one frame every 250 ms; click k is 0.3 + k / 256 high, so that a
/// click in a recording says which it is.
fn clicks() -> Pcm {
    let mut samples = vec![0.0; RATE as usize * 2 * 30];
    for k in 0..120 {
        let frame = k * (RATE as usize / 4);
        samples[frame * 2..frame * 2 + 2].fill(0.3 + k as f32 / 256.0);
    }
    Pcm {
        rate: RATE,
        channels: 2,
        samples,
    }
}

/// Thirty seconds of 440 Hz at half of full scale.
fn tone() -> Pcm {
    let samples = (0..RATE * 30).flat_map(|k| {
        let phase = f64::from(k) * 440.0 / f64::from(RATE) * std::f64::consts::TAU;
        [0.5 * phase.sin() as f32; 2]
    });
    Pcm {
        rate: RATE,
        channels: 2,
        samples: samples.collect(),
    }
}

/// The playing side: obeys lines on its standard input, answers with lines that begin with `=`.
#[test]
#[ignore = "the other tests start it, as a process of their own"]
fn player() {
    let log = std::env::var("PLAYER_LOG").expect("started by another test");
    let log = stderr_to(log.as_ref()).expect("the log");
    let playout = Playout::open(Output {
        device: std::env::var("PLAYER_DEVICE").ok(),
        ..Output::default()
    });
    let (clicks, tone) = (Arc::new(clicks()), Arc::new(tone()));
    println!("= open {}", playout.rate());
    for line in std::io::stdin().lines() {
        let line = line.expect("a line");
        let words: Vec<&str> = line.split_whitespace().collect();
        let number = |index: usize| -> i64 { words[index].parse().expect("a number") };
        match words[0] {
            // TRACK voice at_ns fade_ms
            "clicks" | "tone" => {
                let pcm = if words[0] == "tone" { &tone } else { &clicks };
                let order = Order::Start(Start {
                    voice: number(1) as u32,
                    sound: pcm.clone().into(),
                    begins: Span::ZERO,
                    from: Span::ZERO,
                    at: Monotonic::from_ns(number(2)),
                    fade_in: Span::from_ms(number(3)),
                    gain: Gain::ZERO,
                    duck: Gain::from_db(12.0),
                    bus: Bus::Programme,
                });
                println!("= sent {}", playout.send(order));
            }
            "fade" => {
                let order = Order::Fade {
                    voice: number(1) as u32,
                    at: Monotonic::from_ns(number(2)),
                    over: Span::from_ms(number(3)),
                };
                println!("= sent {}", playout.send(order));
            }
            "duck" => {
                let down = number(1) == 1;
                println!("= sent {}", playout.send(Order::Duck { down }));
            }
            "health" => {
                let health = playout.health();
                println!(
                    "= silent {} underruns {} reopened {} latency_us {} fault {:?}",
                    health.silent,
                    health.underruns,
                    health.reopened,
                    health.latency.us(),
                    health.fault
                );
            }
            "head" => {
                let at = monotonic_ns();
                let heads = playout.playheads();
                let us = heads.first().map_or(-1, |head| head.position.us());
                println!("= head {us} at {at}");
            }
            "started" => {
                let started = playout.started();
                let at: Vec<_> = started.iter().map(|s| s.at.ns().to_string()).collect();
                println!("= started {}", at.join(" "));
            }
            _ => break,
        }
    }
    drop(playout);
    drop(log);
    eprintln!("standard error is back");
}

/// The player, seen from the tests.
struct Player {
    process: Child,
    orders: ChildStdin,
    answers: Receiver<String>,
    log: tempfile::NamedTempFile,
}

impl Player {
    fn open(sink: &NullSink) -> Player {
        Player::open_on(sink, None)
    }

    /// Plays on the device of that name.
    fn open_on(sink: &NullSink, device: Option<&str>) -> Player {
        let program = std::env::current_exe().expect("this test program");
        let log = tempfile::NamedTempFile::new().expect("a log");
        let mut process = Command::new(program)
            .args(["--ignored", "--exact", "player", "--nocapture"])
            .envs(sink.env())
            .envs(device.map(|device| ("PLAYER_DEVICE", device)))
            .env("PLAYER_LOG", log.path())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the player");
        let orders = process.stdin.take().expect("its input");
        let output = process.stdout.take().expect("its output");
        let (send, answers) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if let Some(answer) = line.strip_prefix("= ") {
                    let _ = send.send(answer.to_owned());
                }
            }
        });
        let player = Player {
            process,
            orders,
            answers,
            log,
        };
        assert_eq!(player.answer(), "open 48000");
        player
    }

    fn answer(&self) -> String {
        let answer = self.answers.recv_timeout(Duration::from_secs(20));
        answer.expect("the player answers")
    }

    fn ask(&mut self, line: &str) -> String {
        writeln!(self.orders, "{line}").expect("the player listens");
        self.answer()
    }

    fn health(&mut self, key: &str) -> String {
        let health = self.ask("health");
        println!("  health: {health}");
        let mut words = health.split_whitespace();
        words.find(|word| *word == key);
        words.next().unwrap_or_default().to_owned()
    }

    /// Waits until its health says so.
    fn until(&mut self, key: &str, value: &str, patience: Duration) {
        let begun = Instant::now();
        while self.health(key) != value {
            assert!(begun.elapsed() < patience, "{key} never became {value}");
            std::thread::sleep(Duration::from_millis(100));
        }
    }

    /// Lets it end by itself; what it wrote to standard error, and what that was redirected to.
    fn end(mut self) -> (String, String) {
        writeln!(self.orders, "end").expect("the player listens");
        let mut stderr = String::new();
        let pipe = self.process.stderr.take();
        pipe.expect("its standard error")
            .read_to_string(&mut stderr)
            .expect("text");
        let log = std::fs::read(self.log.path()).expect("the log");
        (stderr, String::from_utf8_lossy(&log).into_owned())
    }

    fn signal(&self, signal: &str) {
        let id = self.process.id().to_string();
        let status = Command::new("kill").args([signal, &id]).status();
        assert!(status.expect("kill").success());
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Waits until the monotonic clock says `ns`.
fn wait_until(ns: i64) {
    let left = ns - monotonic_ns();
    std::thread::sleep(Duration::from_nanos(left.max(0) as u64));
}

/// The clicks in a recording: each with its number and how late it was for a track begun at `begun`,
/// in nanoseconds. One heard while its track fades in is lower, and so gives a wrong number.
fn clicks_in(recording: &Recording, begun: i64) -> Vec<(i64, i64)> {
    let loud = recording
        .samples
        .iter()
        .enumerate()
        .filter(|(_, s)| s[0] > 0.25);
    loud.map(|(frame, sample)| {
        let k = ((sample[0] - 0.3) * 256.0).round() as i64;
        (k, recording.at(frame) - (begun + k * CLICK_EVERY_MS * MS))
    })
    .collect()
}

fn median(values: impl IntoIterator<Item = i64>) -> i64 {
    let mut values: Vec<i64> = values.into_iter().collect();
    values.sort_unstable();
    values[values.len() / 2]
}

fn describe(recording: &Recording) {
    println!(
        "  recorder: latency {:.3} ms taken off, block {:.3} ms added, {:+.1} ppm, steady to {:.3} ms",
        recording.latency_ns as f64 / 1e6,
        recording.block_ns as f64 / 1e6,
        recording.drift / 1e9 * f64::from(RATE) * 1e6,
        recording.unsteady_ns as f64 / 1e6
    );
}

#[test]
fn a_click_is_heard_at_the_instant_it_was_ordered_for() {
    let _alone = alone();
    let sink = NullSink::start();
    let (recording, begun, logged) = undisturbed(|| play_six_click_tracks(&sink));
    describe(&recording);
    let mut offsets = Vec::new();
    for (at, logged) in begun.iter().zip(&logged) {
        let mut near = clicks_in(&recording, *at);
        near.retain(|(k, late)| *k == 0 && late.abs() < 200 * MS);
        assert_eq!(near.len(), 1, "each first click is heard once");
        assert!(
            (logged - at).abs() < 30_000,
            "the log has the frame nearest to the order"
        );
        println!(
            "  heard {:+.3} ms after its instant",
            near[0].1 as f64 / 1e6
        );
        offsets.push(near[0].1);
    }
    let middle = median(offsets.iter().copied());
    println!("  median {:+.3} ms", middle as f64 / 1e6);
    assert_eq!(offsets.len(), 6);
    assert!(middle.abs() < 20 * MS);
}

/// Begins the click track six times: what was recorded, when each was ordered for, when the log says
/// it began, and the underruns.
fn play_six_click_tracks(sink: &NullSink) -> ((Recording, Vec<i64>, Vec<i64>), bool) {
    let mut player = Player::open(sink);
    let recorder = sink.record();
    std::thread::sleep(Duration::from_secs(1));
    let mut begun = Vec::new();
    for voice in 0..6 {
        // At no round number of callbacks from one another.
        let at = monotonic_ns() + 300 * MS + voice * 1_234_567;
        player.ask(&format!("clicks {voice} {at} 0"));
        player.ask(&format!("fade {voice} {} 5", at + 400 * MS));
        begun.push(at);
        wait_until(at + 700 * MS);
    }
    let log = player.ask("started");
    let logged = log
        .split(' ')
        .skip(1)
        .map(|at| at.parse().expect("ns"))
        .collect();
    let recording = recorder.finish();
    let sound = player.health("underruns") == "0" && recording.unsteady_ns < MS / 2;
    ((recording, begun, logged), sound)
}

/// What came of the first attempt that says it was sound. On a machine busy with other things the
/// server runs dry or the recorder loses frames, and what is heard then says nothing about playout.
fn undisturbed<T>(mut attempt: impl FnMut() -> (T, bool)) -> T {
    for _ in 0..8 {
        let (result, sound) = attempt();
        if sound {
            return result;
        }
        println!("  disturbed: once more");
    }
    panic!("this machine is too busy: eight attempts had underruns or lost frames");
}

#[test]
fn a_killed_sound_server_is_survived_and_the_track_rejoins_where_it_should_be() {
    let _alone = alone();
    let mut sink = NullSink::start();
    let mut player = Player::open(&sink);
    std::thread::sleep(Duration::from_millis(500));
    let at = monotonic_ns() + 300 * MS;
    player.ask(&format!("clicks 1 {at} 0"));
    wait_until(at + 1_000 * MS);
    assert_eq!(player.health("silent"), "false");

    sink.kill();
    player.until("silent", "true", Duration::from_secs(10));
    // The playhead goes on without a device.
    let head = player.ask("head");
    let words: Vec<i64> = head
        .split(' ')
        .filter_map(|word| word.parse().ok())
        .collect();
    let off_us = words[0] - (words[1] - at) / 1_000;
    assert!(
        off_us.abs() < 20_000,
        "the silent playhead is {off_us} µs off"
    );

    sink.restart();
    let recorder = sink.record();
    player.until("silent", "false", Duration::from_secs(20));
    assert_ne!(player.health("reopened"), "0");
    std::thread::sleep(Duration::from_secs(3));
    let recording = recorder.finish();
    describe(&recording);
    let heard = clicks_in(&recording, at).split_off(1);
    assert!(heard.len() >= 4, "it plays on: {heard:?}");
    let late = median(heard.iter().map(|(_, late)| *late));
    println!(
        "  rejoined at click {}, {:+.3} ms late",
        heard[0].0,
        late as f64 / 1e6
    );
    assert!(late.abs() < 20 * MS);
}

#[test]
fn the_device_is_found_by_name_and_a_wrong_name_is_answered_with_the_right_ones() {
    let _alone = alone();
    let sink = NullSink::start();
    for name in ["stage", "Stage box"] {
        let mut player = Player::open_on(&sink, Some(name));
        assert_eq!(player.health("silent"), "false", "{name}");
    }
    let mut player = Player::open_on(&sink, Some("stag"));
    let health = player.ask("health");
    println!("  health: {health}");
    assert!(health.contains("silent true"));
    assert!(health.contains("machine.toml may name") && health.contains("stage"));
}

#[test]
fn with_no_device_the_show_runs_silent_and_the_music_joins_when_one_appears() {
    let _alone = alone();
    let mut sink = NullSink::start();
    sink.kill();
    let mut player = Player::open(&sink);
    assert_eq!(player.health("silent"), "true");
    let at = monotonic_ns() + 100 * MS;
    player.ask(&format!("clicks 1 {at} 0"));
    wait_until(at + 1_000 * MS);
    let head = player.ask("head");
    let words: Vec<i64> = head
        .split(' ')
        .filter_map(|word| word.parse().ok())
        .collect();
    let off_us = words[0] - (words[1] - at) / 1_000;
    assert!(
        off_us.abs() < 20_000,
        "the silent playhead is {off_us} µs off"
    );
    let log = player.ask("started");
    assert_eq!(log.split(' ').count(), 2, "a silent start is logged: {log}");

    sink.restart();
    let recorder = sink.record();
    player.until("silent", "false", Duration::from_secs(20));
    std::thread::sleep(Duration::from_secs(3));
    let recording = recorder.finish();
    describe(&recording);
    let heard = clicks_in(&recording, at).split_off(1);
    assert!(heard.len() >= 2, "it is heard: {heard:?}");
    let late = median(heard.iter().map(|(_, late)| *late));
    println!(
        "  joined at click {}, {:+.3} ms late",
        heard[0].0,
        late as f64 / 1e6
    );
    assert!(late.abs() < 20 * MS);

    let (stderr, log) = player.end();
    println!("  the audio library wrote {} bytes into the log", log.len());
    assert!(
        log.contains("ALSA"),
        "the audio library complains into the log: {log}"
    );
    assert_eq!(stderr, "standard error is back\n");
}

#[test]
fn a_frozen_sound_server_is_noticed_and_the_track_rejoins_when_it_thaws() {
    let _alone = alone();
    let sink = NullSink::start();
    let mut player = Player::open(&sink);
    std::thread::sleep(Duration::from_millis(3_500));
    let at = monotonic_ns() + 300 * MS;
    player.ask(&format!("clicks 1 {at} 0"));
    wait_until(at + 1_000 * MS);
    sink.signal("-STOP");
    player.until("silent", "true", Duration::from_secs(5));
    std::thread::sleep(Duration::from_secs(2));
    sink.signal("-CONT");
    player.until("silent", "false", Duration::from_secs(20));
    let recorder = sink.record();
    std::thread::sleep(Duration::from_secs(3));
    let recording = recorder.finish();
    describe(&recording);
    let heard = clicks_in(&recording, at).split_off(1);
    assert!(heard.len() >= 2, "it plays on: {heard:?}");
    let late = median(heard.iter().map(|(_, late)| *late));
    println!(
        "  rejoined at click {}, {:+.3} ms late",
        heard[0].0,
        late as f64 / 1e6
    );
    assert!(late.abs() < 20 * MS);
}

#[test]
fn after_an_underrun_what_plays_and_what_starts_fall_on_their_instants_again() {
    let _alone = alone();
    let sink = NullSink::start();
    let mut player = Player::open(&sink);
    let recorder = sink.record();
    std::thread::sleep(Duration::from_secs(1));
    let before: u64 = player.health("underruns").parse().expect("a number");
    let first = monotonic_ns() + 300 * MS;
    player.ask(&format!("clicks 1 {first} 0"));
    wait_until(first + 600 * MS);
    // The program is held up for longer than the device has sound for.
    player.signal("-STOP");
    std::thread::sleep(Duration::from_millis(400));
    player.signal("-CONT");
    std::thread::sleep(Duration::from_millis(700));
    let resumed = monotonic_ns();
    let after: u64 = player.health("underruns").parse().expect("a number");
    assert!(after > before, "{after} underruns");
    wait_until(resumed + 1_000 * MS);
    player.ask(&format!("fade 1 {} 5", monotonic_ns()));
    let second = monotonic_ns() + 300 * MS;
    player.ask(&format!("clicks 2 {second} 0"));
    wait_until(second + 1_200 * MS);
    let recording = recorder.finish();
    describe(&recording);
    for (what, begun, from) in [("played on", first, resumed), ("started", second, second)] {
        let mut heard = clicks_in(&recording, begun);
        heard.retain(|(k, late)| {
            let at = begun + k * CLICK_EVERY_MS * MS + late;
            (from - MS..from + 1_000 * MS).contains(&at) && late.abs() < 600 * MS
        });
        assert!(heard.len() >= 3, "{what}: {heard:?}");
        let late = median(heard.iter().map(|(_, late)| *late));
        println!("  {what} {:+.3} ms after its instant", late as f64 / 1e6);
        assert!(late.abs() < 20 * MS);
    }
}

#[test]
fn fades_and_ducking_do_not_click_on_the_way_out() {
    let _alone = alone();
    let sink = NullSink::start();
    let (recording, at) = undisturbed(|| play_a_faded_tone(&sink));
    describe(&recording);
    let left: Vec<f32> = recording.samples.iter().map(|sample| sample[0]).collect();
    let steps = left.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let step = steps.fold(0.0, f32::max);
    // The tone's own steepest step, 0.5 · 2π · 440 / 48000, and a hundredth for the fades.
    let own = 0.5 * std::f32::consts::TAU * 440.0 / RATE as f32;
    println!("  largest step {step:.6}, the tone's own {own:.6}");
    assert!(step < own * 1.01);
    let peak = |from_ms: i64, until_ms: i64| {
        let stretch = recording.frame(at + from_ms * MS)..recording.frame(at + until_ms * MS);
        left[stretch]
            .iter()
            .fold(0.0_f32, |peak, s| peak.max(s.abs()))
    };
    assert!(
        (peak(600, 850) - 0.5).abs() < 0.01,
        "full level after the fade-in"
    );
    assert!(
        (peak(2_000, 2_100) - 0.1256).abs() < 0.005,
        "12 dB lower while ducked"
    );
    assert!((peak(3_900, 4_090) - 0.5).abs() < 0.01, "up again");
    assert!(peak(4_950, 5_200) < 1e-6, "silent after the fade-out");
}

/// Fades the tone in over 0.5 s, ducks it from about 0.9 s to about 2.1 s, and fades it out from 4.1 s
/// over 0.8 s: what was recorded and when it began.
fn play_a_faded_tone(sink: &NullSink) -> ((Recording, i64), bool) {
    let mut player = Player::open(sink);
    let recorder = sink.record();
    std::thread::sleep(Duration::from_secs(1));
    let at = monotonic_ns() + 300 * MS;
    player.ask(&format!("tone 1 {at} 500"));
    player.ask(&format!("fade 1 {} 800", at + 4_100 * MS));
    wait_until(at + 900 * MS);
    player.ask("duck 1");
    wait_until(at + 2_100 * MS);
    player.ask("duck 0");
    wait_until(at + 5_300 * MS);
    let recording = recorder.finish();
    // Where the server ran dry for a moment it has put in exact silence, which a tone never has.
    let sounding = recording.frame(at + 5 * MS)..recording.frame(at + 4_800 * MS);
    let frames = &recording.samples[sounding];
    let gaps = frames
        .windows(10)
        .any(|frames| frames.iter().all(|frame| *frame == [0.0; 2]));
    let sound = player.health("underruns") == "0" && recording.unsteady_ns < MS / 2 && !gaps;
    ((recording, at), sound)
}

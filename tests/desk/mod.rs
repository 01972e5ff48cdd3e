//! A sound desk for tests: a PulseAudio server of their own whose only output is a null sink at
//! 48 kHz, and a recorder on that sink's monitor whose every frame has an instant on the monotonic
//! clock. Needs no sound card, no user session and no settings of the machine.
//!
//! # How a recording knows when it was heard
//!
//! The recorder has no absolute clock, so it is given one. A thread stamps every read of the
//! recorder's bytes with the monotonic clock. Bytes cannot arrive before they exist, and are often
//! late: the truth is the lower envelope of all reads. The null sink is paced by that same clock, but
//! drops fractions of a microsecond, and so runs some 20 to 50 parts in a million fast: the envelope
//! is a line. Its slope is the median of those between the earliest reads of every half second
//! (Theil and Sen's estimator), its height that of the earliest read of all. What is left is the
//! recorder's constant latency.
//!
//! That latency is calibrated apart ([`NullSink::calibrate`]): a pipe source of the same server,
//! which passes on what is written to it at once, is recorded by the same recorder; from writing
//! to reading, the quickest of many trials is the way through the server and the recorder. What
//! is left is the null sink itself: it renders one block at a time at the instant the block's first
//! frame is due, so the last frame of a read leaves one block before it is heard. The block is as
//! long as the recorder asks (its 1 ms), and is measured: it is the commonest length of a read.

#![allow(dead_code, reason = "each test uses its own part of the desk")]

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rustix::time::{ClockId, clock_gettime};

/// Frames a second of the sink and of every recording.
pub const RATE: u32 = 48_000;
/// Bytes of a sample.
const SAMPLE_BYTES: usize = 4;
/// Left and right.
const FRAME_BYTES: usize = 2 * SAMPLE_BYTES;
/// The channels of a desk with headphones, as ALSA has four (front, then rear).
const FOUR: &str = "front-left,front-right,rear-left,rear-right";
/// How long a server may take to answer.
const PATIENCE: Duration = Duration::from_secs(20);

/// The monotonic clock, in nanoseconds.
pub fn monotonic_ns() -> i64 {
    let now = clock_gettime(ClockId::Monotonic);
    now.tv_sec * 1_000_000_000 + now.tv_nsec
}

/// A PulseAudio server with one null sink; stopped when dropped.
pub struct NullSink {
    directory: tempfile::TempDir,
    channels: usize,
    server: Option<Child>,
}

impl NullSink {
    /// Starts the server and waits until it answers. Panics with what to install if there is none.
    pub fn start() -> NullSink {
        NullSink::of(2)
    }

    /// One of four sockets, the programme on the first two and headphones on the others, as the machine's settings
    /// for it say.
    pub fn with_headphones() -> NullSink {
        let sink = NullSink::of(4);
        let settings = sink.directory.path().join("config/abeam");
        std::fs::create_dir_all(&settings).expect("a folder");
        std::fs::write(settings.join("machine.toml"), "headphones = [3, 4]\n").expect("settings");
        sink
    }

    fn of(channels: usize) -> NullSink {
        let directory = tempfile::tempdir().expect("a directory for the sound server");
        std::fs::write(
            directory.path().join("asound.conf"),
            "pcm.!default { type pulse }\nctl.!default { type pulse }\n\
             pcm.stage { type pulse hint { show on description \"Stage box\" } }\n",
        )
        .expect("a configuration for ALSA");
        let mut sink = NullSink {
            directory,
            channels,
            server: None,
        };
        sink.restart();
        sink
    }

    /// What a program's environment needs for its default ALSA device, and the one named `stage`, to
    /// be this sink, and for nothing of the user's own configuration to be read.
    pub fn env(&self) -> Vec<(String, String)> {
        let path = |name: &str| self.directory.path().join(name).display().to_string();
        [
            ("PULSE_SERVER", format!("unix:{}", path("socket"))),
            ("PULSE_RUNTIME_PATH", path("run")),
            ("XDG_RUNTIME_DIR", path("run")),
            ("XDG_CONFIG_HOME", path("config")),
            ("HOME", path("")),
            ("ALSA_CONFIG_PATH", path("asound.conf")),
        ]
        .map(|(name, value)| (name.to_owned(), value))
        .into()
    }

    /// Starts the server again after [`kill`](Self::kill).
    pub fn restart(&mut self) {
        self.kill();
        let socket = self.directory.path().join("socket");
        let _ = std::fs::remove_file(&socket);
        let log = File::create(self.directory.path().join("server.log")).expect("a log");
        let server = self
            .command("pulseaudio", "pulseaudio")
            .args([
                "-n",
                "--daemonize=no",
                "--exit-idle-time=-1",
                "--use-pid-file=no",
            ])
            .arg(format!(
                "--load=module-null-sink sink_name=desk rate=48000 format=float32le channels={}{}",
                self.channels,
                self.map(" channel_map=")
            ))
            .arg(format!(
                "--load=module-native-protocol-unix auth-anonymous=1 socket={}",
                socket.display()
            ))
            .stdout(Stdio::null())
            .stderr(log)
            .spawn()
            .unwrap_or_else(|error| panic!("pulseaudio: {error}: {}", install("pulseaudio")));
        self.server = Some(server);
        let begun = Instant::now();
        while !self.answers() {
            assert!(
                begun.elapsed() < PATIENCE,
                "the sound server does not answer; its log: {}",
                std::fs::read_to_string(self.directory.path().join("server.log"))
                    .unwrap_or_default()
            );
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Kills the server as a crash would.
    pub fn kill(&mut self) {
        if let Some(mut server) = self.server.take() {
            let _ = server.kill();
            let _ = server.wait();
        }
    }

    /// Sends the server a signal: `"-STOP"` freezes it, `"-CONT"` lets it go on.
    pub fn signal(&self, signal: &str) {
        let server = self.server.as_ref().expect("a running server");
        let id = server.id().to_string();
        let status = Command::new("kill").args([signal, &id]).status();
        assert!(status.expect("kill").success());
    }

    /// Records what leaves the sink, from now until it is [finished](Recorder::finish).
    pub fn record(&self) -> Recorder {
        let latency = self.calibrate();
        Recorder::start(self.recorder("desk.monitor"), latency)
    }

    /// Records all that leaves the sink, without telling when: see [`Recorder::frames`].
    pub fn record_all(&self) -> Recorder {
        let mut recorder = self.recorder("desk.monitor");
        recorder.arg(format!("--channels={}", self.channels));
        recorder.args(Some(self.map("--channel-map=")).filter(|map| !map.is_empty()));
        Recorder::start(recorder, 0)
    }

    /// Which channel is where, where there are more than two.
    fn map(&self, key: &str) -> String {
        if self.channels == 4 {
            format!("{key}{FOUR}")
        } else {
            String::new()
        }
    }

    /// The way of a frame through the server and the recorder, in nanoseconds: the quickest of many.
    fn calibrate(&self) -> i64 {
        let fifo = self.directory.path().join("calibration");
        let module = self.control(&[
            "load-module",
            "module-pipe-source",
            "source_name=calibration",
            &format!("file={}", fifo.display()),
            "format=float32le",
            "rate=48000",
            "channels=2",
        ]);
        let mut pipe = OpenOptions::new()
            .write(true)
            .open(&fifo)
            .expect("the calibration pipe");
        let recorder = Recorder::start(self.recorder("calibration"), 0);
        // Each block carries its own number in every sample, so that a read says what it read.
        let mut written = Vec::new();
        for number in 1..=200_u16 {
            let block: Vec<u8> = [f32::from(number).to_le_bytes(); 2 * 48].concat();
            written.push(monotonic_ns());
            pipe.write_all(&block).expect("the calibration pipe");
            std::thread::sleep(Duration::from_millis(3));
        }
        let reads = recorder.stop();
        self.control(&["unload-module", module.trim()]);
        let mut quickest = i64::MAX;
        for read in reads {
            let newest = read.bytes.chunks_exact(4).map(float).next_back();
            let newest = newest.unwrap_or(0.0);
            if let Some(written) = (newest as usize)
                .checked_sub(1)
                .and_then(|i| written.get(i))
            {
                quickest = quickest.min(read.at - written);
            }
        }
        assert!(quickest < i64::MAX, "the calibration recorded nothing");
        quickest
    }

    fn recorder(&self, source: &str) -> Command {
        let mut command = self.command("parec", "pulseaudio-utils");
        command.args([
            "--raw",
            "--format=float32le",
            "--rate=48000",
            "--channels=2",
        ]);
        command.args(["--latency-msec=1", &format!("--device={source}")]);
        command
    }

    fn answers(&self) -> bool {
        let mut command = self.command("pactl", "pulseaudio-utils");
        let output = command.arg("info").output();
        output
            .unwrap_or_else(|error| panic!("pactl: {error}: {}", install("pulseaudio-utils")))
            .status
            .success()
    }

    fn control(&self, arguments: &[&str]) -> String {
        let mut command = self.command("pactl", "pulseaudio-utils");
        let output = command.args(arguments).output().expect("pactl");
        assert!(output.status.success(), "pactl {arguments:?}: {output:?}");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn command(&self, program: &str, package: &str) -> Command {
        let found = std::env::var_os("PATH")
            .is_some_and(|path| std::env::split_paths(&path).any(|dir| dir.join(program).exists()));
        assert!(found, "{program} is missing: {}", install(package));
        let plugin = ["/usr/lib", "/usr/lib64"].iter().any(|lib| {
            let lib = PathBuf::from(lib);
            let plain = lib.join("alsa-lib/libasound_module_pcm_pulse.so");
            let arch = std::env::consts::ARCH;
            let multi = lib.join(format!(
                "{arch}-linux-gnu/alsa-lib/libasound_module_pcm_pulse.so"
            ));
            plain.exists() || multi.exists()
        });
        assert!(
            plugin,
            "ALSA cannot reach it: {}",
            install("libasound2-plugins")
        );
        let mut command = Command::new(program);
        command.envs(self.env());
        command
    }
}

impl Drop for NullSink {
    fn drop(&mut self) {
        self.kill();
    }
}

fn install(package: &str) -> String {
    format!("these tests need a sound server of their own: apt-get install {package}")
}

/// What one read of the recorder gave, and when.
struct Stamped {
    at: i64,
    bytes: Vec<u8>,
}

/// A recording that goes on.
pub struct Recorder {
    recorder: Child,
    reads: Receiver<Stamped>,
    reader: JoinHandle<()>,
    latency: i64,
}

impl Recorder {
    /// Starts recording and waits for the first frames.
    fn start(mut command: Command, latency: i64) -> Recorder {
        let mut recorder = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("the recorder");
        let mut pipe = recorder.stdout.take().expect("the recorder's output");
        let (send, reads) = channel();
        let reader = std::thread::spawn(move || {
            let mut buffer = vec![0; 1 << 16];
            while let Ok(length @ 1..) = pipe.read(&mut buffer) {
                let at = monotonic_ns();
                let bytes = buffer[..length].to_vec();
                if send.send(Stamped { at, bytes }).is_err() {
                    break;
                }
            }
        });
        std::thread::sleep(Duration::from_millis(300));
        Recorder {
            recorder,
            reads,
            reader,
            latency,
        }
    }

    fn stop(mut self) -> Vec<Stamped> {
        let _ = self.recorder.kill();
        let _ = self.recorder.wait();
        let _ = self.reader.join();
        self.reads.iter().collect()
    }

    /// Ends the recording of a sink of `N` channels: every frame of it.
    pub fn frames<const N: usize>(self) -> Vec<[f32; N]> {
        let bytes: Vec<u8> = self
            .stop()
            .into_iter()
            .flat_map(|read| read.bytes)
            .collect();
        let frames = bytes.chunks_exact(N * SAMPLE_BYTES);
        let sample =
            |frame: &[u8], channel: usize| float(&frame[channel * SAMPLE_BYTES..][..SAMPLE_BYTES]);
        frames
            .map(|frame| std::array::from_fn(|channel| sample(frame, channel)))
            .collect()
    }

    /// Ends the recording.
    pub fn finish(self) -> Recording {
        let latency = self.latency;
        Recording::from(&self.stop(), latency)
    }
}

/// What left the sink, and when it was heard.
pub struct Recording {
    /// Left and right of every frame.
    pub samples: Vec<[f32; 2]>,
    /// When frame 0 was heard, in nanoseconds.
    zero: i64,
    /// The calibrated latency that was taken off, in nanoseconds.
    pub latency_ns: i64,
    /// The sink's block that was added, in nanoseconds.
    pub block_ns: i64,
    /// How much longer than nominal the sink took for a frame, in nanoseconds.
    pub drift: f64,
    /// How far the latest half second was from the envelope, in nanoseconds: frames the recorder
    /// lost, or a machine so busy that no read was prompt.
    pub unsteady_ns: i64,
}

impl Recording {
    fn from(reads: &[Stamped], latency_ns: i64) -> Recording {
        let bytes: Vec<u8> = reads.iter().flat_map(|read| &read.bytes).copied().collect();
        let samples: Vec<[f32; 2]> = bytes
            .chunks_exact(FRAME_BYTES)
            .map(|frame| [float(&frame[..4]), float(&frame[4..])])
            .collect();

        let mut frames = 0;
        let mut lengths: HashMap<i64, usize> = HashMap::new();
        let mut arrivals = Vec::new();
        for read in reads {
            let length = (read.bytes.len() / FRAME_BYTES) as i64;
            frames += length;
            *lengths.entry(length).or_default() += 1;
            arrivals.push((frames, read.at - frames_ns(frames)));
        }
        let commonest = lengths.into_iter().max_by_key(|(_, count)| *count);
        let block_ns = frames_ns(commonest.map_or(0, |(length, _)| length));
        let envelope = Envelope::of(&arrivals);
        Recording {
            samples,
            zero: envelope.zero - latency_ns + block_ns,
            drift: envelope.drift,
            latency_ns,
            block_ns,
            unsteady_ns: envelope.unsteady_ns,
        }
    }

    /// When `frame` was heard, in nanoseconds of the monotonic clock.
    pub fn at(&self, frame: usize) -> i64 {
        self.zero + frames_ns(frame as i64) + (self.drift * frame as f64) as i64
    }

    /// The frame heard at `ns`.
    pub fn frame(&self, ns: i64) -> usize {
        let nominal = (ns - self.zero) as f64 / (1e9 / f64::from(RATE) + self.drift);
        nominal as usize
    }
}

/// The lower envelope of arrivals: when frame 0 would have arrived, and how much longer than nominal
/// each frame after it took, in nanoseconds.
struct Envelope {
    zero: i64,
    drift: f64,
    unsteady_ns: i64,
}

impl Envelope {
    /// Of reads, each with the count of frames it ended at and how much later than nominal it came.
    fn of(arrivals: &[(i64, i64)]) -> Envelope {
        let half_second = i64::from(RATE) / 2;
        let mut earliest: Vec<(i64, i64)> = Vec::new();
        for part in arrivals.chunk_by(|a, b| a.0 / half_second == b.0 / half_second) {
            earliest.extend(part.iter().min_by_key(|(_, late)| *late));
        }
        assert!(earliest.len() > 2, "too little was recorded");
        let mut slopes = Vec::new();
        for (i, a) in earliest.iter().enumerate() {
            for b in &earliest[i + 1..] {
                slopes.push((b.1 - a.1) as f64 / (b.0 - a.0) as f64);
            }
        }
        slopes.sort_by(f64::total_cmp);
        let drift = slopes[slopes.len() / 2];
        let left = |(frame, late): &(i64, i64)| late - (drift * *frame as f64) as i64;
        let zero = earliest.iter().map(left).min().unwrap_or(0);
        let latest = earliest.iter().map(left).max().unwrap_or(0);
        Envelope {
            zero,
            drift,
            unsteady_ns: latest - zero,
        }
    }
}

fn float(bytes: &[u8]) -> f32 {
    f32::from_le_bytes([bytes[0], bytes[1], bytes[2], bytes[3]])
}

fn frames_ns(frames: i64) -> i64 {
    frames * 1_000_000_000 / i64::from(RATE)
}

/// Writes a WAV file of 16 bits at [`RATE`], of samples relative to full scale.
pub fn write_wav<const N: usize>(path: &Path, frames: impl IntoIterator<Item = [f64; N]>) {
    let spec = hound::WavSpec {
        channels: N as u16,
        sample_rate: RATE,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(path, spec).expect("a WAV file");
    for x in frames.into_iter().flatten() {
        let sample = (x * 32_767.0).round() as i16;
        writer.write_sample(sample).expect("a sample");
    }
    writer.finalize().expect("a WAV file");
}

//! The edge to the audio device: opens it, watches it, opens it again, and runs silent without it.

use std::sync::Arc;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::{park_timeout, sleep};
use std::time::Duration;

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    BufferSize, ErrorKind, FromSample, OutputCallbackInfo, SampleFormat, SizedSample, Stream,
    StreamConfig, SupportedStreamConfigRange,
};
use rtrb::Consumer;

use super::Output;
use super::clock::{FrameClock, Monotonic};
use super::engine::Engine;
use super::order::Sound;
use super::status::{DEFAULT_RATE, Status};
use crate::units::Span;

/// How often the device is looked at.
const TICK: Duration = Duration::from_millis(20);
/// Looks without a callback after which a device counts as dead: 250 ms, counted in looks, so that
/// this program being held up is not taken for the device's death.
const DEAD: u32 = 13;
/// Looks after opening during which a device may still be finding its feet: 3 s.
const SETTLING: u32 = 150;
/// Pauses between attempts to open: the first, and the longest they grow to.
const FIRST_PAUSE: Duration = Duration::from_millis(100);
const LONGEST_PAUSE: Duration = Duration::from_secs(2);
/// Frames of a callback asked for, where the device lets one ask: 21 ms, and twice that buffered.
const PERIOD: u32 = 1_024;
/// Frames mixed at once.
const PIECE: usize = 512;

/// The thread's story: keeps a device open as long as the show lasts.
pub(super) struct Keeper {
    output: Output,
    status: Arc<Status>,
    engine: Option<Box<Engine>>,
    returned: Consumer<Sound>,
    /// The callback sends the engine home when its device is dropped.
    home: (Sender<Box<Engine>>, Receiver<Box<Engine>>),
    /// What the engine plays into while there is no device.
    silence: Silence,
}

/// An output that nobody hears, by the machine's own clock.
struct Silence {
    clock: FrameClock,
    /// The count of the next frame.
    next: i64,
    channels: usize,
    piece: Vec<f32>,
}

impl Keeper {
    pub fn new(
        output: Output,
        status: Arc<Status>,
        engine: Box<Engine>,
        returned: Consumer<Sound>,
    ) -> Self {
        Keeper {
            silence: Silence::new(DEFAULT_RATE, output.channels()),
            output,
            status,
            engine: Some(engine),
            returned,
            home: channel(),
        }
    }

    /// Opens, watches, gives up and opens again until the show is over; says when it has tried once.
    pub fn run(mut self, tried: &Sender<()>) {
        let mut pause = FIRST_PAUSE;
        let mut played = false;
        while !self.status.is_closing() {
            self.status.opening();
            match self.open() {
                Ok((stream, name, rate)) => {
                    self.status.playing(name, rate);
                    if played {
                        self.status.reopened.fetch_add(1, Relaxed);
                    }
                    played = true;
                    let _ = tried.send(());
                    let (why, settled) = self.watch();
                    self.status.lost(why);
                    drop(stream);
                    self.fall_silent();
                    if settled {
                        pause = FIRST_PAUSE;
                    }
                }
                Err(why) => self.status.lost(why),
            }
            self.bring_home();
            let _ = tried.send(());
            self.run_silent(pause);
            pause = (pause * 2).min(LONGEST_PAUSE);
        }
    }

    /// Opens the device and sets it playing; gives its name and rate.
    fn open(&mut self) -> Result<(Stream, String, u32), String> {
        let device = find(self.output.device.as_deref())?;
        let name = device.to_string();
        let wanted = self.output.channels();
        let ranges: Vec<_> = device
            .supported_output_configs()
            .map_err(|error| format!("{name}: {error}"))?
            .collect();
        let range = best(&ranges, wanted)
            .ok_or_else(|| format!("{name}: no output with {wanted} channels or more"))?;
        let rate = DEFAULT_RATE.clamp(range.min_sample_rate(), range.max_sample_rate());
        let mut last = String::new();
        for buffer_size in [BufferSize::Fixed(PERIOD), BufferSize::Default] {
            let config = StreamConfig {
                channels: range.channels(),
                sample_rate: rate,
                buffer_size,
            };
            match self.build(&device, config, range.sample_format()) {
                Ok(stream) => return Ok((stream, name, rate)),
                Err(error) => last = format!("{name}: {error}"),
            }
            self.bring_home();
        }
        Err(last)
    }

    fn build(
        &mut self,
        device: &cpal::Device,
        config: StreamConfig,
        format: SampleFormat,
    ) -> Result<Stream, cpal::Error> {
        let callback = self
            .callback(config)
            .ok_or(cpal::Error::new(ErrorKind::DeviceBusy))?;
        let stream = match format {
            SampleFormat::F32 => self.stream::<f32>(device, config, callback),
            SampleFormat::I32 => self.stream::<i32>(device, config, callback),
            _ => self.stream::<i16>(device, config, callback),
        }?;
        stream.play()?;
        Ok(stream)
    }

    fn callback(&mut self, config: StreamConfig) -> Option<Callback> {
        let mut engine = self.engine.take()?;
        engine.make_ready(config.sample_rate);
        let channels = usize::from(config.channels.max(1));
        Some(Callback {
            engine: Some(engine),
            home: self.home.0.clone(),
            status: self.status.clone(),
            rate: config.sample_rate,
            clock: FrameClock::new(config.sample_rate),
            next: 0,
            channels,
            piece: vec![0.0; PIECE * channels],
            output_delay: self.output.output_delay,
            dry: false,
        })
    }

    fn stream<T: SizedSample + FromSample<f32>>(
        &self,
        device: &cpal::Device,
        config: StreamConfig,
        mut callback: Callback,
    ) -> Result<Stream, cpal::Error> {
        let status = self.status.clone();
        device.build_output_stream(
            config,
            move |out: &mut [T], info: &OutputCallbackInfo| callback.fill(out, info),
            move |error| match error.kind() {
                ErrorKind::Xrun => {
                    status.underruns.fetch_add(1, Relaxed);
                    status.xrun.store(true, Relaxed);
                }
                ErrorKind::DeviceChanged | ErrorKind::RealtimeDenied => {}
                // A dead server gives these without end, but so does a live one after a stall, for
                // some tens of milliseconds: whether sound is asked for again tells them apart.
                kind @ ErrorKind::BackendError => status.hiccup(kind),
                kind => status.broke(kind),
            },
            None,
        )
    }

    /// Watches the playing device until it is dead or the show is over: why, and whether it had
    /// played long enough to be trusted again.
    fn watch(&mut self) -> (String, bool) {
        let (mut looks, mut quiet) = (0, 0);
        let mut seen = self.status.callbacks.load(Relaxed);
        loop {
            park_timeout(TICK);
            self.free_returned();
            looks += 1;
            let settled = looks > SETTLING;
            let callbacks = self.status.callbacks.load(Relaxed);
            quiet = if callbacks == seen { quiet + 1 } else { 0 };
            seen = callbacks;
            if self.status.is_closing() {
                return ("closed".into(), settled);
            }
            if self.status.broken.load(Relaxed) {
                let why = self.status.reported().unwrap_or_default();
                return (format!("device lost: {why}"), settled);
            }
            let ailing = self.status.hiccups.load(Relaxed) > 0;
            if quiet >= if settled || ailing { DEAD } else { SETTLING } {
                let why = self.status.reported().filter(|_| ailing);
                let why = why.unwrap_or_else(|| "it no longer asks for sound".into());
                return (format!("device lost: {why}"), settled);
            }
        }
    }

    /// Fetches the engine from the callback of a dropped device. The device's thread has ended, or
    /// was never begun: the engine is on its way.
    fn bring_home(&mut self) {
        if self.engine.is_none() {
            self.engine = self.home.1.recv().ok();
        }
        self.free_returned();
    }

    /// Lets the engine of a lost device play on into silence.
    fn fall_silent(&mut self) {
        self.bring_home();
        let rate = self.status.rate();
        self.silence = Silence::new(rate, self.output.channels());
        if let Some(engine) = &mut self.engine {
            engine.make_ready(rate);
            engine.reopened(rate);
        }
    }

    /// Plays into silence for `pause`.
    fn run_silent(&mut self, pause: Duration) {
        let end = Monotonic::now() + Span::from_us(pause.as_micros() as i64);
        while !self.status.is_closing() && Monotonic::now() < end {
            sleep(TICK / 2);
            if let Some(engine) = &mut self.engine {
                self.silence.play(engine);
            }
            self.free_returned();
        }
    }

    /// Frees the sounds the mixer is done with.
    fn free_returned(&mut self) {
        while self.returned.pop().is_ok() {}
    }
}

impl Silence {
    fn new(rate: u32, channels: u16) -> Self {
        let channels = usize::from(channels.max(1));
        Silence {
            clock: FrameClock::perfect(rate, Monotonic::now()),
            next: 0,
            channels,
            piece: vec![0.0; PIECE * channels],
        }
    }

    /// Has the engine mix everything that is past by now.
    fn play(&mut self, engine: &mut Engine) {
        let now = self.clock.frame(Monotonic::now()).unwrap_or(self.next);
        while self.next < now {
            let frames = (now - self.next).min(PIECE as i64);
            let piece = &mut self.piece[..frames as usize * self.channels];
            engine.process(piece, self.channels, self.next, &self.clock);
            self.next += frames;
        }
    }
}

/// What runs on the device's own thread.
struct Callback {
    engine: Option<Box<Engine>>,
    home: Sender<Box<Engine>>,
    status: Arc<Status>,
    rate: u32,
    clock: FrameClock,
    /// The count of the next frame.
    next: i64,
    channels: usize,
    piece: Vec<f32>,
    output_delay: Span,
    /// The device is playing out, or past, what it was given.
    dry: bool,
}

impl Callback {
    fn fill<T: SizedSample + FromSample<f32>>(&mut self, out: &mut [T], info: &OutputCallbackInfo) {
        if self.next == 0
            && let Some(engine) = &mut self.engine
        {
            engine.reopened(self.rate);
        }
        self.observe(info);
        for part in out.chunks_mut(self.piece.len()) {
            let piece = &mut self.piece[..part.len()];
            if let Some(engine) = &mut self.engine {
                engine.process(piece, self.channels, self.next, &self.clock);
            }
            for (to, from) in part.iter_mut().zip(piece.iter()) {
                *to = T::from_sample(*from);
            }
            self.next += (part.len() / self.channels) as i64;
        }
        self.status.callbacks.fetch_add(1, Relaxed);
        self.status.hiccups.store(0, Relaxed);
    }

    /// Sets the clock by this callback's timestamps, and notices when the device ran dry.
    fn observe(&mut self, info: &OutputCallbackInfo) {
        let now = Monotonic::now();
        let stamp = info.timestamp();
        let delay = stamp.playback.saturating_duration_since(stamp.callback);
        let delay = Span::from_us(delay.as_micros() as i64);
        let reported = self.status.xrun.swap(false, Relaxed);
        // Some backends play silence without a word when they run out: the frames asked for now
        // should have been playing already.
        let due = self.clock.heard(self.next).map(|at| at - self.output_delay);
        let dry = due.is_some_and(|due| now > due);
        if dry && !self.dry && !reported {
            self.status.underruns.fetch_add(1, Relaxed);
        }
        if reported || (dry && !self.dry) {
            self.clock.interrupted();
        }
        self.dry = dry;
        self.clock.offer(self.next, now + delay + self.output_delay);
        self.status.latency_us.store(delay.us(), Relaxed);
    }
}

impl Drop for Callback {
    fn drop(&mut self) {
        if let Some(engine) = self.engine.take() {
            let _ = self.home.send(engine);
        }
    }
}

/// The device of that system name or description, or the default one.
fn find(wanted: Option<&str>) -> Result<cpal::Device, String> {
    let host = cpal::default_host();
    let Some(wanted) = wanted else {
        return host
            .default_output_device()
            .ok_or_else(|| "this machine has no audio output".into());
    };
    let devices: Vec<_> = host
        .output_devices()
        .map_err(|error| error.to_string())?
        .collect();
    let system_name = |device: &cpal::Device| device.id().map(|id| id.id().to_owned());
    let found = devices.iter().find(|device| {
        system_name(device).is_ok_and(|name| name == wanted) || device.to_string() == wanted
    });
    found.cloned().ok_or_else(|| {
        let names: Vec<_> = devices.iter().filter_map(|d| system_name(d).ok()).collect();
        format!(
            "there is no output device \"{wanted}\": machine.toml may name {}",
            names.join(", ")
        )
    })
}

/// The narrowest configuration with enough channels, at 48 kHz if it can, in the finest samples.
fn best(
    ranges: &[SupportedStreamConfigRange],
    channels: u16,
) -> Option<&SupportedStreamConfigRange> {
    let format = |range: &SupportedStreamConfigRange| match range.sample_format() {
        SampleFormat::F32 => Some(0),
        SampleFormat::I32 => Some(1),
        SampleFormat::I16 => Some(2),
        _ => None,
    };
    let usable = ranges
        .iter()
        .filter(|range| range.channels() >= channels && format(range).is_some());
    usable.min_by_key(|range| {
        let at_rate = (range.min_sample_rate()..=range.max_sample_rate()).contains(&DEFAULT_RATE);
        (!at_rate, range.channels(), format(range))
    })
}

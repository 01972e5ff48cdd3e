//! How the output is, shared between the audio callback, the thread that keeps it and the show.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, AtomicU64, Ordering::Relaxed};

use cpal::ErrorKind;

use super::locked;
use crate::units::Span;

/// Frames a second while no device says otherwise.
pub(super) const DEFAULT_RATE: u32 = 48_000;

/// What a device reports that ends its sound, or may.
const KINDS: [ErrorKind; 9] = [
    ErrorKind::BackendError,
    ErrorKind::DeviceBusy,
    ErrorKind::DeviceNotAvailable,
    ErrorKind::HostUnavailable,
    ErrorKind::PermissionDenied,
    ErrorKind::ResourceExhausted,
    ErrorKind::StreamInvalidated,
    ErrorKind::UnsupportedConfig,
    ErrorKind::UnsupportedOperation,
];

/// A kind of error as a number above zero, for those who must not wait or ask for memory.
fn code_of(kind: ErrorKind) -> u32 {
    let place = KINDS.iter().position(|known| *known == kind);
    place.unwrap_or(KINDS.len()) as u32 + 1
}

/// How the output is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Health {
    /// The device that plays.
    pub device: Option<String>,
    /// Nothing is heard: there is no device.
    pub silent: bool,
    /// Why a device last could not be opened or was given up; it may be playing again.
    pub fault: Option<String>,
    /// How often the device ran out of sound, or a voice did.
    pub underruns: u64,
    /// How often a lost device was opened again.
    pub reopened: u64,
    /// Starts that found every voice taken.
    pub refused: u64,
    /// From the callback until its sound leaves the device.
    pub latency: Span,
}

/// The facts behind [`Health`]. The callbacks touch only the atomic ones.
#[derive(Debug)]
pub(super) struct Status {
    rate: AtomicU32,
    closing: AtomicBool,
    /// The device has reported an error it does not recover from.
    pub broken: AtomicBool,
    /// An underrun was reported, and the callback has not taken notice yet.
    pub xrun: AtomicBool,
    pub callbacks: AtomicU64,
    /// Unnamed errors since the last callback.
    pub hiccups: AtomicU32,
    pub underruns: AtomicU64,
    pub reopened: AtomicU64,
    pub latency_us: AtomicI64,
    /// What the device last reported, as [`code_of`]; 0 for nothing.
    reported: AtomicU32,
    device: Mutex<Option<String>>,
    fault: Mutex<Option<String>>,
}

impl Default for Status {
    fn default() -> Self {
        Status {
            rate: AtomicU32::new(DEFAULT_RATE),
            closing: AtomicBool::default(),
            broken: AtomicBool::default(),
            xrun: AtomicBool::default(),
            callbacks: AtomicU64::default(),
            hiccups: AtomicU32::default(),
            underruns: AtomicU64::default(),
            reopened: AtomicU64::default(),
            latency_us: AtomicI64::default(),
            reported: AtomicU32::default(),
            device: Mutex::default(),
            fault: Mutex::default(),
        }
    }
}

impl Status {
    pub fn rate(&self) -> u32 {
        self.rate.load(Relaxed)
    }

    pub fn close(&self) {
        self.closing.store(true, Relaxed);
    }

    pub fn is_closing(&self) -> bool {
        self.closing.load(Relaxed)
    }

    /// A device is about to play.
    pub fn opening(&self) {
        self.broken.store(false, Relaxed);
        self.xrun.store(false, Relaxed);
        self.hiccups.store(0, Relaxed);
        self.reported.store(0, Relaxed);
    }

    pub fn playing(&self, device: String, rate: u32) {
        self.rate.store(rate, Relaxed);
        *locked(&self.device) = Some(device);
    }

    pub fn lost(&self, why: String) {
        *locked(&self.device) = None;
        *locked(&self.fault) = Some(why);
    }

    /// The device's error callback: an error it does not recover from.
    pub fn broke(&self, error: ErrorKind) {
        self.reported.store(code_of(error), Relaxed);
        self.broken.store(true, Relaxed);
    }

    /// The device's error callback: an error it may recover from.
    pub fn hiccup(&self, error: ErrorKind) {
        self.reported.store(code_of(error), Relaxed);
        self.hiccups.fetch_add(1, Relaxed);
    }

    /// What the device has reported since it was opened.
    pub fn reported(&self) -> Option<String> {
        let code = self.reported.load(Relaxed) as usize;
        let kind = KINDS.get(code.checked_sub(1)?);
        Some(kind.map_or_else(|| "it reports a fault".into(), ToString::to_string))
    }

    /// Why a device was last given up or could not be opened, if one was.
    pub fn fault(&self) -> Option<String> {
        locked(&self.fault).clone()
    }

    pub fn health(&self, refused: u64, starved: u64) -> Health {
        let device = locked(&self.device).clone();
        Health {
            silent: device.is_none(),
            device,
            fault: self.fault(),
            underruns: self.underruns.load(Relaxed) + starved,
            reopened: self.reopened.load(Relaxed),
            refused,
            latency: Span::from_us(self.latency_us.load(Relaxed)),
        }
    }
}

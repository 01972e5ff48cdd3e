//! Tracks being decoded behind the show, on a thread of its own.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, channel};

use crate::live::playout::{Output, Playout};
use crate::live::session::Session;
use crate::sound::{Level, Media, SoundError};
use crate::units::Instant;

/// Frames a second tracks are decoded at when nothing is heard.
const UNHEARD_RATE: u32 = 48_000;

/// How far a track is.
#[derive(Debug, Clone)]
pub enum Loading {
    /// The document names no file that is there.
    Missing,
    /// Being decoded: parts in a thousand.
    Decoding(Arc<AtomicU32>),
    /// Ready to play.
    Ready(Arc<Media>),
    /// It cannot be played, and why.
    Failed(String),
}

/// What the loading thread gives.
pub(super) struct Loader {
    /// The output, once it is open.
    pub opened: Receiver<Playout>,
    /// Tracks that are loaded or cannot be.
    pub loaded: Receiver<(usize, Result<Media, SoundError>)>,
}

impl Loader {
    /// Begins to open the output and to load every track, what is needed first first; `media` gives each track's
    /// file. With it how far each track is, as in the show, and an error where the system has no thread for it.
    pub fn begin(
        session: &Session,
        now: Instant,
        output: Option<Output>,
        media: Vec<Option<PathBuf>>,
    ) -> (Loader, Vec<Loading>, Result<(), String>) {
        let (done, loaded) = channel();
        let (open, opened) = channel();
        let mut tracks = Vec::new();
        let mut wanted = Vec::new();
        for (i, (track, file)) in session.show().tracks.iter().zip(media).enumerate() {
            let Some(file) = file else {
                tracks.push(Loading::Missing);
                continue;
            };
            let share = Arc::new(AtomicU32::new(0));
            tracks.push(Loading::Decoding(share.clone()));
            wanted.push((i, file, Level::from(track), share));
        }
        wanted.sort_by_key(|&(i, ..)| need(session, i, now));
        let loading = move || {
            let mut rate = UNHEARD_RATE;
            if let Some(output) = output {
                let playout = Playout::open(output);
                rate = playout.rate();
                // Nobody listens any more when the show has been left.
                if open.send(playout).is_err() {
                    return;
                }
            }
            for (i, file, level, share) in wanted {
                let mut progress = |done: f32| share.store((done * 1_000.0) as u32, Relaxed);
                let media = Media::load(&file, rate, level, &mut progress);
                if done.send((i, media)).is_err() {
                    return;
                }
            }
        };
        let thread = std::thread::Builder::new().name("tracks".into());
        let begun = match thread.spawn(loading) {
            Ok(_) => Ok(()),
            Err(error) => Err(format!("tracks cannot be loaded: {error}")),
        };
        (Loader { opened, loaded }, tracks, begun)
    }
}

/// When a track is needed: those that should sound, those to come by their start, those started by hand,
/// those that are over.
fn need(session: &Session, track: usize, now: Instant) -> (u8, Instant) {
    let laid = &session.layout().tracks[track];
    match (laid.starts.instant(), laid.ends) {
        (_, Some(end)) if end <= now => (3, end),
        (Some(start), _) if start <= now => (0, start),
        (Some(start), _) => (1, start),
        (None, _) => (2, now),
    }
}

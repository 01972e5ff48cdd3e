//! Whoever is at the terminal of a live show: keys, and the signals that end the program.

use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use crossterm::event::{self, Event, KeyEvent};
use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM};

/// Keys as they come, and whether a signal has asked the program to end.
pub(super) struct Operator {
    keys: Receiver<KeyEvent>,
    ended: Arc<AtomicBool>,
}

impl Operator {
    /// Attends to keys and signals from now on. Keys are read by a thread of their own: a terminal that hangs
    /// up never lets go of who reads it.
    pub(super) fn attend() -> io::Result<Operator> {
        let ended = Arc::new(AtomicBool::new(false));
        for signal in [SIGINT, SIGTERM, SIGHUP, SIGQUIT] {
            signal_hook::flag::register(signal, ended.clone())?;
        }
        let (pressed, keys) = channel();
        let read = move || {
            while let Ok(event) = event::read() {
                if let Event::Key(key) = event
                    && pressed.send(key).is_err()
                {
                    return;
                }
            }
        };
        std::thread::Builder::new()
            .name("keys".into())
            .spawn(read)?;
        Ok(Operator { keys, ended })
    }

    /// Whether a signal has asked the program to end.
    pub(super) fn has_ended(&self) -> bool {
        self.ended.load(Relaxed)
    }

    /// The next key within `patience`. Where no key can come any more the show goes on without.
    pub(super) fn next_key(&mut self, patience: Duration) -> Option<KeyEvent> {
        match self.keys.recv_timeout(patience) {
            Ok(key) => Some(key),
            Err(RecvTimeoutError::Timeout) => None,
            Err(RecvTimeoutError::Disconnected) => {
                std::thread::sleep(patience);
                None
            }
        }
    }
}

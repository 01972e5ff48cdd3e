//! Playout: what the show's sound does at the machine's output, to the frame.
//!
//! A [`Playout`] takes [`Order`]s whose instants are those at which the crowd is to hear them, on
//! the machine's monotonic clock. Its own thread opens the output and opens it again when it is
//! lost; with none, it runs silent and keeps time, so that playheads move and the music comes back
//! in where it should be.
//!
//! * [`engine`]: the mixer, pure, run in the audio callback.
//! * [`Ahead`]: renders, on a thread of its own, what goes round or is bent.
//! * [`board`]: where the voices are, for anyone to read.
//! * [`clock`]: which frame is heard when.
//! * [`machine`]: the machine's own settings.
//! * [`standard_error`]: keeps the audio library's messages off the screen.

mod ahead;
pub mod board;
pub mod clock;
mod device;
pub mod engine;
mod fade;
pub mod machine;
mod master;
mod order;
pub mod standard_error;
mod status;
mod voice;

use std::sync::{Arc, Mutex, MutexGuard, PoisonError, mpsc};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rtrb::{Consumer, Producer};

pub use ahead::Ahead;
pub use board::Playhead;
pub use clock::Monotonic;
pub use engine::Started;
pub use machine::read_machine_settings;
pub use order::{Bus, Order, Sound, Start};
pub use standard_error::stderr_to;
pub use status::Health;

use crate::units::{Gain, Span};
use engine::{Engine, Lines, Routing};
use status::Status;

/// Where the sound leaves the machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Output {
    /// The device, by its system name or description; `None` is the system's default.
    pub device: Option<String>,
    /// Left and right socket of the programme, counted from 1.
    pub programme: (u16, u16),
    /// Left and right socket of the headphones.
    pub headphones: Option<(u16, u16)>,
    /// How long desk and loudspeakers take to make the sound heard after it has left the machine.
    pub output_delay: Span,
}

impl Default for Output {
    fn default() -> Self {
        Output {
            device: None,
            programme: (1, 2),
            headphones: None,
            output_delay: Span::ZERO,
        }
    }
}

impl Output {
    /// How many channels the device must have.
    fn channels(&self) -> u16 {
        let (left, right) = self.headphones.unwrap_or_default();
        let (a, b) = self.programme;
        a.max(b).max(left).max(right)
    }

    fn routing(&self) -> Routing {
        let pair = |(left, right): (u16, u16)| {
            let channel = |socket: u16| usize::from(socket.saturating_sub(1));
            (channel(left), channel(right))
        };
        Routing {
            programme: pair(self.programme),
            headphones: self.headphones.map(pair),
        }
    }
}

/// How long opening may keep the show from starting.
const OPENING: Duration = Duration::from_secs(3);
/// How long leaving waits for a device that does not let go.
const CLOSING: Duration = Duration::from_secs(1);

/// The machine's audio output, or its absence.
pub struct Playout {
    status: Arc<Status>,
    board: Arc<board::Board>,
    orders: Mutex<Producer<Order>>,
    started: Mutex<Consumer<Started>>,
    thread: Option<JoinHandle<()>>,
}

impl Playout {
    /// Opens the output. This never fails: what is wrong is in [`health`](Self::health), and goes on
    /// being tried.
    pub fn open(output: Output) -> Playout {
        let status = Arc::new(Status::default());
        let (engine, lines) = Engine::new(status::DEFAULT_RATE, output.routing());
        let Lines {
            orders,
            returned,
            started,
            board,
        } = lines;
        let (tried, first_try) = mpsc::channel();
        let keeper = device::Keeper::new(output, status.clone(), Box::new(engine), returned);
        let thread = std::thread::Builder::new()
            .name("playout".into())
            .spawn(move || keeper.run(&tried));
        let _ = first_try.recv_timeout(OPENING);
        Playout {
            status,
            board,
            orders: Mutex::new(orders),
            started: Mutex::new(started),
            thread: thread.ok(),
        }
    }

    /// Frames a second tracks are to be decoded at: the device's, or 48,000 while there is none.
    pub fn rate(&self) -> u32 {
        self.status.rate()
    }

    /// Gives the mixer an order. It is carried out from the next stretch of sound on, tens of
    /// milliseconds before that is heard. Returns whether there was room for it.
    pub fn send(&self, order: Order) -> bool {
        locked(&self.orders).push(order).is_ok()
    }

    /// How the output is.
    pub fn health(&self) -> Health {
        self.status
            .health(self.board.refused(), self.board.starved())
    }

    /// Where every sounding voice is now.
    pub fn playheads(&self) -> Vec<Playhead> {
        self.board.playheads(Monotonic::now())
    }

    /// The programme's peaks, left and right, since this was last asked.
    pub fn take_meters(&self) -> [Gain; 2] {
        self.board.take_meters()
    }

    /// How far the programme was taken down to stay below its ceiling, at most, since this was last asked.
    pub fn take_held(&self) -> Gain {
        self.board.take_held()
    }

    /// The voices that have begun since this was last asked.
    pub fn started(&self) -> Vec<Started> {
        let mut started = locked(&self.started);
        std::iter::from_fn(|| started.pop().ok()).collect()
    }
}

impl Drop for Playout {
    fn drop(&mut self) {
        self.status.close();
        let Some(thread) = self.thread.take() else {
            return;
        };
        thread.thread().unpark();
        let begun = Instant::now();
        while !thread.is_finished() && begun.elapsed() < CLOSING {
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// A poisoned lock guards a queue that is whole all the same.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

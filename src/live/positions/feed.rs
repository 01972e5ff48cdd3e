//! The thread that reads a feed.

use std::fs::File;
use std::io::{self, BufRead, BufReader};
use std::net::{TcpStream, ToSocketAddrs, UdpSocket};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::{Duration, Instant};

use super::Source;
use crate::position::epoch::Joiner;
use crate::position::log::{LONGEST_LINE, next_line};
use crate::position::nmea::{self, Broken, Sentence};
use crate::position::{DoubtKind, Fix};

/// How long nobody looks whether the feed is to end.
const PATIENCE: Duration = Duration::from_millis(250);
/// How soon a log begins once it is wanted, or goes on at another pace.
const SOON: Duration = Duration::from_millis(20);
/// From one attempt to connect to the next.
const AGAIN: Duration = Duration::from_secs(1);
/// How long an attempt to connect may take.
const CONNECT: Duration = Duration::from_secs(3);
/// What is not taken from the feed in time is dropped: the next is newer.
const WAITING: usize = 64;

/// What a feed said, and when it arrived.
#[derive(Debug, Clone)]
pub struct Received {
    /// By the monotonic clock.
    pub at: Instant,
    /// What.
    pub said: Said,
}

/// What a feed said.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// Where its aircraft is.
    Fix(Fix),
    /// A sentence that cannot be used, and why.
    Useless(&'static str),
    /// Nothing can be read from it, and why.
    Broken(String),
}

/// A feed being read by a thread of its own.
#[derive(Debug)]
pub struct Feed {
    received: Receiver<Received>,
    /// Whether somebody has begun to take what it says: a log begins then.
    wanted: Arc<AtomicBool>,
    ending: Arc<AtomicBool>,
    pace: Arc<Pace>,
}

/// How many times as fast as it was written a log is played back.
#[derive(Debug)]
struct Pace(AtomicU64);

impl Pace {
    fn set(&self, times: f64) {
        self.0.store(times.to_bits(), Ordering::Relaxed);
    }

    fn times(&self) -> f64 {
        f64::from_bits(self.0.load(Ordering::Relaxed))
    }
}

impl Feed {
    /// Begins to read. A log is played back `pace` times as fast as it was written, from when somebody first
    /// takes what has arrived; what cannot be opened is tried again and again. An address that cannot be listened at, or a file that is not there, is an error.
    pub fn open(source: Source, pace: f64) -> io::Result<Feed> {
        let (sender, received) = sync_channel(WAITING);
        let (wanted, ending) = (Arc::<AtomicBool>::default(), Arc::<AtomicBool>::default());
        let pace = Arc::new(Pace(AtomicU64::new(pace.to_bits())));
        let reader = Reader {
            sender,
            wanted: wanted.clone(),
            ending: ending.clone(),
            joiner: Joiner::new(None),
            pace: pace.clone(),
        };
        let socket = match &source {
            Source::Udp(address) => Some(UdpSocket::bind(address)?),
            Source::Tcp(_) => None,
            Source::File(path) => {
                std::fs::metadata(path)?;
                None
            }
        };
        std::thread::Builder::new()
            .name("positions".into())
            .spawn(move || reader.read(&source, socket))?;
        Ok(Feed {
            received,
            wanted,
            ending,
            pace,
        })
    }

    /// Plays a log back so many times as fast from now on; not at all for 0.
    pub fn play_at(&self, pace: f64) {
        self.pace.set(pace);
    }

    /// What has arrived since.
    pub fn take(&self) -> impl Iterator<Item = Received> {
        self.wanted.store(true, Ordering::Relaxed);
        self.received.try_iter()
    }
}

impl Drop for Feed {
    fn drop(&mut self) {
        self.ending.store(true, Ordering::Relaxed);
    }
}

struct Reader {
    sender: SyncSender<Received>,
    wanted: Arc<AtomicBool>,
    ending: Arc<AtomicBool>,
    joiner: Joiner,
    pace: Arc<Pace>,
}

impl Reader {
    fn read(mut self, source: &Source, socket: Option<UdpSocket>) {
        while !self.is_ending() {
            let ended = match source {
                Source::Udp(_) => match &socket {
                    Some(socket) => self.listen(socket),
                    None => return,
                },
                Source::Tcp(address) => self.connect(address),
                Source::File(path) if path.is_file() => match self.play_back(path) {
                    // It is played once.
                    Ok(()) => return,
                    Err(error) => Err(error),
                },
                Source::File(path) => self.follow(path),
            };
            if let Err(error) = ended {
                self.say(Said::Broken(error.to_string()));
            }
            self.pause(AGAIN);
        }
    }

    fn listen(&mut self, socket: &UdpSocket) -> io::Result<()> {
        socket.set_read_timeout(Some(PATIENCE))?;
        let mut datagram = [0; 2_048];
        while !self.is_ending() {
            match socket.recv(&mut datagram) {
                Ok(size) => {
                    for line in datagram[..size].split(|&b| b == b'\n') {
                        self.line(line);
                    }
                }
                Err(error) if is_waiting(&error) => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    fn connect(&mut self, address: &str) -> io::Result<()> {
        let mut refused = io::Error::other("the name has no address");
        for address in address.to_socket_addrs()? {
            match TcpStream::connect_timeout(&address, CONNECT) {
                Ok(stream) => {
                    stream.set_read_timeout(Some(PATIENCE))?;
                    self.lines(BufReader::new(stream))?;
                    return Err(io::Error::other("the other side has ended it"));
                }
                Err(error) => refused = error,
            }
        }
        Err(refused)
    }

    /// A device or a pipe, to its end.
    fn follow(&mut self, path: &Path) -> io::Result<()> {
        self.lines(BufReader::new(File::open(path)?))
    }

    fn lines(&mut self, mut source: impl BufRead) -> io::Result<()> {
        let mut line = Vec::new();
        let mut begun = Vec::new();
        while !self.is_ending() {
            match next_line(&mut source, &mut line) {
                Ok(true) => {
                    begun.append(&mut line);
                    self.line(&begun);
                    begun.clear();
                }
                Ok(false) => return Ok(()),
                // What has come of the line so far is kept.
                Err(error) if is_waiting(&error) => {
                    begun.append(&mut line);
                    begun.truncate(LONGEST_LINE);
                }
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// A log, in the time its fixes have.
    fn play_back(&mut self, path: &Path) -> io::Result<()> {
        let mut source = BufReader::new(File::open(path)?);
        while !self.wanted.load(Ordering::Relaxed) && !self.is_ending() {
            std::thread::sleep(SOON);
        }
        let mut line = Vec::new();
        let mut first = None;
        let mut played = Played {
            seconds: 0.0,
            until: Instant::now(),
        };
        while !self.is_ending() && next_line(&mut source, &mut line)? {
            let Some(said) = self.said(&line) else {
                continue;
            };
            if let Said::Fix(fix) = &said {
                let after = fix.at.duration_since(*first.get_or_insert(fix.at));
                let after = after.as_secs_f64();
                // What runs backwards, or into another day, is not waited for.
                while (0.0..86_400.0).contains(&after) && !self.is_ending() {
                    let left = after - played.go_on(self.pace.times());
                    if left <= 0.0 {
                        break;
                    }
                    let wait = left / self.pace.times().max(f64::MIN_POSITIVE);
                    std::thread::sleep(SOON.min(Duration::try_from_secs_f64(wait).unwrap_or(SOON)));
                }
            }
            self.say(said);
        }
        Ok(())
    }

    fn line(&mut self, line: &[u8]) {
        if let Some(said) = self.said(line) {
            self.say(said);
        }
    }

    /// What a line says; `None` for what is no concern of a feed.
    fn said(&mut self, line: &[u8]) -> Option<Said> {
        let useless = |why| Some(Said::Useless(why));
        let rmc = match nmea::sentence(line) {
            Ok(Sentence::Rmc(rmc)) => rmc,
            Ok(Sentence::Gga(_) | Sentence::Other) => return None,
            Err(Broken::Checksum) => return useless("checksums are missing or wrong"),
            Err(Broken::NoSentence | Broken::Field) => return useless("it cannot be read"),
        };
        match self.joiner.alone(rmc) {
            Ok(fix) => Some(Said::Fix(fix)),
            Err(DoubtKind::Unmeasured) => useless("the receiver has no position"),
            Err(DoubtKind::Dateless) => useless("its sentences have no date"),
            Err(_) => useless("its sentences lack time or place"),
        }
    }

    fn say(&self, said: Said) {
        // If nobody takes it in time, or at all any more, it is lost: the next is newer.
        let _ = self.sender.try_send(Received {
            at: Instant::now(),
            said,
        });
    }

    fn is_ending(&self) -> bool {
        self.ending.load(Ordering::Relaxed)
    }

    fn pause(&self, length: Duration) {
        let until = Instant::now() + length;
        while !self.is_ending() {
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return;
            }
            std::thread::sleep(left.min(PATIENCE));
        }
    }
}

/// How much of a log has been played.
struct Played {
    seconds: f64,
    until: Instant,
}

impl Played {
    /// Plays until now; gives the seconds of the log that are behind.
    fn go_on(&mut self, pace: f64) -> f64 {
        let now = Instant::now();
        self.seconds += pace * (now - self.until).as_secs_f64();
        self.until = now;
        self.seconds
    }
}

fn is_waiting(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::WouldBlock | io::ErrorKind::TimedOut | io::ErrorKind::Interrupted
    )
}

//! The program in a terminal: a pseudo-terminal whose screen can be read and whose keys can be pressed.
#![allow(dead_code, reason = "each test uses its own part")]

use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::process::Command;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, SlavePty, native_pty_system};

/// How long a program may take to show, or to end: a machine that takes longer has stopped.
pub const PATIENCE: Duration = Duration::from_secs(60);
/// The alternate screen entered and left (the DEC private mode 1049 of xterm's control sequences).
pub const ENTER: &str = "\x1b[?1049h";
pub const LEAVE: &str = "\x1b[?1049l";
/// The cursor shown.
pub const SHOW_CURSOR: &str = "\x1b[?25h";
/// The key of a presenter's remote (PageDown in xterm's control sequences).
pub const PAGE_DOWN: &str = "\x1b[6~";
/// Its other key (PageUp).
pub const PAGE_UP: &str = "\x1b[5~";

/// A program that runs in a pseudo-terminal; killed when dropped.
pub struct Program {
    child: Running,
    keys: Box<dyn Write + Send>,
    seen: Arc<Mutex<Seen>>,
    reader: JoinHandle<()>,
    master: Box<dyn MasterPty + Send>,
    slave: Box<dyn SlavePty + Send>,
    /// How the terminal was set before.
    before: String,
}

/// The program's process, which does not outlive the test.
struct Running(Box<dyn Child + Send + Sync>);

impl Drop for Running {
    fn drop(&mut self) {
        if let Ok(None) = self.0.try_wait() {
            let _ = self.0.kill();
        }
    }
}

/// What came out of it.
struct Seen {
    parser: vt100::Parser,
    bytes: Vec<u8>,
}

/// A program that has ended.
pub struct Ended {
    pub success: bool,
    pub code: u32,
    /// Everything it wrote.
    pub bytes: String,
    /// What is on the screen afterwards.
    pub screen: String,
    /// Whether the alternate screen is still up.
    pub alternate: bool,
    /// Whether the cursor is hidden.
    pub hidden: bool,
    /// How the terminal is set, and how it was set before.
    pub modes: (String, String),
}

impl Program {
    /// Starts `program` in a terminal of `columns` × `rows`, with nothing of the user's environment but
    /// `env` and the path.
    pub fn start(
        program: &str,
        arguments: &[&str],
        env: &[(String, String)],
        (columns, rows): (u16, u16),
    ) -> Program {
        let size = PtySize {
            rows,
            cols: columns,
            pixel_width: 0,
            pixel_height: 0,
        };
        let pair = native_pty_system()
            .openpty(size)
            .expect("a pseudo-terminal");
        let before = modes(&*pair.master);
        let mut command = CommandBuilder::new(program);
        command.args(arguments);
        command.env_clear();
        command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
        command.env("TERM", "xterm-256color");
        command.env("TZ", "UTC");
        for (name, value) in env {
            command.env(name, value);
        }
        let child = pair.slave.spawn_command(command).expect("the program");
        let keys = pair.master.take_writer().expect("its keys");
        let mut output = pair.master.try_clone_reader().expect("its screen");
        let positive = |n| NonZeroU16::new(n).expect("a screen of some size");
        let seen = Arc::new(Mutex::new(Seen {
            parser: vt100::Parser::new(positive(rows), positive(columns), 0),
            bytes: Vec::new(),
        }));
        let seeing = seen.clone();
        let reader = std::thread::spawn(move || {
            let mut buffer = vec![0; 1 << 16];
            while let Ok(length @ 1..) = output.read(&mut buffer) {
                let mut seen = seeing.lock().unwrap_or_else(PoisonError::into_inner);
                seen.parser.process(&buffer[..length]);
                seen.bytes.extend(&buffer[..length]);
            }
        });
        Program {
            child: Running(child),
            keys,
            seen,
            reader,
            master: pair.master,
            slave: pair.slave,
            before,
        }
    }

    pub fn id(&self) -> u32 {
        self.child.0.process_id().expect("a running program")
    }

    /// Presses a key, or types a sequence that stands for one.
    pub fn key(&mut self, key: &str) {
        self.keys.write_all(key.as_bytes()).expect("a terminal");
        self.keys.flush().expect("a terminal");
    }

    /// What is on the screen now.
    pub fn screen(&self) -> String {
        self.seen().parser.screen().contents()
    }

    /// Everything written so far.
    pub fn written(&self) -> String {
        String::from_utf8_lossy(&self.seen().bytes).into_owned()
    }

    fn seen(&self) -> std::sync::MutexGuard<'_, Seen> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until the screen gives what is looked for.
    pub fn until<T>(&self, what: &str, mut look: impl FnMut(&str) -> Option<T>) -> T {
        let begun = Instant::now();
        loop {
            let screen = self.screen();
            if let Some(found) = look(&screen) {
                return found;
            }
            assert!(
                begun.elapsed() < PATIENCE,
                "the screen never showed {what}; it shows:\n{screen}"
            );
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    /// Waits until the screen has these words.
    pub fn until_shown(&self, words: &str) {
        self.until(words, |screen| screen.contains(words).then_some(()));
    }

    /// What is underlined on the screen now, on one line.
    pub fn underlined(&self) -> String {
        let seen = self.seen();
        let screen = seen.parser.screen();
        let (rows, columns) = screen.size();
        let mut text = String::new();
        for row in 0..rows.get() {
            let cells = (0..columns.get()).filter_map(|column| screen.cell(row, column));
            text.extend(cells.filter(|cell| cell.underline()).map(|cell| {
                if cell.contents().is_empty() {
                    " "
                } else {
                    cell.contents()
                }
            }));
            text.push(' ');
        }
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Waits until exactly these words are underlined.
    pub fn until_underlined(&self, words: &str) {
        let what = format!("{words}, underlined");
        self.until(&what, |_| (self.underlined() == words).then_some(()));
    }

    /// Sends it a signal: `"-TERM"`.
    pub fn signal(&self, signal: &str) {
        let id = self.id().to_string();
        let status = Command::new("kill").args([signal, &id]).status();
        assert!(status.expect("kill").success());
    }

    /// Waits until it has ended.
    pub fn end(mut self) -> Ended {
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = self.child.0.try_wait().expect("the program's status") {
                break status;
            }
            assert!(
                begun.elapsed() < PATIENCE,
                "the program does not end; it shows:\n{}",
                self.screen()
            );
            std::thread::sleep(Duration::from_millis(10));
        };
        let modes = (modes(&*self.master), self.before);
        // With the last slave closed the reader comes to its end.
        drop(self.slave);
        self.reader.join().expect("the reader");
        let seen = self.seen.lock().unwrap_or_else(PoisonError::into_inner);
        let screen = seen.parser.screen();
        Ended {
            success: status.success(),
            code: status.exit_code(),
            bytes: String::from_utf8_lossy(&seen.bytes).into_owned(),
            screen: screen.contents(),
            alternate: screen.alternate_screen(),
            hidden: screen.hide_cursor(),
            modes,
        }
    }
}

impl Ended {
    /// Fails unless the terminal is as it was before.
    pub fn assert_restored(&self) {
        assert!(self.bytes.contains(ENTER), "it had the whole screen");
        assert!(!self.alternate, "the alternate screen is left");
        assert!(!self.hidden, "the cursor is back");
        assert_eq!(self.modes.0, self.modes.1, "the terminal is set as it was");
    }
}

/// The terminal's modes, in words.
fn modes(master: &dyn MasterPty) -> String {
    format!("{:?}", master.get_termios().expect("the terminal's modes"))
}

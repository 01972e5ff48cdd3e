//! The terminal of a live show: keys in, frames out, restored on every way out.

use std::fs::File;
use std::io::{self, IsTerminal, Write, stdout};
use std::time::{Duration, Instant};

use crossterm::event::{KeyCode, KeyModifiers};
use crossterm::execute;
use crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::layout::Rect;
use ratatui::widgets::{Paragraph, Wrap};

use super::facts::{clock_face, desk_facts, practice_clock, practice_facts};
use super::operator::Operator;
use super::spotter::{Spotter, Unwritten};
use crate::live::Stage;
use crate::live::clock::Reading;
use crate::practice::rehearsal::{Rehearsal, Told};
use crate::screens::{Page, Panel, PracticeWish, Scene, Theme, Wish};
use crate::sound;
use crate::units::Span;

/// Twenty frames a second.
const FRAME: Duration = Duration::from_millis(50);

/// Runs a show in the terminal until it is left or a signal ends the program. Left on purpose, its
/// journal is closed; ended by a signal, the show can be gone on with.
///
/// Gives what was changed of the document and is not written yet.
pub(super) fn run(
    mut stage: Stage,
    operator: &mut Operator,
    mut spotter: Spotter,
) -> io::Result<Option<Unwritten>> {
    let mut screen = Screen::enter()?;
    let mut panel = Panel::new(theme());
    while !operator.has_ended() {
        let drawn = Instant::now();
        stage.tick();
        spotter.attend(&stage, &mut panel);
        screen.draw(&stage, &mut panel)?;
        while let Some(key) = operator.next_key(FRAME.saturating_sub(drawn.elapsed())) {
            stage.tick();
            spotter.attend(&stage, &mut panel);
            for wish in panel.key(key, stage.session()) {
                match wish {
                    Wish::Happen(what) => stage.happen(what),
                    // A show is not practised.
                    Wish::Practise(_) => {}
                    Wish::Quit => {
                        drop(screen);
                        stage.close();
                        return Ok(Unwritten::of(&mut panel, true));
                    }
                    wish => spotter.grant(wish, &mut stage, &mut panel),
                }
            }
        }
    }
    Ok(Unwritten::of(&mut panel, false))
}

/// Runs a practice in the terminal until it is left, at a pace. Gives what came of it.
pub(super) fn practise(
    mut rehearsal: Rehearsal,
    pace: f64,
    operator: &mut Operator,
) -> io::Result<Told> {
    let mut screen = Screen::enter()?;
    let mut panel = Panel::practising(theme());
    let begun = Instant::now();
    let (mut started, mut reported) = (false, false);
    let mut leave = false;
    while !leave && !operator.has_ended() {
        let drawn = Instant::now();
        rehearsal.tick();
        if std::mem::replace(&mut reported, rehearsal.report().is_some()) != reported && reported {
            panel.show(Page::Practice);
        }
        screen.draw_practice(&rehearsal, &mut panel)?;
        while let Some(key) = operator.next_key(FRAME.saturating_sub(drawn.elapsed())) {
            rehearsal.tick();
            let pressed = Span::from_us(begun.elapsed().as_micros() as i64);
            // Nothing runs behind the cautions.
            if !std::mem::replace(&mut started, true) {
                rehearsal.run_at(pace);
            }
            for wish in panel.key_at(key, pressed, rehearsal.stage().session()) {
                leave |= wish == Wish::Quit;
                follow(wish, &mut rehearsal);
            }
        }
    }
    drop(screen);
    let report = rehearsal.report_so_far();
    rehearsal.close();
    Ok(report)
}

/// Does what somebody practising wishes.
fn follow(wish: Wish, rehearsal: &mut Rehearsal) {
    match wish {
        Wish::Happen(what) => rehearsal.happen(what),
        Wish::Practise(PracticeWish::Pause) => rehearsal.pause(),
        Wish::Practise(PracticeWish::Faster) => rehearsal.change_pace(true),
        Wish::Practise(PracticeWish::Slower) => rehearsal.change_pace(false),
        Wish::Practise(PracticeWish::OnceMore) => rehearsal.once_more(),
        Wish::Practise(PracticeWish::Figure(key)) => rehearsal.go_to(&key),
        Wish::Practise(PracticeWish::Narrator) => {
            rehearsal.simulate_narrator(!rehearsal.is_simulated());
        }
        // A practice changes no document.
        Wish::Spot(_) | Wish::Hear(_) | Wish::HearNothing | Wish::Write | Wish::Quit => {}
    }
}

/// Waits for the time hack of a show that has no start of its own: the instant of the key, or `None` if
/// somebody would rather leave.
pub(super) fn await_hack(title: &str, operator: &mut Operator) -> io::Result<Option<Reading>> {
    let mut screen = Screen::enter()?;
    let text = format!(
        "{title}\n\nThis show starts on a time hack.\nPress Enter at the hack: the show clock then stands at 0:00, show zero.\nq leaves."
    );
    while !operator.has_ended() {
        screen.terminal.draw(|frame| {
            let area = frame.area();
            let middle = Rect {
                y: area.height / 3,
                height: area.height - area.height / 3,
                ..area
            };
            frame.render_widget(
                Paragraph::new(text.as_str())
                    .centered()
                    .wrap(Wrap { trim: true }),
                middle,
            );
        })?;
        if let Some(key) = operator.next_key(FRAME) {
            let reading = Reading::now();
            match key.code {
                KeyCode::Enter => return Ok(Some(reading)),
                KeyCode::Char('q') => return Ok(None),
                KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => {
                    return Ok(None);
                }
                _ => {}
            }
        }
    }
    Ok(None)
}

/// Plain where colour is refused, else dark.
fn theme() -> Theme {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    if refused { Theme::Plain } else { Theme::Dark }
}

/// The terminal while a show is on it.
struct Screen {
    terminal: Terminal<CrosstermBackend<Box<dyn Write>>>,
}

impl Screen {
    fn enter() -> io::Result<Screen> {
        restore_on_panic();
        enable_raw_mode()?;
        // From here on dropping the screen puts everything back.
        let terminal = Terminal::new(CrosstermBackend::new(console()));
        let entered = terminal.and_then(|terminal| {
            execute!(console(), EnterAlternateScreen)?;
            Ok(terminal)
        });
        match entered {
            Ok(terminal) => Ok(Screen { terminal }),
            Err(error) => {
                restore();
                Err(error)
            }
        }
    }

    fn draw_practice(&mut self, rehearsal: &Rehearsal, panel: &mut Panel) -> io::Result<()> {
        let stage = rehearsal.stage();
        let desk = desk_facts(stage);
        let scene = Scene {
            session: stage.session(),
            clock: practice_clock(stage.session()),
            desk: &desk,
            practice: Some(&practice_facts(rehearsal)),
        };
        self.terminal.draw(|frame| panel.draw(&scene, frame))?;
        Ok(())
    }

    fn draw(&mut self, stage: &Stage, panel: &mut Panel) -> io::Result<()> {
        let desk = desk_facts(stage);
        let scene = Scene {
            session: stage.session(),
            clock: clock_face(stage),
            desk: &desk,
            practice: None,
        };
        self.terminal.draw(|frame| panel.draw(&scene, frame))?;
        Ok(())
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        restore();
    }
}

/// Where frames go: standard output, or the terminal itself where that is written to a file.
fn console() -> Box<dyn Write> {
    let written_elsewhere = !stdout().is_terminal();
    let terminal = written_elsewhere.then(|| File::options().write(true).open("/dev/tty"));
    match terminal {
        Some(Ok(terminal)) => Box::new(terminal),
        _ => Box::new(stdout()),
    }
}

/// Puts the terminal back. What fails here has nowhere left to be said.
fn restore() {
    let _ = execute!(console(), LeaveAlternateScreen, crossterm::cursor::Show);
    let _ = disable_raw_mode();
}

/// A panic on this thread puts the terminal back and says what to do. One on another thread leaves the show
/// on the screen, and one that is caught by the decoders is none.
fn restore_on_panic() {
    let screen = std::thread::current().id();
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        if sound::guard::panic_is_caught() {
            return;
        }
        if std::thread::current().id() == screen {
            restore();
            // Standard error is a log by now; if this cannot be said either, the exit code says it.
            let _ = writeln!(
                console(),
                "abeam: stopped by a fault of its own: {info}\n\
                 Start it again without --from and --fresh, and the show goes on where it should be by then."
            );
        }
        before(info);
    }));
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use portable_pty::{CommandBuilder, PtySize, native_pty_system};

    use super::*;

    const LEAVE: &str = "\x1b[?1049l";

    /// What a test of this module, run as a program in a terminal of its own, writes there; and whether
    /// the terminal is set afterwards as it was before.
    fn in_a_terminal(test: &str) -> (String, bool) {
        let pair = native_pty_system()
            .openpty(PtySize::default())
            .expect("a pseudo-terminal");
        let modes = || pair.master.get_termios().expect("the terminal's modes");
        let before = modes();
        let mut command = CommandBuilder::new(std::env::current_exe().expect("this program"));
        let name = format!("commands::terminal::tests::{test}");
        command.args(["--ignored", "--exact", &name, "--nocapture"]);
        let mut child = pair.slave.spawn_command(command).expect("this program");
        let mut output = pair.master.try_clone_reader().expect("its output");
        let reader = std::thread::spawn(move || {
            let mut bytes = Vec::new();
            // The end of a pseudo-terminal is an error.
            let _ = output.read_to_end(&mut bytes);
            String::from_utf8_lossy(&bytes).into_owned()
        });
        child.wait().expect("its end");
        let restored = modes() == before;
        drop(pair.slave);
        (reader.join().expect("its output"), restored)
    }

    #[test]
    #[ignore = "another test runs it in a terminal of its own"]
    fn panics_on_the_screen() {
        let _screen = Screen::enter().expect("a terminal");
        panic!("as it was told to");
    }

    #[test]
    #[ignore = "another test runs it in a terminal of its own"]
    fn panics_beside_the_screen() {
        let _screen = Screen::enter().expect("a terminal");
        let beside = std::thread::spawn(|| panic!("as it was told to"));
        assert!(beside.join().is_err());
        println!("the show goes on");
    }

    #[test]
    fn a_panic_restores_the_terminal_and_says_how_to_go_on() {
        let (written, restored) = in_a_terminal("panics_on_the_screen");
        assert!(restored);
        let (_, after) = written.split_once(LEAVE).expect("the screen is left");
        let (_, said) = after
            .split_once("abeam: stopped by a fault of its own")
            .expect("the message");
        assert!(said.contains("as it was told to"), "{said}");
        assert!(said.contains("without --from and --fresh"), "{said}");
    }

    #[test]
    fn a_panic_on_another_thread_leaves_the_show_on_the_screen() {
        let (written, restored) = in_a_terminal("panics_beside_the_screen");
        assert!(restored);
        let (on_screen, _) = written.split_once(LEAVE).expect("the screen is left");
        assert!(on_screen.contains("the show goes on"), "{on_screen}");
    }
}

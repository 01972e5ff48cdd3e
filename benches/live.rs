//! A live show in a terminal: how soon it is up, and what it costs while nothing happens. Prints figures
//! beside their targets; a busy machine makes them worse, so nothing is asserted.

#[path = "../tests/desk/mod.rs"]
mod desk;
#[path = "../tests/memorial/mod.rs"]
mod memorial;
#[path = "../tests/pty/mod.rs"]
mod pty;

use std::time::{Duration, Instant};

use desk::NullSink;
use memorial::Folder;
use pty::Program;

/// Ticks of `/proc/PID/stat` in a second: Linux shows all programs 100 (proc(5), sysconf(3)).
const TICKS: f64 = 100.0;
const WATCHED: Duration = Duration::from_secs(10);
const STARTS: usize = 10;

fn main() {
    let folder = Folder::new();
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/cues/lantern-lake.toml");
    let sink = NullSink::start();
    let mut env = folder.env();
    env.extend(sink.env());

    let mut firsts: Vec<Duration> = (0..STARTS).map(|_| first_frame(demo, &env)).collect();
    firsts.sort_unstable();
    println!(
        "first frame of the demonstration show: {:.0} ms, the quickest of {STARTS} {:.0} ms (target 300 ms)",
        ms(firsts[STARTS / 2]),
        ms(firsts[0])
    );
    for (size, name) in [((80, 24), "80 × 24"), ((200, 60), "200 × 60")] {
        for page in ["Stand", "Desk"] {
            let silent = idle(demo, &["--silent"], page, &env, size);
            let heard = idle(demo, &[], page, &env, size);
            println!(
                "idle show, {page} at {name}: {:.1} % of a core with sound, {:.1} % without (target 5 %)",
                heard * 100.0,
                silent * 100.0
            );
        }
    }
}

/// From starting the program until there is something on the screen.
fn first_frame(demo: &str, env: &[(String, String)]) -> Duration {
    let begun = Instant::now();
    let program = start(demo, &[], env, (120, 40));
    while !program.written().contains("flight") {
        std::thread::sleep(Duration::from_millis(1));
    }
    let took = begun.elapsed();
    program.signal("-TERM");
    program.end();
    took
}

/// The share of a core an idle show takes once everything is decoded.
fn idle(
    demo: &str,
    arguments: &[&str],
    page: &str,
    env: &[(String, String)],
    size: (u16, u16),
) -> f64 {
    let mut program = start(demo, arguments, env, size);
    program.until_shown("before you begin");
    program.key(" ");
    program.key("\t");
    program.until_shown("tracks");
    program.until("every track decoded", |screen| {
        (!screen.contains("decoded")).then_some(())
    });
    std::thread::sleep(Duration::from_secs(3));
    if page == "Stand" {
        program.key("\t");
        program.until_shown("what is to come");
    }
    let before = ticks(program.id());
    let begun = Instant::now();
    std::thread::sleep(WATCHED);
    let spent = (ticks(program.id()) - before) / TICKS;
    let share = spent / begun.elapsed().as_secs_f64();
    program.signal("-TERM");
    program.end();
    share
}

fn start(demo: &str, arguments: &[&str], env: &[(String, String)], size: (u16, u16)) -> Program {
    let mut all = vec!["show", demo, "--fresh", "--from", "-70 s"];
    all.extend(arguments);
    Program::start(env!("CARGO_BIN_EXE_abeam"), &all, env, size)
}

/// User and system time so far, in ticks: the 14th and 15th field of `/proc/PID/stat` (proc(5)).
fn ticks(id: u32) -> f64 {
    let stat = std::fs::read_to_string(format!("/proc/{id}/stat")).expect("a running program");
    let (_, fields) = stat.rsplit_once(')').expect("its name");
    let fields: Vec<&str> = fields.split_whitespace().collect();
    let field = |number: usize| fields[number - 3].parse::<f64>().expect("ticks");
    field(14) + field(15)
}

fn ms(span: Duration) -> f64 {
    span.as_secs_f64() * 1e3
}

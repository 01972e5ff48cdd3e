//! Flying a whole display leg by leg: 40 figures, twenty minutes of loops, rolls, turns and runs that follow energy.
//! Target: 2 ms in the day's wind, and as little with the winds a metre a second either way that its spread is told
//! from, as it is flown when a show is opened and whenever the order of figures changes. And `abeam times` of it as a
//! process: target 50 ms.

use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};

use abeam::flight::{FlownFigure, entries, fly, fly_for_times};
use abeam::show::load::read;
use abeam::show::{Severity, Show};
use criterion::{Criterion, criterion_group, criterion_main};

/// Four figures that lead back onto the line they were flown on, headed for centre.
const ROUND: [&str; 4] = [
    r#"{ run = "to centre", height = "500 ft", pass = true },
       { roll = "360 deg", power = 0 },
       { run = "for 0.1 nmi" },
       { turn = "90 deg", g = 8 },
       { turn = "270 deg", g = 8, towards = "back" }"#,
    r#"{ run = "to centre", height = "500 ft", speed = "to 270 kt", gain = "10 kt/s", pass = true },
       { pull = "360 deg", radius = "150 m", power = 0.6 },
       { run = "for 0.1 nmi", speed = "to 270 kt", gain = "10 kt/s" },
       { turn = "90 deg", g = 8 },
       { turn = "270 deg", g = 8, towards = "back" }"#,
    r#"{ run = "to centre", height = "500 ft", speed = "to 270 kt", gain = "10 kt/s", pass = true },
       { pull = "225 deg", radius = "180 m" },
       { roll = "180 deg", power = 0 },
       { pull = "to level", g = 4, power = 0 },
       { run = "for 0.2 nmi" },
       { turn = "180 deg", g = 4, speed = "energy", power = 0.5 }"#,
    r#"{ run = "to centre", height = "500 ft", speed = "to 270 kt", gain = "10 kt/s", pass = true },
       { pull = "180 deg", radius = "150 m" },
       { roll = "180 deg" },
       { run = "for 0.05 nmi", speed = "energy", power = 0.4 },
       { push = "to -45 deg", g = -0.5 },
       { run = "to height 850 ft", pitch = "-45 deg", power = -0.5 },
       { pull = "to level", g = 4, power = 0 },
       { run = "for 0.1 nmi" },
       { turn = "90 deg", g = 8 },
       { turn = "270 deg", g = 8, towards = "back" }"#,
];
const FIGURES: usize = 40;
const MINUTES: f64 = 20.0;

fn display() -> String {
    let id = |i: usize| format!("f{i}");
    let order: Vec<String> = (0..FIGURES).map(|i| format!("\"{}\"", id(i))).collect();
    let mut text = format!(
        "[show]\ntitle = \"Forty figures\"\n[profile.only]\norder = [{}]\n[site]\nelevation = \"412 ft\"\n\
         line_bearing = 64\nline_distance = \"230 m\"\n[day]\nwind = [\n\
         {{ height = \"0 ft\", from = 230, speed = \"9 kt\" }},\n\
         {{ height = \"3000 ft\", from = 250, speed = \"22 kt\" }},\n]\n\
         [aircraft.solo]\nroll_rate = 240\nclimb_power = \"60 m/s\"\ninduced = \"3 m/s\"\nstall = \"50 kt\"\n",
        order.join(", ")
    );
    for i in 0..FIGURES {
        let from = if i % 4 == 1 { "right" } else { "left" };
        let start = if i == 0 {
            "{ hold = \"2 nmi\", expect = \"30 s\" },\n{ run = \"for 1 nmi\", speed = \"280 kt\", height = \"500 ft\" },\n"
        } else {
            ""
        };
        text += &format!(
            "[[figure]]\nid = \"{}\"\nfrom = \"{from}\"\nlegs = [\n{start}{}\n]\n",
            id(i),
            ROUND[i % ROUND.len()]
        );
    }
    text
}

fn show() -> Show {
    let (show, faults) = read("forty-figures.toml", &display());
    show.unwrap_or_else(|| panic!("{faults:?}"))
}

fn forty_figures(criterion: &mut Criterion) {
    let show = show();
    let entries = entries(&show, &show.profile);
    let flight = fly(&show, &show.day, &entries);
    let errors = flight.faults.iter();
    let errors: Vec<_> = errors
        .filter(|fault| fault.severity == Severity::Error)
        .collect();
    assert!(errors.is_empty(), "{errors:?}");
    let takes = |figure: &FlownFigure| figure.points.last().map_or(0.0, |end| end.after.s());
    let minutes = flight.figures.iter().map(takes).sum::<f64>() / 60.0;
    assert!((minutes - MINUTES).abs() < 0.5, "it takes {minutes:.1} min");
    let display = format!("{} figures, {minutes:.1} minutes", flight.figures.len());
    criterion.bench_function(
        &format!("{display}, in one wind (target 2 ms)"),
        |bencher| {
            bencher.iter(|| fly_for_times(black_box(&show), &show.day, black_box(&entries)));
        },
    );
    let name = format!("{display}, with the winds its spread is told from");
    criterion.bench_function(&name, |bencher| {
        bencher.iter(|| fly(black_box(&show), &show.day, black_box(&entries)));
    });
}

fn times_as_a_process(criterion: &mut Criterion) {
    let document = Path::new(env!("CARGO_TARGET_TMPDIR")).join("forty-figures.toml");
    std::fs::write(&document, display()).expect("a file in the target folder");
    let times = || {
        let mut times = Command::new(env!("CARGO_BIN_EXE_abeam"));
        times.arg("times").arg(&document).stdout(Stdio::null());
        let status = times.stderr(Stdio::null()).status().expect("the program");
        assert!(status.success(), "{status}");
    };
    criterion.bench_function(
        "`abeam times` of them as a process (target 50 ms)",
        |bencher| {
            bencher.iter(times);
        },
    );
}

criterion_group!(benches, forty_figures, times_as_a_process);
criterion_main!(benches);

//! The best versions of sixty blocks, as a running show asks for them at every estimate (target 5 ms; the whole of
//! a mark, with this in it, has 100 µs, see `show`), and how long it takes to read the words of a show.

use std::fmt::Write;
use std::hint::black_box;

use abeam::script::readings;
use abeam::show::Show;
use abeam::show::load::read;
use abeam::timeline::lay::lay;
use abeam::timeline::{Begun, Facts, Plan, Version};
use criterion::{Criterion, criterion_group, criterion_main};

const HEAD: &str = r#"
[show]
title = "Words"
profile = "high"
[profile.high]
order = ["one"]
[site]
elevation = "100 m"
line_bearing = 90
line_distance = "230 m"
[aircraft.solo]
name = "Lantern One"
[[figure]]
id = "one"
name = "One"
aircraft = "solo"
takes = "1200 s"
"#;

/// Sixty blocks of about seven seconds, three seconds in short, no three as long; the `i`th begins when `starts` says.
fn varied(starts: impl Fn(usize) -> String, more: &str) -> Show {
    let names = [
        "Ann",
        "Isabella",
        "Bartholomew",
        "Jo",
        "Penelope",
        "Maximilian",
        "Rosalind",
    ];
    let say = |i: usize, text: &str| {
        text.replace("the one", &format!("{} {}", names[i % 7], names[i / 7 % 7]))
    };
    written(starts, say, more)
}

/// Sixty blocks of seven seconds, three seconds in short; the `i`th begins when `starts` says.
fn show(starts: impl Fn(usize) -> String, more: &str) -> Show {
    written(starts, |_, text| text.to_owned(), more)
}

fn written(
    starts: impl Fn(usize) -> String,
    say: impl Fn(usize, &str) -> String,
    more: &str,
) -> Show {
    let mut text = HEAD.to_owned();
    for i in 0..60 {
        let keep = ["must", "should", "may"][i % 3];
        let full = say(
            i,
            "This is what is said of the pass that comes now, and of the one who flies it.",
        );
        let short = say(i, "This is what is said of the one.");
        let _ = write!(
            text,
            r#"
[[block]]
id = "words-{i}"
text = "{full}"
short = "{short}"
keep = "{keep}"
starts = "{}"
"#,
            starts(i)
        );
    }
    let (show, faults) = read("words.toml", &(text + more));
    show.unwrap_or_else(|| panic!("{faults:#?}"))
}

fn fit(criterion: &mut Criterion) {
    let after = |i: usize| format!("words-{}.end + 0.5 s", i - 1);
    let apart = |s: usize| move |i: usize| format!("one.start + {} s", s * i);
    let chains = move |length: usize, s: usize| {
        move |i: usize| match i % length {
            0 => format!("one.start + {} s", s * i),
            _ => after(i),
        }
    };
    let silences_every = |s: usize| -> String {
        let silence = |from: usize| {
            let until = from + 5;
            format!("[[silence]]\nfrom = \"show + {from} s\"\nuntil = \"show + {until} s\"\n")
        };
        (20..500).step_by(s).map(silence).collect()
    };
    let silences = silences_every(40);
    let shows = [
        ("all in full", show(apart(10), "")),
        (
            "none in full, each in the way of the next",
            show(apart(3), ""),
        ),
        (
            "twelve silences, each in the way of the next",
            show(apart(4), &silences),
        ),
        (
            "chains of three that do not fit",
            show(chains(3, 5), &silences),
        ),
        (
            "chains of ten that do not fit",
            show(chains(10, 5), &silences),
        ),
        (
            "one chain of sixty that does not fit",
            show(chains(60, 5), &silences),
        ),
        (
            "chains of ten that do not fit, of all lengths",
            varied(chains(10, 5), &silences),
        ),
        (
            "one chain of sixty that does not fit, of all lengths",
            varied(chains(60, 5), &silences),
        ),
        (
            "chains of twenty that do not fit, of all lengths",
            varied(chains(20, 5), &silences),
        ),
        (
            "one chain of sixty among twice the silences, of all lengths",
            varied(chains(60, 5), &silences_every(20)),
        ),
    ];
    for (name, show) in shows {
        let facts = Facts {
            readings: readings(&show),
            track_lengths: Vec::new(),
        };
        let plan = Plan::new(&show, &show.profile, &show.day, facts);
        let full = |block: &&abeam::timeline::SpokenBlock| block.version == Version::Full;
        let full = plan.layout.blocks.iter().filter(full).count();
        criterion.bench_function(&format!("60 blocks, {full} in full: {name}"), |bencher| {
            let begun = Begun::default();
            bencher.iter(|| lay(black_box(&show), &plan.facts, &plan.moments, &begun, &[]));
        });
    }
}

fn words(criterion: &mut Criterion) {
    let show = show(|i| format!("show + {} s", 10 * i), "");
    criterion.bench_function("how long 1,380 words take", |bencher| {
        bencher.iter(|| readings(black_box(&show)));
    });
}

criterion_group!(benches, fit, words);
criterion_main!(benches);

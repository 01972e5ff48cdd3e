//! Loading and planning the demo (target 20 ms), and what a mark costs a running show of 60 figures
//! (target 100 µs): the session estimates every chain anew and lays every cue on it.

#[path = "../tests/long_show/mod.rs"]
mod long_show;

use std::hint::black_box;
use std::path::{Path, PathBuf};

use abeam::live::{Event, Mark, MarkKind, Session, What};
use abeam::script::readings;
use abeam::show::{Show, load};
use abeam::sound::probe;
use abeam::timeline::{Facts, Plan};
use abeam::units::{Instant, Span};
use criterion::{BatchSize, Criterion, criterion_group, criterion_main};

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("cues/lantern-lake.toml")
}

fn loaded() -> Show {
    load(&demo()).expect("the demo is a show").show
}

/// What the words and the files of the demo say.
fn facts(show: &Show) -> Facts {
    let media = Path::new(env!("CARGO_MANIFEST_DIR")).join("media");
    Facts {
        readings: readings(show),
        track_lengths: show
            .tracks
            .iter()
            .map(|track| probe(&media.join(&track.file)).map_or(Span::ZERO, |facts| facts.duration))
            .collect(),
    }
}

fn load_and_plan(criterion: &mut Criterion) {
    criterion.bench_function(
        "load and plan the demo, its files opened (target 20 ms)",
        |bencher| {
            bencher.iter(|| {
                let show = loaded();
                let facts = facts(&show);
                Plan::new(black_box(&show), &show.profile, &show.day, facts)
            });
        },
    );
}

/// A show of 60 figures flown as planned up to its 15th pass, which is just abeam.
fn half_way() -> (Session, Instant) {
    let (show, plan) = long_show::plan();
    let before = plan.moments.begin() - Span::from_s(30.0);
    let passes = long_show::passes(&plan);
    let mut session = Session::new(show, plan, before);
    for at in &passes[..14] {
        session.apply(&abeam(*at));
    }
    let next = passes[14];
    session.apply(&Event {
        at: next,
        what: What::Tick,
    });
    (session, next)
}

fn abeam(at: Instant) -> Event {
    Event {
        at,
        what: What::Mark(Mark {
            kind: MarkKind::Abeam,
            observed: at,
            point: None,
        }),
    }
}

fn mark(criterion: &mut Criterion) {
    let (session, now) = half_way();
    let taken = session.marks().len();
    let mut after = session.clone();
    after.apply(&abeam(now));
    assert_eq!(after.marks().len(), taken + 1, "the mark is taken");
    criterion.bench_function(
        "a mark in a running show of 60 figures (target 100 µs)",
        |bencher| {
            bencher.iter_batched_ref(
                || session.clone(),
                |session| session.apply(black_box(&abeam(now))),
                BatchSize::SmallInput,
            );
        },
    );
    // Three quarters of a second of a pass that is overdue: three looks at the clock.
    criterion.bench_function("750 ms of an overdue pass, 60 figures", |bencher| {
        let later = Event {
            at: now + Span::from_ms(750),
            what: What::Tick,
        };
        bencher.iter_batched_ref(
            || session.clone(),
            |session| session.apply(black_box(&later)),
            BatchSize::SmallInput,
        );
    });
}

criterion_group!(benches, load_and_plan, mark);
criterion_main!(benches);

//! Re-estimating a whole show after a mark: it happens on every mark and every grid step while a
//! point is overdue. Target: 100 µs with 60 figures, of which this is the estimate alone; `show` has the
//! whole session. Inside a simulated show a mark is to cost about 5 µs, with all that it may be of weighed.

use std::hint::black_box;

use abeam::flight::Step;
use abeam::live::estimate::{Chain, Kept, Sighting, SightingKind, believe};
use abeam::units::{Instant, Span};
use criterion::{Criterion, criterion_group, criterion_main};

const FIGURES: usize = 60;
/// As many as the demonstration flies.
const SIMULATED: usize = 17;
/// Start, inbound, gate, abeam, end.
const POINTS: usize = 5;
const ABEAM: usize = 3;

fn show(figures: usize) -> Chain {
    let step = |point: usize| Step {
        takes: Span::from_s(12.5),
        seconds_per_mps: 0.05,
        paced: point % POINTS != 1,
        spread: Span::from_ms(700),
        waits: point % POINTS == 1,
    };
    Chain {
        starts: Instant::ZERO,
        start_spread: Span::from_s(2.0),
        steps: (0..figures * POINTS).map(step).collect(),
        awaited: (0..figures * POINTS)
            .map(|point| point % POINTS == ABEAM)
            .collect(),
    }
}

/// Every abeam of so many figures.
fn marks(figures: usize) -> Vec<Sighting> {
    let abeams = (0..figures).map(|figure| figure * POINTS + ABEAM);
    let seen = |point: usize| Sighting {
        point,
        at: Instant::from_s(12.6 * point as f64),
        spread: Span::from_ms(250),
        kind: SightingKind::Seen,
    };
    abeams.map(seen).collect()
}

fn after_a_mark(criterion: &mut Criterion) {
    // Half of the show is over.
    let (chain, marks) = (show(FIGURES), marks(FIGURES / 2));
    let just_after = marks.last().map_or(Instant::ZERO, |mark| mark.at) + Span::from_ms(300);
    criterion.bench_function(
        "estimate of 60 figures after a mark (target 100 µs)",
        |bencher| {
            bencher.iter(|| believe(black_box(&chain), black_box(&marks), just_after));
        },
    );
    let overdue = just_after + Span::from_s(64.0);
    criterion.bench_function("estimate of 60 figures, one overdue", |bencher| {
        bencher.iter(|| believe(black_box(&chain), black_box(&marks), overdue));
    });
}

/// One show after another in one estimate, as odds run them.
fn marks_of_a_simulated_show(criterion: &mut Criterion) {
    let (chain, marks) = (show(SIMULATED), marks(SIMULATED));
    let mut kept = Kept::new(&chain);
    let name = format!(
        "a simulated show of {SIMULATED} marks (target {} µs)",
        5 * SIMULATED
    );
    criterion.bench_function(&name, |bencher| {
        bencher.iter(|| {
            kept.forget();
            for mark in &marks {
                kept.look(mark.at);
                black_box(kept.unslipped());
                for other in &marks {
                    black_box(kept.spread(other.point));
                }
                kept.see(mark);
            }
            black_box(kept.look(marks[SIMULATED - 1].at));
        });
    });
}

criterion_group!(benches, after_a_mark, marks_of_a_simulated_show);
criterion_main!(benches);

//! Re-estimating a whole show after a mark: it happens on every mark and every grid step while a
//! point is overdue. Target: 100 µs with 60 figures, of which this is the estimate alone; `show` has the
//! whole session.

use std::hint::black_box;

use abeam::flight::Step;
use abeam::live::estimate::{Chain, Sighting, SightingKind, believe};
use abeam::units::{Instant, Span};
use criterion::{Criterion, criterion_group, criterion_main};

const FIGURES: usize = 60;
/// Start, inbound, gate, abeam, end.
const POINTS: usize = 5;
const ABEAM: usize = 3;

fn show() -> Chain {
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
        steps: (0..FIGURES * POINTS).map(step).collect(),
        awaited: (0..FIGURES * POINTS)
            .map(|point| point % POINTS == ABEAM)
            .collect(),
    }
}

/// Every abeam of the first half of the show.
fn marks() -> Vec<Sighting> {
    let abeams = (0..FIGURES / 2).map(|figure| figure * POINTS + ABEAM);
    let seen = |point: usize| Sighting {
        point,
        at: Instant::from_s(12.6 * point as f64),
        spread: Span::from_ms(250),
        kind: SightingKind::Seen,
    };
    abeams.map(seen).collect()
}

fn after_a_mark(criterion: &mut Criterion) {
    let (chain, marks) = (show(), marks());
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

criterion_group!(benches, after_a_mark);
criterion_main!(benches);

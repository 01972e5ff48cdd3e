//! A frame of each screen at 200 × 60. Target: 2 ms.

#[path = "../tests/stage/mod.rs"]
mod stage;

use std::hint::black_box;

use abeam::screens::Theme;
use criterion::{Criterion, criterion_group, criterion_main};
use ratatui::crossterm::event::KeyCode;

fn frames(criterion: &mut Criterion) {
    let (session, desk) = (stage::run_in(), stage::desk());
    for (name, keys) in [
        ("Stand", vec![]),
        ("Desk", vec![KeyCode::Tab]),
        ("programme over the Stand", vec![KeyCode::Char('p')]),
    ] {
        let mut panel = stage::panel(&session, Theme::Dark);
        for key in keys {
            stage::press(&mut panel, &session, key);
        }
        criterion.bench_function(
            &format!("frame of the {name} at 200 × 60 (target 2 ms)"),
            |bencher| {
                bencher.iter(|| stage::drawn(&mut panel, black_box(&session), &desk, (200, 60)));
            },
        );
    }
}

criterion_group!(benches, frames);
criterion_main!(benches);

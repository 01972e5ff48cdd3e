//! A log of ten hours, a fix a second, four aircraft in a GPX file each: read and searched for passes (target 2 s on
//! two cores, under 200 MB).

use std::fmt::Write;
use std::hint::black_box;

use abeam::position::{Ground, LONGEST_GAP, Place, Spot, passes, read};
use abeam::units::{Angle, Length};
use criterion::{Criterion, criterion_group, criterion_main};
use jiff::{SignedDuration, Timestamp};
use rayon::prelude::*;

const FIXES: i64 = 36_000;

/// An aircraft that flies ovals: two passes every four minutes.
fn log(ground: &Ground, aircraft: i64) -> String {
    let starts: Timestamp = "2026-07-05T06:00:00Z".parse().expect("an instant");
    let mut text = format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.1\"><trk><name>{aircraft}</name><trkseg>\n"
    );
    for second in 0..FIXES {
        let turned = (second + 17 * aircraft) as f64 * std::f64::consts::TAU / 240.0;
        let spot = Spot {
            along: Length::from_m(4_000.0 * turned.sin()),
            across: Length::from_m(1_000.0 - 770.0 * turned.cos()),
        };
        let (place, at) = (
            ground.place(spot).expect("a place"),
            starts + SignedDuration::from_secs(second),
        );
        let _ = writeln!(
            text,
            "<trkpt lat=\"{:.7}\" lon=\"{:.7}\"><ele>450.2</ele><time>{at}</time><extensions><speed>104.7</speed></extensions></trkpt>",
            place.lat().deg(),
            place.lon().deg()
        );
    }
    text + "</trkseg></trk></gpx>\n"
}

fn positions(c: &mut Criterion) {
    let centre = Place::from_deg(61.0, 9.5).expect("a place");
    let ground = || Ground::new(centre, Angle::from_deg(64.0));
    let logs: Vec<String> = (0..4).map(|aircraft| log(&ground(), aircraft)).collect();
    let mut group = c.benchmark_group("positions");
    group.sample_size(10);
    group.bench_function("four aircraft, ten hours", |b| {
        b.iter(|| {
            let found: usize = logs
                .par_iter()
                .map(|text| {
                    let log = read(text.as_bytes(), "log", None).expect("a log");
                    let track = &log.tracks[0];
                    passes(&ground(), &track.fixes, LONGEST_GAP).passes.len()
                })
                .sum();
            assert!((1_190..=1_204).contains(&found), "{found} passes");
            black_box(found)
        });
    });
    group.finish();
}

criterion_group!(benches, positions);
criterion_main!(benches);

//! When real flights pass a place, foretold from the first part of their run-in.
//!
//! The flights are the samples in the wheel of PyPI's `traffic` 2.13; `tests/reference/run_ins.py` takes the
//! run-ins out of it, and says how. The two constants of the filter were found on the even run-ins, not on the
//! odd ones; but neighbours are often of one flight.

use std::path::Path;

use abeam::live::estimate::run_in::{Look, RunIn};
use abeam::units::quantity::KNOT;
use abeam::units::{Instant, Span};

#[path = "../music/mod.rs"]
mod music;

/// The first part of a run-in: half of what is flown to centre.
const FIRST_PART_S: f64 = 45.0;
/// What is added to the samples, one standard deviation each way.
const PLACE_NOISE_M: f64 = 5.0;
const SPEED_NOISE_KT: f64 = 1.0;
/// What the filter is told of the looks: the places of the samples bear times that are off.
const PLACE_SPREAD_M: f64 = 40.0;
const SPEED_SPREAD_MPS: f64 = 1.0;

/// One look of a run-in: seconds, metres to centre, knots.
type Row = (f64, f64, f64);

fn run_ins() -> Vec<(f64, Vec<Row>)> {
    let wheels = Path::new(env!("CARGO_TARGET_TMPDIR")).join("python/wheels");
    let mut run_ins: Vec<(f64, Vec<Row>)> = Vec::new();
    for line in music::script("run_ins.py", &[&wheels]).lines() {
        let v: Vec<f64> = line.split(',').map(|n| n.parse().expect(line)).collect();
        let number = v[0] as usize;
        if run_ins.len() <= number {
            run_ins.push((v[4], Vec::new()));
        }
        run_ins[number].1.push((v[1], v[2], v[3]));
    }
    run_ins
}

/// Noise that is the same on every machine: the sum of twelve of a small generator's numbers.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        let uniform = |state: &mut u64| {
            *state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (*state >> 11) as f64 / (1_u64 << 53) as f64
        };
        (0..12).map(|_| uniform(&mut self.0)).sum::<f64>() - 6.0
    }
}

/// Errors of one run-in, in seconds: of the filter, in its own spreads, and of a constant speed.
struct Foretold {
    change_kt: f64,
    filter: f64,
    spreads: f64,
    steady: f64,
}

fn foretell(number: usize, passes: f64, looks: &[Row]) -> Option<Foretold> {
    let mut noise = Noise(number as u64);
    // Thinned: no more than a look every two seconds.
    let mut first = Vec::new();
    for &(t, x, kt) in looks.iter().take_while(|(t, ..)| *t <= FIRST_PART_S) {
        if first.last().is_none_or(|&(last, ..): &Row| t - last >= 2.0) {
            first.push((
                t,
                x + PLACE_NOISE_M * noise.next(),
                kt + SPEED_NOISE_KT * noise.next(),
            ));
        }
    }
    if first.len() < 6 {
        return None;
    }
    // No plan is known but the speed at first.
    let planned = first[0].2 * KNOT;
    let look = |&(t, x, kt): &Row| Look {
        at: Instant::from_s(t),
        to_go: Span::from_s(-x / planned),
        to_go_spread: Span::from_s(PLACE_SPREAD_M / planned),
        rate: Some(kt * KNOT / planned),
        rate_spread: SPEED_SPREAD_MPS / planned,
    };
    let mut run_in = RunIn::new(&look(&first[0]));
    for row in &first[1..] {
        run_in.look(&look(row));
    }
    let (at, spread) = run_in.abeam();
    let (t, x, kt) = first[first.len() - 1];
    let passing = looks.iter().rfind(|(t, ..)| *t <= passes)?.2;
    Some(Foretold {
        change_kt: passing - kt,
        filter: at.s() - passes,
        spreads: (at.s() - passes) / spread.s(),
        steady: t - x / (kt * KNOT) - passes,
    })
}

fn rms(errors: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = errors.clone().count();
    (errors.map(|error| error * error).sum::<f64>() / count as f64).sqrt()
}

#[test]
fn a_run_in_is_foretold_better_than_by_a_constant_speed_where_the_speed_changes() {
    let foretold: Vec<(usize, Foretold)> = run_ins()
        .iter()
        .enumerate()
        .filter_map(|(number, (passes, looks))| Some((number, foretell(number, *passes, looks)?)))
        .collect();
    println!(
        "errors of the instant of passing, root mean square, s, foretold {FIRST_PART_S} s before"
    );
    for (set, odd) in [
        ("even, known to the filter", 0),
        ("odd, not known to it", 1),
    ] {
        for (speed, changes) in [("changes by more than 10 kt", true), ("does not", false)] {
            let chosen: Vec<&Foretold> = foretold
                .iter()
                .filter(|(number, f)| number % 2 == odd && (f.change_kt.abs() > 10.0) == changes)
                .map(|(_, f)| f)
                .collect();
            let filter = rms(chosen.iter().map(|f| f.filter));
            let steady = rms(chosen.iter().map(|f| f.steady));
            let within = chosen.iter().filter(|f| f.spreads.abs() <= 1.0).count();
            println!(
                "  {set}, speed {speed}: {} run-ins, filter {filter:.2}, constant speed {steady:.2}, {} % within one spread",
                chosen.len(),
                100 * within / chosen.len()
            );
            assert!(chosen.len() > 100);
            if changes {
                assert!(
                    filter < 0.95 * steady,
                    "{set}: {filter:.3} s, {steady:.3} s"
                );
            } else {
                // What is looked for and is not there costs a little.
                assert!(
                    filter < 1.25 * steady,
                    "{set}: {filter:.3} s, {steady:.3} s"
                );
            }
        }
    }
}

//! What a bent track sounds like: the pitch it had, every instant where its course puts it, no click at a join
//! or a change of the rate; and as it is, sample for sample, when nothing is asked of it.

use std::f64::consts::TAU;
use std::sync::Arc;

use abeam::sound::{Bend, Course, Join, Pcm, Rendering};
use abeam::units::Span;

const RATE: u32 = 48_000;
const RATES: [f64; 8] = [0.97, 0.98, 0.99, 0.995, 1.005, 1.01, 1.02, 1.03];

fn s(s: f64) -> Span {
    Span::from_s(s)
}

fn pcm(seconds: f64, sample: impl Fn(usize) -> f32) -> Arc<Pcm> {
    let frames = (seconds * f64::from(RATE)) as usize;
    Arc::new(Pcm {
        rate: RATE,
        channels: 2,
        samples: (0..frames).flat_map(|i| [sample(i), sample(i)]).collect(),
    })
}

/// The left channel of all of it, rendered in pieces of no even size.
fn rendered(pcm: &Arc<Pcm>, course: &Course, from: f64) -> Vec<f32> {
    let mut rendering = Rendering::new(pcm.clone(), course.clone(), s(from));
    let mut out = Vec::new();
    while rendering.render(3_331, &mut out) {}
    out.chunks_exact(2).map(|frame| frame[0]).collect()
}

fn bent(rate: f64, after: f64) -> Course {
    Course {
        bends: vec![Bend {
            after: s(after),
            rate,
            over: s(1.0),
        }],
        ..Course::default()
    }
}

fn sine(hz: f64) -> impl Fn(usize) -> f32 {
    move |i| (0.5 * (TAU * hz * i as f64 / f64::from(RATE)).sin()) as f32
}

/// The frequency between the first and the last upward crossing of zero, found between samples.
fn frequency(samples: &[f32]) -> f64 {
    let crossings: Vec<f64> = samples
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| pair[0] < 0.0 && pair[1] >= 0.0)
        .map(|(i, pair)| i as f64 + f64::from(-pair[0] / (pair[1] - pair[0])))
        .collect();
    let all = crossings[crossings.len() - 1] - crossings[0];
    (crossings.len() - 1) as f64 / all * f64::from(RATE)
}

fn largest_step(samples: &[f32]) -> f32 {
    let steps = samples.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    steps.fold(0.0, f32::max)
}

#[test]
fn the_pitch_of_a_sine_is_kept_within_4_cents() {
    let mut worst = 0.0_f64;
    for hz in [110.0, 440.0, 1_000.0, 3_000.0] {
        let track = pcm(6.0, sine(hz));
        for rate in RATES {
            let out = rendered(&track, &bent(rate, 0.5), 0.0);
            let heard = frequency(&out[RATE as usize * 2..RATE as usize * 5]);
            let cents = 1_200.0 * (heard / hz).log2();
            worst = worst.max(cents.abs());
            assert!(cents.abs() < 4.0, "{hz} Hz at {rate}: {cents:+.2} cents");
        }
    }
    println!("pitch kept within {worst:.2} cents");
}

#[test]
fn clicks_fall_where_the_course_has_them() {
    // One click every 250 ms, in fourteen seconds.
    let track = pcm(14.0, |i| if i % 12_000 == 6_000 { 0.9 } else { 0.0 });
    let mut worst = 0.0_f64;
    for rate in RATES {
        // Bent once, and while that still goes on back again, and once more.
        let mut course = bent(rate, 2.0);
        course.bends.push(Bend {
            after: s(8.0),
            rate: 2.0 - rate,
            over: s(1.0),
        });
        course.bends.push(Bend {
            after: s(8.6),
            rate: 1.0,
            over: s(1.0),
        });
        for from in [0.0, 8.7] {
            let out = rendered(&track, &course, from);
            let mut looked_at = 0;
            for click in 0..56 {
                let place = s(0.125 + 0.25 * f64::from(click));
                let wanted = (course.when(place).s() - from) * f64::from(RATE);
                let around = (wanted - 2_400.0) as i64..(wanted + 2_400.0) as i64;
                let inside = |frame: &i64| (0..out.len() as i64).contains(frame);
                if wanted < 2_400.0 || !inside(&(around.end + 2_400)) {
                    continue;
                }
                let loudest =
                    around.max_by(|&a, &b| out[a as usize].abs().total_cmp(&out[b as usize].abs()));
                let off = (loudest.expect("frames") as f64 - wanted) / 48.0;
                worst = worst.max(off.abs());
                looked_at += 1;
                assert!(
                    off.abs() < 3.0,
                    "{rate} from {from}: click {click} is {off:+.2} ms off"
                );
            }
            assert!(looked_at > 15);
        }
    }
    println!("clicks within {worst:.3} ms");
}

#[test]
fn what_is_not_bent_is_the_track_sample_for_sample() {
    let track = pcm(3.0, sine(997.0));
    for from in [0.0, 1.0] {
        let out = rendered(&track, &Course::plain(s(0.5)), from);
        let first = ((0.5 + from) * f64::from(RATE)) as usize * 2;
        let own = left_of(&track.samples[first..]);
        assert!(out == own, "from {from}");
    }
}

/// The left of two channels.
fn left_of(samples: &[f32]) -> Vec<f32> {
    samples.iter().step_by(2).copied().collect()
}

/// Two joins: bars of 1.5 s, twice two and one, at 6 s.
fn going_round() -> Course {
    let join = |bars: u32| Join {
        at: s(6.0),
        back: s(1.5 * f64::from(bars)),
        bars,
    };
    Course {
        joins: vec![join(2), join(2), join(1)],
        ..Course::default()
    }
}

#[test]
fn joins_lie_on_their_bars_and_do_not_click() {
    // No whole number of waves in a bar, so that every join has something to hide.
    let track = pcm(12.0, sine(311.7));
    let out = rendered(&track, &going_round(), 0.0);
    assert_eq!(out.len(), (12.0 + 7.5) as usize * 48_000 + 24_000);
    let own = largest_step(&left_of(&track.samples));
    let step = largest_step(&out);
    println!("largest step {step:.4}, the track's own {own:.4}");
    assert!(step < own * 1.5);
    // From the bar line on the sound is that of the bar gone back to, to the sample.
    for (at, place) in [(6.0, 3.0), (9.0, 3.0), (12.0, 4.5)] {
        let (at, place) = ((at * 48_000.0) as usize, (place * 48_000.0) as usize);
        for i in 0..1_000 {
            assert_eq!(out[at + i], track.samples[(place + i) * 2]);
        }
    }
}

#[test]
fn what_is_cut_out_leaves_no_click_and_no_gap() {
    let track = pcm(12.0, sine(311.7));
    let course = Course {
        joins: vec![Join {
            at: s(4.0),
            back: s(-3.1),
            bars: 0,
        }],
        ..Course::default()
    };
    let out = rendered(&track, &course, 0.0);
    assert_eq!(out.len(), 427_200, "8.9 s of 12");
    assert!(largest_step(&out) < largest_step(&left_of(&track.samples)) * 1.5);
    let own = left_of(&track.samples);
    assert!(out[..190_000] == own[..190_000]);
    assert!(out[192_000..] == own[340_800..]);
}

#[test]
fn bars_that_are_alike_join_without_a_change_of_level() {
    // 320 Hz has 480 waves in a bar of 1.5 s.
    let track = pcm(12.0, sine(320.0));
    let out = rendered(&track, &going_round(), 0.0);
    for (i, sample) in out.iter().enumerate() {
        assert!(
            (sample - track.samples[i % 48_000 * 2]).abs() < 1e-4,
            "frame {i}"
        );
    }
}

#[test]
fn a_rate_that_changes_does_not_click() {
    for hz in [220.0, 660.0] {
        let track = pcm(8.0, sine(hz));
        let own = largest_step(&left_of(&track.samples[..96_000]));
        for rate in RATES {
            let mut course = going_round();
            course.bends = bent(rate, 1.0).bends;
            course.bends.push(Bend {
                after: s(4.0),
                rate: 2.0 - rate,
                over: s(1.0),
            });
            let out = rendered(&track, &course, 0.0);
            let step = largest_step(&out);
            assert!(
                step < own * 1.6,
                "{hz} Hz at {rate}: step {step}, its own {own}"
            );
            // Nor does the level jump where the stretcher takes over, nor while it goes on.
            for (i, part) in out[..48_000 * 5].chunks(4_800).enumerate() {
                let peak = part.iter().fold(0.0_f32, |peak, s| peak.max(s.abs()));
                assert!(
                    (0.45..0.55).contains(&peak),
                    "{hz} Hz at {rate}, part {i}: {peak}"
                );
            }
        }
    }
}

#[test]
fn what_is_turned_while_it_is_rendered_goes_on_without_a_click() {
    let track = pcm(20.0, sine(440.0));
    let own = largest_step(&left_of(&track.samples[..96_000]));
    let mut rendering = Rendering::new(track, Course::default(), Span::ZERO);
    let mut out = Vec::new();
    let mut course = Course::default();
    for turn in 0..12_u32 {
        rendering.render(38_000, &mut out);
        let rendered = out.len() as f64 / 2.0 / f64::from(RATE);
        course.bends.push(Bend {
            after: s(rendered + 0.2),
            rate: if turn % 2 == 0 { 1.03 } else { 0.98 },
            over: s(1.0),
        });
        rendering.turn(course.clone());
    }
    let left: Vec<f32> = out.chunks_exact(2).map(|frame| frame[0]).collect();
    assert!(
        largest_step(&left) < own * 1.3,
        "{} of {own}",
        largest_step(&left)
    );
}

/// The order to turn may come when what it changes is rendered already.
#[test]
fn what_is_turned_too_late_crosses_over() {
    let track = pcm(20.0, sine(331.0));
    let own = largest_step(&left_of(&track.samples[..96_000]));
    for stretched in [false, true] {
        let mut course = Course::default();
        if stretched {
            course = bent(1.01, 0.5);
        }
        let mut rendering = Rendering::new(track.clone(), course.clone(), Span::ZERO);
        let mut out = Vec::new();
        rendering.render(48_000 * 6, &mut out);
        course.joins = vec![Join {
            at: s(5.8),
            back: s(1.7),
            bars: 1,
        }];
        course.bends.push(Bend {
            after: s(5.7),
            rate: 0.98,
            over: s(1.0),
        });
        rendering.turn(course.clone());
        rendering.render(48_000 * 6, &mut out);
        let left: Vec<f32> = out.chunks_exact(2).map(|frame| frame[0]).collect();
        let step = largest_step(&left);
        assert!(step < own * 1.6, "stretched {stretched}: {step} of {own}");
    }
}

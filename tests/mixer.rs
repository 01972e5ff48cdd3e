//! The mixer, with no device: starts to the frame, fades without clicks, ducking, knock-it-off, and
//! never an allocation in what runs in the audio callback.

use std::sync::Arc;

use abeam::live::playout::clock::FrameClock;
use abeam::live::playout::engine::{Engine, Lines, Routing};
use abeam::live::playout::{Bus, Monotonic, Order, Sound, Start, Started};
use abeam::sound::{Pcm, Rolling};
use abeam::units::{Gain, Span};
use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use proptest::prelude::*;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

const RATE: u32 = 48_000;
/// The frames of one callback: no divisor of anything the tests ask for.
const CALLBACK: usize = 441;
/// Frames that go out before frame 0, so that it is mixed after the first orders.
const LEAD_IN: i64 = 2 * CALLBACK as i64;
/// When frame 0 is heard.
const ZERO: Monotonic = Monotonic::from_ns(5_000_000_000_000);

/// A mixer with a perfect device of four channels, and everything it has played.
struct Desk {
    engine: Engine,
    lines: Lines,
    clock: FrameClock,
    next: i64,
    played: Vec<[f32; 4]>,
}

impl Desk {
    fn new() -> Desk {
        let (engine, lines) = Engine::new(
            RATE,
            Routing {
                programme: (0, 1),
                headphones: Some((2, 3)),
            },
        );
        Desk {
            engine,
            lines,
            clock: FrameClock::perfect(RATE, ZERO),
            next: -LEAD_IN,
            played: Vec::new(),
        }
    }

    /// The first frame that what is ordered now can change: the mixer is ahead of what goes out.
    fn at_once(&self) -> usize {
        (self.next.max(0) + self.engine.ahead()) as usize
    }

    fn order(&mut self, order: Order) {
        self.lines.orders.push(order).expect("room for an order");
    }

    /// Plays on for at least `frames` frames, in whole callbacks, under the eye of the allocator.
    fn play(&mut self, frames: usize) {
        while self.next < 0 {
            let silent = self.call_back();
            assert!(silent.iter().all(|sample| *sample == 0.0));
        }
        for _ in 0..frames.div_ceil(CALLBACK) {
            let out = self.call_back();
            self.played.extend_from_slice(out.as_chunks::<4>().0);
        }
    }

    fn call_back(&mut self) -> [f32; CALLBACK * 4] {
        let mut out = [0.0; CALLBACK * 4];
        assert_no_alloc(|| {
            self.engine.process(&mut out, 4, self.next, &self.clock);
        });
        self.next += CALLBACK as i64;
        out
    }

    fn left(&self) -> Vec<f32> {
        self.played.iter().map(|frame| frame[0]).collect()
    }

    fn started(&mut self) -> Vec<Started> {
        std::iter::from_fn(|| self.lines.started.pop().ok()).collect()
    }
}

/// When frame `frame` is heard.
fn heard(frame: i64) -> Monotonic {
    Monotonic::from_ns(ZERO.ns() + frame * 1_000_000_000 / i64::from(RATE))
}

/// A second of sound whose every frame says where it is: frame k is k / 48000 left, minus that right.
fn ramp() -> Arc<Pcm> {
    let samples = (0..RATE).flat_map(|k| {
        let value = k as f32 / RATE as f32;
        [value, -value]
    });
    Arc::new(Pcm {
        rate: RATE,
        channels: 2,
        samples: samples.collect(),
    })
}

/// Ten seconds of one value.
fn steady(value: f32) -> Arc<Pcm> {
    Arc::new(Pcm {
        rate: RATE,
        channels: 2,
        samples: vec![value; RATE as usize * 20],
    })
}

fn start(voice: u32, pcm: &Arc<Pcm>, at: Monotonic) -> Start {
    Start {
        voice,
        sound: pcm.clone().into(),
        begins: Span::ZERO,
        from: Span::ZERO,
        at,
        fade_in: Span::ZERO,
        gain: Gain::ZERO,
        duck: Gain::ZERO,
        bus: Bus::Programme,
    }
}

fn largest_step(samples: &[f32]) -> f32 {
    let steps = samples.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    steps.fold(0.0, f32::max)
}

#[test]
fn a_start_falls_on_its_frame() {
    let mut desk = Desk::new();
    let pcm = steady(0.5);
    desk.order(Order::Start(start(7, &pcm, heard(10_000))));
    desk.play(12_000);
    let left = desk.left();
    assert_eq!(left.iter().position(|s| *s != 0.0), Some(10_000));
    assert_eq!(left[10_000], 0.5);
    let begun = desk.started();
    assert_eq!(begun.len(), 1);
    assert_eq!((begun[0].voice, begun[0].frame), (7, 10_000));
    assert_eq!(begun[0].at, heard(10_000));
}

#[test]
fn a_late_start_begins_at_once_where_it_should_be_by_then() {
    let mut desk = Desk::new();
    desk.play(4_410);
    desk.order(Order::Start(start(1, &ramp(), heard(410))));
    desk.play(4_410);
    // Frame 8000 of the output is frame 7590 of the track; the short fade-in is over by then.
    assert!((desk.left()[8_000] - 7_590.0 / 48_000.0).abs() < 2e-5);
    assert!((desk.played[8_000][1] + 7_590.0 / 48_000.0).abs() < 2e-5);
    assert!(largest_step(&desk.left()) < 0.001, "no click at the join");
}

#[test]
fn a_start_a_millisecond_late_keeps_its_attack() {
    let mut desk = Desk::new();
    desk.play(441);
    let now = desk.at_once();
    desk.order(Order::Start(start(1, &steady(0.5), heard(now as i64 - 48))));
    desk.play(882);
    assert_eq!(desk.left()[now - 1..=now], [0.0, 0.5]);
}

#[test]
fn a_track_of_another_rate_keeps_its_time() {
    let mut desk = Desk::new();
    let samples = (0..44_100).flat_map(|k| [k as f32 / 44_100.0; 2]);
    let pcm = Arc::new(Pcm {
        rate: 44_100,
        channels: 2,
        samples: samples.collect(),
    });
    desk.order(Order::Start(start(1, &pcm, heard(0))));
    desk.play(40_000);
    assert!((desk.left()[24_000] - 0.5).abs() < 1e-4);
}

#[test]
fn fades_do_not_click_and_two_at_once_keep_the_power() {
    let mut desk = Desk::new();
    let (old, new) = (steady(0.5), steady(0.5));
    desk.order(Order::Start(start(1, &old, heard(0))));
    let over = Span::from_ms(500);
    let from = Monotonic::from_ns(heard(24_000).ns());
    desk.order(Order::Fade {
        voice: 1,
        at: from,
        over,
    });
    desk.order(Order::Start(Start {
        fade_in: over,
        ..start(2, &new, from)
    }));
    desk.play(60_000);
    let left = desk.left();
    assert!(largest_step(&left[1..]) < 0.5 * 2.0 * std::f32::consts::PI / 24_000.0);
    // Of two unlike sounds the powers add: cos² + sin². These two are alike, so the amplitudes do.
    let half = std::f32::consts::FRAC_PI_4;
    assert!((left[36_000] - 0.5 * (half.cos() + half.sin())).abs() < 1e-4);
    assert_eq!(left[50_000], 0.5);
    assert!(desk.lines.returned.pop().is_ok(), "the old sound came back");
}

#[test]
fn a_fade_ordered_late_begins_from_where_the_level_is() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &steady(0.5), heard(0))));
    desk.play(24_000);
    desk.order(Order::Fade {
        voice: 1,
        at: heard(20_000),
        over: Span::from_s(1.0),
    });
    desk.play(12_000);
    // Knock-it-off cuts the running fade shorter, from where it is.
    let cut = desk.at_once();
    desk.order(Order::FadeAll {
        over: Span::from_ms(300),
    });
    desk.play(24_000);
    let left = desk.left();
    assert!(
        largest_step(&left[1..]) < 1e-4,
        "{}",
        largest_step(&left[1..])
    );
    assert_eq!(left.last(), Some(&0.0));
    let silent_from = left.iter().rposition(|s| *s != 0.0).expect("it sounded");
    assert!((36_000..=cut + 14_400).contains(&silent_from));
}

#[test]
fn knock_it_off_fades_the_programme_and_forbids_queued_starts() {
    let mut desk = Desk::new();
    let pcm = steady(0.25);
    desk.order(Order::Start(start(1, &pcm, heard(0))));
    desk.order(Order::Start(start(2, &pcm, heard(60_000))));
    desk.order(Order::Start(Start {
        bus: Bus::Headphones,
        ..start(3, &pcm, heard(0))
    }));
    desk.play(10_000);
    desk.order(Order::FadeAll {
        over: Span::from_s(0.5),
    });
    desk.play(100_000);
    assert!(
        desk.played[40_000..]
            .iter()
            .all(|f| f[0] == 0.0 && f[1] == 0.0)
    );
    assert!(
        desk.played[1..]
            .iter()
            .all(|f| f[2] == 0.25 && f[3] == 0.25)
    );
    // What is ordered afterwards is meant.
    desk.order(Order::Start(start(4, &pcm, heard(150_000))));
    desk.play(60_000);
    assert_eq!(desk.left()[150_000], 0.25);
}

#[test]
fn the_headphones_never_reach_the_programme() {
    let mut desk = Desk::new();
    desk.order(Order::Start(Start {
        bus: Bus::Headphones,
        duck: Gain::from_db(12.0),
        ..start(1, &steady(0.5), heard(0))
    }));
    desk.order(Order::Duck { down: true });
    desk.play(5_000);
    assert!(desk.played.iter().all(|f| *f == [0.0, 0.0, 0.5, 0.5]));
}

#[test]
fn ducking_lowers_each_voice_by_its_own_depth_and_lets_it_up_again() {
    let mut desk = Desk::new();
    desk.order(Order::Start(Start {
        duck: Gain::from_db(12.0),
        ..start(1, &steady(0.5), heard(0))
    }));
    desk.play(4_800);
    desk.order(Order::Duck { down: true });
    desk.play(24_000);
    let ducked = 0.5 * 10_f32.powf(-12.0 / 20.0);
    let left = desk.left();
    let begun = left.iter().position(|s| *s < 0.5).expect("it ducks");
    let reached = left
        .iter()
        .position(|s| *s <= ducked + 1e-5)
        .expect("fully");
    assert!((reached - begun).abs_diff(7_200) < 10, "150 ms down");
    desk.order(Order::Duck { down: false });
    desk.play(48_000);
    let left = desk.left();
    assert_eq!(left.last(), Some(&0.5));
    assert!(largest_step(&left[1..]) < 3e-4);
}

#[test]
fn a_level_moves_evenly_in_decibels() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &steady(0.5), heard(0))));
    desk.play(441);
    let now = desk.at_once();
    desk.order(Order::Gain {
        voice: 1,
        gain: Gain::from_db(-20.0),
        over: Span::from_s(1.0),
    });
    desk.play(60_000);
    let left = desk.left();
    let half = 0.5 * 10_f32.powf(-10.0 / 20.0);
    assert!((left[now + 24_000] - half).abs() < 1e-4);
    assert!((left[55_000] - 0.05).abs() < 1e-6);
}

#[test]
fn a_start_can_be_moved_until_it_has_begun() {
    let mut desk = Desk::new();
    let pcm = steady(0.5);
    desk.order(Order::Start(start(1, &pcm, heard(20_000))));
    desk.play(5_000);
    desk.order(Order::Start(start(1, &pcm, heard(9_000))));
    desk.play(30_000);
    assert_eq!(desk.left().iter().position(|s| *s != 0.0), Some(9_000));
    assert_eq!(desk.started().len(), 1);
}

#[test]
fn starting_a_sounding_number_again_crosses_over() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &steady(0.5), heard(0))));
    desk.play(5_000);
    desk.order(Order::Start(Start {
        from: Span::from_s(1.0),
        fade_in: Span::from_ms(100),
        ..start(1, &steady(0.5), heard(24_000))
    }));
    desk.play(60_000);
    let left = desk.left();
    assert!(largest_step(&left[1..]) < 2e-4);
    assert!(left[24_000..].iter().all(|s| (0.49..0.72).contains(s)));
    assert_eq!(left[40_000], 0.5);
}

#[test]
fn playheads_say_where_each_voice_is_and_how_loud() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &steady(0.5), heard(0))));
    desk.order(Order::Start(start(2, &steady(0.1), heard(90_000))));
    desk.play(24_000);
    // The same number again, from the fifth second of its track.
    desk.order(Order::Start(Start {
        from: Span::from_s(5.0),
        fade_in: Span::from_s(1.0),
        ..start(1, &steady(0.5), heard(30_000))
    }));
    desk.play(15_000);
    let heads = desk.lines.board.playheads(heard(39_000));
    assert_eq!(
        heads.len(),
        1,
        "neither the one faded out nor the one ahead: {heads:?}"
    );
    assert_eq!(heads[0].voice, 1);
    let off = heads[0].position - Span::from_s(5.0 + 9_000.0 / 48_000.0);
    assert!(off.abs() <= Span::from_us(1), "{off}");
    // Its level is that at the end of what is mixed: 0.5 · sin(π/2 of the second it comes in over).
    let come_in = (desk.at_once() as f32 - 30_000.0) / 48_000.0;
    let level = 0.5 * (std::f32::consts::FRAC_PI_2 * come_in).sin();
    let db = heads[0].level.db();
    assert!((db - 20.0 * f64::from(level).log10()).abs() < 0.01, "{db}");
    // A level moved now is that of the new playing alone.
    desk.order(Order::Gain {
        voice: 1,
        gain: Gain::from_db(-60.0),
        over: Span::ZERO,
    });
    desk.play(2_000);
    let old = 0.5 * (std::f32::consts::FRAC_PI_2 * 11_000.0 / 48_000.0).cos();
    assert!((desk.left()[41_000] - old).abs() < 0.002);
}

#[test]
fn knock_it_off_while_the_device_is_lost_keeps_the_music_out() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &steady(0.5), heard(0))));
    desk.play(4_410);
    desk.engine.reopened(RATE);
    desk.clock = FrameClock::new(RATE);
    desk.next = 0;
    desk.order(Order::FadeAll {
        over: Span::from_s(4.0),
    });
    desk.play(441);
    desk.clock = FrameClock::perfect(RATE, heard(10_000));
    desk.played.clear();
    desk.play(20_000);
    assert!(desk.left().iter().all(|s| *s == 0.0));
}

#[test]
fn a_track_cancelled_before_it_begins_never_sounds() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &steady(0.5), heard(20_000))));
    desk.order(Order::Fade {
        voice: 1,
        at: heard(100),
        over: Span::from_s(2.0),
    });
    desk.play(60_000);
    assert!(desk.left().iter().all(|s| *s == 0.0));
}

#[test]
fn on_another_device_the_track_comes_back_where_it_should_be() {
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &ramp(), heard(0))));
    desk.play(4_410);
    // The new device counts from 0 again; its frame 0 is heard 10 000 frames after the old one's.
    desk.engine.reopened(RATE);
    desk.clock = FrameClock::new(RATE);
    desk.next = 0;
    desk.played.clear();
    desk.play(441);
    assert!(
        desk.left().iter().all(|s| *s == 0.0),
        "silent until its clock is set"
    );
    desk.clock = FrameClock::perfect(RATE, heard(10_000));
    desk.play(20_000);
    let left = desk.left();
    assert!((left[15_000] - 25_000.0 / 48_000.0).abs() < 1e-4);
    assert!(largest_step(&left) < 1e-3);
}

#[test]
fn after_an_underrun_the_track_skips_to_where_it_should_be() {
    let mut desk = Desk::new();
    let mut clock = FrameClock::new(RATE);
    // Every callback's frames are heard on time, and from the 30th on 960 frames (20 ms) late.
    let mut play = |desk: &mut Desk, callbacks: std::ops::Range<i64>, late: i64| {
        for k in callbacks {
            clock.offer(k * CALLBACK as i64, heard(k * CALLBACK as i64 + late));
            desk.clock = clock.clone();
            desk.play(CALLBACK);
        }
    };
    desk.order(Order::Start(start(1, &ramp(), heard(6_000))));
    play(&mut desk, 0..30, 0);
    play(&mut desk, 30..90, 960);
    let left = desk.left();
    // Output frame 35000 is heard when frame 35960 would have been: that is 29960 of the track.
    assert!((left[35_000] - 29_960.0 / 48_000.0).abs() < 1e-4);
    assert!(
        (left[13_000] - 7_000.0 / 48_000.0).abs() < 1e-4,
        "untouched before"
    );
    assert!(largest_step(&left) < 1e-3);
    assert_eq!(desk.started().len(), 2, "the log says so");
}

#[test]
fn every_sound_comes_back_to_be_freed_elsewhere() {
    let mut desk = Desk::new();
    let pcm = ramp();
    for voice in 0..40 {
        desk.order(Order::Start(start(voice, &pcm, heard(1_000))));
    }
    desk.play(60_000);
    let returned = std::iter::from_fn(|| desk.lines.returned.pop().ok()).count();
    assert_eq!(returned, 40, "32 were played, 8 refused");
    assert_eq!(Arc::strong_count(&pcm), 1);
    assert!(
        desk.left().iter().all(|s| s.abs() <= 1.0),
        "and the sum is limited"
    );
}

fn any_order() -> impl Strategy<Value = Order> {
    let frame = 0..90_000_i64;
    let ms = 0..1_500_i64;
    prop_oneof![
        3 => (0..4_u32, frame.clone(), ms.clone(), -20.0..0.0_f64, 0..2_000_i64).prop_map(
            |(voice, at, fade_in, gain, from)| Order::Start(Start {
                from: Span::from_ms(from),
                fade_in: Span::from_ms(fade_in.max(5)),
                gain: Gain::from_db(gain),
                duck: Gain::from_db(-gain),
                // 0.03: forty of them stay below full scale.
                ..start(voice, &steady(0.03), heard(at))
            })
        ),
        2 => (0..4_u32, frame, ms.clone()).prop_map(|(voice, at, over)| Order::Fade {
            voice,
            at: heard(at),
            over: Span::from_ms(over),
        }),
        1 => ms.clone().prop_map(|over| Order::FadeAll { over: Span::from_ms(over) }),
        2 => (0..4_u32, -30.0..0.0_f64, ms).prop_map(|(voice, gain, over)| Order::Gain {
            voice,
            gain: Gain::from_db(gain),
            over: Span::from_ms(over),
        }),
        2 => any::<bool>().prop_map(|down| Order::Duck { down }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever is ordered, whenever: nothing allocates, nothing clicks. The steepest thing there is
    /// is a 5 ms fade, (π/2)/240 of the amplitude a frame; at most 24 voices move at once.
    #[test]
    fn no_orders_make_it_click_or_allocate(
        orders in prop::collection::vec((0..8_000_usize, any_order()), 1..24)
    ) {
        let mut desk = Desk::new();
        for (wait, order) in orders {
            desk.play(wait);
            desk.order(order);
        }
        desk.play(48_000);
        let steepest = 24.0 * 0.03 * (std::f32::consts::FRAC_PI_2 / 240.0 + 30.0 * 0.1152 / 240.0);
        prop_assert!(largest_step(&desk.left()) < steepest);
    }
}

/// A sound that is made while it plays: frame k of it is k / 48000 left, minus that right.
fn rolling(frames: u32) -> Arc<Rolling> {
    let rolling = Arc::new(Rolling::new(RATE));
    grow(&rolling, 0, frames);
    rolling
}

fn grow(rolling: &Rolling, from: u32, frames: u32) {
    let samples: Vec<f32> = (from..from + frames)
        .flat_map(|k| {
            let value = k as f32 / RATE as f32;
            [value, -value]
        })
        .collect();
    rolling.push(&samples);
}

#[test]
fn what_is_made_while_it_plays_is_heard_where_it_belongs() {
    let mut desk = Desk::new();
    let sound = rolling(20_000);
    // Its first frame is ten seconds into the track.
    let ten = Span::from_s(10.0);
    desk.order(Order::Start(Start {
        sound: Sound::Rolling(sound.clone()),
        from: ten,
        begins: ten,
        ..start(1, &ramp(), heard(1_000))
    }));
    desk.play(10_000);
    assert!((desk.left()[9_000] - 8_000.0 / 48_000.0).abs() < 1e-6);
    let playheads = desk.lines.board.playheads(heard(9_000));
    let off = playheads[0].position - ten - Span::from_s(8_000.0 / 48_000.0);
    assert!(off.abs() < Span::from_ms(1));

    // The device is lost for a while: by then it is further on.
    grow(&sound, 20_000, 20_000);
    desk.engine.reopened(RATE);
    desk.clock = FrameClock::perfect(RATE, heard(12_000));
    desk.next = 0;
    desk.played.clear();
    desk.play(20_000);
    assert!((desk.left()[15_000] - 26_000.0 / 48_000.0).abs() < 1e-4);
    sound.finish();
    desk.play(20_000);
    drop(desk);
    assert_eq!(Arc::strong_count(&sound), 1);
}

#[test]
fn what_is_not_made_in_time_is_waited_for_and_goes_on_where_it_belongs() {
    let mut desk = Desk::new();
    let sound = Arc::new(Rolling::new(RATE));
    desk.order(Order::Start(Start {
        sound: Sound::Rolling(sound.clone()),
        ..start(1, &ramp(), heard(0))
    }));
    // Nothing is there yet: it waits, and then comes in where it should be by then.
    desk.play(4_410);
    assert!(desk.left().iter().all(|sample| *sample == 0.0));
    grow(&sound, 0, 10_000);
    desk.play(4_410);
    assert!((desk.left()[8_000] - 8_000.0 / 48_000.0).abs() < 2e-5);
    desk.play(4_410);
    assert_eq!(desk.left()[12_000], 0.0);
    grow(&sound, 10_000, 10_000);
    desk.play(4_410);
    assert!((desk.left()[16_000] - 16_000.0 / 48_000.0).abs() < 2e-5);
}

/// Two tracks that are each as loud as one may be: together they would be cut off at full scale.
#[test]
fn what_sounds_together_is_held_below_the_ceiling_and_comes_back_as_it_was() {
    let sine = |seconds: u32| {
        let samples = (0..seconds * RATE).flat_map(|i| {
            let x = 0.8 * (std::f64::consts::TAU * 997.0 * f64::from(i) / f64::from(RATE)).sin();
            [x as f32; 2]
        });
        Arc::new(Pcm {
            rate: RATE,
            channels: 2,
            samples: samples.collect(),
        })
    };
    let (long, short) = (sine(6), sine(2));
    let mut desk = Desk::new();
    desk.order(Order::Start(start(1, &long, heard(1_000))));
    desk.order(Order::Start(start(2, &short, heard(RATE as i64 + 1_000))));
    desk.play(6 * RATE as usize);
    let played = desk.left();
    let alone = |second: f64| {
        let from = 1_000 + (second * f64::from(RATE)) as usize;
        let heard = &played[from..from + 4_800];
        heard
            .iter()
            .zip(&long.samples[2 * (from - 1_000)..].as_chunks::<2>().0[..4_800])
            .all(|(heard, frame)| *heard == frame[0])
    };
    assert!(
        alone(0.5) && alone(4.5),
        "one of them alone leaves as it came"
    );
    let together = Pcm {
        rate: RATE,
        channels: 1,
        samples: played[RATE as usize + 1_000..3 * RATE as usize + 1_000].to_vec(),
    };
    let peak = abeam::sound::gauge(&together)
        .true_peak
        .expect("a peak")
        .db();
    assert!((-1.6..=-1.0).contains(&peak), "{peak} dBTP");
    // The desk is told: two sines of 0.8 are 4.1 dB above full scale, and are held a little below −1.
    let held = desk.lines.board.take_held().db();
    assert!((5.0..5.6).contains(&held), "{held} dB");
    desk.play(4_800);
    assert_eq!(desk.lines.board.take_held(), Gain::ZERO);
    // No sample step is larger than that of a sine of twice the size.
    let steps = played.windows(2).map(|pair| (pair[1] - pair[0]).abs());
    let steepest = 1.6 * std::f32::consts::TAU * 997.0 / RATE as f32;
    assert!(steps.fold(0.0, f32::max) < steepest);
}

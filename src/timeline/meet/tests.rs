//! The solver against brute force: nothing on a fine grid does better, or as well with less change.

use proptest::prelude::*;

use super::*;
use crate::show::{Go, IfMissed, Name, Passage, TimeExpression, Vamp, VampStep};
use crate::sound::Bend;
use crate::units::{Gain, Share};

/// One sample at 48 kHz, about.
const SAMPLE: f64 = 21e-6;
/// How fine the grids of rates are.
const GRID: f64 = 2e-4;

fn s(s: f64) -> Span {
    Span::from_s(s)
}

fn at(s: f64) -> Instant {
    Instant::from_s(s)
}

/// A track whose hit is at 60 s.
#[derive(Debug, Clone)]
struct Music {
    entries: Vec<f64>,
    /// From, to, bar, and how many are planned.
    vamp: Option<(f64, f64, f64, u32)>,
    /// Not played, before the vamp and after it; no entry is in one.
    cuts: Vec<(f64, f64)>,
    stretch: f64,
    if_missed: IfMissed,
}

impl Music {
    fn track(&self) -> Track {
        let name: Name = "hymn".into();
        let expression = TimeExpression {
            anchor: crate::show::Anchor::Show,
            offset: Span::ZERO,
            at: 0..0,
        };
        Track {
            id: name.clone(),
            file: String::new(),
            go: Go::Auto,
            level: None,
            trim: Gain::ZERO,
            fade_in: Span::ZERO,
            fade_out: Span::ZERO,
            hits: Vec::new(),
            entries: self.entries.iter().map(|entry| s(*entry)).collect(),
            bars: None,
            vamp: self.vamp.map(|(from, to, bar, planned)| Vamp {
                from: s(from),
                to: s(to),
                step: VampStep::Of(s(bar)),
                planned,
            }),
            looped: None,
            cuts: self.cuts().collect(),
            stretch: Share::from_whole(self.stretch),
            starts: None,
            ends: None,
            meets: Some(Meet {
                hit: name,
                hit_at: s(60.0),
                on: expression,
                within: s(0.1),
                if_missed: self.if_missed,
            }),
            credits: Default::default(),
            duck: Gain::ZERO,
            under: false,
            at: 0..0,
        }
    }
}

impl Music {
    fn cuts(&self) -> impl Iterator<Item = Passage> + '_ {
        let cuts = self.cuts.iter();
        cuts.map(|&(from, to)| Passage {
            from: s(from),
            to: s(to),
        })
    }

    /// How much is cut out between two places.
    fn cut_between(&self, from: f64, to: f64) -> f64 {
        let cuts = self.cuts.iter().filter(|cut| from <= cut.0 && cut.1 <= to);
        cuts.map(|cut| cut.1 - cut.0).sum()
    }
}

fn music() -> impl Strategy<Value = Music> {
    let entries = prop_oneof![
        Just(vec![0.0]),
        Just(vec![0.0, 12.0]),
        Just(vec![0.0, 9.5, 31.0]),
        Just(vec![16.0, 0.0])
    ];
    let vamp = prop_oneof![
        Just(None),
        (2.0_f64..6.0, 0_u32..5).prop_map(|(bar, planned)| Some((20.0, 44.0, bar, planned)))
    ];
    let stretch = prop_oneof![Just(0.0), 0.005_f64..0.05];
    let if_missed = prop_oneof![
        Just(IfMissed::Late),
        Just(IfMissed::Nearest),
        Just(IfMissed::Fade)
    ];
    let cuts = prop_oneof![
        Just(vec![]),
        Just(vec![(17.0, 19.0)]),
        Just(vec![(1.0, 6.5), (45.0, 52.0)]),
    ];
    (entries, vamp, cuts, stretch, if_missed).prop_map(
        |(entries, vamp, cuts, stretch, if_missed)| Music {
            entries,
            vamp,
            cuts,
            stretch,
            if_missed,
        },
    )
}

/// Every rate of a fine grid from `low` to `high`, both among them.
fn grid(low: f64, high: f64) -> impl Iterator<Item = f64> {
    let steps = ((high - low) / GRID).ceil() as u32;
    (0..=steps).map(move |step| (low + f64::from(step) * GRID).min(high))
}

proptest! {
    /// Before it plays: against every entry, every number of bars and a grid of rates, begun as early as can be
    /// or so late that it fits.
    #[test]
    fn no_start_does_better(music in music(), earliest in -10.0_f64..70.0) {
        let track = music.track();
        let means = Means::of(&track).unwrap();
        let (way, meeting) = start::solve(&means, at(60.0), at(earliest));
        prop_assert!(way.start >= at(earliest));
        prop_assert_eq!(meeting.start, way.start);
        let change = (way.course.last_rate() - 1.0).abs();
        let planned = means.round.map_or(0, |round| round.planned);
        for (place, &entry) in music.entries.iter().enumerate() {
            for bars in 0..=means.round.filter(|r| s(entry) < r.to).map_or(0, |round| round.planned) {
                let more = means.round.map_or(0.0, |round| round.length(bars).s());
                for rate in grid(1.0, 1.0 + music.stretch) {
                    let late = earliest + (60.0 - entry + more - music.cut_between(entry, 60.0)) / rate - 60.0;
                    if meeting.miss.abs() <= s(SAMPLE) {
                        // As good with less change? Bent less by more than the grid is fine; or as much, with
                        // bars nearer to the plan; or these too, from an entry listed earlier.
                        let as_good = late <= 0.0 && (rate == 1.0 || late > -1e-9);
                        let less = rate - 1.0 + GRID < change;
                        let chosen = (planned - way.course.bars(),
                            music.entries.iter().position(|e| s(*e) == way.course.entry).unwrap());
                        let cheaper = rate == 1.0 && change == 0.0 && (planned - bars, place) < chosen;
                        prop_assert!(!(as_good && (less || cheaper)), "{entry} {bars} {rate}");
                    } else {
                        prop_assert!(late > 0.0, "it could be exact: {entry} {bars} {rate}");
                        if music.if_missed == IfMissed::Nearest {
                            prop_assert!(late >= meeting.miss.s() - 1e-6);
                        }
                    }
                }
            }
        }
        prop_assert_eq!(meeting.left_out, !meeting.met && music.if_missed == IfMissed::Fade);
    }

    /// While it plays: against every number of bars and a grid of rates, by playing each through.
    #[test]
    fn no_turn_does_better(
        music in music(), commit in 5.0_f64..58.0, later in -8.0_f64..12.0, rate in -1.0_f64..1.0,
    ) {
        let track = music.track();
        let means = Means::of(&track).unwrap();
        let entry = s(0.0);
        let planned = course::again(means.round, means.round.map_or(0, |round| round.planned));
        let Course { joins: planned, .. } = course::from_entry(&track, entry, &planned);
        let bend = Bend { after: s(1.0), rate: 1.0 + rate * music.stretch, over: RAMP };
        let way = Way {
            start: at(0.0),
            course: Course { entry, joins: planned, bends: vec![bend] },
            left_out: false,
        };
        let falls = way.course.reaches(s(60.0)).unwrap().s();
        let wanted = falls + later;
        let Some(turned) = playing::solve(&means, &way, at(wanted), at(commit)) else {
            prop_assert!(wanted <= commit || falls <= commit + 0.2);
            return Ok(());
        };
        let meeting = means.meeting(&turned, at(wanted));

        // What is settled stays.
        let kept = way.course.until(s(commit));
        prop_assert_eq!(&turned.course.joins[..kept.joins.len()], &kept.joins[..]);
        prop_assert_eq!(turned.course.unrolled_at(s(commit)), way.course.unrolled_at(s(commit)));
        prop_assert!((turned.course.last_rate() - 1.0).abs() <= music.stretch + 1e-9 );

        let base = way.course.until(s(commit) + playing::GUARD);
        let open = means.round.filter(|round| {
            course::going_on(&track, base.clone(), &[]).last_pass(round.to).unwrap() >= base.unrolled_at(s(commit)) + playing::GUARD
        });
        let change = (turned.course.last_rate() - 1.0).abs();
        let most = if open.is_some() { 12 } else { 0 };
        for bars in 0..=most {
            for rate in grid(1.0 - music.stretch, 1.0 + music.stretch) {
                let mut course = course::going_on(&track, base.clone(), &course::again(open, bars));
                let over = RAMP.s().min(wanted - commit);
                course.bends.push(Bend { after: s(commit), rate, over: s(over) });
                let miss = course.reaches(s(60.0)).unwrap().s() - wanted;
                if meeting.miss.abs() <= s(SAMPLE) {
                    let less = (rate - 1.0).abs() + 2.0 * GRID < change;
                    prop_assert!(!(miss.abs() < SAMPLE && less), "{bars} {rate}");
                } else if music.if_missed == IfMissed::Nearest || meeting.met {
                    prop_assert!(miss.abs() >= meeting.miss.abs().s() - 1e-5, "{bars} {rate}: {miss}");
                } else {
                    prop_assert!(miss.abs() > SAMPLE, "it could be exact: {bars} {rate}");
                }
            }
        }
    }

    /// A later arrival never has the hit earlier.
    #[test]
    fn a_later_arrival_has_a_later_hit(music in music(), commit in 5.0_f64..50.0, later in 0.0_f64..1.0) {
        let track = Music { if_missed: IfMissed::Nearest, ..music }.track();
        let means = Means::of(&track).unwrap();
        let way = Way { start: at(0.0), course: crate::timeline::course::as_planned(&track), left_out: false };
        let mut last = at(f64::MIN);
        for step in 0..60 {
            let wanted = at(55.0 + later + 0.37 * f64::from(step));
            if let Some(turned) = playing::solve(&means, &way, wanted, at(commit)) {
                let falls = wanted + means.meeting(&turned, wanted).miss;
                prop_assert!(falls >= last - s(1e-5));
                last = falls;
            }
        }
    }
}

/// By hand: bars of 3 s in a vamp from 12 to 24 s, the hit at 48 s; 20 s after the start, T is 31 s.
#[test]
fn a_late_aircraft_is_met_by_bars_and_a_little_slower() {
    let music = Music {
        cuts: Vec::new(),
        entries: vec![0.0],
        vamp: Some((12.0, 24.0, 3.0, 0)),
        stretch: 0.03,
        if_missed: IfMissed::Late,
    };
    let mut track = music.track();
    track.meets.as_mut().unwrap().hit_at = s(48.0);
    let means = Means::of(&track).unwrap();
    let way = Way {
        start: at(0.0),
        course: Course::default(),
        left_out: false,
    };
    // 28 s of music are left for 31.5 s: one bar more is 31 s, r = (31 − 0.5) / (31.5 − 0.5).
    let turned = playing::solve(&means, &way, at(51.5), at(20.0)).unwrap();
    assert_eq!(turned.course.bars(), 1);
    assert!((turned.course.last_rate() - 30.5 / 31.0).abs() < 1e-12);
    let meeting = means.meeting(&turned, at(51.5));
    assert!(meeting.miss.abs() <= Span::from_us(1));
    // The vamp is left for good at about 27 s: a bar more, and a little slower.
    let left = meeting.rounds_fixed_from.unwrap() + COMMIT + playing::GUARD;
    assert!((left.s() - 27.1).abs() < 0.05, "{left}");
    assert_eq!(meeting.fixed_from, at(51.5) - COMMIT);
}

#[test]
fn an_early_aircraft_is_met_by_leaving_planned_bars_out() {
    let music = Music {
        cuts: Vec::new(),
        entries: vec![0.0],
        vamp: Some((20.0, 44.0, 3.0, 2)),
        stretch: 0.0,
        if_missed: IfMissed::Late,
    };
    let track = music.track();
    let means = Means::of(&track).unwrap();
    let (way, planned) = start::solve(&means, at(0.0), at(-200.0));
    assert_eq!((planned.start, planned.rounds), (at(-66.0), 2));
    let turned = playing::solve(&means, &way, at(-3.0), at(-50.0)).unwrap();
    assert_eq!(turned.course.bars(), 1);
    assert_eq!(means.meeting(&turned, at(-3.0)).miss, Span::ZERO);
    // Past its vamp it has nothing left but to miss.
    let past = playing::solve(&means, &way, at(-3.0), at(-10.0)).unwrap();
    assert_eq!(means.meeting(&past, at(-3.0)).miss, s(3.0));
}

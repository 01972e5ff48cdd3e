//! A meet while its track plays: solved anew at every estimate, by bars of its vamp and a slight stretch.

mod rehearsal;

use abeam::live::{Act, CueState, MarkKind, What};
use abeam::sound::Course;
use abeam::timeline::Meeting;
use abeam::timeline::meet::{COMMIT, UNHEARD};
use abeam::units::{Instant, Span};
use rehearsal::{DISPLAY, Rehearsal, mark};

const HYMN: usize = 1;

/// The rehearsal display with two bars of the hymn planned to come again; four bars of 3 s from 12 to 24 s, the
/// last verse at 48 s.
fn display() -> String {
    DISPLAY.replace("to = \"0:24.000\" }", "to = \"0:24.000\", planned = 2 }")
}

fn meeting(show: &Rehearsal) -> Meeting {
    show.session.layout().tracks[HYMN].meeting.expect("a meet")
}

/// Every turn of the hymn: when it takes effect, when it was ordered at the latest, and the way it goes.
fn turns(show: &Rehearsal) -> Vec<(Instant, Course)> {
    let turns = show.effects.iter().filter_map(|effect| match &effect.act {
        Act::Turn {
            track: HYMN,
            course,
        } => Some((effect.at, course.clone())),
        _ => None,
    });
    turns.collect()
}

/// Flown as planned until 20 s into the hymn, with the first gate of the memorial's run-in marked `late`.
fn gate_marked(late: f64) -> Rehearsal {
    let mut show = Rehearsal::of(&display());
    let gate = show.planned("memorial", "gate.1");
    show.fly_as_planned_until(gate + late - 0.01);
    show.mark(MarkKind::Gate, gate + late);
    show
}

#[test]
fn an_aircraft_on_time_is_met_as_planned() {
    let mut show = gate_marked(0.0);
    let abeam = show.planned("memorial", "abeam");
    let seen = abeam + show.parallax("memorial", MarkKind::Abeam);
    show.mark(MarkKind::Abeam, seen);
    show.until(abeam + 5.0);
    assert_eq!(show.starts("hymn"), [abeam - 54.0]);
    assert!(turns(&show).is_empty());
}

#[test]
fn a_later_aircraft_is_met_by_another_bar_and_a_little_slower() {
    let mut show = gate_marked(3.5);
    let now = show.session.now();
    let made = meeting(&show);
    let moved = (made.wanted.s() - show.planned("memorial", "abeam")).abs();
    assert!(moved > 2.5, "the estimate moved {moved} s");
    let turned = turns(&show);
    assert_eq!(turned.len(), 1, "once: {turned:?}");
    assert!(turned[0].0 >= now + Span::from_ms(500));
    assert_eq!(turned[0].0, now + COMMIT);
    assert_eq!(made.rounds, 3);
    println!("{moved} s later: {made:?}");
    assert!((made.rate - 1.0).abs() > 1e-4 && (made.rate - 1.0).abs() <= 0.03);
    assert!(made.miss.abs() <= Span::from_us(2), "{}", made.miss);

    // It plays on to the hit where that is expected: what is heard then is the hit.
    let wanted = made.wanted;
    show.until(wanted.s() - 0.001);
    let heard = show.session.playhead(HYMN).expect("a playhead");
    assert!(
        (heard - Span::from_s(48.0)).abs() <= UNHEARD + Span::from_ms(2),
        "{heard}"
    );
}

#[test]
fn an_earlier_aircraft_is_met_by_leaving_planned_bars_out() {
    let show = gate_marked(-3.0);
    let made = meeting(&show);
    assert!(made.wanted.s() < show.planned("memorial", "abeam") - 2.0);
    assert_eq!(made.rounds, 1);
    assert!(made.miss.abs() <= Span::from_us(2), "{}", made.miss);
    assert_eq!(turns(&show).len(), 1);
}

#[test]
fn an_aircraft_that_stays_in_its_hold_is_waited_for_round_after_round() {
    // Ten bars planned: the hymn begins well before inbound is expected, wherever that slips.
    let mut show = Rehearsal::of(&display().replace("planned = 2", "planned = 10"));
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound - 1.0);
    show.until(inbound + 25.0);
    let all = turns(&show);
    assert!(all.len() > 3);
    // While only time passes, no two nearer than it takes a turn to take effect.
    assert!(all.windows(2).all(|pair| pair[1].0 - pair[0].0 >= COMMIT));
    show.mark(MarkKind::Inbound, inbound + 25.0);
    let made = meeting(&show);
    assert!(made.rounds > 14, "{made:?}");
    show.until(inbound + 27.0);
    assert!(meeting(&show).miss.abs() <= UNHEARD, "{:?}", meeting(&show));
}

/// An overdue inbound turns the hymn every second or so; a mark that comes while such a turn is on its way moves the
/// pass by seconds, and what the screens say of the meet at that instant is what becomes of it.
#[test]
fn a_mark_is_followed_at_once_also_while_a_turn_is_on_its_way() {
    let ten_bars = display().replace("planned = 2", "planned = 10");
    let inbound = Rehearsal::of(&ten_bars).planned("memorial", "inbound");
    for tenth in 0..10 {
        let mut show = Rehearsal::of(&ten_bars);
        let marked = inbound + 25.0 + f64::from(tenth) / 10.0;
        show.fly_as_planned_until(inbound - 1.0);
        show.until(marked);
        let before = meeting(&show).wanted;
        show.mark(MarkKind::Inbound, marked);
        let made = meeting(&show);
        let moved = (made.wanted - before).s();
        assert!(moved.abs() > 1.0, "the mark moved the pass by {moved} s");
        assert!(made.miss.abs() <= UNHEARD, "at {marked} s: {made:?}");
        show.until(marked + 3.0);
        assert!(meeting(&show).miss.abs() <= UNHEARD);
    }
}

#[test]
fn nothing_changes_in_the_last_half_second() {
    // A second gate, marked ever nearer to the hit.
    let mut latest = f64::MAX;
    for before in [1.5, 1.0, 0.8, 0.7, 0.5, 0.2] {
        let mut show = gate_marked(3.5);
        let wanted = meeting(&show).wanted.s();
        show.mark(MarkKind::Gate, wanted - before);
        show.until(wanted + 5.0);
        let start = Instant::from_s(show.starts("hymn")[0]);
        for (at, course) in turns(&show) {
            let hit = start + course.reaches(Span::from_s(48.0)).expect("the hit");
            latest = latest.min((hit - (at - COMMIT)).s());
        }
    }
    println!("the latest change was ordered {latest:.3} s before the hit");
    assert!((0.5..1.6).contains(&latest), "{latest}");
}

#[test]
fn every_turn_keeps_what_is_settled() {
    let mut show = Rehearsal::of(&display());
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound);
    for (second, kind) in [(28.5, MarkKind::Gate), (46.0, MarkKind::Gate)] {
        show.mark(kind, inbound + second);
    }
    show.until(inbound + 90.0);
    let start = Instant::from_s(show.starts("hymn")[0]);
    let all = turns(&show);
    assert!(!all.is_empty());
    for pair in all.windows(2) {
        let (at, after) = (pair[1].0, pair[1].0 - start);
        assert_eq!(
            pair[0].1.unrolled_at(after),
            pair[1].1.unrolled_at(after),
            "turned at {at}"
        );
        assert_eq!(pair[0].1.place_at(after), pair[1].1.place_at(after));
    }
}

#[test]
fn a_track_that_would_miss_fades_if_the_document_says_so() {
    let fade = display()
        .replace("if_missed = \"late\"", "if_missed = \"fade\"")
        .replace("stretch = \"3 %\"", "stretch = \"0.1 %\"");
    let mut show = Rehearsal::of(&fade);
    let inbound = show.planned("memorial", "inbound");
    show.fly_as_planned_until(inbound);
    // Its vamp is behind it when the aircraft turns out to be six seconds late.
    let gate = show.planned("memorial", "gate.2");
    show.until(gate + 6.0).mark(MarkKind::Gate, gate + 6.0);
    let faded = |show: &Rehearsal| {
        let fades = show.effects.iter();
        let mut fades = fades.filter(|e| matches!(e.act, Act::Fade { track: HYMN, .. }));
        fades.next().is_some()
    };
    assert!(faded(&show));
}

/// A display whose music goes round when it is held up; the bed is 120 s long, its vamp from 10 to 22 s.
fn held_up() -> Rehearsal {
    let bed = "[[track]]\nid = \"bed\"\nfile = \"bed.flac\"\nstarts = \"show + 20 s\"\nunder = true\nbar = \"3 s\"\nvamp = { from = \"0:10\", to = \"0:22\" }\n";
    let text = DISPLAY.replace(
        "profile = \"high\"\n",
        "profile = \"high\"\ndelay = { music = \"vamp\" }\n",
    );
    Rehearsal::of(&(text + bed))
}

#[test]
fn held_up_the_music_goes_round_until_the_show_goes_on() {
    let mut show = held_up();
    let bed = show.session.tracks().len() - 1;
    show.until(25.0).at(25.0, What::Delay);
    assert!(show.session.tracks()[bed].vamping);
    for second in 26..200 {
        show.until(f64::from(second));
        let head = show.session.playhead(bed).expect("it plays");
        assert!(head < Span::from_s(22.001), "{head} at {second} s");
        assert!(
            second < 42 || head >= Span::from_s(9.999),
            "{head} at {second} s"
        );
    }
    show.at(200.3, What::Resume);
    assert!(!show.session.tracks()[bed].vamping);
    show.until(230.0);
    let head = show.session.playhead(bed).expect("it plays");
    assert!(head > Span::from_s(22.0), "it goes on: {head}");
}

#[test]
fn held_up_what_is_past_its_vamp_fades() {
    let mut show = held_up();
    let bed = show.session.tracks().len() - 1;
    show.until(50.0).at(50.0, What::Delay);
    assert!(!show.session.tracks()[bed].vamping);
    assert!(show.session.tracks()[bed].fading.is_some());
}

#[test]
fn held_up_a_bed_that_loops_goes_on_and_its_end_moves_with_the_show() {
    let bed = "[[track]]\nid = \"bed\"\nfile = \"bed.flac\"\nstarts = \"show + 20 s\"\nends = \"slow-pass.start\"\nunder = true\nloop = { from = \"0:10\", to = \"0:22\" }\n";
    let text = DISPLAY.replace(
        "profile = \"high\"\n",
        "profile = \"high\"\ndelay = { music = \"vamp\" }\n",
    );
    let mut show = Rehearsal::of(&(text + bed));
    let bed = show.session.tracks().len() - 1;
    show.at(0.0, mark(MarkKind::Abeam, 0.0));
    show.until(25.0).at(25.0, What::Delay);
    for second in 26..400 {
        show.until(f64::from(second));
        let head = show.session.playhead(bed).expect("it plays");
        assert!(head < Span::from_s(22.001), "{head} at {second} s");
    }
    assert!(show.session.tracks()[bed].fading.is_none());
    show.at(400.3, What::Resume);
    let ends = show.session.layout().tracks[bed].ends.expect("an end");
    assert!(ends >= Instant::from_s(400.3), "{ends}");
    show.until((ends - Instant::ZERO).s() + 1.0);
    assert_eq!(show.session.tracks()[bed].state, CueState::Done);
}

/// Whether a replay turns alike, whatever the ticks.
#[test]
fn ticks_between_turn_nothing_more() {
    let run = |every: f64| {
        let mut show = Rehearsal::of(&display());
        let inbound = show.planned("memorial", "inbound");
        show.fly_as_planned_until(inbound);
        let mut second = inbound;
        let gate = inbound + 33.0;
        while second < gate {
            show.until(second);
            second += every;
        }
        show.at(gate, mark(MarkKind::Gate, gate));
        show.until(gate + 60.0);
        show.effects
    };
    let plain = run(1_000.0);
    assert_eq!(plain, run(0.05));
    assert_eq!(plain, run(0.37));
}

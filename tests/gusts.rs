//! Gusts widen a time by what their wind does to it, averaged down over longer steps.

mod flights;

use abeam::flight::FlownFigure;
use abeam::show::{Metar, Show, WindAt};
use abeam::units::{Angle, Speed};
use flights::*;
use proptest::prelude::*;

/// A pass at 120 m/s from 6 km, gates at 4 and 0.9 km, in a wind of `x` along the line.
fn pass(winds: Vec<WindAt>) -> Show {
    let mut pass = figure(
        "pass",
        vec![hold(6_000.0), to_centre(tas(120.0)), run_for(600.0)],
    );
    pass.gates = vec![m(4_000.0), m(900.0)];
    pass.spread = s(0.0);
    let mut show = show(vec![pass]);
    show.day.wind = winds;
    show
}

fn gusty(x: f64, gust: f64) -> Vec<WindAt> {
    let gust = Speed::from_mps(gust);
    wind(x, 0.0)
        .into_iter()
        .map(|wind| WindAt { gust, ..wind })
        .collect()
}

fn flown(show: &Show) -> FlownFigure {
    let mut flight = fly_all(show);
    assert!(flight.faults.is_empty(), "{:?}", flight.faults);
    flight.figures.remove(0)
}

#[test]
fn a_third_of_the_gust_over_the_mean_acts_through_the_runs_own_sensitivity() {
    let flown = flown(&pass(gusty(0.0, 6.0)));
    let spread = |i: usize| flown.points[i].step.spread.s();
    // Sigma 2 m/s. d(distance / speed) = − distance / speed² for each metre a second; of the run of 900 m
    // (7.5 s) all of it, of the one of 3,100 m (25.8 s) the root of 10 s over what it takes.
    assert!((spread(4) - 2.0 * 900.0 / 120_f64.powi(2)).abs() < 1e-4);
    let long = 3_100.0 / 120.0;
    let expected = 2.0 * 3_100.0 / 120_f64.powi(2) * (10.0_f64 / long).sqrt();
    assert!(
        (spread(3) - expected).abs() < 1e-3,
        "{} {expected}",
        spread(3)
    );
    // The hold keeps its own.
    assert_eq!(flown.points[1].step.spread, s(15.0));
}

#[test]
fn the_crews_own_spread_and_the_gusts_add_as_variances() {
    let mut show = pass(gusty(3.0, 6.0));
    let gusts = flown(&show);
    show.figures[0].spread = s(2.0);
    let both = flown(&show);
    show.day.wind = wind(3.0, 0.0);
    let own = flown(&show);
    for i in 2..own.points.len() {
        let spread = |figure: &FlownFigure| figure.points[i].step.spread.s();
        assert!((spread(&both) - spread(&own).hypot(spread(&gusts))).abs() < 1e-5);
    }
}

/// The wind along a line is V cos of the angle between them: between 60 and 120 degrees off it goes from V/2 one
/// way to V/2 the other, and between 30 degrees on either side of it from 0.866 V to V. Of any direction alike, the
/// mean square is V²/2.
#[test]
fn a_direction_that_varies_widens_a_time_by_what_it_does_along_the_line() {
    // The line bears 064; the last run is of 900 m at 120 m/s.
    let spread = |report: &str| {
        let mut show = pass(vec![]);
        show.day.metar = Some(Metar {
            text: format!("EXMP {report} CAVOK 15/05 Q1013"),
            gives_qnh: true,
            gives_temperature: true,
            gives_wind: true,
            at: 0..0,
        });
        let step = flown(&show).points[4].step;
        step.spread.s() / step.seconds_per_mps.abs()
    };
    let knot = 1852.0 / 3600.0;
    let near = |value: f64, of: f64| assert!((value - of).abs() < 1e-3, "{value} {of}");
    near(spread("15412KT"), 0.0);
    near(spread("15412KT 124V184"), 12.0 * knot * 0.5 / 3.0);
    near(
        spread("06412KT 034V094"),
        12.0 * knot * 0.5 * (1.0 - 0.75_f64.sqrt()) / 3.0,
    );
    near(
        spread("24412KT 214V274"),
        12.0 * knot * 0.5 * (1.0 - 0.75_f64.sqrt()) / 3.0,
    );
    near(spread("15412G24KT 124V184"), 6_f64.hypot(12.0) * knot / 3.0);
    near(spread("VRB04KT"), 4.0 * knot / 2_f64.sqrt());
}

#[test]
fn gusts_are_those_of_the_height_flown() {
    let wind = |height, gust| WindAt {
        height: m(height),
        from: Angle::ZERO,
        speed: Speed::ZERO,
        gust: Speed::from_mps(gust),
    };
    // Flown at 150 m: half-way between 3 and 9 m/s.
    let between = flown(&pass(vec![wind(250.0, 9.0), wind(50.0, 3.0)]));
    assert_eq!(between.points, flown(&pass(gusty(0.0, 6.0))).points);
}

#[test]
fn a_report_gives_gusts_and_a_wind_without_direction_is_all_spread() {
    let reported = |text: &str| {
        let mut show = pass(Vec::new());
        show.day.metar = Some(Metar {
            text: text.into(),
            gives_qnh: false,
            gives_temperature: false,
            gives_wind: true,
            at: 0..0,
        });
        flown(&show)
    };
    let sigma = |flown: &FlownFigure| {
        let step = flown.points[4].step;
        step.spread.s() / step.seconds_per_mps.abs()
    };
    // WMO-No. 306, FM 15: 10 kt gusting 25; and 6 kt from anywhere, of which the mean square along a line is half.
    let kt = 1852.0 / 3600.0;
    assert!((sigma(&reported("24010G25KT")) - 15.0 * kt / 3.0).abs() < 1e-3);
    assert!((sigma(&reported("VRB06KT")) - 6.0 * kt / 2_f64.sqrt()).abs() < 1e-3);
    assert_eq!(sigma(&reported("24010KT")), 0.0);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn more_gusts_never_narrow_a_spread_or_move_a_time(
        x in -15.0..15.0_f64, gust in 0.0..15.0_f64, more in 0.0..15.0_f64,
    ) {
        let (one, other) = (flown(&pass(gusty(x, gust))), flown(&pass(gusty(x, gust + more))));
        for (a, b) in one.points.iter().zip(&other.points) {
            prop_assert!(a.after == b.after && a.step.spread <= b.step.spread);
        }
    }
}

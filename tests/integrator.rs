//! Every leg ends when and where an integrator apart from this program's says.
//!
//! Source: reference/legs.py (scipy 1.17.1, solve_ivp with DOP853 at a relative tolerance of 1e-11, its
//! own event search, air and wind) on the randomised figures of reference/leg_cases.py, which wrote
//! reference/legs.json. The equations are the same; nothing else is.

use std::ops::Range;

use abeam::flight::{FlownFigure, entries, fly};
use abeam::show::Severity;
use abeam::show::load::read;
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    figure: String,
    from: String,
    site: String,
    day: String,
    aircraft: String,
    legs: Vec<String>,
    /// For each leg: time, place, velocity through the air, velocity over the ground.
    ends: Vec<[f64; 10]>,
    /// How much longer it all lasts for a metre a second more wind towards the crowd's right.
    seconds_per_mps: f64,
}

impl Case {
    /// A show of figures, one for each range of the legs.
    fn document(&self, figures: &[Range<usize>]) -> String {
        let Case {
            from,
            site,
            day,
            aircraft,
            ..
        } = self;
        let order: Vec<String> = (0..figures.len()).map(|i| format!("part-{i}")).collect();
        let mut text = format!(
            "[show]\ntitle = \"Lake\"\n[profile.high]\norder = {order:?}\n[site]\n{site}\n[day]\n{day}\n\
             [aircraft.solo]\n{aircraft}\n"
        );
        for (id, legs) in order.iter().zip(figures) {
            let legs = self.legs[legs.clone()].join(",\n  ");
            text += &format!(
                "[[figure]]\nid = \"{id}\"\naircraft = \"solo\"\nfrom = \"{from}\"\nlegs = [\n  {legs},\n]\n"
            );
        }
        text
    }

    fn fly(&self, figures: &[Range<usize>]) -> Vec<FlownFigure> {
        let text = self.document(figures);
        let (show, faults) = read("probe.toml", &text);
        let show = show.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
        let flight = fly(&show, &show.day, &entries(&show, &show.profile));
        let error = flight.faults.iter().find(|f| f.severity == Severity::Error);
        assert!(error.is_none(), "{error:#?}\n{text}");
        flight.figures
    }

    /// One figure with the first `legs` of the legs.
    fn fly_first(&self, legs: usize) -> FlownFigure {
        let whole = 0..legs;
        self.fly(&[whole]).remove(0)
    }
}

fn cases() -> Vec<Case> {
    serde_json::from_str(include_str!("reference/legs.json")).expect("cases")
}

/// How far off the end of the last leg is: seconds, metres, metres a second of airspeed and of ground
/// speed, degrees of climb.
fn off(flown: &FlownFigure, end: &[f64; 10]) -> [f64; 5] {
    let [t, x, y, z, air @ .., gx, gy, gz] = *end;
    let last = flown.path().last().expect("a path");
    let apart = [last.x.m() - x, last.y.m() - y, last.z.m() - z];
    let length = |v: [f64; 3]| v.iter().map(|c| c * c).sum::<f64>().sqrt();
    let airspeed = length(air);
    let climb = (air[2] / airspeed).clamp(-1.0, 1.0).asin().to_degrees();
    let along = flown.points.last().expect("an end").along.mps();
    [
        (last.after.s() - t).abs(),
        length(apart),
        (last.true_airspeed.mps() - airspeed).abs(),
        (last.ground_speed.mps() - length([gx, gy, gz]))
            .abs()
            .max((along - gx).abs()),
        // At rest there is no direction.
        if airspeed > 1.0 {
            (last.climb.deg() - climb).abs()
        } else {
            0.0
        },
    ]
}

const UNITS: [&str; 5] = ["s", "m", "m/s tas", "m/s ground", "deg of climb"];
/// At most: 5 ms and 0.5 m.
const WITHIN: [f64; 5] = [0.005, 0.5, 0.05, 0.05, 0.05];

#[test]
fn every_leg_ends_when_and_where_an_independent_integrator_says() {
    let cases = cases();
    let mut worst: [(f64, String); 5] = Default::default();
    let (mut legs, mut wrong) = (0, Vec::new());
    for (number, case) in cases.iter().enumerate() {
        // The first leg is the hold.
        for last in 1..case.legs.len() {
            let flown = case.fly_first(last + 1);
            let off = off(&flown, &case.ends[last]);
            let what = || format!("{number} {}, leg {last}: {}", case.figure, case.legs[last]);
            for (worst, off) in worst.iter_mut().zip(off) {
                if off > worst.0 {
                    *worst = (off, what());
                }
            }
            legs += 1;
            if off.iter().zip(WITHIN).any(|(off, most)| *off > most) {
                wrong.push(format!("{}: {off:?}", what()));
                break;
            }
        }
    }
    println!("{} figures, {legs} legs; worst:", cases.len());
    for ((off, what), unit) in worst.iter().zip(UNITS) {
        println!("  {off:.2e} {unit} in {what}");
    }
    assert!(cases.len() >= 40 && wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_wind_lengthens_figures_as_much_as_flying_them_in_more_of_it() {
    let mut worst = 0.0_f64;
    for case in cases() {
        let flown = case.fly_first(case.legs.len());
        let ours: f64 = flown
            .points
            .iter()
            .map(|met| met.step.seconds_per_mps)
            .sum();
        let off = (ours - case.seconds_per_mps).abs();
        worst = worst.max(off);
        assert!(
            off < 1e-3,
            "{}: {ours} {}",
            case.figure,
            case.seconds_per_mps
        );
    }
    println!("worst {worst:.1e} s per m/s");
}

#[test]
fn a_figure_goes_on_from_wherever_the_one_before_it_ended() {
    let mut cut = 0;
    for case in cases() {
        let last = case.legs.len() - 1;
        let level = case.legs[last].starts_with("{ run") && !case.legs[last].contains("pitch");
        if !level {
            continue;
        }
        let [first, second] = &case.fly(&[0..last, last..last + 1])[..] else {
            panic!("two figures")
        };
        let mut end = case.ends[last];
        end[0] -= first.points.last().expect("an end").after.s();
        let off = off(second, &end);
        let near = off.iter().zip(WITHIN).all(|(off, most)| *off <= most);
        assert!(near, "{}: {off:?}", case.figure);
        cut += 1;
    }
    assert!(cut >= 20, "{cut}");
}

//! A figure flown alone: its document, the aircraft that may fly it, and what can be measured of it.

#![allow(dead_code)] // each test file uses its part

use abeam::flight::{FlownFigure, PathSample, entries, fly};
use abeam::show::load::read;
use abeam::show::{Fault, PointName, Severity};

/// A show of one figure with these legs.
pub fn document(legs: &str) -> String {
    format!(
        "[show]\ntitle = \"Named\"\n[profile.high]\norder = [\"a\"]\n[site]\nelevation = \"0 m\"\n\
         line_bearing = 90\nline_distance = \"230 m\"\n[aircraft.solo]\n[[figure]]\nid = \"a\"\n\
         from = \"left\"\nlegs = [{legs}]\n"
    )
}

/// Plausible for a light aerobatic aircraft with a piston engine (common practice, no published source).
pub const PISTON: &str = "roll_rate = 300\nclimb_power = \"15 m/s\"\ninduced = \"1.5 m/s\"\nmost_g = 10\n\
                      least_g = -5\nstall = \"55 kt cas\"";
/// Plausible for a fighter whose engine can turn its thrust (common practice, no published source).
pub const JET: &str = "roll_rate = 200\nclimb_power = [{ speed = \"1 kt\", power = \"2 m/s\" }, \
                   { speed = \"300 kt\", power = \"160 m/s\" }, { speed = \"620 kt\", power = \"60 m/s\" }]\n\
                   induced = \"1.5 m/s at 300 kt\"\nmost_thrust = 1.05\nmost_g = 9\nleast_g = -3";

/// What was flown of `legs` after a short run at a speed and height, from 2 nmi out on the left.
pub struct Flown {
    pub figure: FlownFigure,
    pub faults: Vec<Fault>,
    pub path: Vec<PathSample>,
}

pub fn fly_with(craft: &str, speed: &str, height: &str, legs: &str) -> Flown {
    let before = format!(
        "{{ hold = \"2 nmi\", expect = \"60 s\" }}, \
         {{ run = \"for 300 m\", speed = \"{speed}\", height = \"{height}\" }}, {legs}"
    );
    // What leads behind the crowd may be flown, too.
    let text = document(&before)
        .replace("[aircraft.solo]", &format!("[aircraft.solo]\n{craft}"))
        .replace(
            "line_bearing",
            "permits = { behind_crowd = true }\nline_bearing",
        )
        .replace("from =", "flown = \"behind crowd\"\nfrom =");
    let (show, faults) = read("show.toml", &text);
    let show = show.unwrap_or_else(|| panic!("{legs}: {faults:#?}"));
    let mut flight = fly(&show, &show.day, &entries(&show, &show.profile));
    let figure = flight.figures.remove(0);
    let moving = |sample: &&PathSample| sample.true_airspeed.mps() > 0.0 || sample.after.s() > 61.0;
    let path: Vec<PathSample> = figure.path().iter().filter(moving).copied().collect();
    Flown {
        figure,
        faults: flight.faults,
        path,
    }
}

pub fn flown(craft: &str, speed: &str, height: &str, legs: &str) -> Flown {
    let flown = fly_with(craft, speed, height, legs);
    let errors: Vec<&Fault> = flown
        .faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .collect();
    assert!(errors.is_empty(), "{legs}: {errors:#?}");
    assert!(flown.lowest() > 100.0, "{legs}: {} ft", flown.lowest());
    flown
}

impl Flown {
    pub fn heights(&self) -> impl Iterator<Item = f64> {
        self.path.iter().map(|sample| sample.z.m() / 0.3048)
    }

    /// Feet.
    pub fn lowest(&self) -> f64 {
        self.heights().fold(f64::MAX, f64::min)
    }

    /// Feet.
    pub fn highest(&self) -> f64 {
        self.heights().fold(f64::MIN, f64::max)
    }

    /// Feet.
    pub fn ends_at(&self) -> f64 {
        self.heights().last().expect("a path")
    }

    /// Knots of true airspeed at the highest place.
    pub fn speed_at_top(&self) -> f64 {
        let top = self.path.iter().max_by(|a, b| a.z.m().total_cmp(&b.z.m()));
        top.expect("a path").true_airspeed.kt()
    }

    /// The largest angle between nose and path, degrees.
    pub fn most_off_path(&self) -> f64 {
        let off = self.path.iter().map(|sample| sample.nose_off_path.deg());
        off.fold(0.0, f64::max)
    }

    /// The track it ends on, degrees from the crowd's right towards away.
    pub fn ends_headed(&self) -> f64 {
        let last = self.path.last().expect("a path");
        let is_before = |sample: &&PathSample| (last.after - sample.after).s() > 0.01;
        let before = self.path.iter().rev().find(is_before).expect("a path");
        let (x, y) = (last.x - before.x, last.y - before.y);
        y.m().atan2(x.m()).to_degrees()
    }

    pub fn goes_on(&self) -> bool {
        self.ends_headed().abs() < 5.0 && self.is_level()
    }

    pub fn is_headed_back(&self) -> bool {
        self.ends_headed().abs() > 170.0 && self.is_level()
    }

    pub fn is_level(&self) -> bool {
        let last = self.path.last().expect("a path");
        last.climb.deg().abs() < 0.1 && last.nose_off_path.deg() < 0.1
    }

    /// What it is at as it passes crowd centre.
    pub fn abeam(&self) -> PathSample {
        let passes = |met: &&abeam::flight::FlownPoint| met.point == PointName::Abeam(1);
        let abeam = self.figure.points.iter().find(passes).expect("a pass");
        abeam::timeline::moments::sample_at(self.figure.path(), abeam.after).expect("a path")
    }
}

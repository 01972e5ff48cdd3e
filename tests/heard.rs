//! A pass is heard when sound has come from it, and its hush begins and ends when the retarded time says.
//!
//! Source: reference/heard.py (scipy 1.17.1: the retarded-time equation by brentq, sound through the layers
//! of ambiance 1.3.1's standard atmosphere by quad), which wrote reference/heard.json: passes to Mach 0.95,
//! dives that level out at crowd centre, and departures that climb away from it.

use abeam::flight::{FlownFigure, entries, fly};
use abeam::show::load::read;
use abeam::show::{PointName, Severity};
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    name: String,
    tas_mps: f64,
    line_m: f64,
    height_m: f64,
    out_m: f64,
    hush_above_db: f64,
    /// Each leg's metres along the display line, and its climb angle.
    legs_m_deg: Vec<[f64; 2]>,
    heard_after_s: f64,
    hush_after_abeam_s: [f64; 2],
}

impl Case {
    /// The case flown at sea level on a standard day without wind.
    fn fly(&self) -> FlownFigure {
        let Case {
            tas_mps,
            line_m,
            height_m,
            out_m,
            hush_above_db,
            ..
        } = self;
        let mut x = -out_m;
        let mut legs = String::new();
        for [metres, climb] in &self.legs_m_deg {
            let to_centre = x < 0.0 && x + metres > -1e-6;
            x += metres;
            let until = if to_centre {
                "to centre".into()
            } else {
                let takes = metres / (tas_mps * climb.to_radians().cos());
                format!("for {takes:.6} s")
            };
            let pitch = if *climb == 0.0 {
                String::new()
            } else {
                format!(", pitch = \"{climb} deg\"")
            };
            let height = if legs.is_empty() {
                format!(", height = \"{height_m} m\"")
            } else {
                String::new()
            };
            legs += &format!(
                "  {{ run = \"{until}\", speed = \"{tas_mps} m/s tas\", pass = {to_centre}{pitch}{height} }},\n"
            );
        }
        let text = format!(
            "[show]\ntitle = \"Lake\"\nhush_above = \"{hush_above_db} dB\"\n[profile.high]\norder = [\"pass\"]\n\
             [site]\nelevation = \"0 m\"\nline_bearing = 64\nline_distance = \"{line_m} m\"\n\
             [day]\nqnh = \"1013.25 hPa\"\ntemperature = \"15 C\"\n[aircraft.solo]\n\
             [[figure]]\nid = \"pass\"\naircraft = \"solo\"\nfrom = \"left\"\nlegs = [\n  \
             {{ hold = \"{out_m} m left\", expect = \"10 s\", spread = \"5 s\" }},\n{legs}]\n"
        );
        let (show, faults) = read("pass.toml", &text);
        let show = show.unwrap_or_else(|| panic!("{faults:#?}\n{text}"));
        let mut flight = fly(&show, &show.day, &entries(&show, &show.profile));
        let error = flight.faults.iter().find(|f| f.severity == Severity::Error);
        assert!(error.is_none(), "{error:#?}\n{text}");
        flight.figures.remove(0)
    }
}

#[test]
fn sound_and_hush_of_passes_dives_and_departures_come_when_the_retarded_time_says() {
    let cases: Vec<Case> =
        serde_json::from_str(include_str!("reference/heard.json")).expect("cases");
    let (mut worst_heard, mut worst_hush) = (0.0_f64, 0.0_f64);
    for case in &cases {
        let flown = case.fly();
        let abeam = flown
            .points
            .iter()
            .find(|met| met.point == PointName::Abeam(1));
        let abeam = abeam.expect("a pass").after.s();
        let off = (flown.heard_after[0].s() - case.heard_after_s).abs();
        worst_heard = worst_heard.max(off);
        let [(from, until)] = flown.hush[..] else {
            panic!("one hush of a {}: {:?}", case.name, flown.hush);
        };
        for (ours, theirs) in [from, until].iter().zip(case.hush_after_abeam_s) {
            worst_hush = worst_hush.max((ours.s() - abeam - theirs).abs());
        }
        let what = format!("{} at {} m/s", case.name, case.tas_mps);
        assert!(
            off < 0.002 && worst_hush < 0.005,
            "{what}: {off} {worst_hush} {:?}",
            flown.hush
        );
    }
    println!(
        "{} cases: heard to {worst_heard:.1e} s, hush to {worst_hush:.1e} s",
        cases.len()
    );
    assert!(cases.len() >= 15);
}

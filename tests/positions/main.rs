//! Positions: logs as they are read, feeds while a show runs, and what they make of a run-in.

mod feeds;
mod followed;
mod logs;
mod passes;
#[path = "../rehearsal/mod.rs"]
mod rehearsal;
mod run_ins;

use abeam::position::{Fix, Ground, Log, Place, Spot, read};
use abeam::units::Length;
use jiff::{SignedDuration, Timestamp};

fn place(lat: f64, lon: f64) -> Place {
    Place::from_deg(lat, lon).expect("a place")
}

fn log(text: &str) -> Log {
    read(text.as_bytes(), "log", None).unwrap_or_else(|error| panic!("{error}\n{text}"))
}

/// Fixes `every_s` along a path in metres of the site.
fn flown(
    ground: &Ground,
    lasts_s: f64,
    every_s: f64,
    path: impl Fn(f64) -> (f64, f64),
) -> Vec<Fix> {
    let starts: Timestamp = "2026-07-05T17:40:00Z".parse().expect("an instant");
    (0..=(lasts_s / every_s) as usize)
        .map(|i| {
            let t = i as f64 * every_s;
            let (x, y) = path(t);
            let spot = Spot {
                along: Length::from_m(x),
                across: Length::from_m(y),
            };
            let after = SignedDuration::from_micros((t * 1e6).round() as i64);
            Fix::new(starts + after, ground.place(spot).expect("a place"))
        })
        .collect()
}

fn as_gpx(fixes: &[Fix]) -> String {
    let mut text = String::from("<gpx><trk><trkseg>\n");
    for fix in fixes {
        let (lat, lon) = (fix.place.lat().deg(), fix.place.lon().deg());
        let at = fix.at;
        text += &format!("<trkpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><time>{at}</time></trkpt>\n");
    }
    text + "</trkseg></trk></gpx>"
}
